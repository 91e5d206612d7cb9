//! The proctor as a state machine: what is said when, and what counts.

use crate::section::shipped;
use stepbell::callout::{Command, Heard, Meaning};
use stepbell::session::{Effect, Ending, Event, Mode, Session, Timer};
use stepbell::time::{Ms, SampleIndex};

fn at(seconds: f64) -> SampleIndex {
    SampleIndex::from_seconds(seconds)
}

fn heard(meaning: Meaning, start: f64) -> Event {
    Event::Heard(Heard { meaning, start: at(start), end: at(start + 0.5), confidence: 1.0 })
}

fn callout(say: &str, start: f64) -> Event {
    heard(Meaning::Callout(say.into()), start)
}

/// A session whose start words ended at 100 s; every announcement took 10 s.
fn started(mode: Mode) -> Session {
    let mut session = Session::new(shipped("basic-facial"), mode);
    let mut spoken = vec![];
    let mut note = |effects: Vec<Effect>| {
        spoken.extend(
            effects.into_iter().filter_map(|e| if let Effect::Speak { text, .. } = e { Some(text) } else { None }),
        );
    };
    note(session.handle(at(0.0), &Event::Opened));
    for (k, time) in [(0, 40.0), (1, 80.0)] {
        note(session.handle(at(time), &Event::SpeechEnded(k)));
        note(session.handle(at(time + 1.5), &Event::TimerFired(Timer::Gap)));
    }
    let effects = session.handle(at(100.0), &Event::SpeechEnded(2));
    assert!(effects.contains(&Effect::Arm(Timer::Warning, at(100.0) + Ms(13 * 60_000))));
    assert!(effects.contains(&Effect::Arm(Timer::Limit, at(100.0) + Ms(25 * 60_000))));
    assert!(spoken[1].ends_with(&spoken[0]), "the second reading holds the first, word for word");
    assert_eq!(spoken[2], session.section().reading.begin);
    session
}

#[test]
fn a_callout_before_the_start_words_end_is_a_finding() {
    let mut session = Session::new(shipped("basic-facial"), Mode::Exam);
    session.handle(at(0.0), &Event::Opened);
    session.handle(at(41.0), &callout("sanitize", 40.5));
    assert_eq!(session.outcome().before_start.len(), 1);
    assert!(session.outcome().called.is_empty());
}

/// Our promise: onset before the limit counts, however late its result; onset after it doesn't.
#[test]
fn a_callout_counts_by_its_onset() {
    let mut session = started(Mode::Exam);
    let limit = 100.0 + 25.0 * 60.0;
    session.handle(at(limit), &Event::TimerFired(Timer::Limit));
    session.handle(at(limit + 0.9), &callout("toner", limit - 0.2));
    session.handle(at(limit + 1.4), &callout("mask", limit + 0.6));
    assert_eq!(session.outcome().called.iter().map(|c| c.say.as_str()).collect::<Vec<_>>(), ["toner"]);
    assert_eq!(session.outcome().after_stop.len(), 1);
    session.handle(at(limit + 1.5), &heard(Meaning::Command(Command::Finished), limit - 0.1));
    assert_eq!(session.outcome().ended, Some((at(limit - 0.1), Ending::Finished)));
}

#[test]
fn a_pause_moves_the_limit() {
    let mut session = started(Mode::Coach);
    session.handle(at(200.0), &heard(Meaning::Command(Command::Pause), 199.0));
    session.handle(at(205.0), &callout("mask", 204.0));
    let effects = session.handle(at(260.0), &heard(Meaning::Command(Command::Resume), 259.0));
    assert!(effects.contains(&Effect::Arm(Timer::Limit, at(160.0) + Ms(25 * 60_000))));
    assert_eq!(session.outcome().paused, Ms(60_000));
    assert!(session.outcome().called.is_empty(), "what is called in a pause doesn't count");
}

#[test]
fn time_left_is_told_by_the_coach_only() {
    let ask = heard(Meaning::Command(Command::TimeLeft), 399.0);
    let said = |mode| {
        let effects = started(mode).handle(at(400.0), &ask);
        effects.into_iter().find_map(|e| if let Effect::Speak { text, .. } = e { Some(text) } else { None })
    };
    assert_eq!(said(Mode::Coach).as_deref(), Some("20 minutes left."));
    assert_eq!(said(Mode::Exam), None);
}

#[test]
fn undo_takes_the_last_callout_back() {
    let mut session = started(Mode::Exam);
    session.handle(at(110.0), &callout("sanitize", 109.0));
    session.handle(at(120.0), &callout("mask", 119.0));
    session.handle(at(125.0), &heard(Meaning::Command(Command::Undo), 124.0));
    assert_eq!(session.outcome().called.len(), 1);
}

#[test]
fn stop_everything_ends_without_another_word() {
    let mut session = started(Mode::Exam);
    let effects = session.handle(at(110.0), &heard(Meaning::Command(Command::StopEverything), 109.0));
    assert!(effects.contains(&Effect::Close) && effects.contains(&Effect::Hush));
    assert!(!effects.iter().any(|e| matches!(e, Effect::Speak { .. })));
    assert!(session.closed());
}
