//! A recording in the microphone's place, as fast as it goes or at the speed it was made.

use super::{CHUNK, Converter, Source};
use crate::time::RATE;
use std::time::{Duration, Instant};

/// A recording that is played into the ears.
pub struct Recording {
    samples: Vec<f32>,
    at: usize,
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
        Ok(Recording { samples: converted, at: 0, begun: real_speed.then(Instant::now) })
    }
}

impl Source for Recording {
    fn next(&mut self) -> Option<Vec<f32>> {
        let end = self.at + CHUNK;
        let chunk = self.samples.get(self.at..end)?.to_vec();
        self.at = end;
        if let Some(begun) = self.begun {
            let due = begun + Duration::from_secs_f64(end as f64 / RATE as f64);
            std::thread::sleep(due.saturating_duration_since(Instant::now()));
        }
        Some(chunk)
    }
}
