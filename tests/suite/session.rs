//! The proctor as a state machine: what is said when, and what counts.

use crate::section::{SHIPPED, shipped};
use stepbell::callout::{Command, Heard, Meaning};
use stepbell::outcome::{Ending, Mode};
use stepbell::recap;
use stepbell::section::{Done, Order};
use stepbell::session::{Effect, Event, Session, Settings, Timer};
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

/// A pause holds the readings too, and what was being read is read again from its beginning. A callout said over it is none.
#[test]
fn a_pause_holds_the_reading() {
    let mut session = Session::new(shipped("basic-facial"), Mode::Exam);
    let command = |command: Command, start: f64| heard(Meaning::Command(command), start);
    let reading = session.handle(at(0.0), &Event::Opened);
    session.handle(at(0.1), &Event::SpeechStarted(0));
    assert_eq!(session.handle(at(3.0), &callout("sanitize", 2.0)), []);
    let held = session.handle(at(5.0), &command(Command::Pause, 4.5));
    assert!(held.iter().any(|e| matches!(e, Effect::Speak { text, urgent: true, .. } if text == "Paused.")));
    assert_eq!(session.handle(at(7.0), &command(Command::Pause, 6.5)), []);
    assert_eq!(session.handle(at(9.0), &command(Command::Resume, 8.5)), reading);
    // In the silence behind it, too.
    session.handle(at(40.0), &Event::SpeechEnded(0));
    assert!(session.handle(at(41.0), &command(Command::Pause, 40.5)).contains(&Effect::Disarm(Timer::Gap)));
    let gap = Effect::Arm(Timer::Gap, at(60.0) + Ms(1500));
    assert_eq!(session.handle(at(60.0), &command(Command::Resume, 59.5)), [gap]);
    session.handle(at(61.0), &callout("sanitize", 60.5));
    assert_eq!(session.outcome().before_start.len(), 1, "a callout in the silence is one");
    assert!(session.handle(at(62.0), &command(Command::StopEverything, 61.5)).contains(&Effect::Close));
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
    assert_eq!(session.outcome().pauses.total(), Ms(60_000));
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
fn undo_takes_a_dropped_item_back_where_that_came_last() {
    let mut session = started(Mode::Exam);
    let order = |command, place: f64| (at(place + 1.0), heard(Meaning::Command(command), place));
    session.handle(at(110.0), &callout("sanitize", 109.0));
    for (place, event) in [order(Command::DroppedItem, 115.0), order(Command::Undo, 119.0)] {
        session.handle(place, &event);
    }
    assert_eq!((session.outcome().called.len(), session.outcome().dropped.len()), (1, 0));
    for (place, event) in
        [order(Command::DroppedItem, 125.0), (at(131.0), callout("mask", 130.0)), order(Command::Undo, 135.0)]
    {
        session.handle(place, &event);
    }
    assert_eq!((session.outcome().called.len(), session.outcome().dropped.len()), (1, 1));
}

#[test]
fn what_steers_a_run_is_answered_in_a_pause() {
    let mut session = started(Mode::Coach);
    let mut say = |command, place: f64| {
        let effects = session.handle(at(place + 1.0), &heard(Meaning::Command(command), place));
        effects.into_iter().find_map(|e| if let Effect::Speak { text, .. } = e { Some(text) } else { None })
    };
    assert_eq!(say(Command::Pause, 400.0).as_deref(), Some("Paused."));
    for command in [Command::Finished, Command::Undo, Command::DroppedItem] {
        assert_eq!(say(command, 420.0).as_deref(), Some("The clock is paused. Say resume first."));
    }
    // The clock stands, and with it what is left.
    assert_eq!(say(Command::TimeLeft, 430.0).as_deref(), Some("20 minutes left."));
    assert_eq!(say(Command::Resume, 460.0).as_deref(), Some("Going on."));
    assert_eq!(say(Command::TimeLeft, 469.0).as_deref(), Some("19 minutes 50 seconds left."));
    // By the time it is said again it is less.
    assert_eq!(say(Command::Repeat, 489.0).as_deref(), Some("19 minutes 30 seconds left."));
    assert!(session.outcome().called.is_empty() && session.outcome().ended.is_none());
}

#[test]
fn stop_everything_ends_without_another_word() {
    let mut session = started(Mode::Exam);
    let effects = session.handle(at(110.0), &heard(Meaning::Command(Command::StopEverything), 109.0));
    assert!(effects.contains(&Effect::Close) && effects.contains(&Effect::Hush));
    assert!(!effects.iter().any(|e| matches!(e, Effect::Speak { .. })));
    assert!(session.closed());
}

/// A whole run on paper: announcements last three seconds, timers fire at their place, and a candidate calls the next step
/// of a lawful order `pace` times its planned minutes after the last, waiting for cues where `patient`.
struct Run {
    session: Session,
    said: Vec<(SampleIndex, String)>,
    now: SampleIndex,
    timers: Vec<(SampleIndex, Timer)>,
    speaking: Vec<(SampleIndex, u32)>,
}

impl Run {
    fn through(name: &str, mode: Mode, pace: f64, patient: bool) -> Run {
        let section = shipped(name);
        let mut run = Run {
            session: Session::new(section.clone(), mode),
            said: vec![],
            now: at(0.0),
            timers: vec![],
            speaking: vec![],
        };
        run.tell(&Event::Opened);
        let (order, mut done) = (Order::of(&section), Done::default());
        for phase in 0..section.phases.len() {
            run.until(|r| r.session.outcome().phases.len() > phase);
            while let Some(step) =
                (0..section.steps.len()).find(|&s| order.may_follow(&done, s) && section.steps[s].phase == phase)
            {
                if patient && section.steps[step].gate.is_some() {
                    run.until(|r| r.session.outcome().cues.iter().any(|(s, _)| *s == step));
                }
                let wait = (section.steps[step].target.seconds() * pace).max(21.0);
                let due = run.now + Ms((wait * 1000.0) as u64);
                run.until(|r| r.now >= due);
                run.tell(&callout(&section.steps[step].say[0], run.now.0 as f64 / 16_000.0 - 0.5));
                done = done.with(step);
            }
            let due = run.now + Ms(25_000);
            run.until(|r| r.now >= due);
            run.tell(&heard(Meaning::Command(Command::Finished), run.now.0 as f64 / 16_000.0));
        }
        run.until(|r| r.session.closed());
        run
    }

    /// Let time go by, a tenth of a second at a time.
    fn until(&mut self, reached: impl Fn(&Run) -> bool) {
        for _ in 0..100_000 {
            if reached(self) {
                return;
            }
            self.now = self.now + Ms(100);
            if let Some(k) = self.speaking.iter().position(|(end, _)| *end <= self.now) {
                let (_, id) = self.speaking.remove(k);
                self.tell(&Event::SpeechEnded(id));
            }
            if let Some(k) = self.timers.iter().position(|(due, _)| *due <= self.now) {
                let (_, timer) = self.timers.remove(k);
                self.tell(&Event::TimerFired(timer));
            }
        }
        panic!("waited for ever: {:?}", self.said);
    }

    fn tell(&mut self, event: &Event) {
        for effect in self.session.handle(self.now, event) {
            match effect {
                Effect::Speak { id, text, .. } => {
                    self.said.push((self.now, text));
                    self.speaking.push((self.now + Ms(3000), id));
                }
                Effect::Arm(timer, due) => {
                    self.timers.retain(|t| t.1 != timer);
                    self.timers.push((due, timer));
                }
                Effect::Disarm(timer) => self.timers.retain(|t| t.1 != timer),
                Effect::Hush
                | Effect::Search(_)
                | Effect::Listen(_)
                | Effect::Sign(_)
                | Effect::Slower
                | Effect::Show(_)
                | Effect::Close => {}
            }
        }
    }

    fn findings(&self) -> Vec<String> {
        let (section, outcome) = (self.session.section(), self.session.outcome());
        recap::reviewed(section, outcome).findings.iter().map(|f| recap::sentence(section, outcome, f)).collect()
    }
}

#[test]
fn a_patient_candidate_goes_through_every_shipped_section_without_a_finding() {
    for (name, _) in SHIPPED {
        let run = Run::through(name, Mode::Exam, 0.5, true);
        assert_eq!(run.findings(), Vec::<String>::new(), "{name}");
        let section = run.session.section();
        let outcome = run.session.outcome();
        assert_eq!(outcome.phases.len(), section.phases.len(), "{name}");
        assert!(
            outcome.phases.iter().all(|p| matches!(p.1, Some((_, Ending::Finished)))),
            "{name}: {:?}",
            outcome.phases
        );
        let said: Vec<&str> = run.said.iter().map(|(_, t)| t.as_str()).collect();
        for phase in &section.phases {
            assert_eq!(
                said.iter().filter(|t| **t == phase.begin).count(),
                section.phases.iter().filter(|p| p.begin == phase.begin).count()
            );
        }
        for cue in section.steps.iter().filter_map(|s| s.gate.as_deref()) {
            assert_eq!(said.iter().filter(|t| **t == cue).count(), 1, "{name}: {cue}");
        }
        assert!(!said.iter().any(|t| t.starts_with("Next: ")), "{name}: no hints in exam mode");
    }
}

#[test]
fn a_step_before_its_cue_is_a_finding() {
    let mut session = started_at(&shipped("brow-wax"));
    session.handle(at(110.0), &callout("tweeze", 109.0));
    session.handle(at(150.0), &heard(Meaning::Command(Command::Finished), 149.0));
    let findings = recap::reviewed(session.section(), session.outcome()).findings;
    let said = |f| recap::sentence(session.section(), session.outcome(), f);
    assert!(findings.iter().any(|f| said(f).starts_with("Before the cue: tweeze three hairs")));
}

/// A section whose start words ended at 100 s.
fn started_at(section: &stepbell::section::Section) -> Session {
    started_with(section, Mode::Exam.into())
}

fn started_with(section: &stepbell::section::Section, settings: Settings) -> Session {
    let mut session = Session::new(section.clone(), settings);
    session.handle(at(0.0), &Event::Opened);
    for (k, time) in [(0, 40.0), (1, 80.0)] {
        session.handle(at(time), &Event::SpeechEnded(k));
        session.handle(at(time + 1.5), &Event::TimerFired(Timer::Gap));
    }
    session.handle(at(100.0), &Event::SpeechEnded(2));
    session
}

#[test]
fn the_coach_hints_once_at_a_step_that_is_overdue() {
    let run = Run::through("make-up", Mode::Coach, 2.2, true);
    let hints: Vec<&str> = run.said.iter().map(|(_, t)| t.as_str()).filter(|t| t.starts_with("Next: ")).collect();
    assert!(!hints.is_empty(), "{:?}", run.said);
    let mut once = hints.clone();
    once.dedup();
    assert_eq!(once, hints, "each hint once");
    let run = Run::through("make-up", Mode::Exam, 2.2, true);
    assert!(!run.said.iter().any(|(_, t)| t.starts_with("Next: ")));
}

/// A step not called is looked for between its neighbours before the recap; what is found is told as perhaps called, and an
/// answer that comes at any other time changes nothing.
#[test]
fn a_step_is_listened_for_again_before_it_is_told_as_not_called() {
    let section = shipped("basic-facial");
    let mut session = started_with(&section, Settings { listens_again: true, ..Mode::Exam.into() });
    let toner = section.steps.iter().position(|s| s.say.contains(&"toner".to_string())).unwrap();
    let order: Vec<usize> = (0..section.steps.len()).collect();
    for (k, step) in order.iter().enumerate().filter(|(_, s)| **s != toner) {
        let time = 110.0 + 10.0 * k as f64;
        session.handle(at(time + 1.0), &callout(&section.steps[*step].say[0], time));
    }
    let early = vec![(toner, at(150.0))];
    assert!(
        session.handle(at(500.0), &Event::Searched(early.clone())).is_empty() && session.outcome().perhaps.is_empty()
    );
    session.handle(at(600.0), &heard(Meaning::Command(Command::Finished), 599.0));
    let effects = session.handle(at(604.0), &Event::TimerFired(Timer::Late));
    // While it looks it says so.
    let [Effect::Speak { .. }, Effect::Search(wanted)] = &effects[..] else { panic!("{effects:?}") };
    let sought = wanted.iter().find(|s| s.step == toner).expect("the toner is looked for");
    assert!(sought.say.contains(&"toner".to_string()) && sought.between.0 < sought.between.1);
    let place = at(110.0 + 10.0 * order.iter().position(|s| *s == toner).unwrap() as f64);
    assert!(sought.between.0 <= place && place <= sought.between.1, "{sought:?} and {place:?}");
    // Cut off here and gone on with, the question is asked again.
    let mut again = session.clone();
    let asked = again.handle(at(604.5), &Event::Away(stepbell::outcome::Absence::Restarted, None));
    assert!(asked.iter().any(|e| matches!(e, Effect::Search(w) if w == wanted)));
    let effects = session.handle(at(605.0), &Event::Searched(vec![(toner, place)]));
    let spoken =
        effects.iter().find_map(|e| if let Effect::Speak { text, .. } = e { Some(text) } else { None }).unwrap();
    let title = &section.steps[toner].title;
    assert!(spoken.contains(&format!("Not heard for sure: {title}, perhaps called at")), "{spoken}");
    assert!(!spoken.contains(&format!("Not called: {title}")), "{spoken}");
    // Without a second listen the recap comes at once, as in runs of before.
    let mut plain = started_at(&section);
    plain.handle(at(600.0), &heard(Meaning::Command(Command::Finished), 599.0));
    let effects = plain.handle(at(604.0), &Event::TimerFired(Timer::Late));
    assert!(effects.iter().any(|e| matches!(e, Effect::Speak { .. })));
}

/// A wait of two minutes by the label: the coach says when it was long enough, once, where the candidate has not gone on; not in an
/// exam. A pause holds the words back, but not the wait.
#[test]
fn a_wait_that_was_long_enough_is_announced_by_the_coach() {
    let text = std::fs::read_to_string("prompts/skin-care/break-down.toml").unwrap();
    let text = text.replacen("# at_least_seconds = 120", "at_least_seconds = 120", 1);
    let section = stepbell::authoring::read(&text).0.unwrap();
    let begun_with = |settings: Settings| started_with(&section.clone().compressed(settings.compress), settings);
    let begun = |mode: Mode, compress: u32| begun_with(Settings { compress, ..mode.into() });
    let armed = |effects: &[Effect]| {
        effects.iter().find_map(|e| if let Effect::Arm(Timer::Wait, place) = e { Some(*place) } else { None })
    };
    let says =
        |effects: &[Effect]| effects.iter().any(|e| matches!(e, Effect::Speak { text, .. } if text == "Long enough."));
    let mut session = begun(Mode::Coach, 1);
    assert_eq!(armed(&session.handle(at(111.0), &callout("contact time", 110.0))), Some(at(230.0)));
    // Said again, the wait is the same one.
    assert_eq!(armed(&session.handle(at(121.0), &callout("leave it wet", 120.0))), Some(at(230.0)));
    assert!(says(&session.handle(at(230.0), &Event::TimerFired(Timer::Wait))));
    assert!(!says(&session.handle(at(231.0), &Event::TimerFired(Timer::Wait))), "once");
    assert_eq!(armed(&session.handle(at(241.0), &callout("contact time", 240.0))), None);

    // Gone on too soon: nothing is announced, and the finding says so.
    let mut session = begun(Mode::Coach, 1);
    session.handle(at(111.0), &callout("contact time", 110.0));
    let effects = session.handle(at(151.0), &callout("gloves in the bin", 150.0));
    assert!(effects.contains(&Effect::Disarm(Timer::Wait)), "{effects:?}");
    assert!(!says(&session.handle(at(230.0), &Event::TimerFired(Timer::Wait))));
    session.handle(at(300.0), &heard(Meaning::Command(Command::Finished), 299.0));
    let told = recap::spoken(session.section(), session.outcome());
    assert!(told.contains("Too short: contact time, surface left wet, 40 seconds for at least 2 minutes."), "{told}");

    // What was taken back begins the wait before it again.
    let mut session = begun(Mode::Coach, 1);
    session.handle(at(111.0), &callout("contact time", 110.0));
    session.handle(at(151.0), &callout("gloves in the bin", 150.0));
    let effects = session.handle(at(153.0), &heard(Meaning::Command(Command::Undo), 152.0));
    assert_eq!(armed(&effects), Some(at(230.0)));

    // Paused in between, long enough by then: said when it goes on.
    let mut session = begun(Mode::Coach, 1);
    session.handle(at(111.0), &callout("contact time", 110.0));
    let effects = session.handle(at(151.0), &heard(Meaning::Command(Command::Pause), 150.0));
    assert!(effects.contains(&Effect::Disarm(Timer::Wait)));
    let effects = session.handle(at(401.0), &heard(Meaning::Command(Command::Resume), 400.0));
    assert_eq!(armed(&effects), Some(at(401.0)));
    assert!(says(&session.handle(at(401.0), &Event::TimerFired(Timer::Wait))));
    session.handle(at(410.0), &callout("gloves in the bin", 409.0));
    session.handle(at(500.0), &heard(Meaning::Command(Command::Finished), 499.0));
    let told = recap::spoken(session.section(), session.outcome());
    assert!(!told.contains("Too short"), "{told}");

    // Ten times compressed: a tenth of it; a hundred times: over before anybody waits for it.
    let mut session = begun(Mode::Coach, 10);
    assert_eq!(armed(&session.handle(at(111.0), &callout("contact time", 110.0))), Some(at(122.0)));
    let mut session = begun(Mode::Coach, 100);
    assert_eq!(armed(&session.handle(at(111.0), &callout("contact time", 110.0))), None);
    // The rub of the hands, 20 seconds, is house advice: announced with a headset only, since it comes often.
    let mut session = begun(Mode::Coach, 1);
    assert_eq!(armed(&session.handle(at(111.0), &callout("sanitize hands", 110.0))), None);
    let mut session = begun_with(Settings { headset: true, ..Mode::Coach.into() });
    assert_eq!(armed(&session.handle(at(111.0), &callout("sanitize hands", 110.0))), Some(at(130.0)));
    // Never in an exam.
    let mut session = begun(Mode::Exam, 1);
    assert_eq!(armed(&session.handle(at(111.0), &callout("contact time", 110.0))), None);
}
