//! A phrase that was found and weighed: how sure it is, and what follows from that.

use crate::acoustic::evidence::evidence;
use crate::acoustic::features::Features;
use crate::callout::{Heard, Meaning};
use crate::time::SampleIndex;

/// Evidence from which on a callout counts where the best explanation of what was heard leaves it out.
const SURE: f64 = 0.90;

/// A phrase with less evidence than this may have been another one: it waits for more sound, and the second listen looks there too. Chosen with the
/// evidence before, where it was 0.98 by that one's curve: of what was told at once, less had 7 of 5,910 callouts of the development set, and 14 that
/// were cut off by a short pause in them and taken for another.
const DOUBTFUL: f64 = 0.97;

/// Whether a phrase with this meaning was weighed somewhere between these places.
pub(super) fn holds(weighed: &[Candidate], meaning: &Meaning, start: SampleIndex, end: SampleIndex) -> bool {
    weighed.iter().any(|m| m.meaning == *meaning && m.meets(start, end))
}

/// A phrase that was found and weighed.
#[derive(Clone)]
pub struct Candidate {
    /// What it means.
    pub meaning: Meaning,
    /// Onset of its first word.
    pub start: SampleIndex,
    /// End of its last word.
    pub end: SampleIndex,
    /// What was measured.
    pub features: Features,
    /// Whether libvosk found the same there.
    pub agreed: bool,
    /// Whether it may have been the tool's own voice.
    pub own: bool,
    /// The evidence from which on this phrase counts as called.
    pub called: f64,
}

impl Candidate {
    /// How sure it is, 0 to 1.
    pub fn evidence(&self) -> f64 {
        evidence(&self.features, self.agreed)
    }

    pub(super) fn heard(&self) -> Heard {
        Heard { meaning: self.meaning.clone(), start: self.start, end: self.end, confidence: self.evidence() as f32 }
    }

    /// Whether it shares some time with what lies between these places.
    pub(super) fn meets(&self, start: SampleIndex, end: SampleIndex) -> bool {
        self.start < end && self.end > start
    }

    /// Whether it is so sure that it counts where the best explanation of what was heard leaves it out.
    pub(super) fn sure(&self) -> bool {
        self.evidence() >= SURE.max(self.called)
    }

    /// Whether it may have been another phrase.
    pub(super) fn doubtful(&self) -> bool {
        self.evidence() < DOUBTFUL
    }

    /// Whether no other phrase and no opposite fits better there. What the best explanation leaves out would else be told for its opposite, since
    /// the evidence was fitted to what that explanation holds.
    pub(super) fn fits_best(&self) -> bool {
        self.features.margin > 0.0
    }

    /// Whether it counts as called.
    pub(super) fn taken(&self) -> bool {
        self.evidence() >= self.called && !self.own
    }
}
