//! The edges of a run, on real sound: between the readings, at the limit, after it. The pieces of sound are the demo's.

use crate::kill::journal_in;
use std::fs;
use std::path::Path;
use std::process::Command;
use stepbell::audio::{read_wav, write_wav};
use stepbell::journal::{self, Journal};
use stepbell::session::{Event, Timer};

/// A lively second from the demo recording: the callout whose onset is listed in `demo.tsv`.
fn piece(say: &str) -> Vec<f32> {
    let truth = fs::read_to_string("tests/audio/demo.tsv").unwrap();
    let onset: f64 =
        truth.lines().find(|l| l.split('\t').nth(1) == Some(say)).unwrap().split('\t').next().unwrap().parse().unwrap();
    let (sound, rate) = read_wav(Path::new("tests/audio/demo.wav")).unwrap();
    let from = (onset * f64::from(rate)) as usize;
    sound[from..from + rate as usize * 3 / 2].to_vec()
}

/// A run, 20 times compressed (75 s), in which these callouts begin at those places in seconds.
fn run(spoken: &[(f64, &str)], more: &[&str]) -> (String, Journal) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mic.wav");
    let mut sound = vec![0.0; 16_000 * 170];
    for (at, say) in spoken {
        let from = (at * 16_000.0) as usize;
        sound[from..].iter_mut().zip(piece(say)).for_each(|(s, p)| *s += p);
    }
    write_wav(&path, &sound, 16_000).unwrap();
    let base = [
        "rehearse",
        "prompts/skin-care/basic-facial.toml",
        "--compress",
        "20",
        "--runs",
        folder.path().to_str().unwrap(),
    ];
    let output = Command::new(env!("CARGO_BIN_EXE_stepbell"))
        .args([&base, ["--mic", path.to_str().unwrap()].as_slice(), more].concat())
        .output()
        .unwrap();
    (String::from_utf8(output.stdout).unwrap(), journal::load(&journal_in(folder.path())).unwrap())
}

fn place(journal: &Journal, event: &Event) -> f64 {
    journal.records.iter().find(|r| r.event == *event).unwrap().at.0 as f64 / 16_000.0
}

#[test]
fn the_edges_of_a_run_on_real_sound() {
    let (_, quiet) = run(&[], &[]);
    let gap = place(&quiet, &Event::SpeechEnded(0));
    let limit = place(&quiet, &Event::TimerFired(Timer::Limit));

    // In the silence between the readings: a finding. Begun before the limit, understood after it: counted.
    let (shown, journal) = run(&[(gap + 0.5, "steam towel"), (limit - 0.3, "steam towel")], &[]);
    assert!(shown.contains("Called before the start: steam towel."), "{shown}");
    assert!(!shown.contains("Not called: apply the steam towel."), "{shown}");
    let stop = journal.records.iter().position(|r| r.event == Event::TimerFired(Timer::Limit)).unwrap();
    let heard = journal.records.iter().rposition(|r| matches!(r.event, Event::Heard(_))).unwrap();
    assert!(heard > stop, "its result came after the stop");

    // Begun after the limit: not counted, and with a headset, where it is heard under the stop words, a finding.
    let (shown, _) = run(&[(limit + 0.7, "steam towel")], &["--headset"]);
    assert!(shown.contains("Called after the end, so it doesn't count: steam towel."), "{shown}");
    assert!(shown.contains("Not called: apply the steam towel."), "{shown}");

    // While the tool reads, a headset hears and a loudspeaker's gate doesn't.
    let (shown, _) = run(&[(gap - 10.0, "steam towel")], &["--headset"]);
    assert!(shown.contains("Called before the start: steam towel."), "{shown}");
    let (shown, _) = run(&[(gap - 10.0, "steam towel")], &[]);
    assert!(!shown.contains("Called before the start"), "{shown}");
}
