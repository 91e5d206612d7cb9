//! From the text of a section file to a section, with every problem found at once. It opens no file.

mod codes;
mod conflict;
mod exam;
mod hidden;
mod names;
mod resolve;
mod schema;
mod shape;

pub use codes::{CODES, explain};
pub use exam::{Exam, ExamPart, exam, is_exam};
pub use resolve::callout_spans;

use crate::problem::{Level, Problem};
use crate::section::Section;
use crate::text::count;
use schema::File;

/// A machine-readable schema of section files (JSON Schema 2020-12), for editors.
pub const SCHEMA: &str = include_str!("section.schema.json");

/// Longest text accepted, in bytes.
pub const MAX_TEXT: usize = 1 << 20;

/// Deepest nesting accepted: brackets open at once.
const MAX_NESTING: usize = 32;

/// The section in `text` as the proctor would draw it with seed 0, and the problems found. No section where one is an error.
pub fn read(text: &str) -> (Option<Section>, Vec<Problem>) {
    read_seeded(text, 0)
}

/// The section in `text`, its parameters drawn with `seed`.
pub fn read_seeded(text: &str, seed: u64) -> (Option<Section>, Vec<Problem>) {
    let (section, mut problems) = parsed(text, seed);
    if guarded(text).is_ok() {
        problems.extend(hidden::check(text));
    }
    problems.sort_by_key(|p| (p.level, p.span.start));
    let usable = usable(&problems);
    (section.filter(|_| usable), problems)
}

/// The section of a run's journal, drawn with `seed`: what was refused only later does not take the run away.
pub fn read_recorded(text: &str, seed: u64) -> Option<Section> {
    let (section, problems) = parsed(text, seed);
    section.filter(|_| problems.iter().all(|p| p.level != Level::Error || LATER.contains(&p.code)))
}

/// Codes of errors that a file with runs of an earlier version may have: an edition that is no day of the calendar, words that
/// are commands too, placeholders where nothing filled them, and what follows from names of loops and phases, which meant nothing in pairs and rules.
const LATER: [&str; 6] = ["S016", "S037", "S039", "S041", "S051", "S053"];

/// Refuse what no parser should be given.
fn guarded(text: &str) -> Result<(), Problem> {
    if text.len() > MAX_TEXT {
        let message = format!("the file has {}; at most {MAX_TEXT} are read", count(text.len(), "byte"));
        return Err(Problem::error("S001", 0..0, message).help("split the section in two files"));
    }
    match too_deep(text) {
        None => Ok(()),
        Some(at) => {
            let message = format!("more than {MAX_NESTING} brackets are open here");
            Err(Problem::error("S021", at..at + 1, message).help("a section file needs two at most"))
        }
    }
}

/// The section in `text`, whatever else is wrong with it, and the problems found.
fn parsed(text: &str, seed: u64) -> (Option<Section>, Vec<Problem>) {
    if let Err(problem) = guarded(text) {
        return (None, vec![problem]);
    }
    let mistakes = shape::check(text);
    if !mistakes.is_empty() {
        return (None, mistakes);
    }
    match toml::from_str::<File>(text) {
        Ok(file) => resolve::resolve(&file, seed),
        Err(error) => {
            let span = error.span().unwrap_or(0..0);
            let span = span.start.min(text.len())..span.end.min(text.len());
            (None, vec![Problem::error("S022", span, error.message().lines().next().unwrap_or("this is not TOML"))])
        }
    }
}

/// Where brackets are nested too deep for a parser that calls itself.
fn too_deep(text: &str) -> Option<usize> {
    let mut depth = 0usize;
    text.bytes().enumerate().find_map(|(at, byte)| {
        match byte {
            b'[' | b'{' => depth += 1,
            b']' | b'}' => depth = depth.saturating_sub(1),
            b'\n' if depth == 1 => {}
            _ => {}
        }
        (depth > MAX_NESTING).then_some(at)
    })
}

/// The candidate nearest to `word`, where it is near enough to be meant.
pub fn nearest<'a>(word: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    if word.len() > 80 {
        return None;
    }
    candidates
        .map(|c| (strsim::damerau_levenshtein(word, c), c))
        .min()
        .filter(|(distance, c)| *distance <= 1 + c.len() / 4)
        .map(|(_, c)| c)
}

/// Whether a section with these problems can be used.
fn usable(problems: &[Problem]) -> bool {
    problems.iter().all(|p| p.level != Level::Error)
}
