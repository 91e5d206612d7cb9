//! What stops everything, in every state of a run: it is listened for, understood, and ends the run without another word.

use crate::section::shipped;
use stepbell::callout::{Command, Heard, Meaning, Vocabulary};
use stepbell::intent::Question;
use stepbell::outcome::{Fade, Mode};
use stepbell::session::{Effect, Event, Session, Settings, Timer};
use stepbell::time::{Ms, SampleIndex};
use stepbell::words::Word;

fn at(seconds: u64) -> SampleIndex {
    SampleIndex(0) + Ms(seconds * 1000)
}

fn heard(seconds: u64, meaning: Meaning) -> Event {
    Event::Heard(Heard { meaning, start: at(seconds), end: at(seconds + 1), confidence: 1.0 })
}

fn words(phrase: &str, seconds: u64) -> Vec<Word> {
    let word = |(k, text): (usize, &str)| {
        let start = at(seconds) + Ms(k as u64 * 400);
        Word { text: text.into(), start, end: start + Ms(350), confidence: 1.0 }
    };
    phrase.split(' ').enumerate().map(word).collect()
}

/// A session taken through a whole run: its state by name, and what it listens for there. What it says ends at once.
fn states(settings: Settings) -> Vec<(String, Session, Vocabulary)> {
    let section = shipped("basic-facial");
    let finish = || heard(100, Meaning::Command(Command::Finished));
    let mut steps: Vec<(u64, &str, Event)> = vec![
        (1, "reading", Event::Opened),
        (10, "about to start", Event::TimerFired(Timer::Gap)),
        (20, "running", heard(18, Meaning::Callout("sanitize hands".into()))),
        (30, "paused", heard(30, Meaning::Command(Command::Pause))),
        (40, "gone on with", heard(40, Meaning::Command(Command::Resume))),
        (101, "ending", finish()),
        (105, "guessing, telling or recapping", Event::TimerFired(Timer::Late)),
    ];
    if settings.asks_time {
        steps.push((120, "guessed", heard(118, Meaning::Span(Ms(600_000)))));
        steps.push((130, "on from the guess", Event::TimerFired(Timer::Guessed)));
    }
    if settings.silent_run() {
        steps.push((140, "telling", heard(138, Meaning::Callout("sanitize hands".into()))));
        steps.push((200, "told", Event::TimerFired(Timer::Told)));
    }
    if settings.confirms {
        steps.push((250, "asked whether a step was called", Event::Beat));
        steps.push((260, "on from that", Event::TimerFired(Timer::Answered)));
    }
    steps.push((300, "questions", Event::Beat));
    let long = Meaning::Asked { words: "what took longest".into(), question: Some(Question::Longest), nearest: None };
    steps.push((310, "answering", heard(308, long)));
    let mut vocabulary = Vocabulary::of(&section);
    let mut session = Session::new(section, settings);
    let mut states = vec![];
    for (seconds, name, event) in steps {
        let mut todo = vec![event];
        let mut saying = vec![];
        while let Some(event) = todo.pop() {
            for effect in session.handle(at(seconds), &event) {
                match effect {
                    Effect::Listen(new) => vocabulary = new,
                    Effect::Speak { id, .. } => saying.push(id),
                    Effect::Search(wanted) => todo.push(Event::Searched(vec![(wanted[0].step, wanted[0].between.0)])),
                    _ => {}
                }
            }
        }
        // As it speaks, and when it has spoken.
        states.push((format!("{name}, speaking"), session.clone(), vocabulary.clone()));
        let mut todo: Vec<Event> = saying.into_iter().map(Event::SpeechEnded).collect();
        while let Some(event) = todo.pop() {
            for effect in session.handle(at(seconds + 5), &event) {
                match effect {
                    Effect::Listen(new) => vocabulary = new,
                    // The second reading, the start words and the question for questions end at once, too.
                    Effect::Speak { id, .. } => todo.push(Event::SpeechEnded(id)),
                    Effect::Arm(Timer::Gap, _) => todo.push(Event::TimerFired(Timer::Gap)),
                    _ => {}
                }
            }
        }
        states.push((name.into(), session.clone(), vocabulary.clone()));
    }
    states
}

trait Silent {
    fn silent_run(&self) -> bool;
}

impl Silent for Settings {
    fn silent_run(&self) -> bool {
        self.fade == Fade::Silent
    }
}

#[test]
fn emergency_words_end_a_run_in_every_state() {
    let usual = Settings { answers: true, asks_time: true, ..Mode::Coach.into() };
    let confirms = Settings { listens_again: true, confirms: true, ..usual.clone() };
    let kinds = [
        ("asked whether steps were called", confirms),
        ("practice", usual.clone()),
        ("exam", Settings { mode: Mode::Exam, ..usual.clone() }),
        ("silent", Settings { fade: Fade::Silent, ..usual.clone() }),
        ("without a reading", Settings { skips_reading: true, ..usual }),
    ];
    let mut tried = 0;
    for (kind, settings) in kinds {
        for (state, session, vocabulary) in states(settings) {
            assert!(!session.closed(), "{kind}: {state}");
            for word in ["stop everything", "emergency", "please stop everything"] {
                let mut session = session.clone();
                let found = vocabulary.find(&words(word, 400));
                let [heard] = &found[..] else { panic!("{kind}, {state}: {word}: {found:?}") };
                let effects = session.handle(at(402), &Event::Heard(heard.clone()));
                assert!(session.closed() && session.stopped(), "{kind}, {state}: {word}");
                assert!(effects.contains(&Effect::Close) && effects.contains(&Effect::Hush));
                assert!(!effects.iter().any(|e| matches!(e, Effect::Speak { .. })), "{kind}, {state}: {word}");
                tried += 1;
            }
        }
    }
    crate::figure("states of a run x emergency words: understood and ended", tried, "all", tried > 200);
}

/// The reading is left out, which is said, and the start words follow at once. The journal's header has it.
#[test]
fn a_reading_that_is_skipped_is_said_to_be() {
    let settings = Settings { skips_reading: true, ..Mode::Coach.into() };
    assert!(serde_json::to_string(&settings).unwrap().contains("\"skips_reading\":true"));
    let mut session = Session::new(shipped("basic-facial"), settings);
    let said = |effects: &[Effect]| -> Vec<String> {
        effects
            .iter()
            .filter_map(|e| if let Effect::Speak { text, .. } = e { Some(text.clone()) } else { None })
            .collect()
    };
    let begin = session.section().phases[0].begin.clone();
    assert_eq!(said(&session.handle(at(0), &Event::Opened)), ["The reading is skipped.".to_string(), begin]);
    session.handle(at(2), &Event::SpeechEnded(0));
    assert!(!session.running());
    session.handle(at(5), &Event::SpeechEnded(1));
    assert!(session.running() && session.outcome().started == Some(at(5)));
}
