//! What the driver listens through.

use super::Voiced;
use crate::callout::{Heard, Vocabulary};
use crate::review::SearchTarget;
use crate::time::{Ms, SampleIndex};

/// What came from the ears' side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arrived {
    /// A chunk of sound, or the time for one; and samples lost since the last.
    Chunk {
        /// In samples of the device.
        lost: u64,
    },
    /// No sound comes any more; the axis stands still until [`Arrived::Back`].
    Gone,
    /// Sound comes again, after so long.
    Back(Ms),
    /// The computer slept for so long, and the axis stood still.
    Slept(Ms),
    /// There will be no more sound: from here on silence carries the axis on.
    Ended,
}

/// What the driver listens through: the ears on their own thread, or what a simulation puts in their place.
#[allow(async_fn_in_trait, reason = "one task drives it, so nothing needs it to be sent to another thread")]
pub trait Listener {
    /// Wait for what comes next. May be dropped and called again.
    async fn next(&mut self) -> Arrived;
    /// Decode the chunk that has come, told first what the tool's voice did since; gives the phrases completed.
    async fn decode(&mut self, voiced: Vec<Voiced>) -> Vec<Heard>;
    /// What was still being decided when the sound ended.
    async fn finish(&mut self) -> Vec<Heard>;
    /// Listen for these phrases from now on, and no others.
    async fn set_grammar(&mut self, vocabulary: Vocabulary);
    /// Look for steps again in what was heard: which were perhaps called, and where.
    async fn search(&mut self, wanted: Vec<SearchTarget>) -> Vec<(usize, SampleIndex)>;
}
