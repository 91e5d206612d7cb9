//! The spoken recap, word for word, for runs of each kind.

use stepbell::outcome::{Ending, Outcome};
use stepbell::review::Called;
use stepbell::time::{Ms, SampleIndex};
use stepbell::{authoring, recap};

/// A run of the basic facial in which these were called, so many seconds apart, and which then ended so.
fn run(called: &[(&str, u64)], ending: Ending) -> String {
    let text = std::fs::read_to_string("prompts/skin-care/basic-facial.toml").unwrap();
    let section = authoring::read(&text).0.unwrap();
    let started = SampleIndex(160_000);
    let mut at = started;
    let mut outcome = Outcome { started: Some(started), ..Outcome::default() };
    for (say, seconds) in called {
        at = at + Ms(seconds * 1000);
        outcome.called.push(Called { say: say.to_string(), at });
    }
    let end = if ending == Ending::TimedOut { started + Ms(25 * 60_000) } else { at + Ms(40_000) };
    outcome.ended = Some((end, ending));
    outcome.phases = vec![(started, Some((end, ending)))];
    recap::spoken(&section, &outcome)
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
            "You finished with 2 minutes 55 seconds to spare. Every step was called, in order. Hand hygiene called twice, 1 minute in \
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
