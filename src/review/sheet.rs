//! The board's criteria beside a run: what was claimed, what was not, what was contradicted, and what can't be heard.

use super::{Called, Finding, Review};
use crate::section::{Criterion, Section};
use serde::{Deserialize, Serialize};

/// What a run says of a criterion.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Claim {
    /// What it takes was called.
    Claimed,
    /// Something that it takes was not called.
    NotClaimed,
    /// The run was cut short before something that it takes.
    NotReached,
    /// A rule, an invariant or a safety pair that speaks against it was broken.
    Contradicted,
    /// Nothing that is called out can tell: ask an observer.
    CantBeHeard,
}

impl Claim {
    /// As the sheet has it.
    pub fn in_words(self) -> &'static str {
        match self {
            Claim::Claimed => "claimed",
            Claim::NotClaimed => "not claimed",
            Claim::NotReached => "not reached",
            Claim::Contradicted => "contradicted",
            Claim::CantBeHeard => "can't be heard: ask an observer",
        }
    }
}

/// Each criterion of the section, in order.
pub fn sheet(section: &Section, called: &[Called], review: &Review) -> Vec<Claim> {
    section.criteria.iter().map(|criterion| claim(section, criterion, called, review)).collect()
}

fn claim(section: &Section, criterion: &Criterion, called: &[Called], review: &Review) -> Claim {
    let against = |f: &Finding| {
        let id = match f {
            Finding::RuleBroken { rule, .. } => &section.rules[*rule].id,
            Finding::InvariantBroken { invariant, .. } => &section.invariants[*invariant].id,
            Finding::Unsafe { pair, .. } => &section.safety[*pair].id,
            _ => return false,
        };
        criterion.broken_by.contains(id)
    };
    if review.findings.iter().any(against) {
        return Claim::Contradicted;
    }
    if criterion.steps.is_empty() {
        return Claim::CantBeHeard;
    }
    let taken = |step: usize| review.steps.iter().any(|t| t.step == step);
    let claimed = |name: &&String| {
        let named: Vec<usize> = (0..section.steps.len()).filter(|s| section.is_named(name, *s)).collect();
        // Of a loop or a phase what may be left out is not needed.
        let may_lack = |s: usize| {
            let step = &section.steps[s];
            step.groups.contains(*name) && (step.optional || section.choice_of(s).is_some())
        };
        // Of a loop's step every turn is needed; a named callout only has to be called.
        match named.is_empty() {
            true => called.iter().any(|c| section.means(name, &c.say)),
            false => named.iter().any(|&s| taken(s)) && named.iter().all(|&s| taken(s) || may_lack(s)),
        }
    };
    if criterion.steps.iter().filter(claimed).count() >= criterion.at_least {
        return Claim::Claimed;
    }
    let ahead = |step: &usize| criterion.steps.iter().any(|name| section.is_named(name, *step));
    if review.not_reached.iter().any(ahead) { Claim::NotReached } else { Claim::NotClaimed }
}

impl Section {
    /// Whether nothing that is called out can tell of a criterion.
    pub fn unheard(&self, criterion: &Criterion) -> bool {
        criterion.steps.is_empty()
    }

    /// The criteria that a step counts for, by number.
    pub fn criteria_of(&self, step: usize) -> Vec<&str> {
        let counts = |c: &&Criterion| c.steps.iter().any(|n| self.is_named(n, step));
        self.criteria.iter().filter(counts).map(|c| c.id.as_str()).collect()
    }
}
