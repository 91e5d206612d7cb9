//! WAV files: any rate, channel count and sample format that `hound` reads, to one channel of floats and back.

use hound::{SampleFormat, WavReader, WavSpec, WavWriter};
use std::path::{Path, PathBuf};

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
    let unreadable = |source| WavError::Unreadable { path: path.to_path_buf(), source };
    let mut reader = WavReader::open(path).map_err(unreadable)?;
    let spec = reader.spec();
    if !(4_000..=384_000).contains(&spec.sample_rate) || !(1..=64).contains(&spec.channels) {
        return Err(WavError::Unusable { path: path.to_path_buf(), rate: spec.sample_rate, channels: spec.channels });
    }
    let samples: Result<Vec<f32>, hound::Error> = match spec.sample_format {
        SampleFormat::Float => reader.samples::<f32>().collect(),
        SampleFormat::Int => {
            let full = 2f32.powi(i32::from(spec.bits_per_sample) - 1);
            reader.samples::<i32>().map(|s| s.map(|s| s as f32 / full)).collect()
        }
    };
    let channels = usize::from(spec.channels);
    let mono: Vec<f32> =
        samples.map_err(unreadable)?.chunks_exact(channels).map(|f| f.iter().sum::<f32>() / channels as f32).collect();
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
