//! TOML text → a whole exam: its sections in order, and what comes between them. It opens no file.

use super::{guarded, hidden};
use crate::problem::{Level, Problem};
use serde::Deserialize;
use toml::Spanned;
use toml::de::DeTable;

/// Longest time between two sections, in minutes.
const LONGEST: f64 = 60.0;

/// An exam of several sections.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exam {
    /// Short name.
    pub id: String,
    /// As shown and spoken.
    pub title: String,
    /// Whose exam it is.
    pub board: String,
    /// Where its order comes from.
    pub source: String,
    /// Percent of all points needed to pass, where the board has such a mark.
    pub pass_mark: Option<Spanned<u8>>,
    /// The sections, in order; at least one.
    #[serde(rename = "section")]
    pub sections: Vec<ExamPart>,
}

/// A section of an exam.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExamPart {
    /// The section's file, from the exam's folder on.
    pub file: Spanned<String>,
    /// What the proctor says before it, also where it is the first; nothing where it is empty.
    #[serde(default)]
    pub before: String,
    /// How long the candidate waits, or gets ready, before its instructions are read; 0 to 60.
    #[serde(default = "none")]
    pub minutes_before: Spanned<f64>,
}

fn none() -> Spanned<f64> {
    Spanned::new(0..0, 0.0)
}

/// Whether `text` is an exam's and not a section's: it names sections, and has no steps of its own.
pub fn is_exam(text: &str) -> bool {
    if guarded(text).is_err() {
        return false;
    }
    let (table, _) = DeTable::parse_recoverable(text);
    let has = |key: &str| table.get_ref().keys().any(|k| k.get_ref() == key);
    has("section") && !has("step") && !has("reading")
}

/// The exam in `text`, and the problems found. No exam where one is an error.
pub fn exam(text: &str) -> (Option<Exam>, Vec<Problem>) {
    if let Err(problem) = guarded(text) {
        return (None, vec![problem]);
    }
    let mut problems = hidden::check(text);
    let exam = match toml::from_str::<Exam>(text) {
        Ok(exam) => {
            problems.extend(wrong(&exam));
            Some(exam)
        }
        Err(error) => {
            let span = error.span().unwrap_or(0..0);
            let span = span.start.min(text.len())..span.end.min(text.len());
            let problem = Problem::error("S071", span, error.message().trim().lines().next().unwrap_or("not TOML"));
            problems.push(problem.help("prompts/mock-exam.toml shows what an exam file holds"));
            None
        }
    };
    problems.sort_by_key(|p| (p.level, p.span.start));
    (exam.filter(|_| problems.iter().all(|p| p.level != Level::Error)), problems)
}

fn wrong(exam: &Exam) -> Vec<Problem> {
    let minutes = exam.sections.iter().map(|part| &part.minutes_before);
    let out = minutes.filter(|m| !(0.0..=LONGEST).contains(m.as_ref())).map(|m| {
        let message = format!("minutes_before is {}; it goes from 0 to {LONGEST}", m.as_ref());
        Problem::error("S072", m.span(), message)
    });
    let none = exam
        .sections
        .is_empty()
        .then(|| Problem::error("S071", 0..0, "it has no [[section]]").help("add a `[[section]]` with its `file`"));
    let mark = exam.pass_mark.as_ref().filter(|m| *m.as_ref() > 100).map(|mark| {
        Problem::error("S036", mark.span(), format!("a pass mark of {} percent can't be reached", mark.as_ref()))
    });
    none.into_iter().chain(out).chain(mark).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_exam_is_whole() {
        let text = include_str!("../../prompts/mock-exam.toml");
        assert!(is_exam(text));
        assert!(!is_exam(include_str!("../../prompts/skin-care/basic-facial.toml")));
        let (exam, problems) = exam(text);
        assert_eq!(problems, []);
        let exam = exam.unwrap();
        assert_eq!(exam.sections.len(), 6);
        assert!(exam.sections[1..].iter().all(|p| !p.before.is_empty()));
    }

    #[test]
    fn what_is_wrong_is_said() {
        let head = "id = \"a\"\ntitle = \"A\"\nboard = \"B\"\nsource = \"C\"\n";
        let wrong = |more: &str| {
            let (none, problems) = exam(&format!("{head}{more}"));
            assert!(none.is_none());
            (problems[0].code, problems[0].message.clone(), head.len() <= problems[0].span.start)
        };
        assert_eq!(wrong("section = []"), ("S071", "it has no [[section]]".into(), false));
        for minutes in ["-1", "nan", "61"] {
            let (code, message, here) = wrong(&format!("[[section]]\nfile = \"a\"\nminutes_before = {minutes}"));
            assert!(code == "S072" && message.contains("from 0 to 60") && here, "{message}");
        }
        let (code, message, here) = wrong("[[section]]\nfil = \"a\"");
        assert!(code == "S071" && message.contains("fil") && here, "{message}");
    }
}
