//! A run explained by its section: what was called, what was not, what came out of order, how long each step took.
//! It makes no sentences.

mod align;

pub use align::{Alignment, Move, align};

use crate::section::Section;
use crate::time::{Ms, SampleIndex};

/// One callout of a run that counted.
#[derive(Clone, Debug, PartialEq)]
pub struct Called {
    /// Its words.
    pub say: String,
    /// Its onset.
    pub at: SampleIndex,
}

/// A step as it went.
#[derive(Clone, Debug, PartialEq)]
pub struct StepTime {
    /// The step, by place.
    pub step: usize,
    /// Onset of its callout.
    pub at: SampleIndex,
    /// Until the next callout, or the end.
    pub took: Ms,
}

/// Something worth saying about a run.
#[derive(Clone, Debug, PartialEq)]
pub enum Finding {
    /// A needed step was not called.
    NotCalled {
        /// The step, by place.
        step: usize,
    },
    /// A step was called, but not where the section has it.
    OutOfOrder {
        /// The step, by place.
        step: usize,
        /// When it was called.
        at: SampleIndex,
    },
    /// A callout for which the section has no more steps.
    Extra {
        /// Its words.
        say: String,
        /// When it was called.
        at: SampleIndex,
    },
    /// Fewer steps of a choice were called than it needs.
    TooFew {
        /// The choice, by place.
        choice: usize,
        /// How many were called.
        called: usize,
    },
    /// A callout came before the start words ended.
    BeforeStart {
        /// Its words.
        say: String,
        /// When it was called.
        at: SampleIndex,
    },
    /// A callout came after the stop.
    AfterStop {
        /// Its words.
        say: String,
        /// When it was called.
        at: SampleIndex,
    },
    /// An item was dropped.
    Dropped {
        /// When it was called.
        at: SampleIndex,
        /// How long until hands were called, where they were called before the next step.
        hands_after: Option<Ms>,
    },
}

/// Steps with their times, and findings in the order of the section.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Review {
    /// Steps that were called.
    pub steps: Vec<StepTime>,
    /// What there is to say.
    pub findings: Vec<Finding>,
}

/// Explain `called`, with items `dropped` at those places, of a run that ended at `end`.
pub fn review(section: &Section, called: &[Called], dropped: &[SampleIndex], end: SampleIndex) -> Review {
    let hygiene = |say: &str| section.steps.iter().any(|s| s.hygiene && s.say.iter().any(|p| p == say));
    let mut findings = vec![];
    let mut answers = vec![];
    for &at in dropped {
        // The first callout after a drop answers it, if it is for the hands: it belongs to no step.
        let next = called.iter().position(|c| c.at >= at).filter(|&i| hygiene(&called[i].say));
        answers.extend(next);
        findings.push(Finding::Dropped { at, hands_after: next.map(|i| called[i].at.since(at)) });
    }
    let trace: Vec<&Called> = called.iter().enumerate().filter(|(i, _)| !answers.contains(i)).map(|(_, c)| c).collect();
    let says: Vec<&str> = trace.iter().map(|c| c.say.as_str()).collect();
    let moves = align(section, &says).moves;
    let mut skipped: Vec<usize> =
        moves.iter().filter_map(|m| if let Move::Skip(s) = m { Some(*s) } else { None }).collect();
    let mut steps: Vec<(usize, SampleIndex)> = vec![];
    for step_move in &moves {
        match *step_move {
            Move::Called { step, event } => steps.push((step, trace[event].at)),
            Move::Skip(_) => {}
            Move::Extra(event) => {
                let Called { say, at } = trace[event];
                match skipped.iter().position(|&s| section.steps[s].say.contains(say)) {
                    Some(i) => {
                        let step = skipped.remove(i);
                        steps.push((step, *at));
                        findings.push(Finding::OutOfOrder { step, at: *at });
                    }
                    None if hygiene(say) => {}
                    None => findings.push(Finding::Extra { say: say.clone(), at: *at }),
                }
            }
        }
    }
    steps.sort_by_key(|&(step, at)| (at, step));
    for (place, choice) in section.choices.iter().enumerate() {
        let taken = choice.of.iter().filter(|s| steps.iter().any(|(t, _)| t == *s)).count();
        if taken < choice.at_least {
            findings.push(Finding::TooFew { choice: place, called: taken });
        }
    }
    let needed = |&step: &usize| !section.steps[step].optional && section.choice_of(step).is_none();
    let mut missed: Vec<Finding> = skipped.into_iter().filter(needed).map(|step| Finding::NotCalled { step }).collect();
    missed.sort_by_key(|f| if let Finding::NotCalled { step } = f { *step } else { 0 });
    missed.extend(findings);
    let ends: Vec<SampleIndex> = called.iter().map(|c| c.at).chain([end]).collect();
    let steps = steps
        .into_iter()
        .map(|(step, at)| {
            let next = ends.iter().copied().filter(|e| *e > at).min().unwrap_or(at);
            StepTime { step, at, took: next.since(at) }
        })
        .collect();
    Review { steps, findings: missed }
}
