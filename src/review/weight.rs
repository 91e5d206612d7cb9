//! What is told first: harm, then what is scored, then what is published, then common practice.

use super::Finding;
use crate::section::{Section, Severity};

impl Finding {
    /// Whether it can fail the section by itself.
    pub fn critical(&self, section: &Section) -> bool {
        match self {
            Finding::Unsafe { .. } => true,
            Finding::NotCalled { step } => section.steps[*step].critical,
            Finding::RuleBroken { rule, .. } => section.rules[*rule].severity == Severity::Critical,
            _ => false,
        }
    }

    /// The lower, the earlier it is told: 0 an order that protects, 1 what is critical otherwise, 2 what is scored, 3 what is
    /// published, 4 common practice, 5 advice. Findings of one weight stay in the order of the section.
    pub fn weight(&self, section: &Section) -> u8 {
        if let Finding::Unsafe { .. } = self {
            return 0;
        }
        if self.critical(section) {
            return 1;
        }
        let step = |step: usize| section.steps[step].points > 0;
        let scored = match self {
            Finding::NotCalled { step: s } | Finding::Perhaps { step: s, .. } | Finding::OutOfOrder { step: s, .. } => {
                step(*s)
            }
            _ => false,
        };
        let advice =
            matches!(self, Finding::RuleBroken { rule, .. } if section.rules[*rule].severity == Severity::Advice);
        match (scored, advice) {
            (true, _) => 2,
            (_, true) => 5,
            _ => 4,
        }
    }

    /// The step that the finding says to practise, and the one it should come before where it is a pair that protects.
    pub fn to_practise(&self, section: &Section) -> Option<(usize, Option<usize>)> {
        let named = |name: &str| (0..section.steps.len()).find(|s| section.is_named(name, *s));
        match self {
            Finding::Unsafe { pair, .. } => {
                let pair = &section.safety[*pair];
                Some((named(&pair.first)?, pair.then.first().and_then(|n| named(n))))
            }
            Finding::NotCalled { step } | Finding::OutOfOrder { step, .. } | Finding::BeforeCue { step, .. } => {
                Some((*step, None))
            }
            _ => None,
        }
    }
}
