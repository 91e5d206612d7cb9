//! From a device's or a file's rate to the session's 16 kHz, in pieces of any size.

use crate::time::RATE;
use audioadapter_buffers::direct::InterleavedSlice;
use rubato::{Fft, FixedSync, Resampler, WindowFunction};

/// A resampler that takes pieces of any length.
pub struct Converter {
    engine: Option<Fft<f32>>,
    waiting: Vec<f32>,
    skip: usize,
}

impl Converter {
    /// From `rate` hertz to 16 kHz.
    pub fn new(rate: u32) -> Result<Converter, rubato::ResamplerConstructionError> {
        let waiting = vec![];
        if u64::from(rate) == RATE {
            return Ok(Converter { engine: None, waiting, skip: 0 });
        }
        let chunk = (rate as usize / 50).max(1);
        let engine = Fft::new_custom(
            rate as usize,
            RATE as usize,
            chunk,
            1,
            1,
            WindowFunction::BlackmanHarris2,
            FixedSync::Input,
        )?;
        // The filter's own delay is cut off, so that a sample keeps its time.
        let skip = engine.output_delay();
        Ok(Converter { engine: Some(engine), waiting, skip })
    }

    /// The samples at 16 kHz that `piece` completes, appended to `out`.
    pub fn push(&mut self, piece: &[f32], out: &mut Vec<f32>) {
        let Some(engine) = &mut self.engine else {
            out.extend_from_slice(piece);
            return;
        };
        self.waiting.extend_from_slice(piece);
        let mut used = 0;
        let mut block = vec![0.0; engine.output_frames_max()];
        while self.waiting.len() - used >= engine.input_frames_next() {
            let need = engine.input_frames_next();
            let frames = block.len();
            let input =
                InterleavedSlice::new(&self.waiting[used..used + need], 1, need).expect("one channel of `need` frames");
            let mut output = InterleavedSlice::new_mut(&mut block, 1, frames).expect("one channel of `frames` frames");
            let (_, made) =
                engine.process_into_buffer(&input, &mut output, None).expect("buffers are of the sizes asked for");
            let from = self.skip.min(made);
            self.skip -= from;
            out.extend_from_slice(&block[from..made]);
            used += need;
        }
        self.waiting.drain(..used);
    }
}
