//! Enrolment: a word that somebody says otherwise than the file has it is heard once they have said it twice.

use crate::kill;
use crate::questions::{SHORT, track};

fn stepbell(arguments: &[&str]) -> (bool, String) {
    let out = kill::stepbell(arguments);
    (out.status.success(), String::from_utf8_lossy(&[out.stdout, out.stderr].concat()).into_owned())
}

#[test]
fn a_word_said_another_way_is_learned_and_then_heard() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    // The file has "exfoliate" as something like "exbowlut".
    std::fs::write(
        at("short.toml"),
        format!("{SHORT}\n[[word]]\nword = \"exfolate\"\nsounds = \"EH K S B AW L UH T\"\n")
            .replace("say = [\"toner\"]", "say = [\"exfolate\"]"),
    )
    .unwrap();
    track(
        &[
            (1.0, "sanitize hands"),
            (3.5, "sanitize hands"),
            (6.5, "steam towel"),
            (9.0, "steam towel"),
            (12.0, "exfoliate"),
            (14.5, "exfoliate"),
            (18.0, ""),
        ],
        folder.path().join("callouts.wav").as_path(),
    );
    let rehearse = |runs: &str| {
        track(
            &[(6.0, "sanitize hands"), (11.0, "steam towel"), (17.0, "exfoliate"), (21.0, "finished"), (25.0, "")],
            folder.path().join("run.wav").as_path(),
        );
        let (fine, told) = stepbell(&[
            "rehearse",
            &at("short.toml"),
            "--mic",
            &at("run.wav"),
            "--voice",
            "off",
            "--no-questions",
            "--headset",
            "--runs",
            runs,
        ]);
        assert!(fine, "{told}");
        told
    };
    let before = rehearse(&at("before"));
    assert!(before.contains("toner, perhaps called") || before.contains("Not called: toner"), "{before}");

    let runs = at("runs");
    let (fine, told) =
        stepbell(&["enrol", &at("short.toml"), "--mic", &at("callouts.wav"), "--voice", "off", "--runs", &runs]);
    assert!(fine, "{told}");
    assert!(told.contains("4 of 6 before, 6 of 6 with your profile"), "{told}");
    let text = std::fs::read_to_string(at("runs/profile.toml")).unwrap();
    let profile: stepbell::listen::Profile = toml::from_str(&text).unwrap();
    let words: Vec<&str> = profile.words.iter().map(|w| w.word.as_str()).collect();
    assert_eq!(words, ["exfolate"], "{text}");
    assert!(profile.words[0].sounds.contains(" F "), "{text}");
    let after = rehearse(&runs);
    assert!(after.contains("Every step that the section needs was called, in order."), "{after}");

    // A profile of another model is left aside; a broken one is told, and nothing is lost.
    std::fs::write(at("runs/profile.toml"), text.replace(&profile.model, "0123456789abcdef")).unwrap();
    assert!(rehearse(&runs).contains("was made with another model and is left aside"));
    std::fs::write(at("runs/profile.toml"), "version = 1\nwords").unwrap();
    let (fine, told) =
        stepbell(&["enrol", &at("short.toml"), "--mic", &at("callouts.wav"), "--voice", "off", "--runs", &runs]);
    assert!(!fine && told.contains("profile.toml") && told.contains("enrol again"), "{told}");
    assert!(stepbell(&["forget", "--profile", "--runs", &runs]).0);
    assert!(!std::path::Path::new(&at("runs/profile.toml")).exists());
}

/// Somebody who misunderstands what to say teaches nothing wrong.
#[test]
fn another_callout_in_its_place_is_not_learned() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    std::fs::write(at("short.toml"), SHORT).unwrap();
    track(
        &[
            (1.0, "sanitize hands"),
            (3.5, "sanitize hands"),
            (6.5, "massage cream"),
            (9.0, "massage cream"),
            (12.0, "remove the mask"),
            (14.5, "remove the mask"),
            (18.0, ""),
        ],
        folder.path().join("callouts.wav").as_path(),
    );
    let runs = at("runs");
    let (fine, told) =
        stepbell(&["enrol", &at("short.toml"), "--mic", &at("callouts.wav"), "--voice", "off", "--runs", &runs]);
    assert!(fine && told.contains("2 of 6 before, 2 of 6 with your profile"), "{told}");
    assert!(told.contains("Still hard to understand: steam towel, toner."), "{told}");
    let text = std::fs::read_to_string(at("runs/profile.toml")).unwrap();
    let profile: stepbell::listen::Profile = toml::from_str(&text).unwrap();
    assert!(profile.words.is_empty() && profile.callouts.is_empty(), "{text}");
}

#[test]
fn nothing_said_twice_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    std::fs::write(at("short.toml"), SHORT).unwrap();
    track(&[(1.0, "sanitize hands"), (4.0, "")], folder.path().join("once.wav").as_path());
    let (fine, told) =
        stepbell(&["enrol", &at("short.toml"), "--mic", &at("once.wav"), "--voice", "off", "--runs", &at("runs")]);
    assert!(!fine && told.contains("no callout was heard twice"), "{told}");
    let (fine, told) =
        stepbell(&["enrol", &at("short.toml"), "--only", "steam", "--mic", &at("once.wav"), "--voice", "off"]);
    assert!(!fine && told.contains("\"steam\" is no callout of this section"), "{told}");
}
