//! Any bytes as the recogniser's answer: words, callouts and what the proctor does of them, never a panic.
#![no_main]
#![allow(dead_code, unused_imports, reason = "the modules are the program's, and not all of each is used here")]

include!("../pure.rs");

use libfuzzer_sys::fuzz_target;
use session::{Event, Session, Timer};
use std::sync::LazyLock;
use time::SampleIndex;

static SECTION: LazyLock<section::Section> = LazyLock::new(|| {
    authoring::read_seeded(include_str!("../../../prompts/skin-care/blood.toml"), 0).0.expect("it is whole")
});

fuzz_target!(|bytes: &[u8]| {
    let mut session = Session::new(SECTION.clone(), outcome::Mode::Coach);
    for event in [Event::Opened, Event::SpeechEnded(0), Event::TimerFired(Timer::Gap), Event::SpeechEnded(1)] {
        session.handle(SampleIndex(16_000), &event);
    }
    session.handle(SampleIndex(32_000), &Event::TimerFired(Timer::Gap));
    session.handle(SampleIndex(48_000), &Event::SpeechEnded(2));
    let vocabulary = callout::Vocabulary::of(&SECTION);
    let mut at = SampleIndex(64_000);
    for answer in bytes.split(|b| *b == b'\n').take(40) {
        // The vosk crate panics on what is no JSON of this shape, and the ears take that for nothing heard.
        let Ok(text) = std::str::from_utf8(answer) else { continue };
        let Ok(answer) = serde_json::from_str::<vosk::CompleteResult>(text) else { continue };
        for heard in vocabulary.find(&result::words(&answer, at)) {
            at = SampleIndex(at.0 + 16_000);
            session.handle(at, &Event::Heard(heard));
        }
    }
    session.handle(at, &Event::MicrophoneEnded);
    session.handle(at, &Event::TimerFired(Timer::Late));
    let _ = recap::text(session.section(), session.outcome());
    assert_eq!(session.digest().len(), 32);
});
