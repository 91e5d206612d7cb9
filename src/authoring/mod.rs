//! From the text of a section file to a section, with every problem found at once. It opens no file.

mod codes;
mod conflict;
mod exam;
mod names;
mod resolve;
mod schema;
mod shape;

pub use codes::{CODES, explain};
pub use exam::{Exam, Part, exam};
pub use resolve::callout_spans;

use crate::problem::{Problem, Severity};
use crate::section::Section;
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
    if text.len() > MAX_TEXT {
        let message = format!("the file has {} bytes; at most {MAX_TEXT} are read", text.len());
        return (None, vec![Problem::error("S001", 0..0, message).help("split the section in two files")]);
    }
    if let Some(at) = too_deep(text) {
        let message = format!("more than {MAX_NESTING} brackets are open here");
        return (None, vec![Problem::error("S021", at..at + 1, message).help("a section file needs two at most")]);
    }
    let mistakes = shape::check(text);
    if !mistakes.is_empty() {
        return (None, mistakes);
    }
    match toml::from_str::<File>(text) {
        Ok(file) => {
            let (section, mut problems) = resolve::resolve(&file, seed);
            problems.sort_by_key(|p| (p.severity, p.span.start));
            (section, problems)
        }
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
    problems.iter().all(|p| p.severity != Severity::Error)
}
