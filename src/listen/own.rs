//! The tool's own voice among what is heard. It is taken out of the sound; what is left of it, and what the room makes of that, must still be taken for
//! nobody's callout: where the words that the tool was saying hold a phrase as well, it was not called, or nobody can tell.

use super::candidate::Candidate;
use super::verify::{Weighing, frame};
use super::{Ears, endpoint::BLOCK};
use crate::acoustic::phrase::Phrase;
use crate::audio::Cleaned;
use crate::time::{Ms, SampleIndex};
use crate::voice::Speech;

/// What the tool's voice does, for the ears to know.
#[derive(Clone, Debug, PartialEq)]
pub enum Voiced {
    /// It begins to say this at that place.
    Begins(SampleIndex, Speech),
    /// It stops there, in the middle of it.
    Stops(SampleIndex),
    /// It has ended, its echo in the room counted in.
    Ended(SampleIndex),
}

/// A loudspeaker that is told to stop goes on for so long.
const LINGERS: Ms = Ms(100);
/// Sound around a phrase in which the tool's words are looked at: it may have come a little earlier or later.
const AROUND: Ms = Ms(400);
/// The tool's words hold a phrase where it is about as likely as anything else there, by log-likelihood ratio.
const HELD: f32 = -6.0;
/// What is heard of its words is hardly likelier than they are themselves; what is, by so much, somebody else said. In four simulated rooms its words,
/// with nothing taken out, were likelier by 15 at most, callouts that they seemed to hold by 33 or more.
const CLEARER: f32 = 20.0;
/// What is left of the sound, as a share of what was taken out, from which on somebody else may have said a phrase; and from which on it was
/// hardly the tool, whatever it was saying.
const FAINT: f32 = 0.05;
pub(super) const LOUDER: f32 = 0.5;

impl Ears {
    /// The tool's voice begins or ends.
    pub fn tell(&mut self, voiced: Voiced) {
        // Without the wide ear nobody could tell a callout from what is left of the voice.
        let known = self.weighing.is_some();
        match voiced {
            // Words that are only shown can't be heard in the room.
            Voiced::Begins(_, speech) if speech.is_silent() => {}
            Voiced::Begins(at, speech) => {
                self.gate.begin(at, known);
                if known {
                    self.echo.says(at, &speech.samples, speech.rate);
                }
            }
            Voiced::Stops(at) => self.echo.stops(at + LINGERS),
            Voiced::Ended(at) => self.gate.end(at),
        }
    }

    /// A chunk without the tool's voice; what came before it is mended where it has to be.
    pub(super) fn cleaned(&mut self, heard: &[f32]) -> Vec<f32> {
        let Cleaned { mut sound, own } = self.echo.clean(heard);
        let mended = sound.len() - heard.len();
        let keep = |length: usize, gone: usize| length.saturating_sub(gone);
        self.recent.truncate(keep(self.recent.len(), mended));
        self.levels.truncate(keep(self.levels.len(), mended / BLOCK));
        self.powers.truncate(keep(self.powers.len(), mended / BLOCK));
        let power = |part: &[f32]| part.iter().map(|s| s * s).sum::<f32>();
        let first = self.powers.len();
        self.powers.extend(sound.chunks(BLOCK).zip(own.chunks(BLOCK)).map(|(sound, own)| (power(sound), power(own))));
        // What little is left of the voice where nobody else speaks would still be taken for talk beside a callout.
        for (k, block) in sound.chunks_mut(BLOCK).enumerate() {
            let near = &self.powers[(first + k).saturating_sub(2)..(first + k + 3).min(self.powers.len())];
            let (left, own) = near.iter().fold((0.0, 0.0), |sum, (left, own)| (sum.0 + left, sum.1 + own));
            let gain = if own > 0.0 { (left / (FAINT * own)).min(1.0) } else { 1.0 };
            block.iter_mut().for_each(|s| *s *= gain);
        }
        let last = sound.split_off(mended);
        self.remember(&sound);
        last
    }

    /// What is left of the sound between two places, as a share of what was taken out there.
    pub(super) fn left(&self, start: SampleIndex, end: SampleIndex) -> f32 {
        let block = |at: SampleIndex| (at.since(self.opened).samples() as usize / BLOCK).min(self.powers.len());
        let part = &self.powers[block(start)..block(end).max(block(start))];
        let (sound, own) = part.iter().fold((0.0, 0.0), |sum, (sound, own)| (sum.0 + sound, sum.1 + own));
        if own > 0.0 { sound / own } else { f32::INFINITY }
    }

    /// Whether what the tool says between two places holds one of these phrases, and not far less likely than it was `heard` there (log-likelihood ratio).
    pub(super) fn holds<'a>(
        &self,
        weighing: &Weighing,
        mut phrases: impl Iterator<Item = &'a Phrase>,
        (start, end): (SampleIndex, SampleIndex),
        heard: f32,
    ) -> bool {
        let from = start - AROUND;
        let (own, any) = self.echo.own(from, end + AROUND);
        if !any {
            return false;
        }
        let scores = weighing.verifier.scores(&own);
        let place = (frame(from, &scores, start), frame(from, &scores, end));
        phrases.any(|phrase| {
            let features = weighing.verifier.weigh(&scores, place, phrase, &weighing.talk, std::iter::empty());
            features.is_some_and(|f| f.llr >= HELD.max(heard - CLEARER))
        })
    }

    /// Whether a phrase may have been the tool's: too little is left there for it to be somebody else's, or the tool said it.
    pub(super) fn may_be_own(&self, weighing: &Weighing, found: &Candidate) -> bool {
        let place = (found.start, found.end);
        self.gate.speaks(found.start, found.end)
            && (self.left(found.start, found.end) < FAINT
                || self.holds(weighing, weighing.said(&self.vocabulary, &found.meaning), place, found.features.llr))
    }

    /// Whether a phrase was the tool's, and nobody else can have said it.
    pub(super) fn is_own(
        &self,
        weighing: &Weighing,
        phrase: &Phrase,
        (start, end): (SampleIndex, SampleIndex),
        heard: f32,
    ) -> bool {
        self.gate.speaks(start, end)
            && self.left(start, end) < LOUDER
            && self.holds(weighing, std::iter::once(phrase), (start, end), heard)
    }
}
