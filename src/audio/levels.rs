//! What a microphone gives, in numbers: noise, speech, clipping, echo. No device is opened.

use crate::time::RATE;

/// Samples in one measured frame: 20 ms.
const FRAME: usize = RATE as usize / 50;

/// At or above this a sample is clipped.
const CLIP: f32 = 0.99;

/// Level of silence, in dB below full scale, where there are no samples at all.
const NOTHING: f32 = -120.0;

/// What was measured; dBFS is decibels below a full-scale square wave (RMS 1).
#[derive(Clone, Debug, PartialEq)]
pub struct Levels {
    /// Level of the room, dBFS: the 10th percentile of 20 ms frames while nobody speaks.
    pub noise: f32,
    /// Level of speech, dBFS: the 90th percentile of the frames while somebody does.
    pub speech: f32,
    /// Share of clipped samples while somebody speaks, 0 to 1.
    pub clipped: f32,
    /// How long sound takes to die away by 60 dB, in seconds, from the decays behind the loudest stretches; none where none was
    /// clear. A guess: the speaker's own voice ends in it too.
    pub echo: Option<f32>,
}

fn frames(sound: &[f32]) -> Vec<f32> {
    sound
        .chunks_exact(FRAME)
        .map(|f| {
            let power = f.iter().map(|s| s * s).sum::<f32>() / FRAME as f32;
            if power > 0.0 { (10.0 * power.log10()).max(NOTHING) } else { NOTHING }
        })
        .collect()
}

fn percentile(mut values: Vec<f32>, share: f32) -> f32 {
    values.sort_by(f32::total_cmp);
    let at = ((values.len().saturating_sub(1)) as f32 * share).round() as usize;
    values.get(at).copied().unwrap_or(NOTHING)
}

/// Where somebody speaks in a stretch of sound at 16 kHz in -1 to 1, between pauses: from and until, in samples. A gap within a callout is shorter
/// than a pause, which lasts 0.35 s; what is shorter than 0.2 s is no utterance.
pub fn speech_segments(sound: &[f32]) -> Vec<(usize, usize)> {
    const PAUSE: usize = 17;
    const SHORT: usize = 10;
    let levels = frames(sound);
    let (loudest, floor) = (percentile(levels.clone(), 1.0), percentile(levels.clone(), 0.2));
    // Speech stands well above the room.
    if loudest < -55.0 || loudest - floor < 12.0 {
        return vec![];
    }
    let line = (floor + 7.0).max(loudest - 22.0);
    let mut parts: Vec<(usize, usize)> = vec![];
    for (k, _) in levels.iter().enumerate().filter(|(_, l)| **l >= line) {
        match parts.last_mut() {
            Some((_, until)) if k - *until < PAUSE => *until = k + 1,
            _ => parts.push((k, k + 1)),
        }
    }
    parts.retain(|(from, until)| until - from >= SHORT);
    parts.into_iter().map(|(from, until)| (from * FRAME, until * FRAME)).collect()
}

impl Levels {
    /// From sound at 16 kHz in -1 to 1: some in which nobody spoke, and some in which somebody did.
    pub fn of(silence: &[f32], speech: &[f32]) -> Levels {
        let noise = percentile(frames(silence), 0.1);
        let spoken = frames(speech);
        let clipped = speech.iter().filter(|s| s.abs() >= CLIP).count() as f32 / speech.len().max(1) as f32;
        let echo = decay(&spoken, noise);
        Levels { noise, speech: percentile(spoken, 0.9), clipped, echo }
    }

    /// Plain advice, worst first; empty where all is well.
    pub fn advice(&self) -> Vec<String> {
        let mut advice = vec![];
        if self.speech <= NOTHING + 1.0 {
            advice.push(
                "Nothing comes from the microphone. Is it plugged in, switched on and chosen as the input, and may \
                 programs use it by the system's privacy settings?"
                    .into(),
            );
            return advice;
        }
        if self.clipped > 0.001 {
            advice.push("Your voice is cut off at the top. Turn the microphone down, or move away from it.".into());
        }
        if self.speech < -45.0 {
            advice.push("You are very quiet. Turn the microphone up, or come nearer.".into());
        }
        if self.speech - self.noise < 15.0 {
            advice.push(
                "The room is nearly as loud as you. Switch off what hums, or come nearer to the microphone.".into(),
            );
        }
        if self.echo.is_some_and(|e| e > 0.8) {
            advice.push("The room echoes. Come nearer to the microphone, or hang up some towels.".into());
        }
        advice
    }
}

/// The median time to fall by 60 dB, from runs of at least four falling frames that begin within 10 dB of the loudest and end above
/// the noise: the slope of a line through each run's levels (Schroeder 1965 fits a line likewise; his backward
/// integration needs an impulse, which nobody claps here).
fn decay(levels: &[f32], noise: f32) -> Option<f32> {
    let loudest = levels.iter().copied().fold(NOTHING, f32::max);
    let mut times = vec![];
    let mut at = 0;
    while at + 4 < levels.len() {
        let mut end = at;
        while end + 1 < levels.len() && levels[end + 1] < levels[end] && levels[end + 1] > noise + 6.0 {
            end += 1;
        }
        let fall = levels[at] - levels[end];
        if levels[at] > loudest - 10.0 && end >= at + 4 && fall >= 12.0 {
            let seconds = (end - at) as f32 * FRAME as f32 / RATE as f32;
            times.push(60.0 * seconds / fall);
        }
        at = end.max(at) + 1;
    }
    (!times.is_empty()).then(|| percentile(times, 0.5))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sine of amplitude `a`: its RMS is a / sqrt 2, so 0.1 is -23.01 dBFS.
    fn sine(a: f32, seconds: f32) -> Vec<f32> {
        (0..(seconds * RATE as f32) as usize).map(|n| a * (n as f32 * 0.3).sin()).collect()
    }

    #[test]
    fn levels_are_those_of_known_signals() {
        let levels = Levels::of(&sine(0.001, 2.0), &sine(0.1, 2.0));
        assert!((levels.noise + 63.01).abs() < 0.1 && (levels.speech + 23.01).abs() < 0.1, "{levels:?}");
        assert_eq!(levels.advice(), Vec::<String>::new());
        assert!(Levels::of(&sine(0.001, 1.0), &sine(2.0, 1.0)).clipped > 0.5);
    }

    #[test]
    fn a_known_decay_is_measured() {
        // Noise that falls by 60 dB in 0.9 s, again and again.
        let mut state = 1u32;
        let mut noise = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / (1 << 23) as f32 - 1.0
        };
        let burst =
            |n: usize, x: f32| if n < 4_800 { x } else { x * 10f32.powf(-3.0 * (n - 4_800) as f32 / 16_000.0 / 0.9) };
        let sound: Vec<f32> =
            (0..5).flat_map(|_| (0..16_000).map(|n| 0.5 * burst(n, noise())).collect::<Vec<_>>()).collect();
        let levels = Levels::of(&vec![0.0; 16_000], &sound);
        assert!((levels.echo.unwrap() - 0.9).abs() < 0.1, "{levels:?}");
        assert!(levels.advice().iter().any(|a| a.contains("echoes")));
    }

    #[test]
    fn what_is_wrong_is_told() {
        let told = |silence: &[f32], speech: &[f32]| Levels::of(silence, speech).advice().join(" ");
        assert!(told(&[0.0; 16_000], &[0.0; 16_000]).contains("Nothing comes"));
        assert!(told(&sine(0.05, 1.0), &sine(0.1, 1.0)).contains("nearly as loud"));
        assert!(told(&sine(0.0001, 1.0), &sine(0.004, 1.0)).contains("very quiet"));
        assert!(told(&sine(0.001, 1.0), &sine(1.5, 1.0)).contains("cut off"));
    }

    #[test]
    fn speech_between_pauses_is_found() {
        let tone = |n: usize| (0..n).map(|k| 0.1 * (k as f32 * 0.3).sin()).collect::<Vec<_>>();
        let quiet = |n: usize| (0..n).map(|k| 0.0005 * (k as f32 * 1.7).sin()).collect::<Vec<_>>();
        // A word with a gap of 0.2 s in it, a pause of 0.6 s, another word, and a click.
        let parts = [
            quiet(8_000),
            tone(6_400),
            quiet(3_200),
            tone(3_200),
            quiet(9_600),
            tone(8_000),
            quiet(9_600),
            tone(640),
            quiet(8_000),
        ];
        let found = speech_segments(&parts.concat());
        assert_eq!(found.len(), 2, "{found:?}");
        let near = |a: usize, b: usize| a.abs_diff(b) <= 320;
        assert!(
            near(found[0].0, 8_000) && near(found[0].1, 20_800) && near(found[1].0, 30_400) && near(found[1].1, 38_400),
            "{found:?}"
        );
        assert_eq!(speech_segments(&quiet(16_000)), []);
        assert_eq!(speech_segments(&[]), []);
    }
}
