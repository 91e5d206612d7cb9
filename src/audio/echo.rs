//! The tool's own voice taken out of what the microphone heard. What it plays is known to the sample, and about when; how late it comes is found anew for
//! each announcement, since a sound system is never as quick twice. What the room makes of it is learned as it goes, by a Kalman filter in the frequency
//! domain, in parts (Enzner and Vary 2006; Kuech, Mabande and Enzner 2014; both from memory), which learns little while somebody speaks over it.

use super::Converter;
use crate::time::{RATE, SampleIndex};
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::collections::VecDeque;
use std::sync::Arc;

/// Samples that are worked on at once: 20 ms.
const BLOCK: usize = 320;
/// Blocks of the room's answer: 260 ms.
const BLOCKS: usize = 13;
/// Samples of it in front of the path that is found as the strongest.
const LEAD: usize = 64;
/// The longest way from the loudspeaker's queue to the microphone's: 0.75 s.
const LATEST: usize = 12_000;
/// Where it isn't known, it is about as long.
const USUAL: usize = 3_200;
/// Heard sound in which the delay is looked for: from 0.3 s to 4 s of an announcement.
const LOOKED: (usize, usize) = (4_800, 64_000);
/// The delay counts as found where the likeness stands out by so many standard deviations, and the same one was seen the time before.
const CLEAR: f32 = 9.0;
/// So clear, and nothing more is looked for.
const SURE: f32 = 30.0;
/// How much of what is known of the room stays true from block to block.
const STAYS: f32 = 0.9997;
/// How fast what is unknown shrinks with what is learned. By the book it is 0.5; but parts and frequencies aren't learned apart, and with that the
/// filter believes that it knows all, long before it does.
const LEARNED: f32 = 0.25;
/// Sound that is held against what was heard: 100 ms.
const WHOLE: usize = 1_600;
/// Power of a block below which nothing was played.
const SILENT: f32 = 1e-8;

type Spectrum = Vec<Complex<f32>>;

/// Fourier transforms of one length, both ways.
#[derive(Clone)]
struct Transform {
    length: usize,
    there: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
}

impl Transform {
    fn new(length: usize) -> Transform {
        let mut planner = RealFftPlanner::new();
        Transform { length, there: planner.plan_fft_forward(length), back: planner.plan_fft_inverse(length) }
    }

    /// Of some values, with zeros behind them.
    fn there(&self, values: &[f32]) -> Spectrum {
        let mut padded = values.to_vec();
        padded.resize(self.length, 0.0);
        let mut spectrum = self.there.make_output_vec();
        // Lengths are those of the plan, so it can't fail.
        let _ = self.there.process(&mut padded, &mut spectrum);
        spectrum
    }

    fn back(&self, mut spectrum: Spectrum) -> Vec<f32> {
        let last = spectrum.len() - 1;
        (spectrum[0].im, spectrum[last].im) = (0.0, 0.0);
        let mut values = self.back.make_output_vec();
        let _ = self.back.process(&mut spectrum, &mut values);
        values.iter_mut().for_each(|v| *v /= self.length as f32);
        values
    }
}

fn power(sound: &[f32]) -> f32 {
    sound.iter().map(|s| s * s).sum::<f32>() / sound.len().max(1) as f32
}

/// The room's answer as it is known so far, and how well.
#[derive(Clone)]
struct Room {
    fourier: Transform,
    /// The last two blocks played.
    played: Vec<f32>,
    /// Spectra of what was played, the latest first.
    spectra: VecDeque<Spectrum>,
    answer: Vec<Spectrum>,
    /// By part and frequency: the variance of what isn't known of it.
    unknown: Vec<Vec<f32>>,
    /// By frequency: the power of what isn't the tool's voice.
    other: Vec<f32>,
}

impl Room {
    fn new() -> Room {
        let none = vec![Complex::new(0.0, 0.0); BLOCK + 1];
        // A room's answer dies away: by 60 dB in 0.4 s, say.
        let unknown = |k: usize| vec![10f32.powf(-3.0 * (k * BLOCK) as f32 / 6_400.0); BLOCK + 1];
        Room {
            fourier: Transform::new(2 * BLOCK),
            played: vec![0.0; 2 * BLOCK],
            spectra: vec![none.clone(); BLOCKS].into(),
            answer: vec![none; BLOCKS],
            unknown: (0..BLOCKS).map(unknown).collect(),
            other: vec![0.0; BLOCK + 1],
        }
    }

    /// What of a block the answer leaves.
    fn left(&self, heard: &[f32]) -> Vec<f32> {
        let mut sum = vec![Complex::new(0.0, 0.0); BLOCK + 1];
        for (answer, spectrum) in self.answer.iter().zip(&self.spectra) {
            sum.iter_mut().zip(answer.iter().zip(spectrum)).for_each(|(s, (a, x))| *s += a * x);
        }
        let own = self.fourier.back(sum);
        heard.iter().zip(&own[BLOCK..]).map(|(heard, own)| heard - own).collect()
    }

    /// A block without the tool's voice, from what was heard and what was played. What is learned from it helps already here.
    fn clean(&mut self, heard: &[f32], played: &[f32]) -> Vec<f32> {
        self.played.drain(..BLOCK);
        self.played.extend_from_slice(played);
        self.spectra.rotate_right(1);
        self.spectra[0] = self.fourier.there(&self.played);
        let silent = |spectrum: &Spectrum| spectrum.iter().all(|x| x.norm_sqr() < SILENT);
        if self.spectra.iter().all(silent) {
            return heard.to_vec();
        }
        let left = self.left(heard);
        if power(&self.played) < SILENT {
            return left;
        }
        let error = self.fourier.there(&[vec![0.0; BLOCK], left].concat());
        self.other.iter_mut().zip(&error).for_each(|(other, e)| *other = 0.5 * *other + 0.5 * e.norm_sqr());
        let mut spread: Vec<f32> = self.other.iter().map(|other| other + 1e-6).collect();
        for (unknown, spectrum) in self.unknown.iter().zip(&self.spectra) {
            spread.iter_mut().zip(unknown.iter().zip(spectrum)).for_each(|(s, (p, x))| *s += 0.5 * p * x.norm_sqr());
        }
        let fades = STAYS * STAYS;
        for k in 0..BLOCKS {
            let (spectrum, answer, unknown) = (&self.spectra[k], &mut self.answer[k], &mut self.unknown[k]);
            let mut change = Vec::with_capacity(BLOCK + 1);
            for f in 0..=BLOCK {
                let gain = unknown[f] / spread[f];
                change.push(spectrum[f].conj() * error[f] * gain);
                let known = (1.0 - LEARNED * gain * spectrum[f].norm_sqr()).max(0.0);
                unknown[f] = fades * known * unknown[f] + (1.0 - fades) * answer[f].norm_sqr();
            }
            // A part answers for as many samples as a block has.
            let mut change = self.fourier.back(change);
            change[BLOCK..].fill(0.0);
            answer.iter_mut().zip(self.fourier.there(&change)).for_each(|(a, c)| *a += c);
        }
        self.left(heard)
    }
}

/// Sound without the tool's voice.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cleaned {
    /// What is left of it.
    pub sound: Vec<f32>,
    /// What was taken out.
    pub own: Vec<f32>,
}

/// Something that the tool says.
struct Said {
    at: SampleIndex,
    /// At 16 kHz, in 16 bits.
    sound: Vec<i16>,
    /// Samples from where it is played to where it is heard, and how clear that is.
    delay: Option<(usize, f32)>,
    /// The delay seen last.
    seen: Option<usize>,
}

impl Said {
    /// Add what of it is heard from a place on, with this delay.
    fn add(&self, delay: usize, from: SampleIndex, to: &mut [f32]) {
        let begins = self.at.0 + delay as u64;
        let skipped = from.0.saturating_sub(begins) as usize;
        let ahead = begins.saturating_sub(from.0) as usize;
        let sound = self.sound.iter().skip(skipped).map(|s| f32::from(*s) / 32_768.0);
        to.iter_mut().skip(ahead).zip(sound).for_each(|(t, s)| *t += s);
    }
}

/// Takes the tool's voice out of what was heard, chunk by chunk.
pub struct Echo {
    fed: SampleIndex,
    said: Vec<Said>,
    room: Room,
    /// The room as it was known when the last announcement began, and where that was.
    before: (Room, SampleIndex),
    /// What was heard since, as long as the delay is looked for.
    heard: Vec<f32>,
}

impl Echo {
    /// From a place on. Chunks are whole blocks of 20 ms.
    pub fn new(from: SampleIndex) -> Echo {
        Echo { fed: from, said: vec![], room: Room::new(), before: (Room::new(), from), heard: vec![] }
    }

    /// The tool begins to say this, floats in -1 to 1 at `rate` hertz, at about that place.
    pub fn says(&mut self, at: SampleIndex, sound: &[f32], rate: u32) {
        let length = (sound.len() as u64 * RATE / u64::from(rate.max(1))) as usize;
        let mut even = vec![];
        // Without it, nothing is taken out: a rate that can't be converted isn't played either.
        let Ok(mut converter) = Converter::new(rate) else { return };
        converter.push(sound, &mut even);
        converter.push(&vec![0.0; rate as usize / 10], &mut even);
        even.truncate(length);
        let sound = even.iter().map(|s| (s * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16).collect();
        self.said.push(Said { at, sound, delay: None, seen: None });
        self.before = (self.room.clone(), self.fed);
        self.heard.clear();
    }

    /// It stops at that place in the middle of what it says.
    pub fn stops(&mut self, at: SampleIndex) {
        if let Some(said) = self.said.last_mut() {
            said.sound.truncate(at.since(said.at).samples() as usize);
        }
    }

    /// The delay of what is said last, and of what was said before it where that isn't known yet.
    fn delay(&self, k: usize) -> Option<usize> {
        self.said[..=k].iter().rev().find_map(|said| said.delay).map(|(delay, _)| delay)
    }

    /// What of the tool's voice comes in between two places, as it was played, and whether there is any.
    pub fn own(&self, from: SampleIndex, until: SampleIndex) -> (Vec<f32>, bool) {
        let mut own = vec![0.0; until.since(from).samples() as usize];
        for (k, said) in self.said.iter().enumerate() {
            said.add(self.delay(k).unwrap_or(USUAL), from, &mut own);
        }
        let any = power(&own) >= SILENT;
        (own, any)
    }

    /// A chunk without the tool's voice. The answer is longer where what came before is mended, too: it is the last sound up to here.
    pub fn clean(&mut self, chunk: &[f32]) -> Cleaned {
        let from = self.fed;
        self.fed = SampleIndex(from.0 + chunk.len() as u64);
        if self.said.is_empty() {
            return Cleaned { sound: chunk.to_vec(), own: vec![0.0; chunk.len()] };
        }
        if self.heard.len() < LOOKED.1 {
            self.heard.extend_from_slice(chunk);
            if self.find() {
                self.room = self.before.0.clone();
                let (from, heard) = (self.before.1, std::mem::take(&mut self.heard));
                let cleaned = self.through(from, &heard);
                self.heard = heard;
                return cleaned;
            }
        }
        self.through(from, chunk)
    }

    fn through(&mut self, from: SampleIndex, heard: &[f32]) -> Cleaned {
        let mut sound = Vec::with_capacity(heard.len());
        for (k, block) in heard.chunks(BLOCK).enumerate() {
            let from = SampleIndex(from.0 + (k * BLOCK) as u64);
            let mut played = vec![0.0; BLOCK];
            for (k, said) in self.said.iter().enumerate().rev().take(2) {
                let Some(delay) = self.delay(k) else { continue };
                said.add(delay.saturating_sub(LEAD), from, &mut played);
            }
            let mut whole = block.to_vec();
            whole.resize(BLOCK, 0.0);
            sound.extend_from_slice(&self.room.clean(&whole, &played)[..block.len()]);
        }
        // Where the voice isn't heard at all, as by headphones, taking it out would put it in: sound can't be more than
        // what was heard. By chance a little more may be left, so that only twice its power counts.
        for (sound, heard) in sound.chunks_mut(WHOLE).zip(heard.chunks(WHOLE)) {
            if power(sound) > 2.0 * power(heard) {
                sound.copy_from_slice(heard);
            }
        }
        let own = heard.iter().zip(&sound).map(|(heard, left)| heard - left).collect();
        Cleaned { sound, own }
    }

    /// Look how late the last announcement comes; whether that is news.
    fn find(&mut self) -> bool {
        let known = self.delay(self.said.len() - 1);
        let (began, length) = (self.before.1, self.heard.len());
        let sure = |said: &Said| said.delay.is_some_and(|(_, clear)| clear >= SURE);
        let Some(said) = self.said.last_mut().filter(|said| length >= LOOKED.0 && !sure(said)) else { return false };
        let mut played = vec![0.0; length];
        said.add(0, began, &mut played);
        let fourier = Transform::new((length + LATEST).next_power_of_two());
        let (x, y) = (fourier.there(&played), fourier.there(&self.heard));
        let crossed: Spectrum = x.iter().zip(&y).map(|(x, y)| x.conj() * y).collect();
        // By the phase alone (generalised cross-correlation, Knapp and Carter 1976, from memory): speech is too like itself otherwise.
        let loudest = crossed.iter().map(|c| c.norm()).fold(0.0, f32::max);
        if loudest <= 0.0 {
            return false;
        }
        let alike = fourier.back(crossed.iter().map(|c| *c / (c.norm() + 1e-3 * loudest)).collect());
        let alike = &alike[..LATEST];
        let delay = (0..LATEST).fold(0, |best, k| if alike[k].abs() > alike[best].abs() { k } else { best });
        let clear = alike[delay].abs() / power(alike).sqrt().max(f32::MIN_POSITIVE);
        let again = said.seen.replace(delay).is_some_and(|seen| seen.abs_diff(delay) <= 2);
        if !again || clear < CLEAR || said.delay.is_some_and(|(_, before)| clear <= before) {
            return false;
        }
        said.delay = Some((delay, clear));
        // Some samples later or earlier the filter follows.
        known.is_none_or(|known| known.abs_diff(delay) > 2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise with no pattern, in -1 to 1.
    fn noise(seed: u32, length: usize) -> Vec<f32> {
        let mut state = seed;
        let next = |_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / 8_388_608.0 - 1.0
        };
        (0..length).map(next).collect()
    }

    /// Noise in syllables, as loud as speech, whose spectrum falls as that of speech does.
    fn talk(seed: u32, length: usize) -> Vec<f32> {
        let mut last = 0.0;
        let mut even = |s: f32| {
            last = 0.9 * last + s;
            last
        };
        let swells = |k: usize| (k as f32 / 2_500.0).sin().max(0.0);
        noise(seed, length).into_iter().enumerate().map(|(k, s)| 0.05 * even(s) * swells(k)).collect()
    }

    fn level(sound: &[f32]) -> f32 {
        10.0 * power(sound).log10()
    }

    /// What a microphone hears of it so late in a room whose echoes die away by 60 dB in so many seconds, and are as loud as the direct sound.
    fn room(played: &[f32], late: usize, seconds: f32) -> Vec<f32> {
        let length = (seconds * 16_000.0) as usize;
        let decays = |k: usize| 10f32.powf(-3.0 * k as f32 / length as f32);
        let mut answer: Vec<f32> = noise(5, length).iter().enumerate().map(|(k, s)| s * decays(k)).collect();
        let all = (power(&answer) * length as f32).sqrt();
        answer.iter_mut().for_each(|s| *s /= all);
        answer[0] = 1.0;
        let fourier = Transform::new((played.len() + length + late).next_power_of_two());
        let placed = [vec![0.0; late], answer].concat();
        let product = fourier.there(played).iter().zip(fourier.there(&placed)).map(|(a, b)| a * b).collect();
        let mut heard = fourier.back(product);
        heard.truncate(played.len());
        heard
    }

    /// Both announcements of some seconds, the second one so much later than the first.
    fn cleaned(heard: &[f32], played: &[f32]) -> Vec<f32> {
        let mut echo = Echo::new(SampleIndex(0));
        let mut sound: Vec<f32> = vec![];
        for (k, chunk) in heard.chunks(1_600).enumerate() {
            for part in [0, 80_000] {
                if k * 1_600 == part {
                    echo.says(SampleIndex(part as u64), &played[part..part + 80_000], 16_000);
                }
            }
            let clean = echo.clean(chunk).sound;
            sound.truncate(sound.len() + chunk.len() - clean.len());
            sound.extend(clean);
        }
        sound
    }

    #[test]
    fn the_tools_voice_goes_and_the_other_stays() {
        let played = talk(1, 160_000);
        for (late, later, seconds, loud) in [(320, 320, 0.2, 1.0), (1_600, 2_100, 0.4, 0.3), (6_000, 3_000, 0.3, 2.0)] {
            let parts = [room(&played[..80_000], late, seconds), room(&played[80_000..], later, seconds)].concat();
            let own: Vec<f32> = parts.iter().map(|s| loud * s).collect();
            let mut other = vec![0.0; 160_000];
            other[130_000..150_000].copy_from_slice(&talk(9, 20_000));
            let heard: Vec<f32> = own.iter().zip(&other).map(|(a, b)| a + b).collect();
            let left: Vec<f32> = cleaned(&heard, &played).iter().zip(&other).map(|(a, b)| a - b).collect();
            let taken = |from: usize, until: usize| level(&own[from..until]) - level(&left[from..until]);
            // Alone after two seconds, at once when it speaks again, and under somebody else.
            let (first, again, over) = (taken(40_000, 80_000), taken(90_000, 125_000), taken(130_000, 150_000));
            assert!(first > 15.0 && again > 18.0 && over > 12.0, "late {late}, {later}: {first} {again} {over} dB");
        }
    }

    #[test]
    fn what_holds_nothing_of_it_is_left_alone() {
        let (played, other) = (talk(1, 160_000), talk(9, 160_000));
        assert_eq!(cleaned(&other, &played), other);
        assert_eq!(cleaned(&other, &vec![0.0; 160_000]), other);
        assert_eq!(cleaned(&vec![0.0; 160_000], &played), vec![0.0; 160_000]);
    }

    /// Headphones are put in behind the first announcement.
    #[test]
    fn what_is_no_longer_heard_is_not_put_in() {
        let (played, other) = (talk(1, 160_000), talk(9, 160_000));
        let own = room(&played[..80_000], 1_600, 0.3).into_iter().chain(std::iter::repeat(0.0));
        let heard: Vec<f32> = own.zip(&other).map(|(own, other)| own + 0.01 * other).collect();
        let left = cleaned(&heard, &played);
        let more = level(&left[85_000..]) - level(&heard[85_000..]);
        assert!(more < 3.1, "{more} dB more");
    }

    #[test]
    fn what_is_played_is_known_between_any_two_places() {
        let mut echo = Echo::new(SampleIndex(0));
        assert!(!echo.own(SampleIndex(0), SampleIndex(1_600)).1);
        echo.says(SampleIndex(8_000), &talk(1, 22_050), 22_050);
        echo.stops(SampleIndex(16_000));
        let usual = USUAL as u64;
        assert!(!echo.own(SampleIndex(0), SampleIndex(8_000 + usual)).1);
        assert!(echo.own(SampleIndex(8_000 + usual), SampleIndex(12_000 + usual)).1);
        assert!(!echo.own(SampleIndex(16_000 + usual), SampleIndex(40_000)).1);
    }
}
