//! The microphone: any device rate and format, to chunks at 16 kHz. The callback only copies into a ring and counts.

use super::devices::{Side, meant};
use super::{Intake, Piece, Source};
use crate::platform::asleep;
use crate::time::Ms;
use cpal::traits::{DeviceTrait, StreamTrait};
use cpal::{FromSample, SampleFormat, SizedSample, Stream};
use rtrb::{Consumer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Sound that the ring holds before any is lost, in seconds: longer than the longest synthesis.
const RING_SECONDS: usize = 10;

/// How long no sample may come before the microphone is taken to be lost.
const LOST_AFTER: Duration = Duration::from_secs(1);

/// Why there is no sound from a device.
#[derive(Debug, thiserror::Error)]
pub enum DeviceError {
    /// No such device, or none at all.
    #[error("no {0} was found")]
    Absent(&'static str),
    /// No device is called so.
    #[error("no device is called \"{0}\"")]
    Unknown(String),
    /// More than one is.
    #[error("more than one {what} is called \"{name}\": {fit}")]
    Unclear {
        /// What was asked for.
        name: String,
        /// Microphone or loudspeaker.
        what: &'static str,
        /// Those that it fits.
        fit: String,
    },
    /// It can't be opened.
    #[error("the {what} can't be opened: {reason}")]
    Refused {
        /// Microphone or loudspeaker.
        what: &'static str,
        /// What the sound system said.
        reason: String,
    },
}

/// How long the device may stay away before the run is ended with its recap.
const GIVEN_UP_AFTER: Duration = Duration::from_secs(15 * 60);

/// How often a lost device is tried again.
const TRY_EVERY: Duration = Duration::from_secs(2);

/// How long the first sample of a device that was opened again is waited for.
const FIRST_SAMPLE: Duration = Duration::from_secs(6);

/// A sleep shorter than this is not told.
const SLEPT: Duration = Duration::from_secs(2);

/// A stream from a device.
struct InputStream {
    _stream: Stream,
    ring: Consumer<f32>,
    dropped: Arc<AtomicU64>,
    rate: u32,
}

impl InputStream {
    /// Open the microphone that is meant and start it.
    fn open(names: &[String]) -> Result<InputStream, DeviceError> {
        let device = meant(names, Side::Microphone)?;
        let config = device.default_input_config().map_err(refused)?;
        let (channels, rate) = (usize::from(config.channels()).max(1), config.sample_rate());
        let (mut push, ring) = RingBuffer::new(rate as usize * RING_SECONDS);
        let dropped = Arc::new(AtomicU64::new(0));
        let count = Arc::clone(&dropped);
        let keep = move |sample: f32| {
            if push.push(sample).is_err() {
                count.fetch_add(1, Ordering::Relaxed);
            }
        };
        let format = config.sample_format();
        let config = config.config();
        let stream = match format {
            SampleFormat::F32 => open::<f32>(&device, config, channels, keep),
            SampleFormat::I16 => open::<i16>(&device, config, channels, keep),
            SampleFormat::U16 => open::<u16>(&device, config, channels, keep),
            SampleFormat::I32 => open::<i32>(&device, config, channels, keep),
            SampleFormat::U8 => open::<u8>(&device, config, channels, keep),
            other => {
                return Err(DeviceError::Refused {
                    what: "microphone",
                    reason: format!("its format {other} is not known here"),
                });
            }
        }?;
        stream.play().map_err(refused)?;
        Ok(InputStream { _stream: stream, ring, dropped, rate })
    }

    /// All that has come, and how much of it is silence for what was lost.
    fn take(&mut self) -> (Vec<f32>, u64) {
        let waiting = self.ring.slots();
        let mut piece: Vec<f32> = Vec::with_capacity(waiting);
        piece.extend(std::iter::from_fn(|| self.ring.pop().ok()).take(waiting));
        let lost = self.dropped.swap(0, Ordering::Relaxed);
        // Silence for what was lost keeps every later sample at its time.
        piece.extend(std::iter::repeat_n(0.0, lost as usize));
        (piece, lost)
    }
}

/// A microphone, which is opened again when it was lost.
pub struct Microphone {
    names: Vec<String>,
    line: Option<InputStream>,
    intake: Intake,
    overflowed: u64,
    last: Instant,
    tried: Instant,
    gone: bool,
    slept: Duration,
}

impl Microphone {
    /// Open and start the microphone that one of the names means; the system's where none does.
    pub fn open(names: &[String]) -> Result<Microphone, DeviceError> {
        let line = InputStream::open(names)?;
        let intake = Intake::new(line.rate).map_err(refused)?;
        let now = Instant::now();
        let names = names.to_vec();
        Ok(Microphone {
            names,
            line: Some(line),
            intake,
            overflowed: 0,
            last: now,
            tried: now,
            gone: false,
            slept: asleep(),
        })
    }

    /// Close the line on a thread of its own: closing one whose sound server is gone can wait for ever.
    fn abandon(&mut self) {
        if let Some(line) = self.line.take() {
            std::thread::spawn(move || drop(line));
        }
    }

    /// What the device has for us now; empty where it has nothing, or isn't there.
    fn take(&mut self) -> (Vec<f32>, u32) {
        match &mut self.line {
            Some(line) => {
                let (piece, lost) = line.take();
                self.overflowed += lost;
                (piece, line.rate)
            }
            None => (vec![], 0),
        }
    }
}

impl Source for Microphone {
    fn next(&mut self) -> Option<Piece> {
        loop {
            let slept = asleep().saturating_sub(self.slept);
            if slept >= SLEPT {
                self.slept += slept;
                return Some(Piece::Slept(milliseconds(slept)));
            }
            if let Some(chunk) = self.intake.chunk() {
                return Some(Piece::Sound(chunk));
            }
            let (piece, rate) = self.take();
            if !piece.is_empty() && self.intake.push(&piece, rate).is_ok() {
                let away = std::mem::replace(&mut self.last, Instant::now()).elapsed();
                if std::mem::take(&mut self.gone) {
                    return Some(Piece::Back(milliseconds(away)));
                }
                continue;
            }
            if !self.gone && self.last.elapsed() > LOST_AFTER {
                self.gone = true;
                self.abandon();
                return Some(Piece::Gone);
            }
            if self.gone && self.last.elapsed() > GIVEN_UP_AFTER {
                return None;
            }
            // A device that opens may still give nothing for a while: it is back with its first sample.
            if self.gone && self.tried.elapsed() > if self.line.is_some() { FIRST_SAMPLE } else { TRY_EVERY } {
                self.abandon();
                self.line = InputStream::open(&self.names).ok();
                self.tried = Instant::now();
            }
            std::thread::sleep(Duration::from_millis(4));
        }
    }

    /// In samples of the device.
    fn overflowed(&mut self) -> u64 {
        std::mem::take(&mut self.overflowed)
    }
}

fn milliseconds(span: Duration) -> Ms {
    Ms(span.as_millis() as u64)
}

fn refused(error: impl std::fmt::Display) -> DeviceError {
    DeviceError::Refused { what: "microphone", reason: error.to_string() }
}

fn open<T: SizedSample>(
    device: &cpal::Device,
    config: cpal::StreamConfig,
    channels: usize,
    mut keep: impl FnMut(f32) + Send + 'static,
) -> Result<Stream, DeviceError>
where
    f32: FromSample<T>,
{
    let data = move |samples: &[T], _: &cpal::InputCallbackInfo| {
        for frame in samples.chunks_exact(channels) {
            keep(frame.iter().map(|s| s.to_sample::<f32>()).sum::<f32>() / channels as f32);
        }
    };
    // Some hosts report errors a million times a second: nothing is done here, the silence is noticed instead.
    device.build_input_stream(config, data, |_| {}, None).map_err(refused)
}
