//! The scores of what was heard last. Stretches that are asked about overlap, and most of a frame's cost is the network's: each is computed once.

use crate::acoustic::judge::{HOP, Judge};
use crate::acoustic::spot::Scores;
use crate::time::SampleIndex;
use std::collections::VecDeque;
use std::ops::Range;

/// Frames in front of what is asked for, where none is known: the next to ask about the same speech may see it begin a little earlier.
const FRONT: usize = 10;

/// Frames of [`HOP`] samples each, counted from the beginning of the axis: at most those of the sound that is remembered.
#[derive(Default)]
pub(super) struct Scored {
    first: usize,
    scores: Scores,
}

impl Scored {
    /// The scores of the whole frames between two places: the sample with which the first begins, and the scores. `sound` is what is remembered,
    /// which begins at `begin`; the places lie in it.
    pub fn between(
        &mut self,
        judge: &Judge,
        (begin, sound): (SampleIndex, &VecDeque<f32>),
        (from, until): (SampleIndex, SampleIndex),
    ) -> (SampleIndex, Scores) {
        let (begin, from) = (begin.0 as usize, (from.0 as usize).div_ceil(HOP));
        let until = Judge::frames(until.0 as usize).max(from);
        if from < self.first || from > self.first + self.scores.frames() {
            let first = from.saturating_sub(FRONT).max(begin.div_ceil(HOP)).min(from);
            *self = Scored { first, scores: Scores::default() };
        }
        let known = self.first + self.scores.frames();
        let mut scores = self.scores.part(from.min(known) - self.first, until.min(known) - self.first);
        if until > known {
            let new = compute(judge, (begin, sound), known..until);
            scores.extend(&new.part(from.saturating_sub(known), new.frames()));
            // Those that look at sound which is still to come are computed again.
            let settled = (begin + sound.len()).saturating_sub(judge.reach().1);
            let whole = Judge::frames(settled).clamp(known, until);
            self.scores.extend(&new.part(0, whole - known));
            let old = begin.div_ceil(HOP).saturating_sub(self.first).min(self.scores.frames());
            self.scores.drop_first(old);
            self.first += old;
        }
        (SampleIndex((from * HOP) as u64), scores)
    }
}

/// Some frames, with the sound around them that they depend on.
fn compute(judge: &Judge, (begin, sound): (usize, &VecDeque<f32>), frames: Range<usize>) -> Scores {
    let (before, behind) = judge.reach();
    let first = frames.start.saturating_sub(before.div_ceil(HOP)).max(begin.div_ceil(HOP));
    let last = (frames.end * HOP + behind).min(begin + sound.len());
    let sound: Vec<f32> = sound.range(first * HOP - begin..last - begin).copied().collect();
    judge.some_scores(&sound, frames.start - first..frames.end - first)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::acoustic::features::FRAME;
    use std::path::Path;

    /// Whatever was asked for before, a frame has the scores that it has in the whole sound, but for those that look at sound which is still to come.
    #[test]
    fn a_frame_has_the_same_scores_whenever_it_is_asked_for() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("models/fetched/english");
        let judge = Judge::read(&folder).expect("`bash models/setup.sh` makes the model");
        let noise = |k: usize| ((k as u32).wrapping_mul(2_654_435_761) >> 8) as f32 / 16_777_216.0 - 0.5;
        let sound: VecDeque<f32> = (0..160_000).map(|k| noise(k) * (k as f32 / 3_000.0).sin()).collect();
        let whole = judge.scores(&sound.iter().copied().collect::<Vec<_>>());
        let place = |seconds: f64| SampleIndex((seconds * 16_000.0) as u64);
        let mut scored = Scored::default();
        // On, overlapping, back before what is known, far behind it, a little before that; the first number is how much sound there is.
        for (fed, from, until) in
            [(2.0, 0.5, 2.0), (2.4, 0.6, 2.4), (3.0, 0.2, 2.8), (10.0, 7.0, 9.0), (10.0, 7.013, 9.5), (10.0, 6.9, 9.6)]
        {
            let heard: VecDeque<f32> = sound.range(..place(fed).0 as usize).copied().collect();
            let (at, scores) = scored.between(&judge, (SampleIndex(0), &heard), (place(from), place(until)));
            let first = at.0 as usize / HOP;
            assert!(
                (at.0 as usize).is_multiple_of(HOP)
                    && at >= place(from)
                    && at.since(place(from)).samples() < HOP as u64
            );
            assert_eq!(scores.frames(), (place(until).0 as usize - FRAME) / HOP + 1 - first);
            let known = (place(fed).0 as usize - FRAME - judge.reach().1) / HOP + 1;
            let same = scores.frames().min(known.saturating_sub(first));
            assert!(same > 40);
            let width = judge.width();
            let (ours, theirs) = (&scores.rows[..same * width], &whole.rows[first * width..(first + same) * width]);
            let far = ours.iter().zip(theirs).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
            assert!(far < 1e-3, "{far} from {from} to {until}");
            assert_eq!(scores.level[..same], whole.level[first..first + same]);
        }
    }
}
