//! Sound in and out: WAV files, resampling, the microphone, the speaker. It recognises nothing and decides nothing.

mod convert;
mod microphone;
mod speaker;
mod wav;

pub use convert::Converter;
pub use microphone::{DeviceError, Microphone};
pub use speaker::Speaker;
pub use wav::{WavError, read_wav, write_wav};

/// Samples in one chunk for the recogniser: 100 ms, live and in replay alike.
pub const CHUNK: usize = 1600;
