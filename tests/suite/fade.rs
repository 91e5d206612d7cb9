//! Callouts that fade: hand hygiene and labels only, and a silent run that is told afterwards.

use crate::kill::stepbell;
use stepbell::authoring;
use stepbell::callout::{Command, Heard, Meaning};
use stepbell::outcome::{Fade, Mode};
use stepbell::recap;
use stepbell::session::{Effect, Event, Session, Settings, Timer};
use stepbell::time::{Ms, SampleIndex};

fn at(seconds: u64) -> SampleIndex {
    SampleIndex(0) + Ms(seconds * 1000)
}

fn heard(seconds: u64, meaning: Meaning) -> Event {
    Event::Heard(Heard { meaning, start: at(seconds), end: at(seconds + 1), confidence: 1.0 })
}

/// A silent run of a section up to the question, and then what is told.
fn told(told: &[&str]) -> Session {
    let text = std::fs::read_to_string("prompts/skin-care/basic-facial.toml").unwrap();
    let section = authoring::read(&text).0.unwrap();
    let settings = Settings { fade: Fade::Silent, ..Mode::Coach.into() };
    let mut session = Session::new(settings.applied(section).unwrap(), settings);
    for (seconds, event) in [
        (0, Event::Opened),
        (1, Event::SpeechEnded(0)),
        (2, Event::TimerFired(Timer::Gap)),
        (3, Event::SpeechEnded(1)),
        (4, Event::TimerFired(Timer::Gap)),
        (5, Event::SpeechEnded(2)),
        // Said all the same: it doesn't count.
        (100, heard(99, Meaning::Callout("toner".into()))),
        (900, heard(899, Meaning::Command(Command::Finished))),
    ] {
        let effects = session.handle(at(seconds), &event);
        assert!(!effects.iter().any(|e| matches!(e, Effect::Arm(Timer::Hint, _))), "nothing is late in a silent run");
    }
    let asked = session.handle(at(904), &Event::TimerFired(Timer::Late));
    let Some(Effect::Speak { id, text, .. }) = asked.iter().find(|e| matches!(e, Effect::Speak { .. })) else {
        panic!("{asked:?}")
    };
    assert!(text.starts_with("Now tell me what you went through"));
    // Before the question has ended nothing is told.
    session.handle(at(905), &heard(905, Meaning::Callout("toner".into())));
    session.handle(at(910), &Event::SpeechEnded(*id));
    for (k, say) in told.iter().enumerate() {
        session.handle(at(912 + 3 * k as u64), &heard(911 + 3 * k as u64, Meaning::Callout(say.to_string())));
    }
    session
}

#[test]
fn a_silent_run_is_told_afterwards_and_judged_by_its_order() {
    let whole = [
        "sanitize hands",
        "body drape",
        "head drape",
        "sanitize hands",
        "eye makeup off",
        "lip color",
        "cleanse the face",
        "remove cleanser",
        "analyze the skin",
        "exfoliate",
        "test the towel",
        "steam towel",
        "remove the towel",
        "massage cream",
        "effleurage",
        "petrissage",
        "friction",
        "tapotement",
        "final strokes",
        "remove massage cream",
        "apply the mask",
        "remove the mask",
        "toner",
        "moisturizer and sunscreen",
        "undrape and dispose",
    ];
    let mut session = told(&whole);
    let effects = session.handle(at(1000), &heard(999, Meaning::Command(Command::Finished)));
    let spoken =
        effects.iter().find_map(|e| if let Effect::Speak { text, .. } = e { Some(text.as_str()) } else { None });
    assert_eq!(
        spoken,
        Some(
            "You finished with 10 minutes 6 seconds to spare. Every step that the section needs was told, in order. Next, the same again. I heard what you told \
             me afterwards, not what you did."
        )
    );
    assert!(
        recap::text(session.section(), session.outcome())
            .contains("Told afterwards, in order: sanitize hands, body drape")
    );

    // One left out, two the other way round; and told without a finish signal.
    let mut slipped: Vec<&str> = whole.iter().copied().filter(|say| *say != "exfoliate").collect();
    slipped.swap(1, 2);
    slipped.swap(19, 20);
    let mut session = told(&slipped);
    let effects = session.handle(at(1100), &Event::TimerFired(Timer::Told));
    assert!(effects.iter().any(|e| matches!(e, Effect::Speak { .. })));
    let findings: Vec<String> = recap::reviewed(session.section(), session.outcome())
        .findings
        .iter()
        .map(|f| recap::sentence(session.section(), session.outcome(), f))
        .collect();
    assert!(findings.iter().any(|f| f == "Not told: exfoliate."), "{findings:?}");
    assert!(findings.iter().any(|f| f.starts_with("Out of order:")), "{findings:?}");
    assert!(!findings.iter().any(|f| f.contains("called at")), "{findings:?}");
    assert!(!findings.iter().any(|f| f.contains("less than 20 seconds")), "{findings:?}");
}

#[test]
fn with_hygiene_only_the_other_steps_are_not_missed() {
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().to_str().unwrap();
    let output = stepbell(&[
        "rehearse",
        "prompts/skin-care/basic-facial.toml",
        "--mic",
        "tests/audio/demo.wav",
        "--compress",
        "10",
        "--headset",
        "--fade",
        "hygiene",
        "--runs",
        runs,
    ]);
    let shown = String::from_utf8(output.stdout).unwrap();
    assert!(
        shown.contains("You finished with 13 seconds to spare."),
        "{shown}{}",
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(!shown.contains("toner"), "{shown}");
    let recap = String::from_utf8(stepbell(&["recap", "--runs", runs]).stdout).unwrap();
    assert!(shown.contains(&recap), "{recap}");
    // Kept apart from whole runs.
    let history = String::from_utf8(stepbell(&["history", "--runs", runs]).stdout).unwrap();
    assert!(history.contains("1 whole run"), "{history}");
}

#[test]
fn a_first_run_calls_out_everything_whatever_history_would_choose() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    stepbell::audio::write_wav(place("silence.wav").as_ref(), &vec![0.0; 16_000], 16_000).unwrap();
    let more = ["--mic", &place("silence.wav"), "--runs", &place("runs"), "--voice", "off", "--fade", "auto"];
    let output = stepbell(&[&["rehearse", "prompts/skin-care/basic-facial.toml"], &more[..]].concat());
    let shown = String::from_utf8(output.stdout).unwrap();
    assert!(shown.starts_with("This time, call out everything (no whole run of this edition yet).\n"), "{shown}");
}

#[test]
fn labels_are_called_out_as_long_as_hand_hygiene() {
    let text = std::fs::read_to_string("prompts/skin-care/station-set-up.toml").unwrap();
    let section = authoring::read(&text).0.unwrap();
    let kept: Vec<String> = section.hygiene_only().unwrap().steps.into_iter().map(|s| s.title).collect();
    let wanted = section.steps.iter().filter(|s| s.hygiene || s.title.contains("label")).count();
    assert!(
        kept.iter().any(|t| t.contains("labelled containers")) && kept.iter().any(|t| t.contains("labels facing out"))
    );
    assert_eq!(kept.len(), wanted, "{kept:?}");
}
