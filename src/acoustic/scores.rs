//! What the network makes of sound: scores of phones, and levels.

use super::phones::Phone;

/// Samples from one frame to the next, at 16 kHz: 24 ms.
pub const HOP: usize = 384;
/// Frames of the quarter second before and after a phrase.
pub(super) const SIDE: usize = 4_000 / HOP;
pub(super) const NEVER: f32 = -1e30;

/// What the network makes of a stretch of sound, a frame for each 24 ms.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scores {
    /// Log scores, two for each phone, frame after frame.
    pub rows: Vec<f32>,
    /// The level of each frame, in dB.
    pub level: Vec<f32>,
}

impl Scores {
    /// Those of some frames.
    pub fn part(&self, from: usize, until: usize) -> Scores {
        let width = self.rows.len() / self.level.len().max(1);
        Scores { rows: self.rows[from * width..until * width].to_vec(), level: self.level[from..until].to_vec() }
    }

    /// How many frames.
    pub fn frames(&self) -> usize {
        self.level.len()
    }

    /// How much louder some frames are than the quarter second before and after them, and than the quietest tenth of all.
    pub(super) fn louder(&self, from: usize, until: usize) -> ((f32, f32), f32) {
        let middle = |mut part: Vec<f32>, share: usize| {
            part.sort_by(f32::total_cmp);
            part.get(part.len() * share / 10).copied()
        };
        let Some(inside) = middle(self.level[from..until].to_vec(), 7) else { return ((0.0, 0.0), 0.0) };
        // The frame beside the phrase holds some of it.
        let before = middle(self.level[from.saturating_sub(SIDE)..from.saturating_sub(1)].to_vec(), 5);
        let after = middle(self.level[(until + 1).min(self.frames())..(until + SIDE).min(self.frames())].to_vec(), 5);
        let over = |around: Option<f32>| around.map_or(20.0, |level| inside - level);
        ((over(before), over(after)), over(middle(self.level.clone(), 1)))
    }
}

/// The greatest of some values, and which it is.
pub(super) fn best(values: impl IntoIterator<Item = f32>) -> (f32, usize) {
    values.into_iter().enumerate().fold((NEVER, 0), |a, (i, x)| if x > a.0 { (x, i) } else { a })
}

/// How well a phone fits a frame, whether it begins there or goes on.
pub(super) fn phone_score(row: &[f32], phone: Phone) -> f32 {
    row[2 * phone].max(row[2 * phone + 1])
}
