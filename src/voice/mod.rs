//! The voice: text to sound at one loudness, kept in a cache so that no announcement waits for synthesis.
//! It plays nothing.

mod cache;
mod flite;
mod level;
mod sign;
mod worker;

pub use cache::{Cache, Proctor};
pub use flite::{Flite, VoiceError};
pub use level::{PEAK_CEILING, TARGET_LUFS, level};
pub use sign::{SIGN_LEVEL, chime};
pub use worker::Worker;

/// Sound ready to play: one channel of floats in -1 to 1.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Speech {
    /// Samples.
    pub samples: Vec<f32>,
    /// Samples a second.
    pub rate: u32,
}

impl Speech {
    /// How long it sounds.
    pub fn length(&self) -> crate::time::Ms {
        crate::time::Ms((self.samples.len() as u64 * 1000).div_ceil(u64::from(self.rate.max(1))))
    }

    /// Whether nothing of it sounds.
    pub fn is_silent(&self) -> bool {
        self.samples.iter().all(|s| *s == 0.0)
    }

    /// Silence of about the length that `text` takes to say at 150 words a minute, for a run without a voice.
    pub fn silent(text: &str) -> Speech {
        let rate = 16_000;
        Speech { samples: vec![0.0; text.split_whitespace().count() * rate as usize * 60 / 150], rate }
    }
}
