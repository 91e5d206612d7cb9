//! Sound in and out: WAV files, resampling, the microphone, the speaker. It recognises nothing and decides nothing.

mod convert;
mod microphone;
mod recording;
mod speaker;
mod wav;

pub use convert::Converter;
pub use microphone::{DeviceError, Microphone};
pub use recording::Recording;
pub use speaker::Speaker;
pub use wav::{WavError, read_wav, write_wav};

/// Samples in one chunk for the recogniser: 100 ms, live and in replay alike.
pub const CHUNK: usize = 1600;

/// Where sound comes from. It is asked on the ears' thread, and may block until a chunk is due.
pub trait Source: Send {
    /// The next [`CHUNK`] samples at 16 kHz; none once there will be no more.
    fn next(&mut self) -> Option<Vec<f32>>;

    /// Samples lost since this was last asked.
    fn overflowed(&mut self) -> u64 {
        0
    }
}
