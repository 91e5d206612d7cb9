//! After the run: a time guessed aloud, and questions that are answered.

use crate::kill::{journal_in, stepbell};
use crate::section::shipped;
use std::path::Path;
use stepbell::callout::{Command, Heard, Meaning, Vocabulary};
use stepbell::intent::Question;
use stepbell::journal;
use stepbell::outcome::Mode;
use stepbell::session::{Effect, Event, Session, Settings, Timer};
use stepbell::time::{Ms, SampleIndex};

fn at(seconds: u64) -> SampleIndex {
    SampleIndex(0) + Ms(seconds * 1000)
}

fn heard(seconds: u64, meaning: Meaning) -> Event {
    Event::Heard(Heard { meaning, start: at(seconds), end: at(seconds + 1), confidence: 1.0 })
}

fn asked(words: &str, question: Question) -> Meaning {
    Meaning::Asked { words: words.into(), question: Some(question), nearest: None }
}

/// The one announcement among these effects, and what goes with it.
fn said(effects: &[Effect]) -> (u32, &str) {
    let said: Vec<_> = effects
        .iter()
        .filter_map(|e| if let Effect::Speak { id, text, .. } = e { Some((*id, text.as_str())) } else { None })
        .collect();
    let [one] = said[..] else { panic!("{effects:?}") };
    one
}

/// A facial that began at 5 s and was finished at 905 s, with these callouts, up to the four seconds behind its end.
fn finished(session: Session, callouts: &[(u64, &str)]) -> (Session, Vec<Effect>) {
    let mut session = session;
    let reading = [
        (0, Event::Opened),
        (1, Event::SpeechEnded(0)),
        (2, Event::TimerFired(Timer::Gap)),
        (3, Event::SpeechEnded(1)),
        (4, Event::TimerFired(Timer::Gap)),
        (5, Event::SpeechEnded(2)),
    ];
    for (seconds, event) in reading {
        session.handle(at(seconds), &event);
    }
    for (seconds, say) in callouts {
        session.handle(at(seconds + 1), &heard(*seconds, Meaning::Callout(say.to_string())));
    }
    session.handle(at(906), &heard(905, Meaning::Command(Command::Finished)));
    let effects = session.handle(at(910), &Event::TimerFired(Timer::Late));
    (session, effects)
}

const CALLOUTS: [(u64, &str); 6] = [
    (10, "sanitize hands"),
    (40, "body drape"),
    (90, "head drape"),
    (130, "sanitize"),
    (200, "effleurage"),
    (305, "petrissage"),
];

fn answering() -> Session {
    Session::new(shipped("basic-facial"), Settings { answers: true, ..Mode::Exam.into() })
}

fn asking_the_time() -> Session {
    Session::new(shipped("basic-facial"), Settings { asks_time: true, ..Mode::Exam.into() })
}

#[test]
fn questions_are_answered_until_nobody_asks() {
    let (mut session, effects) = finished(answering(), &CALLOUTS);
    let (recap, text) = said(&effects);
    let recap_text = text.to_string();
    let effects = session.handle(at(960), &Event::SpeechEnded(recap));
    assert!(effects.contains(&Effect::Listen(Vocabulary::questions(session.section()))), "{effects:?}");
    let mut last = said(&effects).0;
    assert!(said(&effects).1.starts_with("Any questions?"));
    let mut now = 960;
    let mut ask = |session: &mut Session, question: Question| {
        now += 5;
        let armed = session.handle(at(now), &Event::SpeechEnded(last));
        assert_eq!(armed, [Effect::Arm(Timer::Asked, at(now + 30))]);
        let effects = session.handle(at(now + 3), &heard(now + 1, Meaning::Question(question)));
        assert!(effects.contains(&Effect::Disarm(Timer::Asked)));
        last = said(&effects).0;
        (said(&effects).1.to_string(), effects.contains(&Effect::Slower))
    };
    // "Repeat" before any answer means the recap.
    assert_eq!(ask(&mut session, Question::Repeat), (recap_text, false));
    let first = "Sanitize, called twice, at: 1 minute 5 seconds, 2 minutes 5 seconds.";
    let (when, _) = ask(&mut session, Question::When("sanitize".into()));
    // Either callout stands for the step: "sanitize hands" at 5 s, "sanitize" at 125 s.
    assert_eq!(when, first.replace("1 minute 5 seconds", "5 seconds"));
    assert_eq!(ask(&mut session, Question::Slower), (when, true));
    // Effleurage from 195 s to 300 s, petrissage from there to the finish at 900 s; planned 90 s each.
    let (long, _) = ask(&mut session, Question::HowLong("effleurage".into()));
    assert_eq!(long, "Effleurage: 1 minute 45 seconds, planned 1 minute 30 seconds.");
    let (none, _) = ask(&mut session, Question::HowLong("toner".into()));
    assert_eq!(none, "I did not hear toner called.");
    let (missed, _) = ask(&mut session, Question::Missed);
    assert!(missed.starts_with("Not called: ") && missed.contains("and ") && missed.contains(" more."), "{missed}");
    assert!(!missed.contains("effleurage"));
    assert!(missed.contains("Too few: 2 called"), "{missed}");
    // A callout now changes nothing, and neither does a question that another person might ask later.
    let called = session.outcome().called.len();
    session.handle(at(now + 4), &heard(now + 4, Meaning::Callout("toner".into())));
    assert_eq!(session.outcome().called.len(), called);
    session.handle(at(now + 9), &Event::SpeechEnded(last));
    assert_eq!(session.handle(at(now + 21), &Event::TimerFired(Timer::Asked)), [Effect::Close]);
    assert!(session.closed() && !session.outcome().again);
}

#[test]
fn start_again_and_the_end_of_sound_close_the_questions() {
    let asking = || {
        let (mut session, effects) = finished(answering(), &CALLOUTS);
        let effects = session.handle(at(960), &Event::SpeechEnded(said(&effects).0));
        let prompt = said(&effects).0;
        (session, prompt)
    };
    let (mut session, prompt) = asking();
    session.handle(at(965), &Event::SpeechEnded(prompt));
    assert_eq!(
        session.handle(at(970), &heard(968, Meaning::Question(Question::Again))),
        [Effect::Disarm(Timer::Asked), Effect::Close][1..]
    );
    assert!(session.closed() && session.outcome().again);
    // What is being said when the sound ends is said to its end.
    let (mut session, prompt) = asking();
    assert_eq!(session.handle(at(962), &Event::MicrophoneEnded), []);
    assert_eq!(session.handle(at(965), &Event::SpeechEnded(prompt)), [Effect::Close]);
    let (mut session, prompt) = asking();
    session.handle(at(965), &Event::SpeechEnded(prompt));
    assert_eq!(session.handle(at(966), &Event::MicrophoneEnded), [Effect::Close]);
    // A recording that ended with the run has nobody in it to ask.
    let (mut session, effects) = finished(answering(), &CALLOUTS);
    session.handle(at(911), &Event::MicrophoneEnded);
    assert_eq!(session.handle(at(960), &Event::SpeechEnded(said(&effects).0)), [Effect::Close]);
    // Gone on with after a cut, it listens for questions.
    let (mut session, _) = asking();
    let back = session.handle(at(962), &Event::Away(stepbell::outcome::Absence::Restarted, None));
    assert!(back.iter().any(|e| matches!(e, Effect::Listen(_))), "{back:?}");
}

#[test]
fn a_time_is_guessed_before_it_is_told() {
    let (mut session_, effects) = finished(asking_the_time(), &CALLOUTS);
    let (prompt, text) = said(&effects);
    assert!(text.contains("how many minutes"), "{text}");
    let Some(Effect::Listen(spans)) = effects.iter().find(|e| matches!(e, Effect::Listen(_))) else {
        panic!("{effects:?}")
    };
    assert!(spans.phrases().any(|p| p == "fifty minutes") && !spans.phrases().any(|p| p == "sixty minutes"));
    let session = &mut session_;
    assert_eq!(session.handle(at(915), &Event::SpeechEnded(prompt)), [Effect::Arm(Timer::Guessed, at(927))]);
    let effects = session.handle(at(918), &heard(917, Meaning::Span(Ms(13 * 60_000))));
    assert_eq!(said(&effects).1, "13 minutes.");
    // A second thought: the last one counts.
    session.handle(at(920), &Event::SpeechEnded(said(&effects).0));
    let effects = session.handle(at(922), &heard(921, Meaning::Span(Ms(12 * 60_000))));
    assert_eq!(session.handle(at(925), &Event::SpeechEnded(said(&effects).0)), [Effect::Arm(Timer::Guessed, at(928))]);
    let effects = session.handle(at(928), &Event::TimerFired(Timer::Guessed));
    assert!(effects.contains(&Effect::Listen(Vocabulary::of(session.section()))));
    assert!(said(&effects).1.contains("You guessed 12 minutes; it was 15 minutes."), "{effects:?}");
    assert_eq!(session.outcome().guessed, Some(Ms(12 * 60_000)));
    // Nobody guessed: the recap comes all the same, and says nothing of it.
    let (mut session, effects) = finished(asking_the_time(), &CALLOUTS);
    session.handle(at(915), &Event::SpeechEnded(said(&effects).0));
    let effects = session.handle(at(927), &Event::TimerFired(Timer::Guessed));
    assert!(!said(&effects).1.contains("guessed"));
}

/// A section of a minute, said by the tool's own voice; where the recap ends is learned from a first run, and questions are
/// said behind it in a second.
#[test]
fn spoken_questions_and_a_spoken_guess_are_understood() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("short.toml");
    std::fs::write(&file, SHORT).unwrap();
    let place = |run: &Path, what: &str| {
        let shown = String::from_utf8(stepbell(&["replay", "--runs", run.to_str().unwrap()]).stdout).unwrap();
        let line = shown.lines().find(|l| l.contains(what)).unwrap_or_else(|| panic!("{what}: {shown}"));
        line.trim().split(' ').next().unwrap().parse::<f64>().unwrap()
    };
    // Each script is the one before and what comes behind a line that the run before had shown.
    let mut script: Vec<(f64, &str)> = vec![];
    let run = |script: &[(f64, &str)], name: &str| {
        let wav = folder.path().join(format!("{name}.wav"));
        track(script, &wav);
        let runs = folder.path().join(name);
        let files = [&file, &wav, &runs].map(|p| p.to_str().unwrap().to_string());
        let arguments = ["rehearse", &files[0], "--mic", &files[1], "--runs", &files[2], "--guess", "--seed", "1"];
        let shown = stepbell(&arguments);
        assert!(shown.status.success(), "{}", String::from_utf8_lossy(&shown.stderr));
        (runs, String::from_utf8(shown.stdout).unwrap())
    };
    script.push((60.0, ""));
    let (runs, _) = run(&script, "one");
    let start = place(&runs, "the clock has started");
    script = vec![
        (start + 3.0, "sanitize hands"),
        (start + 15.0, "steam towel"),
        (start + 30.0, "finished"),
        (start + 100.0, ""),
    ];
    let (runs, _) = run(&script, "two");
    let guess = place(&runs, "how many minutes") + 5.0;
    script.insert(3, (guess, "one minute"));
    let (runs, _) = run(&script, "three");
    let from = place(&runs, "Any questions?") + 7.0;
    script.truncate(4);
    script.extend([
        (from, "what did I miss"),
        (from + 12.0, "how long was the steam towel"),
        (from + 24.0, "when did I sanitize"),
        (from + 60.0, ""),
    ]);
    let (runs, shown) = run(&script, "four");
    let journal = journal::load(&journal_in(&runs)).unwrap();
    let meanings: Vec<Meaning> = journal
        .records
        .iter()
        .filter_map(|r| if let Event::Heard(h) = &r.event { Some(h.meaning.clone()) } else { None })
        .collect();
    assert_eq!(
        meanings,
        [
            Meaning::Callout("sanitize hands".into()),
            Meaning::Callout("steam towel".into()),
            Meaning::Command(Command::Finished),
            Meaning::Span(Ms(60_000)),
            asked("what did i miss", Question::Missed),
            asked("how long was the steam towel", Question::HowLong("steam towel".into())),
            asked("when did i sanitize", Question::When("sanitize".into())),
        ],
        "{shown}"
    );
    let told = |arguments: &[&str]| String::from_utf8(stepbell(arguments).stdout).unwrap();
    let folder_of_runs = runs.to_str().unwrap();
    let exported: serde_json::Value =
        serde_json::from_str(&told(&["export", "--runs", folder_of_runs, "--format", "json"])).unwrap();
    assert_eq!(exported["guessed_s"], 60.0);
    let schema = serde_json::from_str(stepbell::recap::SCHEMA).unwrap();
    assert!(jsonschema::is_valid(&schema, &exported));
    let history = told(&["history", "--runs", folder_of_runs]);
    assert!(history.contains("Time guessed aloud in one run: ") && history.contains(" of the real time"), "{history}");
    for words in [
        "You guessed 1 minute; it was ",
        "Not called: toner.",
        "Steam towel: 15 seconds, planned 20 seconds.",
        "Sanitize, called once, at: 3 seconds.",
    ] {
        assert!(shown.contains(words), "{words}: {shown}");
    }
}

/// These texts, each from its second on, as a recording.
pub fn track(script: &[(f64, &str)], wav: &Path) {
    let mut voice = crate::sound::cache();
    let mut sound: Vec<f32> = vec![];
    for (from, text) in script {
        sound.resize((from * 16_000.0) as usize, 0.0);
        if !text.is_empty() {
            crate::sound::say(&mut voice, text, 0.5, &mut sound);
        }
    }
    // A hundred decibels down: no microphone gives zeros.
    let sound: Vec<f32> =
        sound.iter().enumerate().map(|(n, s)| 0.5 * s + 1e-5 * ((n * 7919 % 13) as f32 - 6.0)).collect();
    stepbell::audio::write_wav(wav, &sound, 16_000).unwrap();
}

pub const SHORT: &str = r#"
id = "short"
title = "A short section"
trade = "skin care"
board = "Tarnmoor Board of Personal Care (invented)"
edition = "2026-01-01"
source = "Invented, for a test."
cautions = ["A steam towel can burn: test it first."]
finish = ["finished", "i am finished"]

[reading]
times = 1
sentences = ["This is short."]
again = "Once more."
begin = "You may begin now."

[clock]
minutes = 1
warning_minutes_left = 0.3
warning = "Eighteen seconds left."
stop = "Time."

[[step]]
id = "hands"
title = "sanitise hands"
say = ["sanitize hands", "sanitize"]
minutes = 0.2
hygiene = true

[[step]]
id = "towel"
title = "apply the steam towel"
say = ["steam towel"]
minutes = 0.33
after = ["hands"]

[[step]]
id = "toner"
title = "toner"
say = ["toner"]
minutes = 0.2
after = ["towel"]
"#;

/// "Mask" and "remove the mask" are easily taken for one another: whichever is understood, both are told.
#[test]
fn names_that_end_alike_are_answered_together() {
    let session = Session::new(shipped("basic-facial"), Mode::Exam);
    let (session, _) = finished(session, &[(10, "sanitize"), (600, "mask"), (700, "remove the mask"), (800, "toner")]);
    let answer = |question| stepbell::recap::answer(session.section(), session.outcome(), None, &question).unwrap();
    let (mask, off) =
        ("Mask, called once, at: 9 minutes 55 seconds.", "Remove the mask, called once, at: 11 minutes 35 seconds.");
    assert_eq!(answer(Question::When("mask".into())), format!("{mask} {off}"));
    assert_eq!(answer(Question::When("remove the mask".into())), format!("{off} {mask}"));
    assert_eq!(
        answer(Question::HowLong("mask".into())),
        "Mask: 1 minute 40 seconds, planned 1 minute 30 seconds. Remove the mask: 1 minute 40 seconds, planned 1 minute 42 seconds."
    );
    assert_eq!(answer(Question::When("toner".into())), "Toner, called once, at: 13 minutes 15 seconds.");
    assert_eq!(answer(Question::When("towel".into())), "I did not hear towel called.");
}

/// Asked in the tool's own voice, "do the mask" is the mask.
#[test]
fn when_a_step_was_done_is_asked_for_that_step() {
    let section = shipped("basic-facial");
    let model = stepbell::listen::Model::load(Path::new("models/fetched/english")).unwrap();
    let questions = Vocabulary::questions(&section);
    let ask = |text: &str| {
        let mut voice = crate::sound::cache();
        let mut sound = vec![0.0; 16_000];
        crate::sound::say(&mut voice, text, 3.0, &mut sound);
        let sound: Vec<f32> =
            sound.iter().enumerate().map(|(n, s)| 0.5 * s + 1e-5 * ((n * 7919 % 13) as f32 - 6.0)).collect();
        let gate = stepbell::listen::Gate::default();
        let mut ears =
            stepbell::listen::Ears::open(&model, questions.clone(), &stepbell::listen::DECOYS, at(0), gate).unwrap();
        let mut heard: Vec<Heard> = sound.chunks(1600).flat_map(|c| ears.feed(c)).collect();
        heard.extend(ears.finish());
        heard.into_iter().map(|h| h.meaning).collect::<Vec<_>>()
    };
    for (text, name) in [("when did I do the mask", "mask"), ("when did I do the toner", "toner")] {
        let heard = ask(text);
        assert_eq!(heard, [asked(&text.to_lowercase(), Question::When(name.into()))], "{text}");
    }
    let off = ask("when did I remove the mask");
    assert_eq!(off, [asked("when did i remove the mask", Question::When("remove the mask".into()))]);
}
