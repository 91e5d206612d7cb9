//! Ctrl-C leaves a run as it stands, twice ends it; what it never reached is not missing; and a recording waits to be gone on with.

use crate::kill::{findings, journal_in, stepbell};
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// A section of a minute at real speed, silent, up to its clock's start; and the folder of its run.
fn started() -> (tempfile::TempDir, Child, BufReader<std::process::ChildStdout>) {
    let folder = tempfile::tempdir().unwrap();
    let (file, wav) = (folder.path().join("short.toml"), folder.path().join("quiet.wav"));
    fs::write(&file, crate::questions::SHORT).unwrap();
    crate::questions::track(&[(70.0, "")], &wav);
    let mut child = Command::new(env!("CARGO_BIN_EXE_stepbell"))
        .args(["rehearse", file.to_str().unwrap(), "--mic", wav.to_str().unwrap(), "--real-speed", "--voice", "off"])
        .args(["--runs", runs(&folder).to_str().unwrap(), "--seed", "1"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut shown = BufReader::new(child.stdout.take().unwrap());
    let mut line = String::new();
    while !line.contains("the clock has started") {
        line.clear();
        assert!(shown.read_line(&mut line).unwrap() > 0, "it ended before its clock started");
    }
    (folder, child, shown)
}

fn runs(folder: &tempfile::TempDir) -> PathBuf {
    folder.path().join("runs")
}

fn press(child: &Child) {
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
}

fn rest(mut shown: BufReader<std::process::ChildStdout>) -> String {
    let mut rest = String::new();
    std::io::Read::read_to_string(&mut shown, &mut rest).unwrap();
    rest
}

fn told(arguments: &[&str], runs: &Path) -> String {
    let output = stepbell(&[arguments, &["--runs", runs.to_str().unwrap()]].concat());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// Pressed once, the run is left as it stands; closed then, the steps it never came to are no omissions, wherever it is told.
#[test]
fn once_leaves_the_run_as_it_stands() {
    let (folder, child, shown) = started();
    press(&child);
    let rest = rest(shown);
    let output = child.wait_with_output().unwrap();
    let why = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(130), "{rest}{why}");
    assert!(rest.contains("Ctrl-C once more within two seconds ends the run for good"), "{rest}");
    assert!(!rest.contains("Not called") && why.contains("left as it stands") && why.contains("resume"), "{rest}{why}");
    let runs = runs(&folder);
    let closed = told(&["resume", "--close"], &runs);
    assert!(closed.contains("Stopped after ") && closed.contains("Nothing to look at, as far as it went."), "{closed}");
    let never = "Not reached: sanitise hands, apply the steam towel, toner.";
    assert!(closed.contains(never) && !closed.contains("Not called"), "{closed}");
    let json: serde_json::Value = serde_json::from_str(&told(&["export", "--format", "json"], &runs)).unwrap();
    assert_eq!(json["not_reached"], serde_json::json!(["hands", "towel", "toner"]));
    let omissions = json["findings"].as_array().unwrap().len();
    crate::figure("Ctrl-C once: exit code, and the run goes on later", 130, "130", true);
    crate::figure("closed then: steps never reached that are told as omissions", omissions, "0 of 3", omissions == 0);
    assert!(jsonschema::is_valid(&serde_json::from_str(stepbell::recap::SCHEMA).unwrap(), &json));
    let csv = told(&["export", "--format", "csv"], &runs);
    assert_eq!(csv.lines().filter(|l| l.contains(",not_reached,")).count(), 3, "{csv}");
    let page =
        fs::read_dir(&runs).unwrap().map(|e| e.unwrap().path()).find(|p| p.extension().is_some_and(|x| x == "html"));
    let page = fs::read_to_string(page.unwrap()).unwrap();
    assert!(page.contains(never) && page.contains("not counted as left out"), "{page}");
    let history = told(&["history"], &runs);
    assert!(history.contains("stopped") && !history.contains("left out in"), "{history}");
}

#[test]
fn twice_within_two_seconds_ends_it() {
    let (_folder, child, mut shown) = started();
    press(&child);
    // The second press follows what the first one is answered with.
    let mut line = String::new();
    while !line.contains("Ctrl-C once more") {
        line.clear();
        assert!(shown.read_line(&mut line).unwrap() > 0, "the first press was not answered");
    }
    press(&child);
    let rest = rest(shown);
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{rest}{}", String::from_utf8_lossy(&output.stderr));
    assert!(rest.contains("Stopped after ") && rest.contains("Not reached: "), "{rest}");
}

/// A run of the demo without a headset, cut off behind a callout and gone on with: the next callout comes a few seconds later, and isn't
/// swallowed by the words that say where the run stands.
#[test]
fn a_recording_waits_while_it_is_said_where_the_run_stands() {
    let whole = tempfile::tempdir().unwrap();
    let demo = ["rehearse", "prompts/skin-care/basic-facial.toml", "--mic", "tests/audio/demo.wav", "--compress", "10"];
    let uncut = told(&[&demo, ["--seed", "1"].as_slice()].concat(), whole.path());
    let text = fs::read_to_string(journal_in(whole.path())).unwrap();
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let callouts: Vec<usize> = (0..lines.len()).filter(|&k| lines[k].contains(r#"{"callout""#)).collect();
    let (mut swallowed, mut compared) = (0, 0);
    for cut in [callouts[2], callouts[8], callouts[14]] {
        let part = tempfile::tempdir().unwrap();
        fs::write(part.path().join("part.journal"), lines[..=cut].concat()).unwrap();
        let gone_on = told(&["resume", "--mic", "tests/audio/demo.wav"], part.path());
        swallowed += usize::from(findings(&gone_on) != findings(&uncut));
        compared += 1;
        // The clock stood still meanwhile, too.
        let spare = |shown: &str| shown.lines().find(|l| l.contains("to spare")).map(str::to_string);
        assert_eq!(spare(&gone_on), spare(&uncut), "cut behind line {cut}: {gone_on}");
    }
    let (name, value) = ("a recording gone on with: runs with other findings", format!("{swallowed} of {compared}"));
    crate::figure(name, value, "0 of 3", swallowed == 0);
}
