//! A made-up school, from a seed: people who learn at their own pace and leave out what they are weak in, each run carried out by
//! the real driver on the paused clock. Readiness is held against what then happened.

use crate::plan::{Chance, Item, Plan};
use crate::run;
use std::path::Path;
use stepbell::authoring;
use stepbell::history::{History, Interval, readiness};
use stepbell::outcome::{Fade, Mode, Past};
use stepbell::session::{Session, Settings};
use stepbell::{journal, recap};

const SECTION: &str = include_str!("../../prompts/skin-care/basic-facial.toml");

/// How many people, and how many runs each.
const PEOPLE: u64 = 30;
const RUNS: u64 = 40;

impl Chance {
    /// From 0 to 1.
    fn share(&mut self) -> f64 {
        self.below(1 << 53) as f64 / (1u64 << 53) as f64
    }
    /// About normal: mean 0, deviation 1.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.share()).sum::<f64>() - 6.0
    }
}

/// How one person is and learns.
pub struct Person {
    pace: f64,
    learning: f64,
    wobble: f64,
    /// Chance to leave a step out in the first run, by step.
    slips: Vec<f64>,
    mending: f64,
}

/// What is rehearsed, how, and when.
pub struct Sitting<'a> {
    pub toml: &'a str,
    pub mode: Mode,
    pub fade: Fade,
    pub past: Option<Past>,
    pub started: &'a str,
    /// In so many of a hundred steps the next one is called first.
    pub swaps: u64,
}

/// One run of a person, their nth, as its journal's bytes.
pub fn rehearse(person: &Person, sitting: Sitting, number: u64, seed: u64) -> Vec<u8> {
    let Sitting { toml, mode, fade, past, started, swaps } = sitting;
    let section = authoring::read_seeded(toml, seed).0.unwrap();
    let section = Settings { fade, ..mode.into() }.applied(section).unwrap();
    let mut chance = Chance::new(seed);
    let speed = person.pace * (-person.learning * number as f64).exp() * (person.wobble * chance.normal()).exp();
    let mut items: Vec<Item> = vec![];
    // The time of the step at work, and of those left out since: nobody takes time for what they forgot.
    let mut pause = 4_000;
    for (place, step) in section.steps.iter().enumerate() {
        let slips = person.slips[place % person.slips.len()] * (-(number as f64) / person.mending).exp();
        if step.optional || step.id == "vibration" || chance.share() < slips {
            continue;
        }
        let words = step.say[0].split(' ').map(str::to_string).collect();
        items.push(Item { phase: 0, pause, words, found: true, delay: 600, cue: None });
        pause = ((step.target.0 as f64 * speed * (0.15 * chance.normal()).exp()) as u64).max(2_000);
    }
    for place in 1..items.len() {
        if swaps > 0 && chance.percent(swaps) {
            let words = std::mem::take(&mut items[place].words);
            items[place].words = std::mem::replace(&mut items[place - 1].words, words);
        }
    }
    let words = section.finish[0].split(' ').map(str::to_string).collect();
    items.push(Item { phase: 0, pause, words, found: true, delay: 600, cue: None });
    let (storage, devices) = (vec![], vec![]);
    let plan = Plan { toml: toml.into(), section, mode, fade, past, items, storage, devices, seed };
    run::journal_of_run(&plan, started)
}

/// The start of a person's nth run: one a day from 2 March 2026.
fn date(number: u64) -> String {
    let (month, day) = if number < 30 { (3, number + 2) } else { (4, number - 29) };
    format!("2026-{month:02}-{day:02}T17:00:00Z")
}

pub fn person(seed: u64) -> Person {
    let mut chance = Chance::new(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5c00_1000);
    let steps = authoring::read_seeded(SECTION, 0).0.unwrap().steps;
    let care = 0.02 + 0.10 * chance.share();
    let weak = chance.below(steps.len() as u64) as usize;
    Person {
        pace: 1.02 + 0.10 * chance.normal(),
        learning: 0.001 + 0.007 * chance.share(),
        wobble: 0.03 + 0.04 * chance.share(),
        slips: (0..steps.len()).map(|s| if s == weak { 0.5 } else { care * chance.share() }).collect(),
        mending: 15.0 + 60.0 * chance.share(),
    }
}

/// Every run of the school: person, number, journal.
fn school() -> Vec<(u64, u64, Vec<u8>)> {
    let next = std::sync::atomic::AtomicU64::new(0);
    let all = std::sync::Mutex::new(vec![]);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, |n| n.get()) {
            scope.spawn(|| {
                loop {
                    let k = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    if k >= PEOPLE * RUNS {
                        return;
                    }
                    let (who, number) = (k / RUNS, k % RUNS);
                    let (mode, fade, past) = (Mode::Exam, Fade::All, None);
                    let sitting = Sitting { toml: SECTION, mode, fade, past, started: &date(number), swaps: 0 };
                    let bytes = rehearse(&person(who), sitting, number, k + 1);
                    all.lock().unwrap().push((who, number, bytes));
                }
            });
        }
    });
    let mut all = all.into_inner().unwrap();
    all.sort_by_key(|(who, number, _)| (*who, *number));
    all
}

/// Writes the school's journals where `SCHOOL` says, and holds readiness against what happened.
#[test]
fn readiness_is_calibrated_on_a_made_up_school() {
    let runs = school();
    if let Some(folder) = std::env::var_os("SCHOOL") {
        for (who, number, bytes) in &runs {
            let person = Path::new(&folder).join(format!("person-{:02}", who + 1));
            std::fs::create_dir_all(&person).unwrap();
            let name = format!("{}-basic-facial.journal", date(*number).replace([':', 'Z'], "-"));
            std::fs::write(person.join(name), bytes).unwrap();
        }
    }
    let (mut forecasts, mut spotless) = (vec![], vec![]);
    for who in 0..PEOPLE {
        let mut history = History::default();
        for (_, number, bytes) in runs.iter().filter(|r| r.0 == who) {
            let journal = journal::read(bytes).unwrap();
            let section = authoring::read_seeded(SECTION, journal.header.settings.seed).0.unwrap();
            let mut session = Session::new(section, Mode::Exam);
            journal.replay(&mut session, |_, _| {});
            let review = recap::reviewed(session.section(), session.outcome());
            let before = (*number >= 8).then(|| readiness(&history, 0, *number).unwrap());
            history.add(session.section(), (1, Fade::All), session.outcome(), &review, (*number as i64, ""));
            let run = history.runs.last().unwrap();
            if let Some(ready) = before {
                forecasts.push((ready.good, f64::from(run.finished && run.critical == 0)));
                spotless.push((ready.spotless, f64::from(run.findings == 0)));
            }
        }
    }
    calibrated("readiness", forecasts);
    calibrated("no finding at all", spotless);
}

/// Hold forecasts against what happened: in tenths of them, the worst first, and by their Brier score beside that of always saying the same.
fn calibrated(name: &str, mut forecasts: Vec<(Interval, f64)>) {
    forecasts.sort_by(|a, b| a.0.mean.total_cmp(&b.0.mean));
    let n = forecasts.len() as f64;
    let brier = forecasts.iter().map(|(p, y)| (p.mean - y).powi(2)).sum::<f64>() / n;
    let rate = forecasts.iter().map(|(_, y)| y).sum::<f64>() / n;
    let mean = |part: &[(Interval, f64)], of: fn(&(Interval, f64)) -> f64| {
        part.iter().map(of).sum::<f64>() / part.len() as f64
    };
    println!("\n  forecast  interval       happened  (runs)");
    let bins: Vec<bool> = forecasts
        .chunks(forecasts.len().div_ceil(10))
        .map(|bin| {
            let (low, high, happened) = (mean(bin, |f| f.0.low), mean(bin, |f| f.0.high), mean(bin, |f| f.1));
            println!("  {:>7.3}  {low:.3} to {high:.3}  {happened:>7.3}  ({})", mean(bin, |f| f.0.mean), bin.len());
            (low..=high).contains(&happened)
        })
        .collect();
    let held = bins.iter().filter(|held| **held).count();
    crate::figure(
        &format!("{name}: of {} bins, those in which what happened lies in the interval", bins.len()),
        held,
        "at least 9",
        held >= 9 && bins.len() == 10,
    );
    let always = rate * (1.0 - rate);
    crate::figure(
        &format!("{name}: Brier score of {n} forecasts, and of always saying {rate:.2}"),
        format!("{brier:.3}, {always:.3}"),
        "the first is less",
        brier < always,
    );
}
