//! WAV files: any rate, channel count and sample format that `hound` reads, to one channel of floats and back. A file is read piece
//! by piece; how much there is to read is known, and bounded, before the first one.

use crate::platform::{self, Replacement};
use hound::{SampleFormat, WavReader, WavSpec, WavWriter};
use std::io::{BufReader, BufWriter, Read};
use std::path::{Path, PathBuf};

/// Longest sound that is read: a whole exam and more.
const LONGEST_HOURS: u64 = 6;

/// Why a WAV file can't be used.
#[derive(Debug, thiserror::Error)]
pub enum WavError {
    /// It can't be opened, or is no WAV file.
    #[error("{path}: {why}", path = path.display(), why = why(source))]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What was found.
        source: hound::Error,
    },
    /// It holds no sound.
    #[error("{path}: there is no sound in this file", path = path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// It ends before the end that its header tells.
    #[error("{path}: this file is cut off: its header tells of {told} bytes of sound, and it has {length} in all", path = path.display())]
    CutOff {
        /// The file.
        path: PathBuf,
        /// Bytes of sound by its header, at least.
        told: u64,
        /// Bytes it has.
        length: u64,
    },
    /// It is longer than any section.
    #[error("{path}: this is longer than {LONGEST_HOURS} hours", path = path.display())]
    TooLong {
        /// The file.
        path: PathBuf,
    },
    /// Its rate or channel count can't be worked with.
    #[error("{path}: {rate} Hz in {channels} channels can't be used; it takes 4000 to 384000 Hz, and 1 to 64 channels", path = path.display())]
    Unusable {
        /// The file.
        path: PathBuf,
        /// Samples a second.
        rate: u32,
        /// Channels.
        channels: u16,
    },
}

fn why(error: &hound::Error) -> String {
    match error {
        hound::Error::IoError(error) => crate::platform::why(error),
        other => other.to_string(),
    }
}

/// A WAV file being read: one channel, averaged over the file's, as floats in -1 to 1.
pub struct WavStream<'a> {
    samples: Box<dyn Iterator<Item = Result<f32, hound::Error>> + Send + 'a>,
    channels: usize,
    rate: u32,
    path: PathBuf,
}

impl WavStream<'static> {
    /// Open a regular file.
    pub fn open(path: &Path) -> Result<Self, WavError> {
        let unreadable = |e| WavError::Unreadable { path: path.to_path_buf(), source: hound::Error::IoError(e) };
        let file = platform::open(path).map_err(unreadable)?;
        let length = file.metadata().map_err(unreadable)?.len();
        WavStream::new(BufReader::new(file), length, path)
    }
}

impl<'a> WavStream<'a> {
    /// From any bytes, `length` of them; `path` is for messages.
    pub fn new(bytes: impl Read + Send + 'a, length: u64, path: &Path) -> Result<Self, WavError> {
        let path = path.to_path_buf();
        let reader = match WavReader::new(bytes) {
            Ok(reader) => reader,
            Err(source) => return Err(WavError::Unreadable { path, source }),
        };
        let (spec, count) = (reader.spec(), u64::from(reader.len()));
        if !(4_000..=384_000).contains(&spec.sample_rate) || !(1..=64).contains(&spec.channels) {
            return Err(WavError::Unusable { path, rate: spec.sample_rate, channels: spec.channels });
        }
        if count < u64::from(spec.channels) {
            return Err(WavError::Empty { path });
        }
        let told = count * u64::from(spec.bits_per_sample.div_ceil(8));
        if told > length {
            return Err(WavError::CutOff { path, told, length });
        }
        if count > u64::from(spec.sample_rate) * u64::from(spec.channels) * LONGEST_HOURS * 3600 {
            return Err(WavError::TooLong { path });
        }
        let samples: Box<dyn Iterator<Item = Result<f32, hound::Error>> + Send + 'a> = match spec.sample_format {
            SampleFormat::Float => Box::new(reader.into_samples::<f32>()),
            SampleFormat::Int => {
                let full = 2f32.powi(i32::from(spec.bits_per_sample) - 1);
                Box::new(reader.into_samples::<i32>().map(move |s| s.map(|s| s as f32 / full)))
            }
        };
        Ok(WavStream { samples, channels: usize::from(spec.channels), rate: spec.sample_rate, path })
    }

    /// Samples a second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// The next samples, `most` at most, appended to `out`; false once there are no more.
    pub fn read(&mut self, most: usize, out: &mut Vec<f32>) -> Result<bool, WavError> {
        // What is no number is silence, and what is louder than loud is cut: nothing behind this expects either.
        let tame = |s: f32| if s.is_finite() { s.clamp(-1.0, 1.0) } else { 0.0 };
        for _ in 0..most {
            let mut sum = 0.0;
            for _ in 0..self.channels {
                match self.samples.next() {
                    Some(Ok(sample)) => sum += tame(sample),
                    Some(Err(source)) => return Err(WavError::Unreadable { path: self.path.clone(), source }),
                    None => return Ok(false),
                }
            }
            out.push(sum / self.channels as f32);
        }
        Ok(true)
    }

    /// All that is left.
    fn all(mut self) -> Result<(Vec<f32>, u32), WavError> {
        let mut out = vec![];
        while self.read(1 << 16, &mut out)? {}
        Ok((out, self.rate))
    }
}

/// All the sound in `path`, and its rate in hertz. For what is known to be short; a [`WavStream`] holds little of it at once.
pub fn read_wav(path: &Path) -> Result<(Vec<f32>, u32), WavError> {
    WavStream::open(path)?.all()
}

/// The same from bytes; `path` is for messages.
pub fn decode_wav(bytes: &[u8], path: &Path) -> Result<(Vec<f32>, u32), WavError> {
    WavStream::new(bytes, bytes.len() as u64, path)?.all()
}

/// Write one channel of floats in -1 to 1 as 16-bit WAV, whole or not at all, for its owner alone.
pub fn write_wav(path: &Path, samples: &[f32], rate: u32) -> Result<(), WavError> {
    let unwritable = |source| WavError::Unreadable { path: path.to_path_buf(), source };
    let mut whole = Replacement::begin(path).map_err(|e| unwritable(e.into()))?;
    let spec = WavSpec { channels: 1, sample_rate: rate, bits_per_sample: 16, sample_format: SampleFormat::Int };
    let mut writer = WavWriter::new(BufWriter::new(whole.file()), spec).map_err(unwritable)?;
    for sample in samples {
        writer.write_sample((sample.clamp(-1.0, 1.0) * 32767.0).round() as i16).map_err(unwritable)?;
    }
    writer.finalize().map_err(unwritable)?;
    whole.finish().map_err(|e| unwritable(e.into()))
}
