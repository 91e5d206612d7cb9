//! From the text of a section file to a section, with every problem found at once. It opens no file.

mod schema;

use crate::problem::{Problem, Severity};
use crate::section::{Choice, Clock, MAX_STEPS, Order, Reading, Section, Step};
use crate::time::Ms;
use crate::words::plain;
use schema::File;
use std::collections::BTreeMap;
use toml::Spanned;

/// Longest text accepted, in bytes.
pub const MAX_TEXT: usize = 1 << 20;

/// The section in `text`, and the problems found. No section where one of them is an error.
pub fn read(text: &str) -> (Option<Section>, Vec<Problem>) {
    if text.len() > MAX_TEXT {
        let message = format!("the file has {} bytes; at most {MAX_TEXT} are read", text.len());
        return (None, vec![Problem::error("S001", 0..0, message).help("split the section in two files")]);
    }
    match toml::from_str::<File>(text) {
        Ok(file) => resolve(&file),
        Err(error) => (None, vec![syntax(&error)]),
    }
}

/// A TOML or schema error, with "did you mean" for a mistyped key.
fn syntax(error: &toml::de::Error) -> Problem {
    let message = error.message().trim();
    let problem = Problem::error("S002", error.span().unwrap_or(0..0), message);
    let quoted: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    match quoted.split_first() {
        Some((unknown, known)) if message.starts_with("unknown field") => match nearest(unknown, known.iter().copied())
        {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None => problem.help("remove it, or see the keys listed in DEVELOPERS.md"),
        },
        _ => problem,
    }
}

/// The candidate nearest to `word`, where it is near enough to be meant.
pub fn nearest<'a>(word: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    candidates
        .map(|c| (strsim::damerau_levenshtein(word, c), c))
        .min()
        .filter(|(distance, c)| *distance <= 1 + c.len() / 4)
        .map(|(_, c)| c)
}

/// Names turned to places, and the rules that a schema can't hold.
fn resolve(file: &File) -> (Option<Section>, Vec<Problem>) {
    let mut problems = vec![];
    let mut places = BTreeMap::new();
    if file.step.len() > MAX_STEPS {
        problems.push(Problem::error("S003", 0..0, format!("{} steps; at most {MAX_STEPS} are read", file.step.len())));
        return (None, problems);
    }
    if file.step.is_empty() {
        problems.push(
            Problem::error("S004", 0..0, "the section has no steps")
                .help("add a `[[step]]` with `id`, `title` and `say`"),
        );
    }
    for (place, step) in file.step.iter().enumerate() {
        if places.insert(step.id.as_ref().as_str(), place).is_some() {
            problems.push(Problem::error(
                "S005",
                step.id.span(),
                format!("a second step is called `{}`", step.id.as_ref()),
            ));
        }
    }
    let find = |name: &Spanned<String>, problems: &mut Vec<Problem>| -> Option<usize> {
        let found = places.get(name.as_ref().as_str()).copied();
        if found.is_none() {
            let problem = Problem::error("S006", name.span(), format!("no step is called `{}`", name.as_ref()));
            problems.push(match nearest(name.as_ref(), places.keys().copied()) {
                Some(near) => problem.help(format!("did you mean `{near}`?")),
                None => problem,
            });
        }
        found
    };
    let steps: Vec<Step> = file
        .step
        .iter()
        .map(|s| Step {
            id: s.id.as_ref().clone(),
            title: s.title.clone(),
            say: phrases(&s.say, &mut problems),
            target: Ms::from_minutes(s.minutes),
            after: s.after.iter().filter_map(|n| find(n, &mut problems)).collect(),
            directly_after: s.directly_after.as_ref().and_then(|n| find(n, &mut problems)),
            optional: s.optional,
            critical: s.critical,
            hygiene: s.hygiene,
            caution: s.caution.clone(),
        })
        .collect();
    let choices = file
        .choice
        .iter()
        .map(|c| {
            let of: Vec<usize> = c.of.iter().filter_map(|n| find(n, &mut problems)).collect();
            let at_least = *c.at_least.as_ref();
            if at_least > of.len() {
                let message = format!("{at_least} of {} steps can't be taken", of.len());
                problems.push(Problem::error("S007", c.at_least.span(), message));
            }
            Choice { title: c.title.clone(), of, at_least }
        })
        .collect();
    check_clock(file, &mut problems);
    let section = Section {
        id: file.id.clone(),
        title: file.title.clone(),
        trade: file.trade.clone(),
        board: file.board.clone(),
        edition: file.edition.clone(),
        source: file.source.clone(),
        cautions: file.cautions.clone(),
        reading: Reading {
            sentences: file.reading.sentences.clone(),
            times: file.reading.times,
            again: file.reading.again.clone(),
            begin: file.reading.begin.clone(),
        },
        clock: Clock {
            limit: Ms::from_minutes(*file.clock.minutes.as_ref()),
            warning_left: file.clock.warning_minutes_left.as_ref().map(|w| Ms::from_minutes(*w.as_ref())),
            warning: file.clock.warning.clone(),
            stop: file.clock.stop.clone(),
        },
        finish: phrases(&file.finish, &mut problems),
        steps,
        choices,
    };
    if let Some(cycle) = Order::of(&section).cycle() {
        let names: Vec<&str> = cycle.iter().chain(cycle.first()).map(|&s| section.steps[s].id.as_str()).collect();
        let span = file.step[cycle[0]].id.span();
        problems.push(Problem::error(
            "S008",
            span,
            format!("these steps wait for each other: {}", names.join(" before ")),
        ));
    }
    let usable = problems.iter().all(|p| p.severity != Severity::Error);
    (usable.then_some(section), problems)
}

/// Callouts in the form the recogniser hears; one that has no letters is a problem.
fn phrases(say: &[Spanned<String>], problems: &mut Vec<Problem>) -> Vec<String> {
    say.iter()
        .filter_map(|phrase| {
            let heard = plain(phrase.as_ref());
            if heard.is_empty() {
                problems.push(
                    Problem::error("S009", phrase.span(), "this callout has no letters in it")
                        .help("write the words as they are spoken, in English letters"),
                );
            }
            (!heard.is_empty()).then_some(heard)
        })
        .collect()
}

fn check_clock(file: &File, problems: &mut Vec<Problem>) {
    let minutes = *file.clock.minutes.as_ref();
    if !(0.1..=600.0).contains(&minutes) {
        let message = format!("a limit of {minutes} minutes is outside 0.1 to 600");
        problems.push(Problem::error("S010", file.clock.minutes.span(), message));
    }
    if let Some(left) = &file.clock.warning_minutes_left
        && !(*left.as_ref() > 0.0 && *left.as_ref() < minutes)
    {
        let message = format!("a warning with {} minutes left can't be given in {minutes} minutes", left.as_ref());
        problems.push(
            Problem::error("S011", left.span(), message)
                .help("it says how many minutes are left, not how many are gone"),
        );
    }
    if !(1..=5).contains(&file.reading.times) {
        problems.push(Problem::error(
            "S012",
            0..0,
            format!("the reading is read {} times; 1 to 5 are possible", file.reading.times),
        ));
    }
    let planned: f64 = file.step.iter().filter(|s| !s.optional).map(|s| s.minutes).sum();
    if planned > minutes {
        let message = format!("the steps' minutes add up to {planned:.1}, more than the limit of {minutes}");
        problems.push(Problem::warning("S013", file.clock.minutes.span(), message));
    }
}

/// Where each callout of a step stands in the text, for problems found later (an unknown word, say).
pub fn callout_spans(text: &str) -> Vec<(String, std::ops::Range<usize>)> {
    toml::from_str::<File>(text)
        .map(|file| {
            file.step.iter().flat_map(|s| &s.say).chain(&file.finish).map(|p| (plain(p.as_ref()), p.span())).collect()
        })
        .unwrap_or_default()
}
