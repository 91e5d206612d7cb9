//! The wide ear: a network that turns a whole stretch of sound into scores of phones. It looks at all of the stretch at once, before and behind each
//! frame, so it judges speech that has ended; libvosk follows the stream. `models/recipe/ear.py` writes it and says what it computes.

use super::LARGEST_FILE;
pub use super::scores::HOP;
use super::scores::Scores;
use crate::platform;
use rten::{Model, NodeId, RunOptions, ThreadPool, Value};
use std::path::Path;
use std::sync::Arc;

/// Where in a model's folder it lies.
pub const FILE: &str = "am/ear.onnx";
/// Samples that a frame is made of; the rest of the stretch only colours it.
const SEEN: usize = 895;
/// From a frame's first sample to where what it tells begins: it speaks of the middle of what it sees.
pub const LEAD: usize = (SEEN - HOP) / 2;
/// Frames that are computed at once. Longer stretches than 12 s were hardly trained on, and cost by their square.
const AT_ONCE: usize = 500;
/// Frames on both sides that a part of a longer stretch is computed with: 1.2 s.
const AROUND: usize = 50;

/// The network, ready to run.
pub struct Ear {
    model: Model,
    sound: NodeId,
    scores: NodeId,
    options: RunOptions,
}

impl Ear {
    /// From its file; none where that is missing or holds something else.
    pub fn read(path: &Path) -> Option<Ear> {
        // Its weights laid out beforehand would take 24 MB, and save no time that can be measured.
        let model = Model::load(platform::read(path, LARGEST_FILE).ok()?).ok()?;
        let node = |name: &str| model.node_id(name).ok();
        let (sound, scores) = (node("sound")?, node("scores")?);
        // One thread: a stretch takes some 20 ms, and waking others for it costs more processor time than it saves.
        let mut options = RunOptions::default();
        options.thread_pool = Some(Arc::new(ThreadPool::with_num_threads(1)));
        let ear = Ear { model, sound, scores, options };
        // One that can't be computed here is found out now and not in a run.
        ear.rows(&[0.0; 2 * SEEN]).is_some().then_some(ear)
    }

    /// How many frames of scores so many samples make.
    pub fn frames(samples: usize) -> usize {
        if samples < SEEN { 0 } else { 1 + (samples - SEEN) / HOP }
    }

    /// The scores of a stretch of sound at 16 kHz, in -1 to 1: a frame for each [`HOP`] samples.
    pub fn scores(&self, sound: &[f32]) -> Scores {
        let frames = Ear::frames(sound.len());
        let mut scores = Scores::default();
        for from in (0..frames).step_by(AT_ONCE) {
            let until = (from + AT_ONCE).min(frames);
            let (first, last) = (from.saturating_sub(AROUND), (until + AROUND).min(frames));
            // A network that fails on a stretch has heard nothing in it.
            let Some(rows) = self.rows(&sound[first * HOP..(last - 1) * HOP + SEEN]) else { return Scores::default() };
            let width = rows.len() / (last - first);
            scores.rows.extend_from_slice(&rows[(from - first) * width..(until - first) * width]);
        }
        scores.level = (0..frames).map(|frame| level(&sound[frame * HOP + LEAD..][..HOP])).collect();
        scores
    }

    fn rows(&self, sound: &[f32]) -> Option<Vec<f32>> {
        let input = Value::from_shape([1, 1, sound.len()], sound.to_vec()).ok()?;
        let run = self.model.run_n(vec![(self.sound, input.into())], [self.scores], Some(self.options.clone()));
        let [scores] = run.ok()?;
        Some(scores.into_tensor::<f32>()?.into_data())
    }
}

/// The level of some samples in dB, the difference of each to the one before it: rumble counts for little, as it does to the ear.
fn level(samples: &[f32]) -> f32 {
    let power = samples.windows(2).map(|s| (s[1] - s[0]).powi(2)).sum::<f32>() / samples.len() as f32;
    10.0 * power.max(1e-12).log10()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The scores of a long stretch are those of its parts, but for what a frame sees of the rest.
    #[test]
    fn a_long_stretch_is_heard_in_parts() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("models/fetched/english");
        let ear = Ear::read(&folder.join(FILE)).expect("`bash models/setup.sh` makes the model");
        let noise = |k: usize| ((k as u32).wrapping_mul(2_654_435_761) >> 8) as f32 / 16_777_216.0 - 0.5;
        let sound: Vec<f32> = (0..(AT_ONCE + 100) * HOP).map(|k| noise(k) * (k as f32 / 3_000.0).sin()).collect();
        let whole = ear.scores(&sound);
        assert_eq!(whole.frames(), Ear::frames(sound.len()));
        assert_eq!(whole.rows.len(), whole.frames() * 82);
        let part = ear.scores(&sound[..(AT_ONCE + AROUND - 1) * HOP + SEEN]);
        assert_eq!(part.rows[..AT_ONCE * 82], whole.rows[..AT_ONCE * 82]);
        assert!(ear.scores(&sound[..SEEN - 1]).rows.is_empty());
    }
}
