//! The main job on the shipped recording, by the program itself: the recap finds what the script holds and nothing else.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use stepbell::journal::{self, Journal};
use stepbell::session::{Event, Timer};
use stepbell::time::{Ms, SampleIndex};

fn stepbell(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stepbell")).args(arguments).output().unwrap()
}

fn rehearse(runs: &Path, more: &[&str]) -> (Output, PathBuf) {
    let runs = runs.to_str().unwrap();
    let base = ["rehearse", "prompts/skin-care/basic-facial.toml", "--compress", "10", "--runs", runs];
    let output = stepbell(&[&base, more].concat());
    let journal =
        fs::read_dir(runs).unwrap().map(|e| e.unwrap().path()).find(|p| p.extension().is_some_and(|e| e == "journal"));
    (output, journal.unwrap_or_default())
}

fn onsets(journal: &Journal) -> Vec<f64> {
    let heard = journal.records.iter().filter_map(|r| if let Event::Heard(h) = &r.event { Some(h) } else { None });
    heard.map(|h| h.start.0 as f64 / 16_000.0).collect()
}

#[test]
fn the_demo_finds_exactly_what_its_script_holds() {
    let runs = tempfile::tempdir().unwrap();
    let (output, path) = rehearse(runs.path(), &["--mic", "tests/audio/demo.wav"]);
    let shown = String::from_utf8(output.stdout).unwrap();
    let findings: Vec<&str> = shown.lines().filter(|l| l.starts_with("  - ")).collect();
    assert_eq!(
        findings,
        [
            "  - Not called: analyse the skin.",
            "  - Not called: toner.",
            "  - Dropped item called at 59 seconds, and hands 4 seconds later.",
            "  - Out of order: lip colour off, called at 44 seconds.",
        ]
    );
    let journal = journal::load(&path).unwrap();

    let truth = fs::read_to_string("tests/audio/demo.tsv").unwrap();
    let truth: Vec<f64> = truth.lines().map(|l| l.split('\t').next().unwrap().parse().unwrap()).collect();
    let heard = onsets(&journal);
    assert_eq!(heard.len(), truth.len(), "each callout once");
    let mut off: Vec<f64> = heard.iter().zip(&truth).map(|(h, t)| (h - t).abs()).collect();
    off.sort_by(f64::total_cmp);
    assert!(off[(off.len() * 95).div_ceil(100) - 1] <= 0.25, "onsets are off by {off:?}");

    // The warning's onset is at its deadline: 12 of 25 minutes left, ten times compressed.
    let at = |event: &Event| journal.records.iter().find(|r| r.event == *event).unwrap().at;
    let (started, warned) = (at(&Event::SpeechEnded(2)), at(&Event::SpeechStarted(3)));
    let deadline: SampleIndex = started + Ms(13 * 6_000);
    assert!(warned.since(deadline).max(deadline.since(warned)) <= Ms(500));
    assert_eq!(journal.records.iter().filter(|r| r.event == Event::TimerFired(Timer::Warning)).count(), 1);

    // The recap comes from the journal alone, word for word.
    let again = stepbell(&["recap", path.to_str().unwrap()]);
    assert!(shown.contains(String::from_utf8(again.stdout).unwrap().as_str()));
}

#[test]
fn a_journal_cut_anywhere_in_its_tail_keeps_all_before_and_a_damaged_middle_is_refused() {
    let runs = tempfile::tempdir().unwrap();
    let (_, path) = rehearse(runs.path(), &["--mic", "tests/audio/demo.wav", "--no-voice"]);
    let whole = fs::read(&path).unwrap();
    let records = journal::load(&path).unwrap().records;
    let last = whole[..whole.len() - 1].iter().rposition(|b| *b == b'\n').unwrap() + 1;
    for cut in last..whole.len() {
        fs::write(&path, &whole[..cut]).unwrap();
        let read = journal::load(&path).unwrap();
        assert_eq!((read.records.as_slice(), read.torn), (&records[..records.len() - 1], cut - last));
    }
    let mut damaged = whole.clone();
    damaged[last - 3] ^= 1;
    fs::write(&path, damaged).unwrap();
    assert!(matches!(journal::load(&path), Err(journal::JournalError::Damaged { offset, .. }) if offset < last));
}

#[test]
fn bad_input_gets_a_clear_message_and_its_exit_code() {
    let runs = tempfile::tempdir().unwrap();
    let check = |more: &[&str], code: i32, says: &str| {
        let (output, _) = rehearse(runs.path(), more);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{said}");
        assert!(said.contains(says) && said.contains("next:"), "{said}");
    };
    let file = |name: &str, bytes: &[u8]| {
        let path = runs.path().join(name);
        fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_string()
    };
    check(&["--mic", &file("broken.wav", b"RIFF....WAVEjunk")], 1, "broken.wav");
    check(&["--mic", &file("empty.wav", b"")], 1, "empty.wav");
    check(&["--mic", "no-such.wav"], 1, "no-such.wav");
    check(&["--mic", "tests/audio/demo.wav", "--model", "no-such-model"], 3, "no-such-model/am/final.mdl is missing");
    let output = stepbell(&[
        "rehearse",
        "prompts/skin-care/basic-facial.toml",
        "--mic",
        "tests/audio/demo.wav",
        "--runs",
        "/proc/none",
    ]);
    assert_eq!(output.status.code(), Some(4));
}

#[test]
fn any_rate_and_format_of_recording_is_taken() {
    let spec = |channels, sample_rate, bits_per_sample, sample_format| hound::WavSpec {
        channels,
        sample_rate,
        bits_per_sample,
        sample_format,
    };
    let runs = tempfile::tempdir().unwrap();
    let cases = [
        spec(2, 48_000, 16, hound::SampleFormat::Int),
        spec(1, 8_000, 16, hound::SampleFormat::Int),
        spec(1, 44_100, 24, hound::SampleFormat::Int),
        spec(1, 16_000, 32, hound::SampleFormat::Float),
    ];
    for spec in cases {
        let path = runs.path().join("case.wav");
        let mut writer = hound::WavWriter::create(&path, spec).unwrap();
        for _ in 0..spec.sample_rate * u32::from(spec.channels) * 2 {
            match spec.sample_format {
                hound::SampleFormat::Int => writer.write_sample(0i32).unwrap(),
                hound::SampleFormat::Float => writer.write_sample(0f32).unwrap(),
            }
        }
        writer.finalize().unwrap();
        let (samples, rate) = stepbell::audio::read_wav(&path).unwrap();
        assert_eq!((samples.len(), rate), (spec.sample_rate as usize * 2, spec.sample_rate));
        let (output, _) = rehearse(runs.path(), &["--mic", path.to_str().unwrap(), "--no-voice"]);
        assert!(output.status.success(), "{spec:?}");
        let shown = String::from_utf8(output.stdout).unwrap();
        assert!(shown.contains("The section was not started."), "{shown}");
    }
}
