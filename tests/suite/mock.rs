//! A whole exam: its sections one after the other, and one recap.

use crate::kill::stepbell;
use crate::questions::{SHORT, track};
use std::fs;

#[test]
fn an_exam_goes_through_its_sections_and_recaps_once() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    fs::write(place("one.toml"), SHORT.replace("hygiene = true", "hygiene = true\ncritical = true")).unwrap();
    let second = SHORT.replace("id = \"short\"", "id = \"other\"").replace("A short section", "Another section");
    fs::write(place("two.toml"), second).unwrap();
    let exam = |from: &str| {
        format!(
            "id = \"e\"\ntitle = \"The exam\"\nboard = \"Tarnmoor (invented)\"\nsource = \"Invented, for a test.\"\n\
             [[section]]\nfile = \"one.toml\"\n[[section]]\nfile = \"{from}\"\nbefore = \"A new client now.\"\nminutes_before = 0.1\n"
        )
    };
    fs::write(place("exam.toml"), exam("two.toml")).unwrap();
    // The first section alone, in silence, tells where its clock starts.
    track(&[(60.0, "")], place("silence.wav").as_ref());
    let alone =
        ["rehearse", &place("one.toml"), "--mic", &place("silence.wav"), "--runs", &place("first"), "--voice", "off"];
    assert!(stepbell(&alone).status.success());
    let replay = String::from_utf8(stepbell(&["replay", "--runs", &place("first")]).stdout).unwrap();
    let start = replay.lines().find(|l| l.contains("the clock has started")).unwrap();
    let start: f64 = start.trim().split(' ').next().unwrap().parse().unwrap();
    track(
        &[(start + 10.0, "steam towel"), (start + 30.0, "finished"), (start + 200.0, "")],
        place("exam.wav").as_ref(),
    );
    let mock = |more: &[&str]| {
        let base =
            ["mock", &place("exam.toml"), "--mic", &place("exam.wav"), "--voice", "off", "--runs", &place("runs")];
        let output = stepbell(&[&base, more].concat());
        (output.status.code(), String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap())
    };
    let (code, shown, error) = mock(&[]);
    assert_eq!(code, Some(0), "{error}");
    for words in [
        "Section 1 of 2",
        "Section 2 of 2",
        "\u{201c}A new client now.\u{201d}",
        "the next section is read in 6 seconds",
    ] {
        assert!(shown.contains(words), "{words}: {shown}");
    }
    let recap = &shown[shown.rfind("The exam\n").unwrap()..];
    assert!(recap.starts_with("The exam\nThe exam is over. You finished 1 of 2 sections in time.\n"), "{recap}");
    assert!(recap.contains(
        "  - A short section: finished with 30 seconds to spare; 2 things to look at, 1 of them critical.\n"
    ));
    assert!(recap.contains("  - Another section: time ran out; 3 things to look at.\n"), "{recap}");
    assert!(recap.contains("Critical:\n  - A short section: Critical, not called: sanitise hands.\n"), "{recap}");
    assert!(recap.contains("Practise next: A short section."), "{recap}");
    assert_eq!(shown.matches("Not called: toner").count(), 0, "no recap between the sections: {shown}");
    let journals = || {
        fs::read_dir(place("runs"))
            .unwrap()
            .filter(|e| e.as_ref().unwrap().path().extension().is_some_and(|x| x == "journal"))
            .count()
    };
    assert_eq!(journals(), 2);
    // Begun with the second section, it is the only one.
    let (_, shown, _) = mock(&["--from", "2"]);
    assert!(!shown.contains("Section 1 of 2") && shown.contains("You finished 1 of 1 section in time."), "{shown}");
    // What its file says before it is said whichever section comes first.
    let at = |words: &str, shown: &str| shown.find(words).expect(words);
    assert!(at("A new client now.", &shown) < at("Section 2 of 2", &shown), "{shown}");
    let welcome = exam("two.toml").replacen("[[section]]\n", "[[section]]\nbefore = \"Welcome.\"\n", 1);
    fs::write(place("welcome.toml"), welcome).unwrap();
    let said = stepbell(&[
        "mock",
        &place("welcome.toml"),
        "--mic",
        &place("silence.wav"),
        "--voice",
        "off",
        "--runs",
        &place("other"),
    ]);
    let said = String::from_utf8(said.stdout).unwrap();
    assert!(at("\u{201c}Welcome.\u{201d}", &said) < at("Section 1 of 2", &said), "{said}");
    // What is wrong is found before anything begins.
    let (code, _, error) = mock(&["--from", "3"]);
    assert!(code == Some(2) && error.contains("it has 2 sections, and none numbered 3"), "{error}");
    fs::write(place("exam.toml"), exam("three.toml")).unwrap();
    let (code, shown, error) = mock(&[]);
    assert!(code == Some(1) && error.contains("three.toml") && !shown.contains("Section 1"), "{error}");
    assert_eq!(journals(), 3);
}

/// An exam of two sections, begun at the front desk and ended by two words in the reading: nothing is said behind them.
#[test]
fn what_stops_everything_stops_an_exam_that_was_begun_at_the_desk() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    track(&[(4.0, "mock exam"), (9.0, "ready"), (24.0, "stop everything"), (100.0, "")], place("mic.wav").as_ref());
    // Worn at the ears: all is heard, whenever it is said.
    let desk = ["listen", "--mic", &place("mic.wav"), "--voice", "off", "--headset", "--runs", &place("runs")];
    let output = stepbell(&desk);
    let shown = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let (_, exam) = shown.split_once("Section 1 of 6").expect(&shown);
    assert!(exam.contains("The exam was stopped after 1 of 6 sections."), "{exam}");
    assert!(exam.contains("Go on later with section 1: `stepbell mock ") && exam.contains("--from 1`"), "{exam}");
    assert!(!exam.contains("back at the desk"), "{exam}");
    let spoken = exam.lines().filter(|line| line.contains('\u{201c}') && line.contains("The exam was stopped"));
    assert_eq!(spoken.count(), 0, "{exam}");
}
