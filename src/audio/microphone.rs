//! The microphone: any device rate and format, to chunks at 16 kHz. The callback only copies into a ring and counts.

use super::{CHUNK, Converter, Source};
use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
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
    /// It can't be opened.
    #[error("the {what} can't be opened: {reason}")]
    Refused {
        /// Microphone or loudspeaker.
        what: &'static str,
        /// What the sound system said.
        reason: String,
    },
}

/// An open microphone.
pub struct Microphone {
    _stream: Stream,
    ring: Consumer<f32>,
    dropped: Arc<AtomicU64>,
    converter: Converter,
    rate: u32,
    ready: Vec<f32>,
    overflowed: u64,
    last: Instant,
}

impl Microphone {
    /// Open the default microphone and start it.
    pub fn open() -> Result<Microphone, DeviceError> {
        let device = cpal::default_host().default_input_device().ok_or(DeviceError::Absent("microphone"))?;
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
        let converter = Converter::new(rate).map_err(refused)?;
        Ok(Microphone {
            _stream: stream,
            ring,
            dropped,
            converter,
            rate,
            ready: vec![],
            overflowed: 0,
            last: Instant::now(),
        })
    }
}

impl Source for Microphone {
    /// The next chunk, when it is full; silence in its place while the device gives nothing, so that the clock goes on.
    fn next(&mut self) -> Option<Vec<f32>> {
        while self.ready.len() < CHUNK {
            let waiting = self.ring.slots();
            let mut piece: Vec<f32> = Vec::with_capacity(waiting);
            piece.extend(std::iter::from_fn(|| self.ring.pop().ok()).take(waiting));
            let lost = self.dropped.swap(0, Ordering::Relaxed);
            if lost > 0 {
                // Silence for what was lost keeps every later sample at its time.
                self.overflowed += lost;
                piece.extend(std::iter::repeat_n(0.0, lost as usize));
            }
            if piece.is_empty() {
                if self.last.elapsed() > LOST_AFTER {
                    let gone = self.last.elapsed();
                    self.last = Instant::now();
                    let samples = (gone.as_secs_f64() * f64::from(self.rate)) as usize;
                    self.overflowed += samples as u64;
                    piece.resize(samples, 0.0);
                } else {
                    std::thread::sleep(Duration::from_millis(4));
                    continue;
                }
            } else {
                self.last = Instant::now();
            }
            self.converter.push(&piece, &mut self.ready);
        }
        Some(self.ready.drain(..CHUNK).collect())
    }

    /// In samples of the device.
    fn overflowed(&mut self) -> u64 {
        std::mem::take(&mut self.overflowed)
    }
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
