//! Where nothing is said, libvosk is given nothing: it is four fifths of what listening costs, and most of a run is quiet.

use super::{Ears, floats, pcm};
use crate::time::{Ms, SampleIndex};
use crate::words::Word;
use std::collections::VecDeque;

/// Levels in which nobody spoke where they are even: 1.2 s, half as much again as the longest pause by which libvosk ends an utterance.
const EVEN: usize = 60;
/// They are looked at in parts of 100 ms, longer than the gaps between syllables are deep.
const PART: usize = 5;
/// Parts that differ by less are even, in dB; and so is what is quieter than this, in dBFS. Speech as loud as the noise around it rises 5 dB out of it.
const APART: f32 = 4.0;
const SILENT: f32 = -70.0;
/// Sound in front of what breaks the quiet that libvosk is given too.
const AGAIN: Ms = Ms(600);

/// Whether the last levels are those of a room in which nobody speaks.
fn even(levels: &VecDeque<f32>) -> bool {
    let Some(first) = levels.len().checked_sub(EVEN) else { return false };
    let last: Vec<f32> = levels.range(first..).copied().collect();
    let loudest = last.chunks(PART).map(|part| part.iter().copied().fold(f32::MIN, f32::max));
    let (least, most) = loudest.fold((f32::MAX, f32::MIN), |(least, most), part| (least.min(part), most.max(part)));
    most < SILENT.max(least + APART)
}

impl Ears {
    /// The words that are complete with the sound just fed, whose levels are known.
    pub(super) fn recognised(&mut self, sound: &[i16]) -> Vec<Word> {
        self.remember(&floats(sound));
        // What libvosk is still deciding it goes on with.
        if even(&self.levels) && (self.rested > 0 || self.recogniser.partial_result().partial.is_empty()) {
            self.rested += sound.len() as u64;
            return vec![];
        }
        let again = self.rested.min(AGAIN.samples());
        // Its words are placed by what it was given.
        self.offset = SampleIndex(self.offset.0 + self.rested - again);
        self.rested = 0;
        let before = self.recent.len().saturating_sub(sound.len() + again as usize);
        let given: Vec<f32> = self.recent.range(before..).copied().collect();
        self.decode(&pcm(&given))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A room whose noise stays within 3 dB is quiet, and so is silence; speech that rises 5 dB out of it, or began or ended within 1.2 s, is not.
    #[test]
    fn a_room_is_quiet_where_its_levels_are_even() {
        let room = |level: f32| (0..EVEN).map(move |k| level + (k % 7) as f32 / 2.0);
        let with = |level: f32, speech: std::ops::Range<usize>, louder: f32| -> VecDeque<f32> {
            room(level).enumerate().map(|(k, l)| if speech.contains(&k) { l + louder } else { l }).collect()
        };
        for level in [-90.0, -60.0, -30.0] {
            assert!(even(&room(level).collect()), "{level}");
        }
        assert!(!even(&room(-60.0).take(EVEN - 1).collect()), "not known yet");
        for speech in [0..PART, 20..30, EVEN - 1..EVEN] {
            assert!(!even(&with(-40.0, speech.clone(), 5.0)), "{speech:?}");
        }
        assert!(even(&with(-90.0, 20..30, 15.0)), "nobody speaks at -72 dBFS");
        assert!(!even(&with(-90.0, 20..30, 25.0)));
    }
}
