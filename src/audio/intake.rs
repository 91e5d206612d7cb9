//! Pieces from a device at any rate, to whole chunks at 16 kHz on one axis. The rate may change between two pieces.

use super::{CHUNK, Converter};
use rubato::ResamplerConstructionError;

/// What has come in and is not taken yet.
pub struct Intake {
    converter: Converter,
    rate: u32,
    ready: Vec<f32>,
}

impl Intake {
    /// For a device at `rate` hertz.
    pub fn new(rate: u32) -> Result<Intake, ResamplerConstructionError> {
        Ok(Intake { converter: Converter::new(rate)?, rate, ready: vec![] })
    }

    /// Take in samples at `rate` hertz. What the old rate's filter still holds is brought out when the rate changes.
    pub fn push(&mut self, samples: &[f32], rate: u32) -> Result<(), ResamplerConstructionError> {
        if rate != self.rate {
            let next = Converter::new(rate)?;
            self.converter.push(&vec![0.0; self.rate as usize / 20], &mut self.ready);
            (self.converter, self.rate) = (next, rate);
        }
        self.converter.push(samples, &mut self.ready);
        Ok(())
    }

    /// The next whole chunk, where there is one.
    pub fn chunk(&mut self) -> Option<Vec<f32>> {
        (self.ready.len() >= CHUNK).then(|| self.ready.drain(..CHUNK).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_device_that_changes_its_rate_keeps_its_pace() {
        let mut intake = Intake::new(48_000).unwrap();
        let mut chunks = 0;
        // Ten seconds at each rate, in pieces of an odd size.
        for rate in [48_000u32, 44_100, 16_000, 8_000, 48_000] {
            let tone: Vec<f32> = (0..rate * 10).map(|i| (i as f32 * 700.0 / rate as f32).sin() * 0.5).collect();
            for piece in tone.chunks(311) {
                intake.push(piece, rate).unwrap();
                while let Some(chunk) = intake.chunk() {
                    assert!(chunk.iter().all(|s| s.is_finite() && s.abs() <= 1.0));
                    chunks += 1;
                }
            }
        }
        // 50 s, and at most 50 ms more at each of four changes.
        assert!((498..=503).contains(&chunks), "{chunks} chunks of 100 ms");
    }
}
