//! An answer for every kind of question, against a run of six steps whose times were reckoned by hand.

use stepbell::authoring;
use stepbell::callout::{Command, Heard, Meaning};
use stepbell::intent::Question::{self, *};
use stepbell::outcome::{Former, Mode, Past};
use stepbell::recap;
use stepbell::session::{Event, Session, Timer};
use stepbell::time::{Ms, SampleIndex};

const SECTION: &str = r#"
id = "six"
title = "Six steps"
trade = "skin care"
board = "Tarnmoor Board of Personal Care (invented)"
edition = "2026-01-01"
source = "Invented, for a test."
cautions = ["Follow the label.", "Local rules come first."]
finish = ["finished"]
[reading]
times = 1
sentences = ["This is short."]
again = "Once more."
begin = "You may begin now."
[clock]
minutes = 8
warning_minutes_left = 4
warning = "Four minutes left."
stop = "Time."
[[step]]
id = "hands"
title = "sanitise hands"
say = ["sanitize hands"]
minutes = 0.5
hygiene = true
[[step]]
id = "drape"
title = "drape the body"
say = ["body drape"]
minutes = 0.5
after = ["hands"]
[[step]]
id = "cleanse"
title = "cleanse the face"
say = ["cleanse"]
minutes = 1
after = ["drape"]
[[step]]
id = "toner"
title = "toner"
say = ["toner"]
minutes = 0.5
after = ["cleanse"]
[[step]]
id = "mask"
title = "apply the mask"
say = ["mask"]
minutes = 2
after = ["cleanse"]
hint = "Even, and away from the eyes."
caution = "Keep it out of the eyes."
published = "3.2"
[[step]]
id = "mask-off"
title = "remove the mask"
say = ["remove the mask"]
minutes = 0.5
after = ["mask"]
"#;

/// The clock starts at 100 s. Called on it: the drape at 10 s, hands at 30, cleanse at 60, mask at 150, the mask off at 300. An item drops at 5. It
/// is held from 320 for 20 s, and 340 are on the clock at the finish. Toner is never called.
fn run() -> Session {
    let mut session = Session::new(authoring::read(SECTION).0.unwrap(), Mode::Coach);
    let at = |seconds: u64| SampleIndex(0) + Ms(seconds * 1000);
    let heard = |seconds: u64, meaning| {
        Event::Heard(Heard { meaning, start: at(seconds), end: at(seconds + 1), confidence: 1.0 })
    };
    session.handle(at(0), &Event::Opened);
    session.handle(at(90), &Event::SpeechEnded(0));
    session.handle(at(92), &Event::TimerFired(Timer::Gap));
    session.handle(at(100), &Event::SpeechEnded(1));
    session.handle(at(106), &heard(105, Meaning::Command(Command::DroppedItem)));
    for (seconds, say) in [(110, "body drape"), (130, "sanitize hands"), (160, "cleanse"), (250, "mask")] {
        session.handle(at(seconds + 1), &heard(seconds, Meaning::Callout(say.into())));
    }
    session.handle(at(401), &heard(400, Meaning::Callout("remove the mask".into())));
    session.handle(at(421), &heard(420, Meaning::Command(Command::Pause)));
    session.handle(at(441), &heard(440, Meaning::Command(Command::Resume)));
    session.handle(at(461), &heard(460, Meaning::Command(Command::Finished)));
    session.handle(at(465), &Event::TimerFired(Timer::Late));
    session
}

#[test]
fn every_kind_of_question_is_answered_right() {
    let session = run();
    let last = Former { used: Ms(400_000), finished: true, findings: 9, critical: 0 };
    let best = Former { used: Ms(300_000), findings: 0, ..last };
    let past = Past { runs: 6, last, best, ready: Some((70, 50, 85)), weak: vec!["toner".into()], usual: vec![] };
    let answer = |question: &Question| recap::answer(session.section(), session.outcome(), Some(&past), question);
    let name = |name: &str| name.to_string();
    let some = |name: &str| Some(name.to_string());
    let whole = [
        (
            HowLong(name("mask")),
            "Mask: 2 minutes 30 seconds, planned 2 minutes. Remove the mask: 40 seconds, planned 30 seconds.",
        ),
        (HowLong(name("cleanse")), "Cleanse: 1 minute 30 seconds, planned 1 minute."),
        (When(name("cleanse")), "Cleanse, called once, at: 1 minute."),
        (Called(name("toner")), "I did not hear toner called."),
        (HowOften(name("cleanse")), "Cleanse, called once, at: 1 minute."),
        (
            Longest,
            "Longest: apply the mask, 2 minutes 30 seconds, planned 2 minutes. Then cleanse the face, 1 minute 30 seconds, planned 1 minute.",
        ),
        (
            Shortest,
            "Shortest: drape the body, 20 seconds, planned 30 seconds. Then sanitise hands, 30 seconds, planned 30 seconds.",
        ),
        (
            Over,
            "Over plan: cleanse the face by 30 seconds, apply the mask by 30 seconds, remove the mask by 10 seconds.",
        ),
        (Under, "Under plan: drape the body by 10 seconds."),
        (Planned(name("cleanse")), "Cleanse: 1 minute planned."),
        (Total, "5 minutes 40 seconds in all, of 8 minutes."),
        (Limit, "The limit is 8 minutes."),
        (Order(name("mask"), name("cleanse")), "First cleanse, at 1 minute; then mask, at 2 minutes 30 seconds."),
        (Between(name("cleanse"), name("mask")), "1 minute 30 seconds from cleanse to mask."),
        (Count, "I heard 5 callouts, which stand for 5 of 6 steps."),
        (First, "First: body drape, at 10 seconds."),
        (Last, "Last: remove the mask, at 5 minutes."),
        (Hygiene, "Hand hygiene called once, 30 seconds."),
        (Critical, "Nothing critical in what I heard."),
        (Well, "4 of 6 steps called in place. Within their plan: 1."),
        (Points, "This section has no points."),
        (Dropped, "Dropped items: 1."),
        (Paused, "The clock was held for 20 seconds."),
        (
            Ready,
            "By your 6 runs before this one: a 70 percent chance that the next has nothing critical and ends in time, between 50 and 85.",
        ),
        (
            Needs(name("mask")),
            "Apply the mask: Even, and away from the eyes. It comes after: cleanse the face. Planned: 2 minutes. Caution: Keep it out of the eyes.",
        ),
        (Caution(some("mask")), "Mask: Keep it out of the eyes."),
        (Caution(None), "Follow the label. Local rules come first."),
        (Source(some("mask")), "Mask: published, 3.2. Invented, for a test."),
        (Source(None), "Invented, for a test."),
        (Next(some("cleanse")), "After cleanse: toner. Or, in free order with it: apply the mask."),
        (Next(some("remove the mask")), "That is the last step."),
        (Next(None), "First: sanitise hands."),
        (Prior(name("toner")), "Before toner: cleanse the face."),
        (Explain(some("cleanse")), "I have no finding about cleanse."),
    ];
    for (question, told) in &whole {
        assert_eq!(answer(question).as_deref(), Some(*told), "{question:?}");
    }
    // What is worded elsewhere must say this.
    let parts: [(Question, &[&str]); 11] = [
        (Missed, &["Not called: toner."]),
        (Left, &["2 minutes 20 seconds"]),
        (Misplaced, &["Out of order: "]),
        (Findings, &["Not called: toner.", "Out of order: ", "ropped item called at"]),
        (Summary, &["toner", "Out of order: "]),
        (WithLast, &[" now, 9 last time.", "1 minute faster."]),
        (WithBest, &[" now, 0 in your best.", "40 seconds slower."]),
        (Practise, &["Practise next: ", "By your 6 runs before: toner."]),
        (Explain(some("toner")), &["Not called: toner."]),
        (Explain(None), &["."]),
        (Help, &["what did I miss"]),
    ];
    for (question, told) in &parts {
        let got = answer(question).unwrap();
        assert!(told.iter().all(|part| got.contains(part)), "{question:?}: {got}");
    }
    for wish in [Repeat, Slower, Again, Enough] {
        assert_eq!(answer(&wish), None, "{wish:?} is a wish");
    }
    // None is left out: each kind is in one of the lists, by the name that a journal has.
    let kind = |q: &Question| serde_json::to_string(q).unwrap().split(['"', ':']).nth(1).unwrap().to_string();
    let mut kinds: Vec<String> = whole.iter().map(|w| kind(&w.0)).chain(parts.iter().map(|p| kind(&p.0))).collect();
    kinds.sort();
    kinds.dedup();
    assert_eq!(kinds.len() + 4, 42, "{kinds:?}");
}

/// The same run where the mask is critical: it took longest and went furthest over its plan, and neither is told.
#[test]
fn care_is_left_out_of_what_took_long() {
    let session = run();
    let mut section = session.section().clone();
    section.steps.iter_mut().find(|s| s.id == "mask").unwrap().critical = true;
    let answer = |question: Question| recap::answer(&section, session.outcome(), None, &question).unwrap();
    assert_eq!(
        answer(Longest),
        "Longest: cleanse the face, 1 minute 30 seconds, planned 1 minute. Then remove the mask, 40 seconds, planned 30 seconds. \
         I leave out what keeps hands and people safe: it takes its time."
    );
    assert_eq!(
        answer(Over),
        "Over plan: cleanse the face by 30 seconds, remove the mask by 10 seconds. \
         I leave out what keeps hands and people safe: it takes its time."
    );
    assert_eq!(
        answer(HowLong("mask".into())),
        "Mask: 2 minutes 30 seconds. Remove the mask: 40 seconds, planned 30 seconds."
    );
    assert_eq!(answer(Under), "Under plan: drape the body by 10 seconds.");
}
