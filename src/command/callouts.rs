//! `check --callouts`: whether the callouts of a section can be told from each other, on paper and by trying it: each is spoken by the
//! tool's voice in several pitches and noises, and heard again.

use super::Failure;
use super::devices;
use crate::acoustic::phones::Phone;
use crate::audio::Converter;
use crate::callout::{Meaning, Vocabulary};
use crate::listen::{Gate, Model, Profile};
use crate::section::Section;
use crate::terminal::outln;
use crate::time::{RATE, SampleIndex};
use crate::voice::Cache;
use rand_distr::{Distribution, StandardNormal};
use std::collections::BTreeMap;

/// Pitch and speed of the voices that the tool's voice is made into: a deeper slower one, itself, a higher faster one.
const VOICES: [f64; 3] = [0.9, 1.0, 1.1];
/// Noise under the callouts, in dB below them; none at first.
const NOISES: [Option<f32>; 3] = [None, Some(20.0), Some(10.0)];
/// Phones that two callouts of different meaning should differ by at least.
const APART: usize = 3;
/// A callout of fewer phones sounds like many a stretch of ordinary talk.
const SHORT: usize = 4;
/// A callout heard less often than this, of all trials, wants other words.
const POOR: f64 = 0.8;

/// How one callout fared.
#[derive(Default)]
struct Trials {
    heard: usize,
    of: usize,
    taken: BTreeMap<String, usize>,
}

/// What a phrase stands for, in words.
fn stands(section: &Section, meaning: &Meaning) -> String {
    meaning.stands_for(section).into_iter().map(|(_, title)| title).collect::<Vec<_>>().join(" or ")
}

/// Whether two phrases stand for the same step or command, or for one in common.
fn same(section: &Section, a: &Meaning, b: &Meaning) -> bool {
    let others = b.stands_for(section);
    a.stands_for(section).iter().any(|(name, _)| others.iter().any(|(other, _)| name == other))
}

/// Check the callouts of a section, and print what was found.
pub fn run(section: &Section, model: &Model) -> Result<(), Failure> {
    let model = devices::model_for(model.clone(), section, &Profile::default());
    let vocabulary = Vocabulary::of(section);
    let phrases: Vec<(String, Meaning)> =
        vocabulary.phrases().enumerate().map(|(k, p)| (p, vocabulary.meaning(k))).collect();
    if let Some(judge) = model.verifier() {
        let said = |p: &str| -> Vec<Phone> {
            p.split(' ').flat_map(|w| judge.phones().of(w).first().cloned().unwrap_or_default()).collect()
        };
        let all: Vec<Vec<Phone>> = phrases.iter().map(|(p, _)| said(p)).collect();
        let mut near = vec![];
        for (k, (a, meaning)) in phrases.iter().enumerate() {
            for (j, (b, other)) in phrases.iter().enumerate().skip(k + 1) {
                // The types are named since macOS's libraries add a type of which the compiler can't rule out that it is meant.
                let distance = strsim::generic_levenshtein::<Vec<Phone>, Vec<Phone>, _, _>(&all[k], &all[j]);
                if distance < APART && !same(section, meaning, other) {
                    near.push((distance, a, b));
                }
            }
        }
        near.sort();
        outln!("\nCallouts that sound alike and mean different things, with the sounds they differ by:");
        near.iter().for_each(|(distance, a, b)| outln!("  {distance}  \"{a}\" and \"{b}\""));
        if near.is_empty() {
            outln!("  none: all differ by {APART} sounds or more");
        }
        let short: Vec<&str> =
            phrases.iter().zip(&all).filter(|(_, p)| p.len() < SHORT).map(|((p, _), _)| p.as_str()).collect();
        outln!("\nSo short that ordinary talk may sound like them:");
        outln!("  {}", if short.is_empty() { "none".to_string() } else { short.join(", ") });
    }
    let trials = tried(section, &model, &phrases)?;
    report(section, &phrases, &trials);
    Ok(())
}

/// Speak and hear every callout, one after the other with pauses, in each voice and noise.
fn tried(section: &Section, model: &Model, phrases: &[(String, Meaning)]) -> Result<Vec<Trials>, Failure> {
    let mut voice = Cache::new(&super::cache());
    let mut trials: Vec<Trials> = phrases.iter().map(|_| Trials::default()).collect();
    let mut random = rand_pcg::Pcg64::new(7, 11);
    let next = |e: &dyn std::fmt::Display| Failure::device(e, super::mend());
    for pitch in VOICES {
        let mut spoken: Vec<Vec<f32>> = vec![];
        for (phrase, _) in phrases {
            let speech = voice.fixed(phrase).map_err(|e| next(&e))?;
            let mut converter = Converter::new((f64::from(speech.rate) * pitch) as u32).map_err(|e| next(&e))?;
            let mut sound = vec![];
            let padded: Vec<f32> = speech.samples.iter().copied().chain(vec![0.0; speech.rate as usize / 10]).collect();
            converter.push(&padded, &mut sound);
            spoken.push(sound);
        }
        for noise in NOISES {
            let mut sound = vec![0.0f32; RATE as usize];
            let mut places = vec![];
            for callout in &spoken {
                places.push((sound.len() as u64, (sound.len() + callout.len()) as u64));
                sound.extend(callout);
                sound.extend(vec![0.0; RATE as usize * 3 / 2]);
            }
            let loud = (spoken.iter().flatten().map(|s| s * s).sum::<f32>()
                / spoken.iter().map(Vec::len).sum::<usize>().max(1) as f32)
                .sqrt();
            let under = noise.map_or(1e-4, |below| loud / 10f32.powf(below / 20.0));
            sound.iter_mut().for_each(|s| {
                let noise: f32 = StandardNormal.sample(&mut random);
                *s += under * noise;
            });
            let mut ears = devices::ears(model, section, SampleIndex(0), Gate::default())?;
            let mut heard: Vec<_> = sound.chunks(1600).flat_map(|chunk| ears.feed(chunk)).collect();
            heard.extend(ears.finish());
            for (k, (from, until)) in places.into_iter().enumerate() {
                let found = heard.iter().find(|h| h.start.0 < until && h.end.0 > from);
                trials[k].of += 1;
                match found {
                    Some(h) if same(section, &h.meaning, &phrases[k].1) => trials[k].heard += 1,
                    Some(h) => *trials[k].taken.entry(stands(section, &h.meaning)).or_default() += 1,
                    None => *trials[k].taken.entry("nothing".into()).or_default() += 1,
                }
            }
        }
    }
    Ok(trials)
}

fn report(section: &Section, phrases: &[(String, Meaning)], trials: &[Trials]) {
    let (heard, of) = trials.iter().fold((0, 0), |(h, o), t| (h + t.heard, o + t.of));
    outln!(
        "\nTried aloud: each callout in {} voices, each clean and under noise at 20 and 10 dB; {heard} of {of} understood.",
        VOICES.len()
    );
    for ((phrase, meaning), trial) in phrases.iter().zip(trials).filter(|(_, t)| t.heard < t.of) {
        let taken: Vec<String> = trial.taken.iter().map(|(what, n)| format!("{n} as {what}")).collect();
        outln!("  \"{phrase}\" ({}): {} of {}; {}", stands(section, meaning), trial.heard, trial.of, taken.join(", "));
        if (trial.heard as f64) < POOR * trial.of as f64 {
            let better = phrases
                .iter()
                .zip(trials)
                .filter(|((p, m), t)| p != phrase && same(section, m, meaning) && t.heard > trial.heard);
            match better.max_by_key(|(_, t)| t.heard) {
                Some(((other, _), t)) => {
                    outln!("      safer: say \"{other}\", understood {} of {} times", t.heard, t.of)
                }
                None => outln!("      safer: give the step a callout of two or more words that no other step has"),
            }
        }
    }
}
