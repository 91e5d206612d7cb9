//! The loudspeaker, through rodio. One that went away is noticed by its silence: it asks for no more samples.

use super::DeviceError;
use super::devices::{Side, meant};
use crate::platform;
use rodio::buffer::SamplesBuffer;
use rodio::{ChannelCount, DeviceSinkBuilder, MixerDeviceSink, Player, SampleRate, Source};
use std::num::NonZero;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// A device that asked for nothing for so long is gone. Sound servers can ask for two seconds at a time.
const GONE_AFTER: Duration = Duration::from_secs(3);

/// Samples between two looks at the clock.
const PULSE_EVERY: u32 = 480;

/// The loudspeaker, which is opened again when it was lost.
pub struct Speaker {
    names: Vec<String>,
    sink: MixerDeviceSink,
    player: Player,
    until: Instant,
    asked: Asked,
}

impl Speaker {
    /// Open the loudspeaker that one of the names means; the system's where none does.
    pub fn open(names: &[String]) -> Result<Speaker, DeviceError> {
        platform::quiet();
        let refused = |e: rodio::DeviceSinkError| DeviceError::Refused { what: "loudspeaker", reason: e.to_string() };
        let builder = DeviceSinkBuilder::from_device(meant(names, Side::Loudspeaker)?).map_err(refused)?;
        let mut sink = builder.with_error_callback(|_| {}).open_stream().map_err(refused)?;
        sink.log_on_drop(false);
        let asked = Asked { opened: Instant::now(), last: Arc::new(AtomicU64::new(0)) };
        sink.mixer().add(Pulse { asked: asked.clone(), count: 0 });
        let player = Player::connect_new(sink.mixer());
        Ok(Speaker { names: names.to_vec(), sink, player, until: Instant::now(), asked })
    }

    /// Play now, behind what is still playing.
    pub fn play(&mut self, samples: &[f32], rate: u32) {
        let Some(rate) = NonZero::new(rate) else { return };
        // Where it can't be opened yet, this is not heard, and the next announcement tries again.
        if self.asked.silent_for() > GONE_AFTER
            && let Ok(new) = Speaker::open(&self.names)
        {
            // Closing one whose sound server is gone can wait for ever.
            let old = std::mem::replace(self, new);
            std::thread::spawn(move || drop(old));
        }
        self.player.append(SamplesBuffer::new(NonZero::<u16>::MIN, rate, samples.to_vec()));
        self.player.play();
        self.until =
            self.until.max(Instant::now()) + Duration::from_secs_f64(samples.len() as f64 / f64::from(rate.get()));
    }

    /// Stop at once.
    pub fn hush(&mut self) {
        // A new player, and the old one stops when it is dropped. To clear it would wait for a device that may be gone.
        self.player = Player::connect_new(self.sink.mixer());
        self.until = Instant::now();
    }

    /// Wait until all has sounded; a loudspeaker that went away is not waited for.
    pub fn finish(&self) {
        while !self.player.empty() && Instant::now() < self.until + Duration::from_secs(1) {
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

/// When the device last asked for samples.
#[derive(Clone)]
struct Asked {
    opened: Instant,
    /// Milliseconds since it was opened.
    last: Arc<AtomicU64>,
}

impl Asked {
    fn silent_for(&self) -> Duration {
        self.opened.elapsed().saturating_sub(Duration::from_millis(self.last.load(Ordering::Relaxed)))
    }
}

/// Silence without end, mixed in to see the device ask for it.
struct Pulse {
    asked: Asked,
    count: u32,
}

impl Iterator for Pulse {
    type Item = f32;
    fn next(&mut self) -> Option<f32> {
        self.count += 1;
        if self.count >= PULSE_EVERY {
            self.count = 0;
            self.asked.last.store(self.asked.opened.elapsed().as_millis() as u64, Ordering::Relaxed);
        }
        Some(0.0)
    }
}

impl Source for Pulse {
    fn current_span_len(&self) -> Option<usize> {
        None
    }
    fn channels(&self) -> ChannelCount {
        NonZero::<u16>::MIN
    }
    fn sample_rate(&self) -> SampleRate {
        const RATE: SampleRate = NonZero::new(48_000).unwrap();
        RATE
    }
    fn total_duration(&self) -> Option<Duration> {
        None
    }
}
