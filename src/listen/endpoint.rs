//! Where speech begins and ends, by how loud it is.

use super::Ears;
use crate::time::{Ms, SampleIndex};
use std::collections::VecDeque;
use std::ops::RangeInclusive;

/// Sound in front of an utterance that is judged with it, so that a phrase said with a pause in it is found whole.
const BEFORE: Ms = Ms(1500);

/// So much is enough where the rest of it is quiet: the network is most of what a callout costs.
const NEAR: Ms = Ms(600);

/// Samples of one level.
pub(super) const BLOCK: usize = 320;
/// Levels that are remembered: 4 s.
pub(super) const LEVELS: usize = 200;
/// So far below the loudest of them it is quiet, in dB; and speech is at least so loud, in dBFS.
const BELOW: f32 = 13.0;
const LOUD: f32 = -55.0;
/// Levels of the pause behind a callout at which it is tried: 0.2 to 0.28 s, or 0.4 to 0.48 s for one of fewer than [`LONG`] phones, which talk holds
/// now and then in front of a short pause; so once each, since levels come five at a time.
const PAUSES: [(RangeInclusive<usize>, usize); 2] = [(10..=14, LONG), (20..=24, 0)];
const LONG: usize = 8;
/// Levels of the pause in front of it: 0.3 s.
const FRONT: usize = 15;
/// Level of some samples in dBFS.
pub(super) fn level(block: &[i16]) -> f32 {
    let power = block.iter().map(|s| (f32::from(*s) / 32_768.0).powi(2)).sum::<f32>() / block.len().max(1) as f32;
    10.0 * power.max(1e-12).log10()
}

/// Where the sound begins that is judged with speech that begins at `start`; `levels` are the last ones up to `fed`.
pub(super) fn front(levels: &VecDeque<f32>, fed: SampleIndex, start: SampleIndex) -> SampleIndex {
    let (far, near) = (start - BEFORE, start - NEAR);
    let first = fed.0.saturating_sub((levels.len() * BLOCK) as u64);
    if far.0 < first {
        return far;
    }
    let block = |at: SampleIndex| ((at.0 - first) as usize / BLOCK).min(levels.len());
    let loudest = levels.range(block(start)..).copied().fold(f32::MIN, f32::max);
    let quiet = levels.range(block(far)..block(near)).all(|level| *level < loudest - BELOW);
    if quiet { near } else { far }
}

impl Ears {
    /// Speech between two pauses, the second one still going on: where it begins and ends, and how many phones a callout has at least that is
    /// tried there now.
    pub(super) fn endpointed(&self) -> Option<(SampleIndex, SampleIndex, usize)> {
        let loudest = self.levels.iter().copied().fold(f32::MIN, f32::max);
        let quiet = |level: &f32| *level < loudest - BELOW;
        let behind = self.levels.iter().rev().take_while(|l| quiet(l)).count();
        let (_, least) = PAUSES.iter().find(|(pause, _)| loudest >= LOUD && pause.contains(&behind))?;
        // Back over the speech, to the first pause that is longer than one inside a phrase.
        let (mut length, mut pause) = (0, 0);
        for level in self.levels.iter().rev().skip(behind) {
            length += 1;
            pause = if quiet(level) { pause + 1 } else { 0 };
            if pause == FRONT {
                let end = SampleIndex(self.fed.0 - (behind * BLOCK) as u64);
                let start = SampleIndex(end.0.saturating_sub(((length - FRONT) * BLOCK) as u64));
                return Some((start, end, *least));
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::RATE;

    /// A second and a half in front of speech is judged with it where somebody talked there, or where that can't be told any more.
    #[test]
    fn sound_in_front_is_left_out_only_where_it_is_quiet() {
        let (fed, start) = (SampleIndex(10 * RATE), SampleIndex(9 * RATE));
        // Three seconds of levels in blocks of 20 ms: from 7 s to 10 s, the last one speech.
        let levels = |talk: std::ops::Range<usize>| -> VecDeque<f32> {
            (0..150).map(|k| if k >= 100 || talk.contains(&k) { -25.0 } else { -60.0 }).collect()
        };
        assert_eq!(front(&levels(0..0), fed, start), start - NEAR);
        // Talk that ended before, or lies so near that it is looked at in any case, changes nothing.
        assert_eq!(front(&levels(0..24), fed, start), start - NEAR);
        assert_eq!(front(&levels(71..90), fed, start), start - NEAR);
        assert_eq!(front(&levels(40..45), fed, start), start - BEFORE);
        assert_eq!(front(&levels(24..26), fed, start), start - BEFORE);
        // Noise as loud as the speech, or nearly, is no quiet.
        assert_eq!(front(&levels(0..0).iter().map(|l| l.max(-37.0)).collect(), fed, start), start - BEFORE);
        let short = levels(0..0).range(30..).copied().collect();
        assert_eq!(front(&short, fed, start), start - BEFORE);
        assert_eq!(front(&VecDeque::new(), fed, start), start - BEFORE);
    }
}
