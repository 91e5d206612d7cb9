//! Free questions, spoken: whether what is heard is understood as what was typed is.
//!
//!     questions SECTION MODEL SET FOLDER [EVERY [NOISE]]
//!
//! SECTION is a section file, SET wordings as in `tests/data/intents` (lines of other sections are passed over, and all but each EVERYth).
//! Voices of flite and espeak-ng take turns; their sound is kept in FOLDER. NOISE is a WAV file that sounds behind them, 15 dB below the voice.
//! Needs both programs. Prints each question that is not understood alike, and last how many are, are declined, and are taken for another.

use std::path::{Path, PathBuf};
use std::process::Command;
use stepbell::audio::{Converter, read_wav};
use stepbell::callout::{Meaning, Vocabulary};
use stepbell::intent::{Asker, Understood};
use stepbell::listen::{DECOYS, Ears, Gate, Model};
use stepbell::time::SampleIndex;

/// Says a text into a WAV file, by the voice whose turn it is.
fn say(place: usize, text: &str, wav: &Path) {
    let mut command = match place % 3 {
        0 => Command::new("espeak-ng"),
        _ => Command::new("flite"),
    };
    match place % 3 {
        0 => command.args(["-v", "en-us", "-s", "150", "-w"]).arg(wav).arg(text),
        1 => command.args(["-voice", "slt", "-o"]).arg(wav).args(["-t", text]),
        _ => command.args(["-voice", "rms", "-o"]).arg(wav).args(["-t", text]),
    };
    assert!(command.status().expect("espeak-ng and flite are needed").success(), "{text}");
}

fn power(sound: &[f32]) -> f32 {
    sound.iter().map(|s| s * s).sum::<f32>() / sound.len() as f32
}

/// Sound at 16 kHz, half as loud, with most of a second of faint noise before it and one and a half behind; behind all of it a piece of `noise`.
fn sound(wav: &Path, noise: &[f32], place: usize) -> Vec<f32> {
    let (samples, rate) = read_wav(wav).unwrap();
    let mut all = vec![0.0; 12_000];
    Converter::new(rate).unwrap().push(&samples, &mut all);
    all.resize(all.len() + 24_000, 0.0);
    let spoken = power(&all[12_000..all.len() - 24_000]);
    let gain = if noise.is_empty() { 0.0 } else { (spoken / power(noise) / 10f32.powf(1.5)).sqrt() };
    let behind = noise.iter().cycle().skip(place * 16_000 * 7).chain(std::iter::repeat(&0.0));
    let faint = |n: usize| 1e-4 * ((n * 7919 % 13) as f32 - 6.0);
    all.iter().zip(behind).enumerate().map(|(n, (s, b))| 0.5 * (s + gain * b) + faint(n)).collect()
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [section, model, set, folder, rest @ ..] = &arguments[..] else {
        eprintln!("say `questions SECTION MODEL SET FOLDER [EVERY [NOISE]]`");
        std::process::exit(2);
    };
    let every: usize = rest.first().map_or(1, |n| n.parse().expect("EVERY is a number"));
    let mut noise = vec![];
    if let Some(file) = rest.get(1) {
        let (samples, rate) = read_wav(Path::new(file)).unwrap();
        Converter::new(rate).unwrap().push(&samples, &mut noise);
    }
    let section = stepbell::authoring::read(&std::fs::read_to_string(section).unwrap()).0.expect("a section");
    let (asker, questions) = (Asker::new(&section), Vocabulary::questions(&section));
    let model = Model::load(Path::new(model)).unwrap();
    let text = std::fs::read_to_string(set).unwrap();
    let lines = text.lines().filter(|l| !l.starts_with('#')).filter_map(|l| l.split_once('\t'));
    let asked = lines.filter(|(kind, sentence)| *kind != "not" && !sentence.contains('\t')).step_by(every);
    let mut counts = [0; 3];
    for (place, (kind, sentence)) in asked.enumerate() {
        let wav: PathBuf = Path::new(folder).join(format!("{place}.wav"));
        say(place, sentence, &wav);
        let mut ears = Ears::open(&model, questions.clone(), &DECOYS, SampleIndex(0), Gate::default()).unwrap();
        let mut heard: Vec<_> = sound(&wav, &noise, place).chunks(1600).flat_map(|c| ears.feed(c)).collect();
        heard.extend(ears.finish());
        let words: Vec<String> = heard
            .into_iter()
            .filter_map(|h| if let Meaning::Asked { words, .. } = h.meaning { Some(words) } else { None })
            .collect();
        let (typed, spoken) = (asker.understand(sentence), asker.understand(&words.join(" ")));
        let outcome = match (&typed, &spoken) {
            (Understood::Question(a), Understood::Question(b)) if a == b => 0,
            (Understood::Not(_), Understood::Not(_)) => 0,
            (_, Understood::Not(_)) => 1,
            _ => 2,
        };
        counts[outcome] += 1;
        if outcome > 0 {
            println!("{}\t{kind}\t{sentence}\t{}", ["", "declined", "another"][outcome], words.join(" | "));
        }
    }
    println!("alike, declined, another: {counts:?}");
}
