//! A recording in the microphone's place, as fast as it goes or at the speed it was made.

use super::{CHUNK, Converter, Piece, Source};
use crate::time::{RATE, SampleIndex};
use std::time::{Duration, Instant};

/// A recording that is played into the ears.
pub struct Recording {
    samples: Vec<f32>,
    at: usize,
    real_speed: bool,
    /// When the first sample would have been due.
    begun: Option<Instant>,
}

impl Recording {
    /// From one channel of floats at `rate` hertz; `real_speed` holds each chunk back until it is due.
    pub fn new(samples: &[f32], rate: u32, real_speed: bool) -> Result<Recording, rubato::ResamplerConstructionError> {
        let mut converter = Converter::new(rate)?;
        let mut converted = vec![];
        converter.push(samples, &mut converted);
        // The converter works in pieces of 20 ms and has a delay: a little silence brings the last of the sound out.
        converter.push(&vec![0.0; rate as usize / 10], &mut converted);
        converted.resize(converted.len().next_multiple_of(CHUNK), 0.0);
        Ok(Recording { samples: converted, at: 0, real_speed, begun: None })
    }
}

impl Recording {
    /// Go on from this place; gives the sound in front of it, from `since`, in whole chunks.
    pub fn seek(&mut self, since: SampleIndex, at: SampleIndex) -> Vec<Vec<f32>> {
        let place = |at: SampleIndex| (at.0.min(self.samples.len() as u64) as usize) / CHUNK * CHUNK;
        let before = self.samples[place(since).min(place(at))..place(at)].chunks(CHUNK).map(<[f32]>::to_vec).collect();
        self.at = place(at);
        before
    }
}

impl Source for Recording {
    fn next(&mut self) -> Option<Piece> {
        let end = self.at + CHUNK;
        let chunk = self.samples.get(self.at..end)?.to_vec();
        self.at = end;
        if self.real_speed {
            let past = Duration::from_secs_f64((end - CHUNK) as f64 / RATE as f64);
            let begun = *self.begun.get_or_insert_with(|| Instant::now() - past);
            let due = begun + Duration::from_secs_f64(end as f64 / RATE as f64);
            std::thread::sleep(due.saturating_duration_since(Instant::now()));
        }
        Some(Piece::Sound(chunk))
    }
}
