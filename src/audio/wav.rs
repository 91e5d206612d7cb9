//! WAV files: any rate, channel count and sample format that `hound` reads, to one channel of floats and back.

use hound::{SampleFormat, WavReader, WavSpec, WavWriter};
use std::path::{Path, PathBuf};

/// Longest sound that is read: it is held in memory.
const LONGEST_HOURS: usize = 6;

/// Why a WAV file can't be used.
#[derive(Debug, thiserror::Error)]
pub enum WavError {
    /// It can't be opened, or is no WAV file.
    #[error("{path}: {source}", path = path.display())]
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
    /// It is longer than any section.
    #[error("{path}: this is longer than {LONGEST_HOURS} hours", path = path.display())]
    TooLong {
        /// The file.
        path: PathBuf,
    },
    /// Its rate or channel count can't be worked with.
    #[error("{path}: {rate} Hz in {channels} channels can't be used", path = path.display())]
    Unusable {
        /// The file.
        path: PathBuf,
        /// Samples a second.
        rate: u32,
        /// Channels.
        channels: u16,
    },
}

/// The sound in `path`, channels averaged to one, as floats in -1 to 1, and its rate in hertz.
pub fn read_wav(path: &Path) -> Result<(Vec<f32>, u32), WavError> {
    let file = std::fs::File::open(path)
        .map_err(|e| WavError::Unreadable { path: path.to_path_buf(), source: hound::Error::IoError(e) })?;
    decode_wav(std::io::BufReader::new(file), path)
}

/// The same from any bytes; `path` is for messages.
pub fn decode_wav(bytes: impl std::io::Read, path: &Path) -> Result<(Vec<f32>, u32), WavError> {
    let unreadable = |source| WavError::Unreadable { path: path.to_path_buf(), source };
    let mut reader = WavReader::new(bytes).map_err(unreadable)?;
    let spec = reader.spec();
    if !(4_000..=384_000).contains(&spec.sample_rate) || !(1..=64).contains(&spec.channels) {
        return Err(WavError::Unusable { path: path.to_path_buf(), rate: spec.sample_rate, channels: spec.channels });
    }
    let channels = usize::from(spec.channels);
    let most = spec.sample_rate as usize * channels * LONGEST_HOURS * 3600;
    let samples: Box<dyn Iterator<Item = Result<f32, hound::Error>>> = match spec.sample_format {
        SampleFormat::Float => Box::new(reader.samples::<f32>()),
        SampleFormat::Int => {
            let full = 2f32.powi(i32::from(spec.bits_per_sample) - 1);
            Box::new(reader.samples::<i32>().map(move |s| s.map(|s| s as f32 / full)))
        }
    };
    // What is no number is silence, and what is louder than loud is cut: nothing behind this expects either.
    let tame = |s: f32| if s.is_finite() { s.clamp(-1.0, 1.0) } else { 0.0 };
    let mut mono = vec![];
    let (mut sum, mut count) = (0.0, 0);
    for sample in samples {
        sum += tame(sample.map_err(unreadable)?);
        count += 1;
        if count % channels == 0 {
            mono.push(std::mem::take(&mut sum) / channels as f32);
        }
        if count > most {
            return Err(WavError::TooLong { path: path.to_path_buf() });
        }
    }
    if mono.is_empty() {
        return Err(WavError::Empty { path: path.to_path_buf() });
    }
    Ok((mono, spec.sample_rate))
}

/// Write one channel of floats in -1 to 1 as 16-bit WAV.
pub fn write_wav(path: &Path, samples: &[f32], rate: u32) -> Result<(), WavError> {
    let unwritable = |source| WavError::Unreadable { path: path.to_path_buf(), source };
    let spec = WavSpec { channels: 1, sample_rate: rate, bits_per_sample: 16, sample_format: SampleFormat::Int };
    let mut writer = WavWriter::create(path, spec).map_err(unwritable)?;
    for sample in samples {
        writer.write_sample((sample.clamp(-1.0, 1.0) * 32767.0).round() as i16).map_err(unwritable)?;
    }
    writer.finalize().map_err(unwritable)
}
