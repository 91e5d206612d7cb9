//! What our ears make of recordings, a JSON line for each: `tests/bench/ears` makes the recordings and counts.
//!
//!     ears vocabulary FILE   the phrases of a section file, each with what it stands for
//!     ears decoys            the words beside the phrases in every grammar
//!     ears hear MODEL        jobs on standard input, one a line: {"wav": "...", "phrases": ["...", ...],
//!                            "seek": [[["phrase", ...], from, until], ...], "measure": true, "profile": {...}}; places in seconds
//!     ears enrol MODEL       jobs likewise: {"wav": "...", "phrases": [...], "said": [["phrase", [[from, until], ...]], ...]}; gives a profile and
//!                            how many of the utterances counted before and after

use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::BufRead;
use std::path::Path;
use stepbell::acoustic::evidence::measures;
use stepbell::callout::{Meaning, Vocabulary};
use stepbell::listen::{DECOYS, Ears, Gate, Known, Model, Profile, Said};
use stepbell::review::Sought;
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
        _ => eprintln!("say `ears vocabulary FILE`, `ears decoys`, `ears hear MODEL < jobs` or `ears enrol MODEL < jobs`"),
    }
}

fn vocabulary(file: &str) {
    let section =
        stepbell::authoring::read(&std::fs::read_to_string(file).expect("a section file")).0.expect("a usable section");
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
        let one = |v: &Value| Said { say: v[0].as_str().unwrap_or("").into(), places: places(&v[1]) };
        let said: Vec<Said> = job["said"].as_array().into_iter().flatten().map(one).collect();
        let enrolled = Profile::learn(&model, &vocabulary, &[], &recording(&job), &said).expect("room").expect("our own model");
        let count = |known: &[Known]| known.iter().map(Known::taken).sum::<usize>();
        println!("{}", json!({"profile": enrolled.profile, "before": count(&enrolled.before), "after": count(&enrolled.after)}));
    }
}

fn hear(folder: &Path) {
    let plain = Model::load(folder).expect("the model loads");
    for line in std::io::stdin().lock().lines() {
        let job: Value = serde_json::from_str(&line.expect("a line")).expect("a job");
        let wav = job["wav"].as_str().expect("wav");
        let sound = recording(&job);
        let phrases = strings(&job["phrases"]);
        let profile: Option<Profile> = serde_json::from_value(job["profile"].clone()).ok();
        let model = profile.map_or(plain.clone(), |profile| {
            let words: Vec<&str> = phrases.iter().flat_map(|p| p.split(' ')).chain(DECOYS).collect();
            plain.taught(&words, &profile.sounds(&words)).expect("room").asking(profile.lines())
        });
        let vocabulary = Vocabulary::of_phrases(phrases.iter().map(String::as_str));
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
        let seek = |s: &Value| Sought { step: 0, say: strings(&s[0]), between: (place(&s[1]), place(&s[2])) };
        let sought: Vec<_> = job["seek"]
            .as_array()
            .into_iter()
            .flatten()
            .map(|s| ears.best(&seek(s)).map(|(e, at, s)| json!([e, seconds(at.0), s.ratio, s.fit, s.worst, s.phones])))
            .collect();
        let measured = ears.weighed().filter(|_| job["measure"] == true).map(|m| {
            json!({"phrase": phrase_of(&m.meaning), "start": seconds(m.start.0), "end": seconds(m.end.0), "ratio": m.spotted.ratio,
                "measures": measures(&m.spotted, m.agreed)})
        });
        let measured: Vec<_> = measured.collect();
        println!(
            "{}",
            json!({"wav": wav, "seconds": seconds(sound.len() as u64), "found": found, "sought": sought, "measured": measured})
        );
    }
}

/// A callout's words; the phrases of a job are all callouts.
fn phrase_of(meaning: &Meaning) -> &str {
    if let Meaning::Callout(say) = meaning { say } else { "" }
}
