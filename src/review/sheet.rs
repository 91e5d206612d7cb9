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
    /// Something that it takes was not called, or what should have protected from something that was.
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
    let named =
        |name: &str| -> Vec<usize> { (0..section.steps.len()).filter(|s| section.is_named(name, *s)).collect() };
    let taken = |step: usize| review.steps.iter().any(|t| t.step == step);
    // A named callout only has to be called.
    let heard = |name: &str| match named(name) {
        none if none.is_empty() => called.iter().any(|c| section.means(name, &c.say)),
        steps => steps.into_iter().any(taken),
    };
    let ahead = |name: &str| match named(name) {
        none if none.is_empty() => review.cut && !heard(name),
        steps => steps.iter().any(|s| review.not_reached.contains(s)),
    };
    let claimed = |name: &&String| {
        // Of a loop or a phase what may be left out is not needed.
        let may_lack = |s: usize| {
            let step = &section.steps[s];
            step.groups.contains(*name) && (step.optional || section.choice_of(s).is_some())
        };
        // Of a loop's step every turn is needed.
        heard(name) && named(name).into_iter().all(|s| taken(s) || may_lack(s))
    };
    // What should have protected and was left out is told as that, and breaks no pair: what it leaves unprotected is not claimed all the same.
    let unguarded = || {
        let pairs = section.safety.iter().filter(|pair| criterion.broken_by.contains(&pair.id));
        pairs.filter(|p| !heard(&p.first) && p.then.iter().any(|then| heard(then))).map(|p| p.first.as_str())
    };
    let missed = |name: &str| {
        let steps = named(name);
        review.findings.iter().filter_map(Finding::unheard).any(|(step, _)| steps.contains(&step))
    };
    if unguarded().any(missed) {
        return Claim::NotClaimed;
    }
    if criterion.steps.iter().filter(claimed).count() >= criterion.at_least {
        return if unguarded().any(ahead) { Claim::NotReached } else { Claim::Claimed };
    }
    if criterion.steps.iter().any(|name| ahead(name)) { Claim::NotReached } else { Claim::NotClaimed }
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
