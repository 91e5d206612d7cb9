//! The section: what is read aloud, the clock, the steps and the order they may be taken in.
//! It knows nothing of files, sound or how a run went.

mod order;

pub use order::{Done, Order};

use crate::time::Ms;
use serde::Serialize;

/// Most steps a section may have.
pub const MAX_STEPS: usize = 256;

/// One timed section of a practical exam.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Section {
    /// Short name, unique in a folder.
    pub id: String,
    /// Name as spoken and shown.
    pub title: String,
    /// The trade examined.
    pub trade: String,
    /// The board whose bulletin it follows.
    pub board: String,
    /// Date of the edition, `YYYY-MM-DD`.
    pub edition: String,
    /// Where the numbers come from.
    pub source: String,
    /// The usual cautions, shown before and after.
    pub cautions: Vec<String>,
    /// What the proctor reads.
    pub reading: Reading,
    /// Limit, warning and stop.
    pub clock: Clock,
    /// Words by which the candidate shows that the section is finished.
    pub finish: Vec<String>,
    /// The steps, in the order they are written.
    pub steps: Vec<Step>,
    /// "At least k of these" choices.
    pub choices: Vec<Choice>,
}

/// The proctor's instructions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reading {
    /// One sentence an item.
    pub sentences: Vec<String>,
    /// How often they are read.
    pub times: u32,
    /// Said before each further reading.
    pub again: String,
    /// The start words: the clock starts when they end.
    pub begin: String,
}

/// The section's clock.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Clock {
    /// Time allowed.
    pub limit: Ms,
    /// Time left when the one warning is given; none where the section has no warning.
    pub warning_left: Option<Ms>,
    /// The warning's words.
    pub warning: String,
    /// The stop words.
    pub stop: String,
}

/// One thing the candidate is to do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// Short name, unique in the section.
    pub id: String,
    /// Name as shown and spoken in the recap.
    pub title: String,
    /// Callouts, any of which announces the step. Several steps may share one.
    pub say: Vec<String>,
    /// Time planned.
    pub target: Ms,
    /// Steps that must come before, by place in [`Section::steps`].
    pub after: Vec<usize>,
    /// The step that must come immediately before.
    pub directly_after: Option<usize>,
    /// May be left out.
    pub optional: bool,
    /// Leaving it out can fail the section.
    pub critical: bool,
    /// A hand-hygiene step: more of it is never a fault.
    pub hygiene: bool,
    /// Caution shown with the step.
    pub caution: Option<String>,
}

/// At least `at_least` of the steps in `of` must be taken.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Choice {
    /// Name as spoken in the recap.
    pub title: String,
    /// Steps, by place.
    pub of: Vec<usize>,
    /// How many of them are needed.
    pub at_least: usize,
}

impl Section {
    /// The same section with its clock and targets divided by `factor`, for a fast walk-through of the order.
    pub fn compressed(mut self, factor: u32) -> Section {
        let factor = u64::from(factor.max(1));
        let divide = |span: Ms| Ms(span.0 / factor);
        self.clock.limit = divide(self.clock.limit);
        self.clock.warning_left = self.clock.warning_left.map(divide);
        for step in &mut self.steps {
            step.target = divide(step.target);
        }
        self
    }

    /// The choice that a step belongs to, by place.
    pub fn choice_of(&self, step: usize) -> Option<usize> {
        self.choices.iter().position(|c| c.of.contains(&step))
    }

    /// Words in one reading of the instructions.
    pub fn reading_words(&self) -> usize {
        self.reading.sentences.iter().map(|s| s.split_whitespace().count()).sum()
    }
}
