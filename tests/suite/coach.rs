//! The coach: what it tells unasked fades, each of it can be switched off, and its soft signs disturb nobody.

use crate::kill::{journal_in, stepbell};
use crate::section::shipped;
use std::path::Path;
use stepbell::callout::{Command, Heard, Meaning};
use stepbell::journal;
use stepbell::outcome::{Former, Mode, Past};
use stepbell::session::{Effect, Event, Session, Settings, Sign, Tell, Timer};
use stepbell::time::{Ms, SampleIndex};
use stepbell::voice::chime;

fn at(seconds: u64) -> SampleIndex {
    SampleIndex(0) + Ms(seconds * 1000)
}

fn heard(seconds: u64, meaning: Meaning, confidence: f32) -> Event {
    Event::Heard(Heard { meaning, start: at(seconds), end: at(seconds + 1), confidence })
}

fn said(effects: &[Effect]) -> Vec<&str> {
    effects.iter().filter_map(|e| if let Effect::Speak { text, .. } = e { Some(text.as_str()) } else { None }).collect()
}

/// A facial whose clock started at 100 s.
fn started(settings: Settings) -> Session {
    let mut session = Session::new(shipped("basic-facial"), settings);
    session.handle(at(0), &Event::Opened);
    session.handle(at(30), &Event::SpeechEnded(0));
    session.handle(at(32), &Event::TimerFired(Timer::Gap));
    session.handle(at(60), &Event::SpeechEnded(1));
    session.handle(at(62), &Event::TimerFired(Timer::Gap));
    session.handle(at(100), &Event::SpeechEnded(2));
    assert!(session.running());
    session
}

fn telling(tells: &[Tell]) -> Settings {
    Settings { tells: Some(tells.to_vec()), ..Mode::Coach.into() }
}

fn call(session: &mut Session, seconds: u64, say: &str) -> Vec<Effect> {
    session.handle(at(seconds), &heard(seconds, Meaning::Callout(say.into()), 1.0))
}

/// When a hint is due behind a callout at this second, in seconds after it.
fn patience(session: &mut Session, seconds: u64, say: &str) -> Option<u64> {
    let effects = call(session, seconds, say);
    let due = effects.iter().find_map(|e| if let Effect::Arm(Timer::Hint, due) = e { Some(*due) } else { None });
    due.map(|due| due.since(at(seconds)).0 / 1000)
}

#[test]
fn the_next_step_is_told_after_a_pause_much_longer_than_this_persons_own() {
    // Hands are planned for 30 s: twice that. Without a word on what to tell it is as it was: 30, 15 and 20.
    assert_eq!(patience(&mut started(telling(&[Tell::Next])), 110, "sanitize hands"), Some(60));
    assert_eq!(patience(&mut started(Mode::Coach.into()), 110, "sanitize hands"), Some(65));
    assert_eq!(patience(&mut started(telling(&[])), 110, "sanitize hands"), None);
    let exam = Settings { tells: Some(vec![Tell::Next]), ..Mode::Exam.into() };
    assert_eq!(patience(&mut started(exam), 110, "sanitize hands"), None);
    // Somebody who lately took 100 s for it is left alone for 200.
    let former = Former { used: Ms(1), finished: true, findings: 0, critical: 0 };
    let usual = vec![("hands-first".to_string(), Ms(100_000))];
    let past = Past { runs: 1, last: former, best: former, ready: None, weak: vec![], usual };
    let known = Settings { past: Some(past), ..telling(&[Tell::Next]) };
    assert_eq!(patience(&mut started(known), 110, "sanitize hands"), Some(200));
    // Without earlier runs this one's pace counts: 60, 90 and 90 s for 30, 45 and 45 planned are twice the plan, so 60 s for 30, doubled.
    let mut slow = started(telling(&[Tell::Next]));
    for (seconds, say) in [(110, "sanitize hands"), (170, "body drape"), (260, "head drape")] {
        call(&mut slow, seconds, say);
    }
    assert_eq!(patience(&mut slow, 350, "sanitize hands"), Some(120));
}

#[test]
fn hints_fade_and_can_be_asked_for() {
    let mut session = started(telling(&[Tell::Next]));
    assert_eq!(patience(&mut session, 110, "sanitize hands"), Some(60));
    let hint = session.handle(at(170), &Event::TimerFired(Timer::Hint));
    assert_eq!(said(&hint).len(), 1);
    // Behind one hint the next takes half the usual time longer: 45 s times two and a half.
    assert_eq!(patience(&mut session, 172, "body drape"), Some(112));
    // Asked, it tells at once, and as often as it is asked; in an exam never.
    let ask = |session: &mut Session, seconds| {
        session.handle(at(seconds), &heard(seconds, Meaning::Command(Command::Next), 1.0))
    };
    let mut silent = started(telling(&[]));
    call(&mut silent, 110, "sanitize hands");
    let first = said(&ask(&mut silent, 120)).join("");
    assert!(first.starts_with("Next: ") && said(&ask(&mut silent, 125)).join("") == first, "{first}");
    assert!(ask(&mut started(Mode::Exam.into()), 120).is_empty());
}

#[test]
fn at_the_warning_it_tells_where_the_plan_is() {
    let warned = |settings| {
        let mut session = started(settings);
        session.handle(at(880), &Event::TimerFired(Timer::Warning))
    };
    // 13 of 25 minutes: hands to massage product are planned for 12, effleurage for one and a half.
    let told = warned(telling(&[Tell::Pace]));
    assert_eq!(said(&told)[1..], ["By plan now: effleurage (stroking)."]);
    assert_eq!(said(&warned(telling(&[Tell::Next, Tell::Phase]))).len(), 1);
    assert_eq!(said(&warned(Settings { tells: Some(vec![Tell::Pace]), ..Mode::Exam.into() })).len(), 1);
}

#[test]
fn phases_are_named_where_there_are_several() {
    let begun = |section: &str, settings| {
        let mut session = Session::new(shipped(section), settings);
        session.handle(at(0), &Event::Opened);
        session.handle(at(30), &Event::SpeechEnded(0));
        session.handle(at(32), &Event::TimerFired(Timer::Gap));
        session.handle(at(60), &Event::SpeechEnded(1));
        let effects = session.handle(at(62), &Event::TimerFired(Timer::Gap));
        said(&effects).into_iter().map(str::to_string).collect::<Vec<_>>()
    };
    let named = begun("nails/water-manicure", telling(&[Tell::Phase]));
    assert!(named.len() == 2 && named[0] == "manicure and polish.", "{named:?}");
    assert_eq!(begun("nails/water-manicure", telling(&[Tell::Next])), named[1..]);
    assert_eq!(begun("basic-facial", telling(&[Tell::Phase])).len(), 1);
}

#[test]
fn callouts_are_answered_by_a_sign_where_that_is_wanted() {
    let signs = |settings, confidence| {
        let effects =
            started(settings).handle(at(111), &heard(110, Meaning::Callout("sanitize hands".into()), confidence));
        effects
            .into_iter()
            .filter_map(|e| if let Effect::Sign(sign) = e { Some(sign) } else { None })
            .collect::<Vec<_>>()
    };
    let wanted = |mode: Mode| Settings { signs: true, ..mode.into() };
    assert_eq!(signs(wanted(Mode::Coach), 0.99), [Sign::Heard]);
    assert_eq!(signs(wanted(Mode::Coach), 0.75), [Sign::Unsure]);
    assert_eq!(signs(wanted(Mode::Exam), 0.99), []);
    assert_eq!(signs(Mode::Coach.into(), 0.99), []);
}

fn run(mic: &Path, runs: &Path) -> Vec<(SampleIndex, String, SampleIndex)> {
    let arguments = ["rehearse", "basic-facial", "--compress", "10", "--voice", "off", "--no-questions", "--seed", "1"];
    let paths = ["--mic", mic.to_str().unwrap(), "--runs", runs.to_str().unwrap()];
    let output = stepbell(&[&arguments[..], &paths].concat());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let heard = journal::load(&journal_in(runs)).unwrap().records.into_iter().filter_map(|record| match record.event {
        Event::Heard(heard) => match heard.meaning {
            Meaning::Callout(say) => Some((record.at, say, heard.start)),
            _ => None,
        },
        _ => None,
    });
    heard.collect()
}

/// Signs as loud in the microphone as they are played, behind every callout of the demo and in its pauses: the same callouts are heard, at the
/// same places, and no others.
#[test]
fn signs_are_no_callouts_and_hide_none() {
    let folder = tempfile::tempdir().unwrap();
    let demo = Path::new("tests/audio/demo.wav");
    let plain = run(demo, &folder.path().join("plain"));
    let (mut sound, rate) = stepbell::audio::read_wav(demo).unwrap();
    let mut mix = |at: SampleIndex, notes: [f32; 2]| {
        let from = (at.0 * u64::from(rate) / 16_000) as usize;
        let signed = chime(notes, rate).samples;
        sound.iter_mut().skip(from).zip(signed).for_each(|(sample, sign)| *sample += sign);
    };
    let mut given = 0;
    for (k, (known, ..)) in plain.iter().enumerate() {
        mix(*known, if k % 3 == 0 { [880.0, 659.3] } else { [1318.5, 1760.0] });
        mix(*known + Ms(1_500), [1318.5, 1760.0]);
        given += 2;
    }
    let signed = folder.path().join("signed.wav");
    stepbell::audio::write_wav(&signed, &sound, rate).unwrap();
    let with = run(&signed, &folder.path().join("signed"));
    let says = |heard: &[(SampleIndex, String, SampleIndex)]| heard.iter().map(|h| h.1.clone()).collect::<Vec<_>>();
    let same = says(&plain) == says(&with);
    let moved = plain.iter().zip(&with).map(|(a, b)| a.2.since(b.2).max(b.2.since(a.2))).max().unwrap_or(Ms(0));
    crate::figure(
        "demo with soft signs in its sound: callouts the same, and most moved",
        format!("{same} of {} callouts, {given} signs, {} ms", plain.len(), moved.0),
        "the same, at most 100 ms",
        same && moved <= Ms(100),
    );
}
