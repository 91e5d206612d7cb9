//! The loudspeaker, through rodio.

use super::DeviceError;
use rodio::buffer::SamplesBuffer;
use rodio::{DeviceSinkBuilder, MixerDeviceSink, Player};
use std::num::NonZero;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// An open loudspeaker, which is opened again when it was lost.
pub struct Speaker {
    _sink: MixerDeviceSink,
    player: Player,
    until: Instant,
    lost: Arc<AtomicBool>,
}

impl Speaker {
    /// Open the default loudspeaker.
    pub fn open() -> Result<Speaker, DeviceError> {
        let refused = |e: rodio::DeviceSinkError| DeviceError::Refused { what: "loudspeaker", reason: e.to_string() };
        let builder = DeviceSinkBuilder::from_default_device().map_err(refused)?;
        let lost = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&lost);
        let noticed = move |_| flag.store(true, Ordering::Relaxed);
        let mut sink = builder.with_error_callback(noticed).open_stream().map_err(refused)?;
        sink.log_on_drop(false);
        let player = Player::connect_new(sink.mixer());
        Ok(Speaker { _sink: sink, player, until: Instant::now(), lost })
    }

    /// Play now, behind what is still playing.
    pub fn play(&mut self, samples: &[f32], rate: u32) {
        let Some(rate) = NonZero::new(rate) else { return };
        // Where it can't be opened yet, this is not heard, and the next announcement tries again.
        if self.lost.load(Ordering::Relaxed)
            && let Ok(new) = Speaker::open()
        {
            *self = new;
        }
        self.player.append(SamplesBuffer::new(NonZero::<u16>::MIN, rate, samples.to_vec()));
        self.player.play();
        self.until =
            self.until.max(Instant::now()) + Duration::from_secs_f64(samples.len() as f64 / f64::from(rate.get()));
    }

    /// Stop at once.
    pub fn hush(&mut self) {
        self.player.clear();
        self.until = Instant::now();
    }

    /// Wait until all has sounded; a loudspeaker that went away is not waited for.
    pub fn finish(&self) {
        while !self.player.empty() && Instant::now() < self.until + Duration::from_secs(1) {
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}
