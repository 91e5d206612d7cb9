//! The spoken recap, word for word, for runs of each kind.

use stepbell::intent::Question;
use stepbell::outcome::{Ending, Outcome};
use stepbell::review::Called;
use stepbell::section::Section;
use stepbell::time::{Ms, SampleIndex};
use stepbell::{authoring, recap};

fn shipped(name: &str) -> Section {
    let text = std::fs::read_to_string(format!("prompts/{name}.toml")).unwrap();
    authoring::read(&text).0.unwrap()
}

/// The recap of a run of the basic facial in which these were called, so many seconds apart, and which then ended so.
fn run(called: &[(&str, u64)], ending: Ending) -> String {
    recap::spoken(&shipped("skin-care/basic-facial"), &went(called, ending))
}

/// A run in which these were called, so many seconds apart, and which then ended so; "dropped item" is one that is dropped.
fn went(called: &[(&str, u64)], ending: Ending) -> Outcome {
    let started = SampleIndex(160_000);
    let mut at = started;
    let mut outcome = Outcome { started: Some(started), ..Outcome::default() };
    for (say, seconds) in called {
        at = at + Ms(seconds * 1000);
        match *say {
            "dropped item" => outcome.dropped.push(at),
            say => outcome.called.push(Called { say: say.to_string(), at }),
        }
    }
    let end = if ending == Ending::TimedOut { started + Ms(25 * 60_000) } else { at + Ms(40_000) };
    outcome.ended = Some((end, ending));
    outcome.phases = vec![(started, Some((end, ending)))];
    outcome
}

const WHOLE: [(&str, u64); 25] = [
    ("sanitize hands", 5),
    ("body drape", 30),
    ("head drape", 40),
    ("sanitize hands", 40),
    ("eye makeup off", 30),
    ("lip color", 40),
    ("cleanse the face", 40),
    ("remove cleanser", 80),
    ("analyze the skin", 60),
    ("exfoliate", 30),
    ("test the towel", 110),
    ("steam towel", 10),
    ("remove the towel", 60),
    ("massage cream", 80),
    ("effleurage", 30),
    ("petrissage", 80),
    ("friction", 70),
    ("tapotement", 70),
    ("final strokes", 60),
    ("remove massage cream", 40),
    ("apply the mask", 40),
    ("remove the mask", 90),
    ("toner", 90),
    ("moisturizer and sunscreen", 20),
    ("undrape and dispose", 40),
];

#[test]
fn the_recap_is_spoken_word_for_word() {
    let without = |left_out: &[&str]| {
        WHOLE.iter().filter(|(say, _)| !left_out.contains(say)).copied().collect::<Vec<(&str, u64)>>()
    };
    let cases = [
        (
            run(&WHOLE, Ending::Finished),
            "You finished with 2 minutes 55 seconds to spare. Every step that the section needs was called, in order. Hand hygiene called twice, 1 minute in \
             all. Next, the same again. I heard what you called, not what you did.",
        ),
        (
            run(&without(&["toner", "test the towel"]), Ending::Finished),
            "You finished with 6 minutes 15 seconds to spare. 2 things to look at. Critical, not called: test the towel on the wrist. A face can burn. \
             Test, then apply: drill that pair. Not called: toner. Hand hygiene called twice, 1 minute in all. Practise next: test the towel on the wrist. I heard what you \
             called, not what you did.",
        ),
        (
            run(&[], Ending::TimedOut),
            "Time ran out before you called the finish. 22 things to look at. Critical, not called: sanitise hands. Critical, not called: \
             test the towel on the wrist. Not called: cleanse face and neck, remove cleanser, exfoliate, apply the steam towel, remove towel and \
             all residue, apply the coloured mask, remove the mask fully, dispose of what was used, and 11 more. Too few: 0 called, where the \
             section asks for four of the five massage movements. Hand hygiene was never called. Practise next: sanitise hands. I heard what you called, not what you did.",
        ),
    ];
    for (found, wanted) in cases {
        assert_eq!(found, wanted);
        // Under a minute at 150 words a minute.
        assert!(found.split_whitespace().count() < 150);
    }
}

/// Hands that answer a dropped item stand for no step of the section, and take their time all the same.
#[test]
fn hands_after_a_dropped_item_count_for_the_time_of_the_hands() {
    let section = shipped("skin-care/basic-facial");
    let mut called = WHOLE.to_vec();
    // 24 seconds of hands, behind ten of cleansing; the last callout before the finish is another's.
    let drop = [
        ("dropped item", 4),
        ("picked up with a tissue", 3),
        ("sanitize hands", 3),
        ("fresh item", 24),
        ("remove cleanser", 20),
    ];
    let place = called.iter().position(|(say, _)| *say == "remove cleanser").unwrap();
    called.splice(place..=place, drop);
    let outcome = went(&called, Ending::Finished);
    let spoken = recap::spoken(&section, &outcome);
    assert!(spoken.contains("Every step that the section needs was called, in order."), "{spoken}");
    // 30 and 30 of the steps' own.
    assert!(spoken.contains("Hand hygiene called 3 times, 1 minute 24 seconds in all."), "{spoken}");
    let ask = |question: Question| recap::answer(&section, &outcome, None, &question).unwrap();
    assert_eq!(
        ask(Question::HowLong("sanitize hands".into())),
        "Sanitize hands, called 3 times: 1 minute 24 seconds in all."
    );
    assert_eq!(ask(Question::Hygiene), "Hand hygiene called 3 times, 1 minute 24 seconds in all.");
}

/// Where only hands are called, nobody is told that every step was, nor how long the hands took.
#[test]
fn with_hygiene_only_nothing_is_told_that_was_not_listened_for() {
    let section = shipped("hair/thermal-curl").hygiene_only().unwrap();
    let outcome = went(&[("sanitize hands", 4), ("sanitize hands", 160)], Ending::Finished);
    assert_eq!(
        recap::spoken(&section, &outcome),
        "You finished with 6 minutes 36 seconds to spare. All hand hygiene that the section needs was called, in order. I listened \
         for nothing else. Hand hygiene called twice. Next, the same again. I heard what you called, not what you did."
    );
    let text = recap::text(&section, &outcome);
    assert!(text.contains("  called  step\n    0:04  sanitise hands\n    2:44  sanitise hands at the end\n"), "{text}");
    let ask = |question: Question| recap::answer(&section, &outcome, None, &question).unwrap();
    for question in [Question::HowLong("sanitize hands".into()), Question::Longest, Question::Over] {
        assert!(ask(question.clone()).starts_with("I can't say: I listened for hands"), "{question:?}");
    }
    let review = recap::reviewed(&section, &outcome);
    let (started, mode) = ("2026-01-01T10:00:00Z", stepbell::outcome::Mode::Coach);
    let view = recap::RunView { section: &section, outcome: &outcome, review, started, mode, compress: 1, seed: 1 };
    let page = recap::page(&view, None);
    assert!(page.contains("how long they took isn't known") && !page.contains("2:40"), "{page}");
}

/// What is told after a silent run was never called, and has no times.
#[test]
fn a_silent_run_is_told_without_callouts_and_times() {
    let section = shipped("hair/thermal-curl").untimed_rules();
    let mut outcome = went(&[("sanitize hands", 4), ("part the hair", 5), ("draping", 5)], Ending::Finished);
    outcome.told = true;
    let text = recap::text(&section, &outcome);
    assert!(text.contains("Critical, not told: iron off, on its stand."), "{text}");
    assert!(text.contains("  - Not told: dispose of what was used."), "{text}");
    assert!(text.contains("  - Out of order: part the section. "), "{text}");
    assert!(!text.contains("called:") && !text.contains("called at"), "{text}");
    let missed = recap::answer(&section, &outcome, None, &Question::Missed).unwrap();
    assert!(missed.starts_with("Not told: "), "{missed}");
}

#[test]
fn titles_with_commas_are_told_apart_and_sentences_begin_in_upper_case() {
    let silence = recap::spoken(&shipped("skin-care/blood"), &went(&[], Ending::TimedOut));
    assert!(
        silence
            .contains("Not called: first-aid items out; absorbent dressing, secured; contaminated goods away; client"),
        "{silence}"
    );
    let section = shipped("barbering/razor-shave");
    let mut outcome = went(&[("draping", 5)], Ending::Finished);
    outcome.phases = outcome.phases.repeat(3);
    let spoken = recap::spoken(&section, &outcome);
    assert!(
        spoken.starts_with("Preparation: You finished with 4 minutes 15 seconds to spare. Strokes: You"),
        "{spoken}"
    );
}

/// The lips came off in their place as far as what comes before them goes; what was not kept is that they come before the cleansing.
#[test]
fn what_is_out_of_order_is_told_with_the_order_that_was_not_kept() {
    let section = shipped("skin-care/basic-facial");
    let says = |moved: &str, behind: &str| {
        let mut called: Vec<(&str, u64)> = WHOLE.iter().filter(|(say, _)| *say != moved).copied().collect();
        called.insert(called.iter().position(|(say, _)| *say == behind).unwrap() + 1, (moved, 40));
        let review = recap::reviewed(&section, &went(&called, Ending::Finished));
        assert_eq!(review.findings.len(), 1, "{:?}", review.findings);
        recap::section_says(&section, &review, &review.findings[0])
    };
    assert_eq!(says("lip color", "exfoliate"), "The section has it before: cleanse face and neck.");
    assert_eq!(
        says("eye makeup off", "exfoliate"),
        "The section has it before: cleanse face and neck. Caution: Work away from the eye, and brace your hand."
    );
    assert_eq!(says("toner", "apply the mask"), "The section has it after: remove the mask fully.");
}

/// What is shown comes in the order in which it is spoken, what is critical first.
#[test]
fn findings_are_shown_in_the_order_they_are_spoken_in() {
    let section = shipped("skin-care/basic-facial");
    let left_out = ["analyze the skin", "test the towel", "petrissage", "friction"];
    let mut called: Vec<(&str, u64)> = WHOLE.iter().filter(|(say, _)| !left_out.contains(say)).copied().collect();
    called.retain(|(say, _)| *say != "toner");
    called.insert(called.iter().position(|(say, _)| *say == "apply the mask").unwrap(), ("toner", 10));
    called.insert(5, ("dropped item", 10));
    let outcome = went(&called, Ending::Finished);
    let review = recap::reviewed(&section, &outcome);
    assert!(review.findings.len() > 4 && review.findings[0].critical(&section), "{:?}", review.findings);
    let (spoken, text) = (recap::spoken(&section, &outcome), recap::text(&section, &outcome));
    let places = |told: &str| -> Vec<usize> {
        let place = |f| told.find(&recap::sentence(&section, &outcome, f)).unwrap_or_else(|| panic!("{f:?}: {told}"));
        review.findings.iter().map(place).collect()
    };
    assert!(places(&spoken).is_sorted(), "{spoken}");
    assert!(places(&text).is_sorted(), "{text}");
}

/// Where nothing was called, no table stands without a row; where nothing went unheard, nothing is told of it.
#[test]
fn nothing_is_shown_that_says_nothing() {
    let section = shipped("skin-care/basic-facial");
    let mut outcome = went(&[], Ending::TimedOut);
    let text = recap::text(&section, &outcome);
    assert!(!text.contains("called   took") && !text.contains("went unheard"), "{text}");
    outcome.masked = Ms(3_000);
    assert!(recap::text(&section, &outcome).contains("While the proctor spoke, 3 seconds of sound went unheard."));
}
