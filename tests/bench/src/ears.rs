//! What our ears make of recordings, a JSON line for each: `tests/bench/ears` makes the recordings and counts.
//!
//!     ears vocabulary FILE   the phrases of a section file, each with what it stands for
//!     ears decoys            the words beside the phrases in every grammar
//!     ears hear MODEL        jobs on standard input, one a line: {"wav": "...", "phrases": ["...", ...],
//!                            "seek": [[["phrase", ...], from, until], ...], "measure": true, "profile": {...}}; places in seconds.
//!                            With "section": "FILE" in place of the phrases all of a section's wordings count, as in a run
//!     ears enrol MODEL       jobs likewise: {"wav": "...", "phrases": [...], "said": [["phrase", [[from, until], ...]], ...]}; gives a profile and
//!                            how many of the utterances counted before and after
//!     ears cost MODEL        jobs likewise: {"wav": "...", "section": "FILE"}; processor seconds of a bare vosk recogniser with the same grammar and
//!                            of our ears, which hear the same second after second, of each second the less of two turns

use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::BufRead;
use std::path::Path;
use stepbell::acoustic::evidence::measures;
use stepbell::callout::{Meaning, Vocabulary};
use stepbell::listen::{DECOYS, Ears, Gate, EnrolmentScore, Model, Profile, EnrolmentTake};
use stepbell::review::SearchTarget;
use stepbell::section::Section;
use stepbell::time::SampleIndex;

fn strings(value: &Value) -> Vec<String> {
    value.as_array().into_iter().flatten().filter_map(|v| v.as_str().map(str::to_string)).collect()
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["vocabulary", file] => vocabulary(file),
        ["decoys"] => println!("{}", json!(DECOYS)),
        ["hear", model] => hear(Path::new(model)),
        ["enrol", model] => enrol(Path::new(model)),
        ["cost", model] => cost(Path::new(model)),
        _ => eprintln!(
            "say `ears vocabulary FILE`, `ears decoys`, or `ears hear MODEL`, `ears enrol MODEL` or `ears cost MODEL` with jobs on standard input"
        ),
    }
}

fn section(file: &str) -> Section {
    stepbell::authoring::read(&std::fs::read_to_string(file).expect("a section file")).0.expect("a usable section")
}

/// What a job listens for: a section's, in all its wordings, or the phrases alone.
fn vocabulary_of(job: &Value) -> Vocabulary {
    match job["section"].as_str() {
        Some(file) => Vocabulary::of(&section(file)),
        None => Vocabulary::of_phrases(strings(&job["phrases"]).iter().map(String::as_str)),
    }
}

fn vocabulary(file: &str) {
    let section = section(file);
    let vocabulary = Vocabulary::of(&section);
    let mut stands: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (place, phrase) in vocabulary.phrases().enumerate() {
        let meanings = vocabulary.meaning(place).stands_for(&section).into_iter().map(|(name, _)| name).collect();
        stands.insert(phrase, meanings);
    }
    println!("{}", json!(stands));
}

fn recording(job: &Value) -> Vec<f32> {
    let mut reader = hound::WavReader::open(job["wav"].as_str().expect("wav")).expect("a recording");
    reader.samples::<i16>().map(|s| f32::from(s.unwrap()) / 32_768.0).collect()
}

fn enrol(folder: &Path) {
    let model = Model::load(folder).expect("the model loads");
    for line in std::io::stdin().lock().lines() {
        let job: Value = serde_json::from_str(&line.expect("a line")).expect("a job");
        let phrases = strings(&job["phrases"]);
        let vocabulary = Vocabulary::of_phrases(phrases.iter().map(String::as_str));
        let place = |v: &Value| (v.as_f64().unwrap_or(0.0) * 16_000.0) as usize;
        let places = |v: &Value| v.as_array().into_iter().flatten().map(|p| (place(&p[0]), place(&p[1]))).collect();
        let one = |v: &Value| EnrolmentTake { say: v[0].as_str().unwrap_or("").into(), places: places(&v[1]) };
        let said: Vec<EnrolmentTake> = job["said"].as_array().into_iter().flatten().map(one).collect();
        let enrolled =
            Profile::learn(&model, &vocabulary, &[], &recording(&job), &said).expect("room").expect("our own model");
        let count = |known: &[EnrolmentScore]| known.iter().map(EnrolmentScore::taken).sum::<usize>();
        println!(
            "{}",
            json!({"profile": enrolled.profile, "before": count(&enrolled.before), "after": count(&enrolled.after)})
        );
    }
}

fn hear(folder: &Path) {
    let plain = Model::load(folder).expect("the model loads");
    for line in std::io::stdin().lock().lines() {
        let job: Value = serde_json::from_str(&line.expect("a line")).expect("a job");
        let wav = job["wav"].as_str().expect("wav");
        let sound = recording(&job);
        let profile: Option<Profile> = serde_json::from_value(job["profile"].clone()).ok();
        let vocabulary = vocabulary_of(&job);
        // As for a run: words that the lexicon lacks are listened for as they are spelt.
        let words = plain.wanted(&vocabulary);
        let profile = profile.unwrap_or_default();
        let model = plain.with_pronunciations(&words, &profile.sounds(&words)).with_thresholds(profile.thresholds());
        let phrase_of = |meaning: &Meaning| phrase_of(&vocabulary, meaning);
        let mut ears = Ears::open(&model, vocabulary.clone(), &DECOYS, SampleIndex(0), Gate::default()).expect("ears");
        let mut found = vec![];
        let mut fed = 0;
        let seconds = |at: u64| at as f64 / 16_000.0;
        for chunk in sound.chunks(1600).map(<[f32]>::to_vec).chain([vec![]]) {
            fed += chunk.len() as u64;
            let heard = if chunk.is_empty() { ears.finish() } else { ears.feed(&chunk) };
            for heard in heard {
                found.push(json!({"phrase": phrase_of(&heard.meaning), "start": seconds(heard.start.0), "end": seconds(heard.end.0),
                    "evidence": heard.confidence, "known": seconds(fed)}));
            }
        }
        let place = |v: &Value| SampleIndex((v.as_f64().unwrap_or(0.0) * 16_000.0) as u64);
        let seek = |s: &Value| SearchTarget { step: 0, say: strings(&s[0]), between: (place(&s[1]), place(&s[2])) };
        let sought: Vec<_> = job["seek"]
            .as_array()
            .into_iter()
            .flatten()
            .flat_map(|s| ears.again(&[seek(s)]))
            .map(|best| best.map(|(weight, at, s)| json!([weight, seconds(at.0), measures(&s, false)])))
            .collect();
        let measured = ears.weighed().filter(|_| job["measure"] == true).map(|m| {
            json!({"phrase": phrase_of(&m.meaning), "start": seconds(m.start.0), "end": seconds(m.end.0), "ratio": m.features.llr,
                "measures": measures(&m.features, m.agreed)})
        });
        let measured: Vec<_> = measured.collect();
        println!(
            "{}",
            json!({"wav": wav, "seconds": seconds(sound.len() as u64), "found": found, "sought": sought, "measured": measured})
        );
    }
}

/// Processor time of this process so far, in seconds.
fn used() -> f64 {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ProcessCPUTime);
    time.tv_sec as f64 + time.tv_nsec as f64 / 1e9
}

/// Samples of a second.
const SECOND: usize = 16_000;

fn cost(folder: &Path) {
    let model = Model::load(folder).expect("the model loads");
    let inner = vosk::Model::new(folder.display().to_string()).expect("vosk loads it");
    for line in std::io::stdin().lock().lines() {
        let job: Value = serde_json::from_str(&line.expect("a line")).expect("a job");
        let sound = recording(&job);
        let vocabulary = vocabulary_of(&job);
        let grammar = vocabulary.grammar(DECOYS.into_iter(), |w| model.knows(w));
        let pcm: Vec<i16> = sound.iter().map(|s| (s * 32_768.0) as i16).collect();
        // The two hear each second one after the other, and of each second the less of two turns counts: other work on the machine makes one longer,
        // never shorter, and lasts for longer than a second.
        let pieces = pcm.len().div_ceil(SECOND) + 2;
        let (mut bare, mut ours, mut heard) = (vec![f64::INFINITY; pieces], vec![f64::INFINITY; pieces], 0);
        for turn in 0..2 {
            let mut clock = used();
            let mut lap = |least: &mut f64| {
                let now = used();
                *least = least.min(now - clock);
                clock = now;
            };
            let mut recogniser = vosk::Recognizer::new_with_grammar(&inner, 16_000.0, &grammar).expect("a recogniser");
            recogniser.set_words(true);
            lap(&mut bare[pieces - 1]);
            let mut ears =
                Ears::open(&model, vocabulary.clone(), &DECOYS, SampleIndex(0), Gate::default()).expect("ears");
            lap(&mut ours[pieces - 1]);
            heard = 0;
            for (k, (theirs, same)) in pcm.chunks(SECOND).zip(sound.chunks(SECOND)).enumerate() {
                // Whoever hears a second after the other finds some of the memory warm: both do, in turn.
                for who in [(k + turn) % 2, (k + turn + 1) % 2] {
                    if who == 0 {
                        for chunk in theirs.chunks(1600) {
                            if let Ok(vosk::DecodingState::Finalized) = recogniser.accept_waveform(chunk) {
                                let _ = recogniser.result();
                            }
                        }
                        lap(&mut bare[k]);
                    } else {
                        heard += same.chunks(1600).map(|chunk| ears.feed(chunk).len()).sum::<usize>();
                        lap(&mut ours[k]);
                    }
                }
            }
            let _ = recogniser.final_result();
            lap(&mut bare[pieces - 2]);
            heard += ears.finish().len();
            lap(&mut ours[pieces - 2]);
        }
        let (bare, ours) = (bare.iter().sum::<f64>(), ours.iter().sum::<f64>());
        let seconds = sound.len() as f64 / SECOND as f64;
        println!(
            "{}",
            json!({"wav": job["wav"], "seconds": seconds, "heard": heard, "bare": bare, "ours": ours, "ratio": ours / bare})
        );
    }
}

/// The first phrase that means this.
fn phrase_of(vocabulary: &Vocabulary, meaning: &Meaning) -> String {
    vocabulary.phrases().enumerate().find(|(k, _)| vocabulary.meaning(*k) == *meaning).map(|(_, phrase)| phrase).unwrap_or_default()
}
