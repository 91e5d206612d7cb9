//! What a session has done in answer: effects as orders.

use super::Timer;
use crate::callout::Vocabulary;
use crate::review::SearchTarget;
use crate::time::SampleIndex;

/// A soft tone in answer to a callout.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// It was understood.
    Heard,
    /// It was, but not for sure.
    Unsure,
}

/// Something to do, after its event is on disk.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// Say this, after what is being said, or instead of it where it is urgent.
    Speak {
        /// Number of the announcement, counted from 0.
        id: u32,
        /// The words.
        text: String,
        /// Whether it cuts off what is being said.
        urgent: bool,
    },
    /// Fire this timer at that place.
    Arm(Timer, SampleIndex),
    /// Forget this timer.
    Disarm(Timer),
    /// Look for these steps again in what was heard, and answer with [`Event::Searched`].
    Search(Vec<SearchTarget>),
    /// Listen for these phrases from now on, and no others.
    Listen(Vocabulary),
    /// Give this sign, where nothing is being said.
    Sign(Sign),
    /// Speak more slowly from now on.
    Slower,
    /// Stop speaking.
    Hush,
    /// Show this line.
    Show(String),
    /// The session is over.
    Close,
}
