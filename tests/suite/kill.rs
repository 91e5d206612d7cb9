//! Killed at any moment, a run keeps every event whose effect was seen, and goes on to the same findings.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::Duration;

const SECTION: &str = "prompts/skin-care/basic-facial.toml";

pub fn rehearse(more: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stepbell"));
    command.args(["rehearse", SECTION, "--compress", "10", "--seed", "1"]).args(more);
    if !more.contains(&"--mic") {
        command.args(["--mic", "tests/audio/demo.wav"]);
    }
    command
}

pub fn stepbell(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stepbell")).args(arguments).output().unwrap()
}

/// The one journal of a folder of runs.
pub fn journal_in(runs: &Path) -> PathBuf {
    let mut files = std::fs::read_dir(runs).unwrap().map(|e| e.unwrap().path());
    files.find(|p| p.extension().is_some_and(|x| x == "journal")).unwrap()
}

/// The findings of a recap, times left out: a run that goes on waits a little here and there.
pub fn findings(shown: &str) -> Vec<String> {
    let lines = shown.lines().filter_map(|l| l.strip_prefix("  - "));
    lines.map(|l| l.split(" at ").next().unwrap().trim_end_matches('.').to_string()).collect()
}

/// A recap's findings and, in order, the steps that it says were called.
fn told(shown: &str) -> Vec<String> {
    let rows = shown.lines().skip_while(|l| !l.starts_with("  called   took")).skip(1).take_while(|l| !l.is_empty());
    let steps = rows.map(|l| l.split_whitespace().skip(3).collect::<Vec<_>>().join(" "));
    findings(shown).into_iter().chain(steps).collect()
}

/// The first two minutes of the shipped recording, in which all the moments lie that are killed at.
fn two_minutes(at: &std::path::Path) {
    let sound = hound::WavReader::open("tests/audio/demo.wav").unwrap();
    let spec = sound.spec();
    let mut cut = hound::WavWriter::create(at, spec).unwrap();
    sound
        .into_samples::<i16>()
        .take(120 * spec.sample_rate as usize)
        .for_each(|s| cut.write_sample(s.unwrap()).unwrap());
    cut.finalize().unwrap();
}

/// SIGKILL at moments spread over real processes, `KILLS` of them; each line that a process had shown is in the replay of its
/// journal, and the resumed run ends with the findings and callouts of the run that nobody cut. The first is resumed with its voice
/// and the whole recording; the others, so that hundreds can be killed, with two minutes of it.
#[test]
fn a_killed_run_keeps_everything_it_had_announced_and_goes_on() {
    let kills: u64 = std::env::var("KILLS").ok().and_then(|k| k.parse().ok()).unwrap_or(12);
    let own = tempfile::tempdir().unwrap();
    let cut = own.path().join("cut.wav");
    two_minutes(&cut);
    let begun: [&[&str]; 2] = [&[], &["--mic", cut.to_str().unwrap(), "--voice", "off"]];
    let gone_on: [&[&str]; 2] = [&["--mic", "tests/audio/demo.wav"], begun[1]];
    let whole = begun.map(|more| {
        let runs = tempfile::tempdir().unwrap();
        let uncut = rehearse(&[more, &["--runs", runs.path().to_str().unwrap()]].concat()).output().unwrap();
        told(&String::from_utf8(uncut.stdout).unwrap())
    });
    assert!(whole[0].len() > 24 && whole[1].len() > 11, "{whole:?}");
    let (mut total, mut lost, mut compared, mut differ) = (0, 0, 0, 0);
    for round in 0..kills {
        let runs = tempfile::tempdir().unwrap();
        let folder = runs.path().to_str().unwrap();
        let sound = usize::from(round > 0);
        let mut child = rehearse(&[begun[sound], &["--runs", folder]].concat())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        // Killed once a number of lines was shown, beyond the title and the cautions, and a little later: not always at the same instruction.
        let mut shown = vec![];
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        for line in lines.by_ref().take(8 + (round * 2 % 26) as usize) {
            shown.push(line.unwrap());
        }
        std::thread::sleep(Duration::from_micros(round * 7919 % 60_000));
        child.kill().unwrap();
        shown.extend(lines.map_while(Result::ok));
        child.wait().unwrap();
        let replay = String::from_utf8(stepbell(&["replay", "--runs", folder]).stdout).unwrap();
        let announced = shown.iter().skip_while(|l| !l.contains('\u{201c}')).take_while(|l| !l.is_empty());
        let mut count = 0;
        for line in announced {
            count += 1;
            if !replay.contains(line.trim()) {
                println!("round {round}: lost \"{line}\"");
                lost += 1;
            }
        }
        assert!(count > 0, "round {round} showed nothing");
        total += count;

        let resumed = stepbell(&[&["resume", "--runs", folder], gone_on[sound]].concat());
        let recap = String::from_utf8(resumed.stdout).unwrap();
        // Cut off in a reading, it is read again from its beginning, and the recording doesn't wait for that.
        let started = replay.contains("the clock has started");
        compared += usize::from(started);
        if started && told(&recap) != whole[sound] || !resumed.status.success() {
            println!("round {round}, cut after {count} lines: {recap}{}", String::from_utf8_lossy(&resumed.stderr));
            differ += 1;
        }
    }
    crate::figure(
        &format!("killed {kills} times: announced lines lost"),
        format!("{lost} of {total}"),
        "0",
        lost == 0 && total > kills as usize,
    );
    crate::figure(
        &format!("killed {kills} times and resumed: other findings or callouts than uncut"),
        format!("{differ} of {compared}"),
        "0",
        differ == 0 && compared as u64 * 2 > kills,
    );
}

#[test]
fn a_run_that_was_cut_can_be_closed_and_one_that_is_being_written_is_left_alone() {
    let runs = tempfile::tempdir().unwrap();
    let folder = runs.path().to_str().unwrap();
    let mut child = rehearse(&["--runs", folder, "--real-speed", "--voice", "off"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(lines.map_while(Result::ok).any(|l| l.contains('\u{201c}')));
    for verb in [["resume", "--close"].as_slice(), &["forget", "--all", "--yes"]] {
        let refused = stepbell(&[verb, &["--runs", folder]].concat());
        let told = String::from_utf8(refused.stderr).unwrap();
        assert!(refused.status.code() == Some(4) && told.contains("another Stepbell is writing this run"), "{told}");
    }
    child.kill().unwrap();
    child.wait().unwrap();

    // A torn tail is moved aside, whole.
    let journal = std::fs::read_dir(folder).unwrap().next().unwrap().unwrap().path();
    let mut bytes = std::fs::read(&journal).unwrap();
    let good = bytes.len();
    bytes.extend(b"0badf00d {\"at\":99");
    std::fs::write(&journal, bytes).unwrap();
    let closed = stepbell(&["resume", "--close", "--runs", folder]);
    let told = String::from_utf8(closed.stdout).unwrap();
    assert!(told.contains("The last 17 bytes") && told.contains("The section was not started."), "{told}");
    let aside = journal.with_extension(format!("journal.torn-{good}"));
    assert_eq!(std::fs::read(&aside).unwrap(), b"0badf00d {\"at\":99");
    let again = String::from_utf8(stepbell(&["resume", "--runs", folder]).stdout).unwrap();
    assert!(again.contains("This run is over."), "{again}");

    // The index of the folder knows the run, though not as a whole one.
    let history = stepbell(&["history", "--runs", folder]);
    let told = String::from_utf8(history.stdout).unwrap();
    assert!(told.contains(": 0 whole runs") && told.contains("1 stopped before the finish or the limit"), "{told}");
    assert!(runs.path().join(".index").is_file());

    // Forgotten: nothing of it is left, and what isn't the run's stays.
    std::fs::write(runs.path().join("notes.txt"), "mine").unwrap();
    assert!(stepbell(&["forget", "--all", "--yes", "--runs", folder]).status.success());
    let left: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left, ["notes.txt"]);
}
