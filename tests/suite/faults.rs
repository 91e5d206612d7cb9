//! Faults of real processes: a disk that fills up or fails, a clock that is set back, a computer without any network.

use crate::kill::{findings, rehearse, stepbell};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The library that puts itself in front of the C library's.
pub fn shim(folder: &Path) -> PathBuf {
    let library = folder.join("faults.so");
    let built = Command::new("gcc")
        .args(["-shared", "-fPIC", "-O1", "-o"])
        .arg(&library)
        .arg("tests/fixture/faults.c")
        .arg("-ldl")
        .status()
        .unwrap();
    assert!(built.success());
    library
}

pub fn shown(output: &Output) -> (String, String) {
    (String::from_utf8_lossy(&output.stdout).into(), String::from_utf8_lossy(&output.stderr).into())
}

/// A disk that fails at its nth write or sync stops the run with a message; what was shown is on record, and the run goes on
/// when the disk is well again.
#[test]
fn a_disk_that_fails_stops_the_run_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let shim = shim(folder.path());
    let whole = rehearse(&["--runs", folder.path().join("whole").to_str().unwrap()]).output().unwrap();
    let whole = findings(&shown(&whole).0);
    let (mut tried, mut lost, mut differ) = (0, 0, 0);
    for (fault, message) in [
        ("full:1", "No space left"),
        ("full:2", "No space left"),
        ("full:14", "No space left"),
        ("full:33", "No space left"),
        ("sync:1", "Input/output error"),
        ("sync:9", "Input/output error"),
        ("sync:30", "Input/output error"),
        ("sync:47", "Input/output error"),
    ] {
        let runs = folder.path().join(fault.replace(':', "-"));
        let runs = runs.to_str().unwrap();
        let output = rehearse(&["--runs", runs]).env("LD_PRELOAD", &shim).env("FAULT", fault).output().unwrap();
        let (told, error) = shown(&output);
        assert_eq!(output.status.code(), Some(4), "{fault}: {error}");
        assert!(error.contains(message) && error.contains(".journal") && error.contains("next:"), "{fault}: {error}");
        tried += 1;
        if fault.ends_with(":1") {
            // Not even the header: nothing was announced, and there is nothing to go on with.
            assert!(!told.contains('\u{201c}'), "{told}");
            continue;
        }
        assert!(told.contains("The run can't be written down any more"), "{fault}: it is said aloud: {told}");
        let replay = shown(&stepbell(&["replay", "--runs", runs])).0;
        let announced = told.lines().filter(|l| l.contains('\u{201c}') && !l.contains("can't be written down"));
        lost += announced.filter(|l| !replay.contains(l.trim())).count();
        let resumed = stepbell(&["resume", "--runs", runs, "--mic", "tests/audio/demo.wav"]);
        // Cut off in a reading, it is read again from its beginning, and the recording doesn't wait for that.
        let started = replay.contains("the clock has started");
        if started && findings(&shown(&resumed).0) != whole || !resumed.status.success() {
            println!("{fault}: {:?}", shown(&resumed));
            differ += 1;
        }
    }
    crate::figure(
        &format!("disk full or failing, {tried} times: announced lines lost, other findings"),
        format!("{lost}, {differ}"),
        "0, 0",
        (lost, differ) == (0, 0),
    );
}

/// A clock set back by a day in the middle changes nothing but the name of the next run.
#[test]
fn a_clock_set_back_by_a_day_changes_no_finding() {
    let folder = tempfile::tempdir().unwrap();
    let shim = shim(folder.path());
    let run = |name: &str, fault: &str| {
        let runs = folder.path().join(name);
        let output = rehearse(&["--runs", runs.to_str().unwrap()])
            .env("LD_PRELOAD", &shim)
            .env("FAULT", fault)
            .output()
            .unwrap();
        assert!(output.status.success());
        let shown = shown(&output).0;
        let recap = shown[shown.rfind("Basic facial").unwrap()..].to_string();
        recap.split("journal:").next().unwrap().to_string()
    };
    let equal = run("whole", "") == run("back", "clock:12");
    crate::figure("clock set back by a day in a run: the same recap", equal, "true", equal);
    // Written in the future, as the clock now has it: how long the run lay is not known, and that is no obstacle.
    let runs = folder.path().join("cut");
    let runs = runs.to_str().unwrap();
    let stopped = rehearse(&["--runs", runs]).env("LD_PRELOAD", &shim).env("FAULT", "sync:20").output().unwrap();
    assert_eq!(stopped.status.code(), Some(4));
    let resumed = Command::new(env!("CARGO_BIN_EXE_stepbell"))
        .args(["resume", "--runs", runs, "--mic", "tests/audio/demo.wav"])
        .env("LD_PRELOAD", &shim)
        .env("FAULT", "clock:0")
        .output()
        .unwrap();
    assert!(shown(&resumed).0.contains("the program was gone for a while"));
}

/// Every system call of a whole run that makes or connects a socket, by strace; there are none but the sound server's, and with a
/// recording and no loudspeaker not even those.
#[test]
fn a_run_opens_no_socket() {
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("trace");
    let output = Command::new("strace")
        .args(["-f", "-qq", "-e", "trace=%network", "-o", trace.to_str().unwrap(), env!("CARGO_BIN_EXE_stepbell")])
        .args(["rehearse", "prompts/skin-care/basic-facial.toml", "--mic", "tests/audio/demo.wav", "--compress", "20"])
        .args(["--runs", folder.path().to_str().unwrap()])
        .output()
        .expect("strace, which set-up installs for the tests");
    assert!(output.status.success(), "{:?}", shown(&output));
    let calls = std::fs::read_to_string(&trace).unwrap();
    // Not what is told of processes that end.
    let told = |l: &&str| !["+++", "---", "socketpair(AF_UNIX"].iter().any(|other| l.contains(other));
    let opened = calls.lines().filter(told).count();
    crate::figure("network system calls in a run, by strace", opened, "0", opened == 0);
}

/// Each file of a model damaged in several ways: a message and exit code 3, never an abort; or the model still works.
#[test]
fn a_broken_model_gets_a_message() {
    use std::os::unix::process::ExitStatusExt;
    let whole = stepbell::command::models().join("english").canonicalize().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let files = stepbell::listen::MODEL_FILES;
    let sound = folder.path().join("short.wav");
    stepbell::audio::write_wav(&sound, &[0.0; 8_000], 16_000).unwrap();
    let (mut tried, mut refused, mut works, mut aborted) = (0, 0, 0, vec![]);
    for file in files {
        let bytes = std::fs::read(whole.join(file)).unwrap();
        let damages: [(&str, Vec<u8>); 7] = [
            ("same", bytes.clone()),
            ("empty", vec![]),
            ("half", bytes[..bytes.len() / 2].to_vec()),
            ("head", bytes[..bytes.len().min(100)].to_vec()),
            (
                "noise",
                bytes
                    .iter()
                    .enumerate()
                    .map(|(k, b)| b ^ (k as u32).wrapping_mul(2_654_435_761).to_be_bytes()[0])
                    .collect(),
            ),
            ("zeros", vec![0; bytes.len().min(1 << 20)]),
            ("text", b"--no-such-option=1\n-1 99999999999 x\n".to_vec()),
        ];
        for (how, damaged) in damages {
            let model = folder.path().join(format!("{}-{how}", file.replace('/', "-")));
            for other in files {
                let to = model.join(other);
                std::fs::create_dir_all(to.parent().unwrap()).unwrap();
                if other == file {
                    std::fs::write(&to, &damaged).unwrap();
                } else {
                    std::os::unix::fs::symlink(whole.join(other), &to).unwrap();
                }
            }
            let output = Command::new(env!("CARGO_BIN_EXE_stepbell"))
                .args(["rehearse", "prompts/skin-care/blood.toml", "--mic", sound.to_str().unwrap()])
                .args(["--voice", "off", "--runs", folder.path().join("runs").to_str().unwrap()])
                .args(["--model", model.to_str().unwrap()])
                .output()
                .unwrap();
            tried += 1;
            let (_, error) = shown(&output);
            match output.status.code() {
                Some(3) if error.contains("next:") && error.contains(model.to_str().unwrap()) => refused += 1,
                Some(0) if how == "same" => works += 1,
                Some(0) => {}
                code => aborted.push(format!("{file} {how}: {code:?} signal {:?}: {error}", output.status.signal())),
            }
        }
    }
    println!("{refused} of {tried} refused, the others work");
    assert_eq!(works, files.len(), "undamaged copies work");
    let ended = aborted.len();
    println!("{aborted:?}");
    crate::figure(&format!("{tried} damaged models: aborts"), ended, "0", ended == 0 && refused > tried / 2);
}
