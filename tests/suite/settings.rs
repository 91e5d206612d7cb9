//! Where runs lie, and what the settings file says: never a folder of runs lost from view, never a setting without a word.

use std::fs;
use std::path::Path;
use std::process::Command;

/// The program in a folder that is no source tree, with a person's data in another one.
fn told(here: &Path, data: &Path, set: &[(&str, &str)], arguments: &[&str]) -> (Option<i32>, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stepbell"));
    command.args(arguments).current_dir(here).env("XDG_DATA_HOME", data).env_remove("STEPBELL_RUNS");
    let output = command.envs(set.iter().copied()).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code(), text(output.stdout), text(output.stderr))
}

#[test]
fn no_folder_of_runs_is_lost_from_view() {
    let (here, data) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let put = |folder: &Path| {
        fs::create_dir_all(folder).unwrap();
        fs::copy("tests/data/journals/v2.journal", folder.join("v2.journal")).unwrap();
    };
    let asked =
        |set: &[(&str, &str)], more: &[&str]| told(here.path(), data.path(), set, &[&["history"], more].concat());
    // Nowhere else: a person's data.
    let (code, _, said) = asked(&[], &[]);
    assert!(code == Some(4) && said.contains("stepbell/runs"), "{said}");
    put(&data.path().join("stepbell/runs"));
    assert_eq!((asked(&[], &[]).0, asked(&[], &[]).2), (Some(0), String::new()));
    // Runs here, too: one line says what is used, and how to get at the others.
    put(&here.path().join("runs"));
    let (code, _, said) = asked(&[], &[]);
    assert!(code == Some(0) && said.lines().count() == 1, "{said}");
    assert!(said.contains("stepbell/runs") && said.ends_with("add --runs runs\n"), "{said}");
    // Named in either manner there is nothing to say; the flag wins.
    assert_eq!(asked(&[], &["--runs", "runs"]).2, "");
    assert_eq!(asked(&[("STEPBELL_RUNS", "runs")], &[]).2, "");
    let (code, _, said) = asked(&[("STEPBELL_RUNS", "runs")], &["--runs", "nowhere"]);
    assert!(code == Some(4) && said.contains("nowhere"), "{said}");
    // In a source tree it is the other way round.
    fs::create_dir(here.path().join("models")).unwrap();
    fs::write(here.path().join("models/setup.sh"), "").unwrap();
    let (code, _, said) = asked(&[], &[]);
    assert!(code == Some(0) && said.starts_with("stepbell: runs are those in runs; for those in "), "{said}");
}

#[test]
fn what_is_set_holds_and_a_flag_wins() {
    let (here, data) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    fs::create_dir(data.path().join("stepbell")).unwrap();
    let file = data.path().join("stepbell/settings.toml");
    let set = |text: &str| fs::write(&file, text).unwrap();
    let asked = |arguments: &[&str]| told(here.path(), data.path(), &[], arguments);
    set("device = \"nosuch device\"\nspeed = 90\nheadset = true\n");
    let (code, shown, said) = asked(&["settings"]);
    assert!(code == Some(0) && said.is_empty() && shown.contains("nosuch device  from the file"), "{shown}{said}");
    // The device that is set is asked for, and no other one is taken in its place.
    let section = here.path().join("short.toml");
    fs::write(&section, crate::questions::SHORT).unwrap();
    let section = section.to_str().unwrap();
    let (code, _, said) = asked(&["microphone", section]);
    assert!(code == Some(3) && said.contains("\"nosuch device\"") && said.contains("stepbell devices"), "{said}");
    let (code, _, said) = asked(&["microphone", section, "--device", "another one"]);
    assert!(code == Some(3) && said.contains("\"another one\""), "{said}");
    // An exam has its reading: who set that mode once is told, and not given a whole reading without a word.
    set("mode = \"exam\"\n");
    let skipped = ["rehearse", section, "--skip-reading", "--mic", "/no/such.wav"];
    let (code, _, said) = asked(&skipped);
    assert!(code == Some(2) && said.contains("the settings say mode = \"exam\"") && said.contains("--coach"), "{said}");
    let (code, _, said) = asked(&[&skipped[..], &["--coach"]].concat());
    assert!(code == Some(1) && said.contains("such.wav: isn't there"), "{said}");
    // What is wrong is told with its line before anything begins; verbs that need no settings go on.
    for (text, what, next) in [
        ("speed = 90\nhedset = true\n", "line 2: no setting is called hedset", "did you mean headset?"),
        ("speed = 300\n", "line 1: the voice can't speak at 300 percent", "from 50 to 125"),
        ("device = 3\n", "line 1: device can't be 3", "a part of the name"),
        ("mode = \"drill\"\n", "line 1: mode can't be \"drill\"", "\"coach\" or \"exam\""),
        ("tells = [\"next\", \"nothing\"]\n", "line 1: tells is nothing and something else", "or of \"nothing\""),
    ] {
        set(text);
        let (code, _, said) = asked(&["rehearse", section, "--mic", "/no/such.wav"]);
        assert!(code == Some(1) && said.contains(what) && said.contains(next), "{said}");
        assert!(said.contains("settings.toml"), "{said}");
        assert_eq!(asked(&["sections"]).0, Some(0));
    }
}
