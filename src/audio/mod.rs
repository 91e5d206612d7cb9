//! Sound in and out: WAV files, resampling, the microphone, the speaker. It recognises nothing and decides nothing.

mod convert;
mod devices;
mod echo;
mod intake;
mod kept;
mod levels;
mod microphone;
mod recording;
mod speaker;
mod wav;

pub use convert::Converter;
pub use devices::{Listed, devices};
pub use echo::{Cleaned, Echo};
pub use intake::Intake;
pub use kept::Kept;
pub use levels::{Levels, speech_segments};
pub use microphone::{DeviceError, Microphone};
pub use recording::Recording;
pub use speaker::Speaker;
pub use wav::{WavError, WavStream, decode_wav, read_wav, write_wav};

use crate::time::Ms;

/// Samples in one chunk for the recogniser: 100 ms, live and in replay alike.
pub const CHUNK: usize = 1600;

/// What a source gives.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// [`CHUNK`] samples at 16 kHz.
    Sound(Vec<f32>),
    /// No sound comes any more; the axis stands still until it does.
    Gone,
    /// Sound comes again, after so long.
    Back(Ms),
    /// The computer slept for so long, and the axis stood still.
    Slept(Ms),
}

/// Where sound comes from. It is asked on the ears' thread, and may block until a chunk is due.
pub trait Source: Send {
    /// What comes next; none once there will be no more.
    fn next(&mut self) -> Option<Piece>;

    /// Samples lost since this was last asked.
    fn overflowed(&mut self) -> u64 {
        0
    }
}
