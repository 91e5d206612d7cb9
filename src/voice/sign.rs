//! Soft tones that answer a callout. They are so short, so soft and so far from speech that nothing is masked for them.

use super::Speech;
use std::f32::consts::TAU;

/// Peak of a tone: 26 dB below full scale, some 12 dB softer than the voice.
pub const SIGN_LEVEL: f32 = 0.05;

/// How long each note sounds, in seconds.
const NOTE: f32 = 0.07;

/// Two notes one after the other, by their frequency in hertz, each swelling and fading as a raised cosine, at so many samples a second.
pub fn chime(notes: [f32; 2], rate: u32) -> Speech {
    let length = (NOTE * rate as f32) as usize;
    let note = |hertz: f32| {
        (0..length).map(move |k| {
            let swell = 0.5 - 0.5 * (TAU * k as f32 / length as f32).cos();
            SIGN_LEVEL * swell * (TAU * hertz * k as f32 / rate as f32).sin()
        })
    };
    Speech { samples: notes.into_iter().flat_map(note).collect(), rate }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chime_is_soft_and_short_and_begins_and_ends_in_silence() {
        let chime = chime([1000.0, 1500.0], 16_000);
        assert_eq!(chime.length(), crate::time::Ms(140));
        let peak = chime.samples.iter().fold(0.0f32, |most, s| most.max(s.abs()));
        assert!(peak <= SIGN_LEVEL && peak > 0.9 * SIGN_LEVEL, "{peak}");
        assert!(chime.samples[0].abs() < 1e-6 && chime.samples[chime.samples.len() - 1].abs() < 1e-3);
        // Zero crossings tell the frequency: 70 ms of 1000 Hz have 140, but for the ends.
        let crossings = chime.samples[..1120].windows(2).filter(|w| (w[0] < 0.0) != (w[1] < 0.0)).count();
        assert!(crossings.abs_diff(140) <= 2, "{crossings}");
    }
}
