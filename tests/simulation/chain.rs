//! A made-up chain of schools, from a seed: people in classes who rehearse three sections over four months, with breaks, exams and
//! fading callouts, each run carried out by the real driver. Its journals are what archives and the twelve questions are tried on.

use crate::plan::Chance;
use crate::school::{Person, Sitting, person, rehearse};
use std::path::Path;
use stepbell::authoring;
use stepbell::history::{History, past};
use stepbell::outcome::{Fade, Mode};
use stepbell::session::{Session, Settings};
use stepbell::{journal, recap};

const SECTIONS: [&str; 3] = [
    include_str!("../../prompts/skin-care/basic-facial.toml"),
    include_str!("../../prompts/skin-care/make-up.toml"),
    include_str!("../../prompts/skin-care/blood.toml"),
];

const CLASSES: [(&str, &str); 4] =
    [("north", "monday"), ("north", "tuesday"), ("south", "evening"), ("south", "monday")];

/// Second of the first run: 2 March 2026, 9:00 UTC.
const BEGAN: i64 = 1_772_442_000;

/// All runs of one person, oldest first: when each began, its section's name, its journal.
fn life(who: u64, runs: u64) -> Vec<(String, String, Vec<u8>)> {
    let mut chance = Chance::new(who ^ 0xc4a1);
    let one: Person = person(who);
    let mut began = BEGAN + 60 * chance.below(10_000) as i64;
    let (mut history, mut done) = (History::default(), [0; 3]);
    (0..runs)
        .map(|number| {
            // Most days one, now and then a week or a month without.
            began += 3_600
                * (match chance.below(20) {
                    0 => 24 * chance.between(28, 35),
                    1..=3 => 24 * chance.between(7, 12),
                    _ => chance.between(4, 40),
                }) as i64;
            let kind = [0, 0, 0, 1, 2][chance.below(5) as usize];
            let mode = if number % 10 == 9 { Mode::Exam } else { Mode::Coach };
            let fade = if kind == 0 && number > runs / 2 && chance.percent(30) { Fade::Hygiene } else { Fade::All };
            let seed = who * 10_000 + number + 1;
            let settings = Settings { fade, ..mode.into() };
            let section = settings.applied(authoring::read_seeded(SECTIONS[kind], seed).0.unwrap()).unwrap();
            let started = jiff::Timestamp::from_second(began).unwrap().to_string();
            let past = past(&history, &section, 1);
            let sitting = Sitting { toml: SECTIONS[kind], mode, fade, past, started: &started, swaps: 2 };
            let bytes = rehearse(&one, sitting, done[kind], seed);
            done[kind] += 1;
            let lived = journal::read(&bytes).unwrap();
            let mut session = Session::new(section, lived.header.settings.clone());
            assert_eq!(lived.replay(&mut session, |_, _| {}), None, "a digest differs");
            assert!(session.told_all());
            let review = recap::reviewed(session.section(), session.outcome());
            history.add(session.section(), (1, fade), session.outcome(), &review, (began, &seed.to_string()));
            (started, session.section().id.clone(), bytes)
        })
        .collect()
}

/// Writes the chain's journals where `CHAIN` says, as `SCHOOL/CLASS/PERSON/RUN.journal`; without it, a few runs are made and looked at.
#[test]
fn a_chain_of_schools_rehearses() {
    let folder = std::env::var_os("CHAIN");
    let number = |name: &str, usual| std::env::var(name).ok().and_then(|n| n.parse().ok()).unwrap_or(usual);
    let (people, runs) = (number("PEOPLE", 1), if folder.is_some() { number("RUNS", 50) } else { 8 });
    let whole = std::sync::atomic::AtomicU64::new(0);
    std::thread::scope(|scope| {
        for half in 0..2 {
            let (folder, whole) = (folder.as_ref(), &whole);
            scope.spawn(move || {
                for who in (0..people * CLASSES.len() as u64).filter(|who| who % 2 == half) {
                    let (school, class) = CLASSES[(who % 4) as usize];
                    for (started, section, bytes) in life(who, runs) {
                        whole.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                        let Some(folder) = folder else { continue };
                        let person = Path::new(folder).join(school).join(class).join(format!("person-{who:02}"));
                        std::fs::create_dir_all(&person).unwrap();
                        let name = format!("{}-{section}.journal", started.replace([':', 'Z'], "-"));
                        std::fs::write(person.join(name), bytes).unwrap();
                    }
                }
            });
        }
    });
    assert_eq!(whole.into_inner(), people * runs * CLASSES.len() as u64);
}
