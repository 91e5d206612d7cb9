//! An alignment of a run and its section, move by move, in the words of conformance checking (Carmona, van Dongen, Solti &
//! Weidlich 2018, ch. 7).

use crate::section::{Done, Section};

/// One move of an explanation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Move {
    /// A synchronous move: the callout numbered `event` announced `step`.
    Called {
        /// The step, by place.
        step: usize,
        /// The callout, by place in the run.
        event: usize,
    },
    /// A model move: a step passed over without a callout.
    Skip(usize),
    /// A log move: a callout, by place, that no step explains where it stands.
    Extra(usize),
}

/// An explanation of a run, and its cost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alignment {
    /// Steps skipped that were needed, and callouts unexplained.
    pub cost: u32,
    /// From first to last.
    pub moves: Vec<Move>,
    /// The steps called or passed over.
    pub done: Done,
    /// Whether no other explanation costs less. Where a section's order is so wide that this can't be found out in a
    /// bounded time, it is the cheapest that was found.
    pub cheapest: bool,
}

impl Alignment {
    /// 1 - cost / (callouts + steps of the shortest allowed run): 1 for an allowed run (Adriansyah 2014, from memory).
    pub fn fitness(&self, section: &Section, callouts: usize) -> f64 {
        1.0 - f64::from(self.cost) / (callouts + shortest(section)).max(1) as f64
    }
}

/// Steps in the shortest allowed run.
pub fn shortest(section: &Section) -> usize {
    let needed = |&s: &usize| !section.steps[s].optional && section.choice_of(s).is_none();
    let chosen: usize = section.choices.iter().map(|c| c.at_least).sum();
    (0..section.steps.len()).filter(needed).count() + chosen
}
