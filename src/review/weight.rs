//! What is told first: harm, then what is scored, then what is published, then common practice.

use super::Finding;
use crate::section::{Section, Severity};

impl Finding {
    /// Whether it can fail the section by itself.
    pub fn critical(&self, section: &Section) -> bool {
        match self {
            Finding::Unsafe { .. } => true,
            Finding::RuleBroken { rule, .. } => section.rules[*rule].severity == Severity::Critical,
            // A claim alone takes nothing critical away; where something like the callout was found, nobody is accused.
            _ => self.unheard().is_some_and(|(step, perhaps)| section.steps[step].critical && !perhaps),
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
        let step = |step: usize| section.steps[step].points > 0 || !section.criteria_of(step).is_empty();
        let speaks_against = |id: &String| section.criteria.iter().any(|c| c.broken_by.contains(id));
        let scored = match self {
            Finding::NotCalled { step: s }
            | Finding::Perhaps { step: s, .. }
            | Finding::ClaimedAfterwards { step: s, .. }
            | Finding::BeforeCue { step: s, .. }
            | Finding::TooShort { step: s, .. }
            | Finding::OutOfOrder { step: s, .. } => step(*s),
            Finding::TooFew { choice, .. } => section.choices[*choice].of.iter().any(|s| step(*s)),
            Finding::RuleBroken { rule, .. } => speaks_against(&section.rules[*rule].id),
            Finding::InvariantBroken { invariant, .. } => speaks_against(&section.invariants[*invariant].id),
            _ => false,
        };
        let advice =
            matches!(self, Finding::RuleBroken { rule, .. } if section.rules[*rule].severity == Severity::Advice);
        match (scored, advice) {
            (true, _) => 2,
            (_, true) => 5,
            _ if self.published(section).is_some() => 3,
            _ => 4,
        }
    }

    /// Where what it speaks of is published; none where that is common practice, or the finding's own fact.
    pub fn published<'a>(&self, section: &'a Section) -> Option<&'a str> {
        match self {
            Finding::NotCalled { step: s }
            | Finding::ClaimedAfterwards { step: s, .. }
            | Finding::Perhaps { step: s, .. }
            | Finding::BeforeCue { step: s, .. }
            | Finding::TooShort { step: s, .. }
            | Finding::OutOfOrder { step: s, .. } => section.steps[*s].published.as_deref(),
            Finding::RuleBroken { rule, .. } => section.rules[*rule].published.as_deref(),
            Finding::Unsafe { pair, .. } => section.safety[*pair].published.as_deref(),
            Finding::TooFew { choice, .. } => {
                section.choices[*choice].of.iter().find_map(|s| section.steps[*s].published.as_deref())
            }
            _ => None,
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
            Finding::OutOfOrder { step, .. } | Finding::BeforeCue { step, .. } => Some((*step, None)),
            _ => self.unheard().filter(|(_, perhaps)| !perhaps).map(|(step, _)| (step, None)),
        }
    }
}
