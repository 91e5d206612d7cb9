//! Our ears against libvosk's own Python client, where set-up has brought it: equal words at equal times.

use std::process::Command;
use stepbell::audio::{CHUNK, read_wav};
use stepbell::authoring;
use stepbell::callout::Vocabulary;
use stepbell::listen::{Ears, Model};

/// Outside reference: the PyPI package vosk 0.3.45, on the same WAV file and grammar.
#[test]
fn our_ears_hear_what_the_reference_client_hears() {
    let text = std::fs::read_to_string("prompts/skin-care/basic-facial.toml").unwrap();
    let vocabulary = Vocabulary::of(&authoring::read(&text).0.unwrap());
    let folder = std::path::Path::new("models/fetched/english");
    let model = Model::load(folder).unwrap();
    let grammar = serde_json::to_string(&vocabulary.grammar([].into_iter(), |w| model.knows(w))).unwrap();
    let reference = Command::new("models/fetched/python/bin/python")
        .args(["tests/reference/vosk_words.py", "models/fetched/english", "tests/audio/demo.wav", &grammar])
        .output()
        .unwrap();
    assert!(reference.status.success(), "{}", String::from_utf8_lossy(&reference.stderr));
    let expected: Vec<(String, f64)> = serde_json::from_slice(&reference.stdout).unwrap();

    let mut ears =
        Ears::open(&model, vocabulary, &[], stepbell::time::SampleIndex(0), stepbell::listen::Gate::default()).unwrap();
    let (samples, _) = read_wav(std::path::Path::new("tests/audio/demo.wav")).unwrap();
    let mut words = vec![];
    for chunk in samples.chunks_exact(CHUNK) {
        words.extend(ears.words_in(chunk));
    }
    words.extend(ears.last_words());
    let ours: Vec<(String, f64)> = words.iter().map(|w| (w.text.clone(), w.start.0 as f64 / 16_000.0)).collect();
    assert!(expected.len() > 40, "{}", expected.len());
    let equal = ours.iter().zip(&expected).filter(|(o, e)| o.0 == e.0 && (o.1 - e.1).abs() < 0.001).count();
    let value = format!("{equal} of {} and {}", ours.len(), expected.len());
    crate::figure(
        "words equal to the reference client's",
        value,
        "all",
        equal == ours.len() && equal == expected.len(),
    );
}

/// A model that an older set-up made has no wide ear: that is told, with what to do, and no run is heard badly instead.
#[test]
fn a_model_without_its_ear_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let models = stepbell::command::models().canonicalize().unwrap();
    let link = |part: &str| std::os::unix::fs::symlink(models.join(part), folder.path().join(part)).unwrap();
    std::fs::create_dir_all(folder.path().join("english/am")).unwrap();
    ["vosk", "english/conf", "english/graph", "english/am/final.mdl"].into_iter().for_each(link);
    let wav = folder.path().join("silence.wav");
    stepbell::audio::write_wav(&wav, &[0.0; 16_000], 16_000).unwrap();
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_stepbell"))
        .args(["rehearse", "prompts/skin-care/basic-facial.toml", "--voice", "off", "--mic", wav.to_str().unwrap()])
        .args(["--runs", folder.path().join("runs").to_str().unwrap()])
        .env("STEPBELL_MODELS", folder.path())
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(!output.status.success(), "{told}");
    assert!(told.contains("no wide ear") && told.contains("bash models/setup.sh"), "{told}");
}
