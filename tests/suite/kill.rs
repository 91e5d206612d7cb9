//! Killed at any moment, a run keeps every event whose effect was seen.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::time::Duration;

/// SIGKILL at moments spread over the run; each line that the program had shown is in the recap of its journal.
#[test]
fn a_killed_run_keeps_everything_it_had_announced() {
    let (mut total, mut lost) = (0, 0);
    for round in 0..12u64 {
        let runs = tempfile::tempdir().unwrap();
        let folder = runs.path().to_str().unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_stepbell"))
            .args([
                "rehearse",
                "prompts/skin-care/basic-facial.toml",
                "--mic",
                "tests/audio/demo.wav",
                "--compress",
                "10",
                "--runs",
                folder,
            ])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        // Killed once a number of lines was shown, and a little later: not always at the same instruction.
        let mut shown = vec![];
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        for line in lines.by_ref().take(6 + round as usize * 2) {
            shown.push(line.unwrap());
        }
        std::thread::sleep(Duration::from_micros(round * 7919 % 20_000));
        child.kill().unwrap();
        shown.extend(lines.map_while(Result::ok));
        child.wait().unwrap();
        let replay = Command::new(env!("CARGO_BIN_EXE_stepbell")).args(["replay", "--runs", folder]).output().unwrap();
        let replay = String::from_utf8(replay.stdout).unwrap();
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
    }
    crate::figure("killed 12 times: announced lines lost", format!("{lost} of {total}"), "0", lost == 0 && total > 12);
}
