//! What the terminal owes: no success that isn't one, nothing lost with its reader, and nothing that steers it.

use crate::kill::stepbell;
use crate::questions::{SHORT, track};
use std::fs::{self, File};
use std::path::Path;
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;

const FACIAL: &str = "prompts/skin-care/basic-facial.toml";

/// The program with its standard output going somewhere.
fn shown_to(out: impl Into<Stdio>, arguments: &[&str]) -> (Option<i32>, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_stepbell")).args(arguments).stdout(out).output().unwrap();
    (output.status.code(), String::from_utf8(output.stderr).unwrap())
}

/// A pipe that nobody reads.
fn left() -> Stdio {
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    writer.into()
}

fn full() -> Stdio {
    File::options().write(true).open("/dev/full").unwrap().into()
}

/// A folder with a short section, ten seconds of silence for it, and a run of it.
fn a_run() -> (TempDir, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    fs::write(place("short.toml"), SHORT).unwrap();
    track(&[(60.0, "")], place("silence.wav").as_ref());
    let arguments = [
        "rehearse",
        &place("short.toml"),
        "--mic",
        &place("silence.wav"),
        "--runs",
        &place("runs"),
        "--render",
        &place("spoken.wav"),
        "--no-questions",
    ];
    let arguments = arguments.map(String::from).to_vec();
    (folder, arguments)
}

/// As the demo asks for it in a fresh clone.
#[test]
fn the_sound_may_lie_in_a_runs_folder_that_is_not_there_yet() {
    let (folder, mut arguments) = a_run();
    let spoken = folder.path().join("runs/spoken.wav");
    let place = arguments.iter().position(|a| a == "--render").unwrap();
    arguments[place + 1] = spoken.to_str().unwrap().to_string();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let output = stepbell(&arguments);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(spoken.is_file());
}

fn named(folder: &Path, ending: &str) -> usize {
    let names = fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.file_name().into_string().unwrap());
    names.filter(|n| n.ends_with(ending)).count()
}

/// Bell, escape, C1 or a bidirectional control, written as bytes that a terminal or a reader would take for one. Lines of CSV end
/// in CRLF.
fn steers(output: &[u8]) -> bool {
    String::from_utf8_lossy(output).replace("\r\n", "\n").contains(stepbell::text::hidden)
}

#[test]
fn what_could_not_be_shown_is_no_success() {
    for arguments in [&["check", FACIAL][..], &["show", FACIAL], &["schema"], &["--help"], &["recap", "--help"]] {
        let (code, said) = shown_to(full(), arguments);
        assert_eq!(code, Some(4), "{arguments:?}: {said}");
        assert!(said.contains("next:") && said.contains("No space left"), "{arguments:?}: {said}");
        assert!(!said.contains("panicked"), "{said}");
    }
    // Whoever has seen enough leaves without a word; what judges says so all the same.
    for arguments in [&["show", FACIAL][..], &["schema"], &["--help"]] {
        assert_eq!(shown_to(left(), arguments), (Some(0), String::new()), "{arguments:?}");
    }
    let (code, said) = shown_to(left(), &["check", FACIAL, "no-such.toml"]);
    assert!(code == Some(1) && said.contains("no-such.toml"), "{said}");
}

#[test]
fn a_run_leaves_its_files_whoever_reads_what_it_shows() {
    for (name, out, expected) in [("full", full(), 4), ("left", left(), 0)] {
        let (folder, arguments) = a_run();
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let (code, said) = shown_to(out, &arguments);
        assert_eq!(code, Some(expected), "{name}: {said}");
        assert!(said.contains("all else was done"), "{name}: {said}");
        let runs = folder.path().join("runs");
        assert_eq!((named(&runs, ".journal"), named(&runs, ".html")), (1, 1), "{name}");
        let (sound, rate) = stepbell::audio::read_wav(&folder.path().join("spoken.wav")).unwrap();
        assert!(sound.len() > rate as usize * 5, "{name}: the whole run was spoken");
        // And it went to its end.
        let runs = runs.to_str().unwrap();
        let recap = stepbell(&["recap", "--runs", runs]);
        assert!(String::from_utf8(recap.stdout).unwrap().contains("Not reached: "), "{name}");
        for verb in ["recap", "replay", "history"] {
            assert_eq!(shown_to(full(), &[verb, "--runs", runs]).0, Some(4), "{verb}");
            assert_eq!(shown_to(left(), &[verb, "--runs", runs]), (Some(0), String::new()), "{verb}");
        }
        let export = ["export", "--format", "csv", "--runs", runs];
        assert_eq!(shown_to(full(), &export).0, Some(4));
        assert_eq!(shown_to(left(), &export), (Some(0), String::new()));
    }
}

#[test]
fn sound_that_could_not_be_written_is_refused_before_the_run() {
    for out in ["/proc/none.wav", "/no-such-folder/spoken.wav", "/dev/full", "."] {
        let (folder, mut arguments) = a_run();
        let place = arguments.iter().position(|a| a == "--render").unwrap();
        arguments[place + 1] = out.into();
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let Output { status, stderr, .. } = stepbell(&arguments);
        let said = String::from_utf8(stderr).unwrap();
        assert_eq!(status.code(), Some(4), "{out}: {said}");
        assert!(said.contains(out) && said.contains("--render"), "{said}");
        assert_eq!(named(&folder.path().join("runs"), ".journal"), 0, "{out}: no run was begun");
    }
}

#[test]
fn nothing_that_a_file_holds_steers_the_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    let evil = "\\u001b]0;owned\\u0007\\u009b31m\u{202e}";
    let text = SHORT
        .replace("title = \"A short section\"", &format!("title = \"A short {evil} section\""))
        .replace("source = \"", &format!("source = \"{evil}"))
        .replace("cautions = [", &format!("cautions = [\"{evil}\", "));
    assert!(text.matches("u009b").count() >= 2, "{text}");
    fs::write(place("evil.toml"), text).unwrap();
    track(&[(60.0, "")], place("silence.wav").as_ref());
    let (file, silence, runs) = (place("evil.toml"), place("silence.wav"), place("runs"));
    let verbs: [&[&str]; 12] = [
        &["check", &file],
        &["show", &file, "--svg", &place("evil.svg")],
        &["rehearse", &file, "--mic", &silence, "--runs", &runs, "--no-questions", "--voice", "off"],
        &["recap", "--runs", &runs],
        &["replay", "--runs", &runs],
        &["history", "--runs", &runs],
        &["sheet", &file, "--out", &place("evil-sheet.html")],
        &["class", folder.path().to_str().unwrap(), "--out", &place("evil-class.html")],
        &["export", "--runs", &runs, "--format", "csv", "--out", &place("evil.csv")],
        &["export", "--runs", &runs, "--format", "vtt", "--out", &place("evil.vtt")],
        &["export", "--runs", &runs, "--format", "json"],
        &["--color", "always", "check", &file],
    ];
    for arguments in verbs {
        let output = stepbell(arguments);
        assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        let own = arguments[0] == "--color";
        let stderr = if own { without_style(&output.stderr) } else { output.stderr };
        assert!(!steers(&output.stdout) && !steers(&stderr), "{arguments:?}: {:?}", String::from_utf8_lossy(&stderr));
        if arguments.contains(&"json") {
            let run: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
            assert!(run.to_string().contains('\u{202e}'), "data stays what it is");
        }
    }
    let mut looked = 0;
    for entry in fs::read_dir(&runs).unwrap().chain(fs::read_dir(folder.path()).unwrap()) {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| ["html", "csv", "vtt", "svg"].contains(&e.to_str().unwrap())) {
            assert!(!steers(&fs::read(&path).unwrap()), "{}", path.display());
            looked += 1;
        }
    }
    assert_eq!(looked, 6);
}

/// What is left without the colours that the program itself uses.
fn without_style(output: &[u8]) -> Vec<u8> {
    let text = String::from_utf8_lossy(output);
    let mut parts = text.split("\u{1b}[");
    let first = parts.next().unwrap().to_string();
    parts.fold(first, |out, part| out + part.split_once('m').map_or(part, |(_, rest)| rest)).into_bytes()
}

#[test]
fn colour_is_for_terminals_and_for_who_asks() {
    let said = |arguments: &[&str], set: &[(&str, &str)]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stepbell"));
        String::from_utf8(command.args(arguments).envs(set.iter().copied()).output().unwrap().stderr).unwrap()
    };
    let wrong = ["check", "no-such.toml"];
    assert!(!said(&wrong, &[]).contains('\u{1b}'), "none in a pipe");
    assert!(said(&["--color", "always", "check", "no-such.toml"], &[("NO_COLOR", "1")]).contains('\u{1b}'));
    assert!(!said(&["--color", "never", "check", "no-such.toml"], &[]).contains('\u{1b}'));
}

#[test]
fn the_exit_codes_are_listed() {
    let help = String::from_utf8(stepbell(&["--help"]).stdout).unwrap();
    for (kind, what) in stepbell::terminal::Kind::ALL {
        assert!(help.contains(&format!("{:>2}  {what}", kind.code())), "{help}");
    }
}

#[test]
fn characters_that_cannot_be_seen_are_reported() {
    let folder = tempfile::tempdir().unwrap();
    let check = |text: &str| {
        let file = folder.path().join("section.toml");
        fs::write(&file, text).unwrap();
        let output = stepbell(&["check", file.to_str().unwrap()]);
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    let (code, said) = check(&SHORT.replace("A short", "A \\u001b[31m\\u0000 short"));
    assert!(code == Some(0) && said.contains("S070") && said.contains("U+001B") && said.contains("title ="), "{said}");
    let (code, said) = check(&SHORT.replace("A short", "A \u{202e} short").replace("[clock]", "[clock] # \u{9b}"));
    assert!(code == Some(0) && said.contains("U+202E") && said.contains("U+009B"), "{said}");
    for raw in ["\0", "\u{1b}"] {
        let (code, said) = check(&SHORT.replace("A short", &format!("A {raw} short")));
        assert!(code == Some(1) && said.contains("S022") && said.contains("title ="), "{said}");
        assert!(!steers(said.as_bytes()), "{said}");
    }
}

#[test]
fn an_exam_is_checked_as_one() {
    let output = stepbell(&["check", "prompts/mock-exam.toml"]);
    let (shown, said) = (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
    assert!(output.status.success() && !said.contains("error"), "{said}");
    let steps = stepbell::authoring::read(&fs::read_to_string(FACIAL).unwrap()).0.unwrap().steps.len();
    assert!(shown.contains(&format!("basic-facial.toml: {steps} steps, usable")), "{shown}");
    assert!(shown.ends_with("prompts/mock-exam.toml: a mock exam of 6 sections, usable\n"), "{shown}");
    // What is wrong in it is drawn where it stands; each verb says which one the file is for.
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("exam.toml");
    let exam = fs::read_to_string("prompts/mock-exam.toml").unwrap();
    let check = |text: &str, verb: &str| {
        fs::write(&file, text).unwrap();
        let output = stepbell(&[verb, file.to_str().unwrap()]);
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    let (code, said) = check(&exam, "check");
    assert!(
        code == Some(1) && said.contains("skin-care/brow-wax.toml") && said.contains("6 of its 6 sections"),
        "{said}"
    );
    let (code, said) = check(&exam.replacen("minutes_before = 1", "minutes_before = 90", 1), "check");
    assert!(code == Some(1) && said.contains("S072") && said.contains("from 0 to 60"), "{said}");
    let (code, said) = check(&exam.replacen("before = \"", "befor = \"", 1), "check");
    assert!(code == Some(1) && said.contains("S071") && said.contains("befor"), "{said}");
    for verb in ["rehearse", "show", "sheet"] {
        let (code, said) = check(&exam, verb);
        assert!(code == Some(1) && said.contains("is a mock exam") && said.contains("stepbell mock"), "{verb}: {said}");
    }
    let (code, said) = check(SHORT, "mock");
    assert!(code == Some(1) && said.contains("no mock exam") && said.contains("stepbell rehearse"), "{said}");
}

#[test]
fn an_edition_is_a_day_of_the_calendar() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("section.toml");
    for (edition, code) in [("2026-13-41", 1), ("2025-02-29", 1), ("20260101", 1), ("2024-02-29", 0)] {
        let text = SHORT.replace("2026-01-01", edition);
        fs::write(&file, &text).unwrap();
        let output = stepbell(&["check", file.to_str().unwrap()]);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{edition}: {said}");
        assert_eq!(said.contains("S037"), code == 1, "{said}");
        // A run that was made of it before is still read.
        assert!(stepbell::authoring::read_recorded(&text, 0).is_some(), "{edition}");
    }
}

#[test]
fn one_thing_is_no_things_and_options_do_something() {
    let (folder, arguments) = a_run();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    assert!(stepbell(&arguments).status.success());
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    let shown = |arguments: &[&str]| String::from_utf8(stepbell(arguments).stdout).unwrap();
    let class = shown(&["class", &place(""), "--out", &place("class.html")]);
    assert!(class.starts_with("class: 1 person, "), "{class}");
    let archive = shown(&["archive", &place("runs"), "--to", &place("archive"), "--yes"]);
    assert!(archive.starts_with("archive: 1 run of 1 person, "), "{archive}");
    let enrol = ["enrol", &place("short.toml"), "--only", "toner", "--mic", &place("silence.wav"), "--voice", "off"];
    let enrol = shown(&[&enrol[..], &["--runs", &place("runs")]].concat());
    assert!(enrol.contains("I name 1 callout. Say each one twice"), "{enrol}");
    let runs = place("runs");
    for arguments in [&["page"][..], &["export", "--format", "csv"], &["resume"], &["agree", "--ticks", "x.csv"]] {
        let output = stepbell(&[arguments, &["--runs", &runs, "--aloud"]].concat());
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.code() == Some(2) && said.contains("--aloud"), "{arguments:?}: {said}");
    }
}

#[test]
fn a_missing_loudspeaker_is_told_once_and_in_our_words() {
    let folder = tempfile::tempdir().unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_stepbell"))
        .args(["microphone", "--runs", folder.path().to_str().unwrap()])
        .env("PULSE_SERVER", "unix:/nonexistent")
        .env("ALSA_CONFIG_PATH", "/nonexistent")
        .output()
        .unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(3), "{said}");
    assert!(said.starts_with("stepbell: the loudspeaker can't be opened"), "{said}");
    assert_eq!(said.lines().count(), 2, "{said}");
}
