//! One clock: every time that is told is section time, and what has no time of its own is held against none.

use crate::section::shipped;
use stepbell::callout::{Command, Heard, Meaning};
use stepbell::outcome::Mode;
use stepbell::recap::{self, RunView};
use stepbell::section::Section;
use stepbell::session::{Effect, Event, Session, Settings, Timer};
use stepbell::time::{Ms, SampleIndex};

fn at(seconds: u64) -> SampleIndex {
    SampleIndex(0) + Ms(seconds * 1000)
}

fn heard(seconds: u64, meaning: Meaning) -> (u64, Event) {
    let start = at(seconds);
    (seconds + 1, Event::Heard(Heard { meaning, start, end: at(seconds + 1), confidence: 1.0 }))
}

fn callout(seconds: u64, say: &str) -> (u64, Event) {
    heard(seconds, Meaning::Callout(say.into()))
}

fn command(seconds: u64, command: Command) -> (u64, Event) {
    heard(seconds, Meaning::Command(command))
}

/// A run whose clock started at 100 s, and all that it showed and said from there.
fn run(section: Section, mode: Mode, events: Vec<(u64, Event)>) -> (Session, Vec<String>) {
    let mut session = Session::new(section, mode);
    let reading = [
        (0, Event::Opened),
        (40, Event::SpeechEnded(0)),
        (41, Event::TimerFired(Timer::Gap)),
        (80, Event::SpeechEnded(1)),
        (81, Event::TimerFired(Timer::Gap)),
        (100, Event::SpeechEnded(2)),
    ];
    for (seconds, event) in reading {
        session.handle(at(seconds), &event);
    }
    let mut told = vec![];
    for (seconds, event) in events {
        told.extend(session.handle(at(seconds), &event).into_iter().filter_map(|effect| match effect {
            Effect::Show(line) | Effect::Speak { text: line, .. } => Some(line),
            _ => None,
        }));
    }
    (session, told)
}

fn lived(session: &Session) -> RunView<'_> {
    RunView {
        section: session.section(),
        outcome: session.outcome(),
        review: recap::reviewed(session.section(), session.outcome()),
        started: "2026-01-01T00:00:00Z",
        mode: Mode::Coach,
        compress: 1,
        seed: 1,
    }
}

fn json(session: &Session) -> serde_json::Value {
    let json = serde_json::from_str(&recap::json(&lived(session))).unwrap();
    let schema = serde_json::from_str(recap::SCHEMA).unwrap();
    assert!(jsonschema::is_valid(&schema, &json), "{json}");
    json
}

/// A minute's pause: none of it lies in any time that is shown, spoken, drawn or exported, only in the recording's own.
#[test]
fn a_pause_lies_in_no_time_that_is_told() {
    let events = vec![
        callout(110, "sanitize hands"),
        command(120, Command::Pause),
        command(180, Command::Resume),
        callout(200, "body drape"),
        command(210, Command::DroppedItem),
        command(220, Command::Pause),
        command(320, Command::Resume),
        callout(330, "sanitize"),
        callout(340, "head drape"),
        command(360, Command::Finished),
        (364, Event::TimerFired(Timer::Late)),
    ];
    let (session, told) = run(shipped("basic-facial"), Mode::Coach, events);
    for line in ["  0:10  sanitize hands", "  0:40  body drape", "  0:50  dropped item", "  1:20  head drape"] {
        assert!(told.iter().any(|l| l == line), "{line}: {told:?}");
    }
    let spoken = recap::spoken(session.section(), session.outcome());
    assert!(told.contains(&spoken) && spoken.contains("You finished with 23 minutes 20 seconds to spare."), "{spoken}");
    assert!(spoken.contains("Dropped item called at 50 seconds, and hands 20 seconds later"), "{spoken}");
    let text = recap::text(session.section(), session.outcome());
    for row in
        ["    0:10   0:30   0:30  sanitise hands", "    0:40   0:10 ", "The clock was held for 2 minutes 40 seconds."]
    {
        assert!(text.contains(row), "{row}: {text}");
    }
    let json = json(&session);
    assert_eq!(json["used_s"], 100.0);
    assert_eq!(json["phases"][0]["ended_s"], 100.0);
    assert_eq!(json["steps"][1]["called_s"], 40.0);
    assert_eq!(json["steps"][0]["took_s"], 30.0);
    assert_eq!(json["paused_s"], 160.0);
    assert_eq!(
        json["pauses"],
        serde_json::json!([{"at_s": 20.0, "length_s": 60.0}, {"at_s": 60.0, "length_s": 100.0}])
    );
    // Chapters lie on the recording, which went on.
    let vtt = recap::webvtt(&lived(&session));
    assert!(vtt.contains("00:01:50.000 --> 00:03:20.000\nsanitise hands"), "{vtt}");
    let page = recap::page(&lived(&session), None);
    assert!(page.contains("sanitise hands: 0:10, took 0:30"), "{page}");
}

/// An hour's pause takes neither the hint nor the drilled drop away.
#[test]
fn what_the_coach_has_to_say_waits_for_the_end_of_a_pause() {
    let mut session = run(shipped("basic-facial"), Mode::Coach, vec![callout(110, "sanitize hands")]).0;
    let pause = session.handle(at(121), &command(120, Command::Pause).1);
    for timer in [Timer::Hint, Timer::Limit, Timer::Warning] {
        assert!(pause.contains(&Effect::Disarm(timer)), "{pause:?}");
    }
    let on = session.handle(at(3721), &command(3720, Command::Resume).1);
    assert!(on.iter().any(|e| matches!(e, Effect::Arm(Timer::Hint, due) if *due > at(3721))), "{on:?}");
    assert!(on.contains(&Effect::Arm(Timer::Limit, at(3700 + 25 * 60))), "{on:?}");
}

/// Ten times compressed the warning says what is left, as "time left" does.
#[test]
fn a_compressed_run_warns_with_the_time_that_is_left() {
    let section = shipped("basic-facial").compressed(10);
    let events = vec![(178, Event::TimerFired(Timer::Warning)), command(178, Command::TimeLeft)];
    let (_, told) = run(section.clone(), Mode::Coach, events);
    assert_eq!(told, ["1 minute 12 seconds left.", "1 minute 11 seconds left."]);
    assert!(Session::announcements(&section, 10).contains(&told[0]));
    let whole = shipped("basic-facial");
    assert_eq!(whole.clone().compressed(1), whole);
}

/// The minutes that are read are not those that pass on a compressed clock: behind them it says so, in a drill too, and where the
/// reading is skipped.
#[test]
fn a_compressed_run_says_how_long_it_lasts() {
    let said = |compress: u32, drill: &[&str], skips_reading: bool| -> Vec<String> {
        let drill = drill.iter().map(|d| d.to_string()).collect();
        let settings = Settings { compress, drill, skips_reading, ..Mode::Coach.into() };
        let section = settings.applied(shipped("basic-facial")).unwrap();
        let mut session = Session::new(section.clone(), settings);
        let told: Vec<Event> = [Event::Opened, Event::SpeechEnded(0), Event::TimerFired(Timer::Gap)].into();
        let effects = told.iter().flat_map(|event| session.handle(at(1), event)).collect::<Vec<_>>();
        let spoken =
            effects.into_iter().filter_map(|e| if let Effect::Speak { text, .. } = e { Some(text) } else { None });
        let spoken: Vec<String> = spoken.collect();
        // What is known beforehand was made beforehand.
        let made = Session::announcements(&section, compress);
        assert!(skips_reading || spoken.iter().all(|text| made.contains(text)), "{spoken:?}");
        spoken
    };
    let clock = "Compressed 10 times: you have 2 minutes 30 seconds.";
    let [first, second] = &said(10, &[], false)[..] else { panic!("two readings") };
    assert!(!first.contains("Compressed") && second.ends_with(clock), "{second}");
    assert_eq!(said(10, &[], true)[0], format!("The reading is skipped. {clock}"));
    let drill = &said(10, &["toner"], false)[0];
    assert_eq!(drill, "A drill: toner. You have 1 minute. Compressed 10 times: you have 6 seconds.");
    assert!([said(1, &[], false), said(1, &["toner"], false)].concat().iter().all(|s| !s.contains("ompressed")));
}

/// The contact time has no minutes in the section: it is held against no plan, on no page and in no data.
#[test]
fn a_step_without_minutes_has_no_plan() {
    let events = vec![
        callout(110, "sanitize hands"),
        callout(120, "disinfect surfaces"),
        callout(200, "contact time"),
        callout(800, "gloves in the bin"),
        command(802, Command::Finished),
    ];
    let (session, _) = run(shipped("station-set-up"), Mode::Coach, events);
    let contact = session.section().steps.iter().position(|s| s.id == "contact-time").unwrap();
    assert_eq!(session.section().steps[contact].plan(), None);
    let text = recap::text(session.section(), session.outcome());
    assert!(text.contains("    1:40  10:00         contact time"), "{text}");
    let spoken = recap::spoken(session.section(), session.outcome());
    assert!(!spoken.contains("Slowest against plan: contact"), "{spoken}");
    let json = json(&session);
    let step = json["steps"].as_array().unwrap().iter().find(|s| s["id"] == "contact-time").unwrap();
    assert!(step["plan_s"].is_null() && step["took_s"] == 600.0, "{step}");
    let csv = recap::csv(&lived(&session));
    assert!(csv.lines().any(|l| l.contains("contact-time") && l.contains(",600.000,,")), "{csv}");
    let page = recap::page(&lived(&session), None);
    let bar = page.split("<title>contact time").next().unwrap().rsplit("<line").next().unwrap();
    assert!(!bar.contains("late"), "{bar}");
    let row = page.split("contact time, surface left wet</th>").nth(1).unwrap().split("</tr>").next().unwrap();
    assert!(row.contains("10:00") && !row.contains('+') && row.matches('\u{2013}').count() == 2, "{row}");
    // Planned minutes of several steps are told only where all of them have some.
    let answer = |name: &str| {
        let question = stepbell::intent::Question::HowLong(name.into());
        recap::answer(session.section(), session.outcome(), None, &question).unwrap()
    };
    assert_eq!(answer("contact time"), "Contact time: 10 minutes.");
}

/// What is called by mistake and taken back counts from where it is called again.
#[test]
fn a_step_lasts_from_its_first_callout_that_was_not_taken_back() {
    let took = |events: &[(u64, Event)]| {
        let tail = [callout(300, "gloves in the bin"), command(310, Command::Finished)];
        let (session, _) = run(shipped("station-set-up"), Mode::Coach, [events, &tail].concat());
        let review = recap::reviewed(session.section(), session.outcome());
        let contact = session.section().steps.iter().position(|s| s.id == "contact-time").unwrap();
        assert!(!format!("{:?}", review.findings).contains("Extra"));
        review.steps.iter().find(|t| t.step == contact).unwrap().took
    };
    let said = [callout(200, "contact time"), callout(240, "contact time")];
    assert_eq!(took(&said), Ms(100_000));
    assert_eq!(took(&[said[0].clone(), command(210, Command::Undo), said[1].clone()]), Ms(60_000));
    // Another word for the same.
    assert_eq!(took(&[said[0].clone(), callout(250, "leave it wet")]), Ms(100_000));
}
