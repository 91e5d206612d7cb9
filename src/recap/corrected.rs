//! What somebody corrected after a run: in words, and what no correction takes away.

use super::since;
use crate::outcome::{Correction, Outcome};
use crate::review::{Claimed, Finding, review};
use crate::section::Section;
use crate::time::spoken as span;

/// Critical findings that a callout taken out afterwards would take away with it. They stay: what somebody says afterwards makes no run safe.
pub fn kept(section: &Section, outcome: &Outcome) -> Vec<Finding> {
    if outcome.struck().next().is_none() {
        return vec![];
    }
    let corrected = review(section, &outcome.facts()).findings;
    let same = |one: &Finding, other: &Finding| match (one, other) {
        (Finding::Unsafe { pair: a, .. }, Finding::Unsafe { pair: b, .. }) => a == b,
        (Finding::RuleBroken { rule: a, .. }, Finding::RuleBroken { rule: b, .. }) => a == b,
        _ => one == other,
    };
    let mut heard = review(section, &outcome.as_heard().facts()).findings;
    heard.retain(|f| f.critical(section) && !corrected.iter().any(|c| same(f, c)));
    heard
}

/// What somebody claims of a step, in words.
pub fn claim(claimed: Claimed) -> &'static str {
    match claimed {
        Claimed::Called => "you called it",
        Claimed::Unsaid => "you went through it without a callout",
        Claimed::NotCalled => "you did not call it",
    }
}

/// Each correction as a sentence, in their order.
pub fn corrections(section: &Section, outcome: &Outcome) -> Vec<String> {
    let one = |correction: &Correction| match correction {
        Correction::Claim { step, claimed } => {
            format!("{}: {}.", section.steps[*step].title, claim(*claimed))
        }
        Correction::Struck(called) => {
            format!("{}, heard at {}: it was no callout.", called.say, span(since(outcome, called.at)))
        }
    };
    outcome.corrections.iter().map(one).collect()
}
