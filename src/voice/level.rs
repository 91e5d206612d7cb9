//! One loudness for every prompt, by the meter of EBU R 128 (ITU-R BS.1770).

use super::Speech;
use ebur128::{Channel, EbuR128, Mode};

/// Integrated loudness of every prompt: between EBU R 128's -23 for programmes and the -18 to -16 of streamed speech (AES
/// TD1008, from memory). Louder, and the peaks of some prompts would have to be cut.
pub const TARGET_LUFS: f64 = -20.0;

/// Highest sample peak, about -1 dBFS.
pub const PEAK_CEILING: f32 = 0.89;

/// Bring `speech` to [`TARGET_LUFS`], or as near as [`PEAK_CEILING`] lets it come. One channel counts as it is played: on both sides.
pub fn level(speech: &mut Speech) -> Result<(), ebur128::Error> {
    let mut meter = EbuR128::new(1, speech.rate, Mode::I)?;
    meter.set_channel(0, Channel::DualMono)?;
    // The meter takes blocks of 400 ms: with silence behind, as it is played, the last sounds count as well.
    meter.add_frames_f32(&speech.samples)?;
    meter.add_frames_f32(&vec![0.0; speech.rate as usize / 2])?;
    let loudness = meter.loudness_global()?;
    if !loudness.is_finite() {
        return Ok(());
    }
    let peak = speech.samples.iter().fold(0f32, |p, s| p.max(s.abs()));
    let gain = (10f64.powf((TARGET_LUFS - loudness) / 20.0) as f32).min(PEAK_CEILING / peak.max(1e-6));
    speech.samples.iter_mut().for_each(|s| *s *= gain);
    Ok(())
}
