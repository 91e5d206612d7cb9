//! The main job on the shipped recording, by the program itself: the recap finds what the script holds and nothing else.

use crate::figure;
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
            "  - Not called: analyse the skin. (common practice)",
            "  - Not called: toner. (common practice)",
            "  - Dropped item called at 59 seconds, and hands 4 seconds later; not called: where it went, a fresh one. (common practice)",
            "  - Out of order: lip colour off, called at 44 seconds. (common practice)",
        ]
    );
    let journal = journal::load(&path).unwrap();

    let truth = fs::read_to_string("tests/audio/demo.tsv").unwrap();
    let truth: Vec<f64> = truth.lines().map(|l| l.split('\t').next().unwrap().parse().unwrap()).collect();
    let heard = onsets(&journal);
    assert_eq!(heard.len(), truth.len(), "each callout once");
    let mut off: Vec<f64> = heard.iter().zip(&truth).map(|(h, t)| (h - t).abs()).collect();
    off.sort_by(f64::total_cmp);
    let late = off[(off.len() * 95).div_ceil(100) - 1];
    figure(
        "demo: callout onset against the truth, 95th percentile",
        format!("{late:.3} s"),
        "at most 0.25 s",
        late <= 0.25,
    );

    // The warning's onset is at its deadline: 12 of 25 minutes left, ten times compressed.
    let at = |event: &Event| journal.records.iter().find(|r| r.event == *event).unwrap().at;
    let (started, warned) = (at(&Event::SpeechEnded(2)), at(&Event::SpeechStarted(3)));
    let deadline: SampleIndex = started + Ms(13 * 6_000);
    let off = warned.since(deadline).max(deadline.since(warned));
    figure(
        "demo: warning's onset against its deadline",
        format!("{:.3} s", off.seconds()),
        "at most 0.5 s",
        off <= Ms(500),
    );
    assert_eq!(journal.records.iter().filter(|r| r.event == Event::TimerFired(Timer::Warning)).count(), 1);

    // The recap comes from the journal alone, word for word.
    let again = stepbell(&["recap", path.to_str().unwrap()]);
    assert!(shown.contains(String::from_utf8(again.stdout).unwrap().as_str()));
}

#[test]
fn a_journal_cut_anywhere_in_its_tail_keeps_all_before_and_a_damaged_middle_is_refused() {
    let runs = tempfile::tempdir().unwrap();
    let (_, path) = rehearse(runs.path(), &["--mic", "tests/audio/demo.wav", "--voice", "off"]);
    let whole = fs::read(&path).unwrap();
    let all = journal::load(&path).unwrap();
    let lines = all.records.len() + all.digests.len();
    let last = whole[..whole.len() - 1].iter().rposition(|b| *b == b'\n').unwrap() + 1;
    for cut in last..whole.len() {
        fs::write(&path, &whole[..cut]).unwrap();
        let read = journal::load(&path).unwrap();
        assert_eq!((read.records.len() + read.digests.len(), read.torn), (lines - 1, cut - last));
        assert!(all.records.starts_with(&read.records) && all.digests.starts_with(&read.digests));
    }
    let mut damaged = whole.clone();
    damaged[whole.len() * 3 / 4] ^= 1;
    fs::write(&path, damaged).unwrap();
    assert!(
        matches!(journal::load(&path), Err(journal::JournalError::Flawed { flaw: journal::Flaw::Damaged { offset, .. }, .. }) if offset < last)
    );
}

#[test]
fn bad_input_gets_a_clear_message_and_its_exit_code() {
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("runs");
    let file = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_string()
    };
    let facial = fs::read_to_string("prompts/skin-care/basic-facial.toml").unwrap();
    let typo = file("typo.toml", facial.replacen("critical", "critcal", 1).as_bytes());
    let unknown = file("unknown.toml", facial.replacen("\"steam towel\"", "\"steem towel\"", 1).as_bytes());
    let demo = "tests/audio/demo.wav";
    let shipped = "prompts/skin-care/basic-facial.toml";
    let runs = runs.to_str().unwrap();
    let cases: [(&[&str], i32, &[&str]); 10] = [
        (&[shipped, "--mic", &file("broken.wav", b"RIFF....WAVEjunk")], 1, &["broken.wav", "next:"]),
        (&[shipped, "--mic", &file("empty.wav", b"")], 1, &["empty.wav", "next:"]),
        (&[shipped, "--mic", &file("cut.wav", &fs::read(demo).unwrap()[..44])], 1, &["cut.wav", "next:"]),
        (&[shipped, "--mic", "no-such.wav"], 1, &["no-such.wav", "next:"]),
        (&[shipped, "--mic", demo, "--model", "no-such"], 3, &["no-such/am/final.mdl is missing", "setup.sh"]),
        (&["no-such.toml", "--mic", demo], 1, &["no-such.toml", "next:"]),
        (&[&typo, "--mic", demo], 1, &["S002", "critcal", "did you mean `critical`?"]),
        (&[&unknown, "--mic", demo, "--voice", "off"], 0, &["S014", "steem", "help: it knows steam"]),
        (&[shipped], 3, &["can't be opened", "--mic"]),
        (&[shipped, "--mic", demo, "--compress", "0"], 2, &["--compress"]),
    ];
    let count = cases.len();
    for (arguments, code, says) in cases {
        let output = Command::new(env!("CARGO_BIN_EXE_stepbell"))
            .args([&["rehearse", "--runs", runs], arguments].concat())
            // No sound device, whatever this machine has.
            .envs([("PULSE_SERVER", "unix:/nonexistent"), ("ALSA_CONFIG_PATH", "/nonexistent")])
            .output()
            .unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {said}");
        assert!(says.iter().all(|s| said.contains(s)), "{arguments:?}: {said}");
        assert!(!said.contains("panicked"), "{said}");
    }
    let output = stepbell(&["rehearse", shipped, "--mic", demo, "--runs", "/proc/none"]);
    assert_eq!(output.status.code(), Some(4));
    figure("bad input: cases with a clear message and the right exit code", count + 1, "11", count == 10);
}

/// The demo again as other machines would have recorded it: 48 kHz in two channels of 24 bits, and as floats.
#[test]
fn any_rate_and_format_of_recording_is_heard_alike() {
    let folder = tempfile::tempdir().unwrap();
    let (sound, _) = stepbell::audio::read_wav(Path::new("tests/audio/demo.wav")).unwrap();
    let write = |name: &str, rate: u32, channels: u16, bits: u16, format: hound::SampleFormat, samples: &[f32]| {
        let path = folder.path().join(name);
        let spec = hound::WavSpec { channels, sample_rate: rate, bits_per_sample: bits, sample_format: format };
        let mut writer = hound::WavWriter::create(&path, spec).unwrap();
        for sample in samples {
            for _ in 0..channels {
                match format {
                    hound::SampleFormat::Int => writer.write_sample((sample * 8_388_607.0) as i32).unwrap(),
                    hound::SampleFormat::Float => writer.write_sample(*sample).unwrap(),
                }
            }
        }
        writer.finalize().unwrap();
        path
    };
    // Straight lines between samples: what that adds lies above 8 kHz, where resampling takes it off again.
    let thrice: Vec<f32> =
        sound.windows(2).flat_map(|w| [w[0], w[0] + (w[1] - w[0]) / 3.0, w[0] + (w[1] - w[0]) * 2.0 / 3.0]).collect();
    let half: Vec<f32> = sound.chunks_exact(2).map(|w| (w[0] + w[1]) / 2.0).collect();
    for (name, path) in [
        ("48 kHz stereo 24 bits", write("a.wav", 48_000, 2, 24, hound::SampleFormat::Int, &thrice)),
        ("16 kHz float", write("b.wav", 16_000, 1, 32, hound::SampleFormat::Float, &sound)),
    ] {
        let runs = tempfile::tempdir().unwrap();
        let (output, _) = rehearse(runs.path(), &["--mic", path.to_str().unwrap()]);
        let shown = String::from_utf8(output.stdout).unwrap();
        assert_eq!(shown.lines().filter(|l| l.starts_with("  - ")).count(), 4, "{name}: {shown}");
    }
    let runs = tempfile::tempdir().unwrap();
    let low = write("c.wav", 8_000, 1, 32, hound::SampleFormat::Float, &half);
    let (output, _) = rehearse(runs.path(), &["--mic", low.to_str().unwrap()]);
    assert!(output.status.success());
    assert!(String::from_utf8(output.stderr).unwrap().contains("record at 16000 Hz or more"));
}
