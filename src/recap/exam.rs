//! A whole exam in words: one recap over all of its sections.

use super::{CAUTION, MOST_WORDS, often, reviewed, sentence, span};
use crate::review::{Finding, score};
use crate::section::Section;
use crate::session::{Ending, Outcome};
use crate::time::Ms;
use std::fmt::Write;

/// A section that was gone through.
pub type Went<'a> = (&'a Section, &'a Outcome);

/// How a section ended, as a clause.
fn ended(section: &Section, outcome: &Outcome) -> String {
    let Some(used) = outcome.used() else { return "not started".into() };
    match (outcome.ended.map(|(_, how)| how), section.limit()) {
        (Some(Ending::Finished), Some(limit)) if section.phases.len() == 1 => {
            format!("finished with {} to spare", span(limit.saturating_sub(used)))
        }
        (Some(Ending::Finished), _) => format!("finished after {}", span(used)),
        (Some(Ending::TimedOut), _) => "time ran out".into(),
        (Some(Ending::MicrophoneEnded), _) => format!("the sound ended after {}", span(used)),
        _ => format!("stopped after {}", span(used)),
    }
}

fn things(findings: usize, critical: usize) -> String {
    let things = match findings {
        0 => "nothing to look at".into(),
        1 => "one thing to look at".into(),
        n => format!("{n} things to look at"),
    };
    match critical {
        0 => things,
        _ if critical == findings => format!("{things}, critical"),
        n => format!("{things}, {n} of them critical"),
    }
}

/// Each section in a sentence.
fn lines(parts: &[Went]) -> Vec<String> {
    let line = |(section, outcome): &Went| {
        let findings = reviewed(section, outcome).findings;
        let critical = findings.iter().filter(|f| f.critical(section)).count();
        format!("{}: {}; {}.", section.title, ended(section, outcome), things(findings.len(), critical))
    };
    parts.iter().map(line).collect()
}

/// The critical findings of all sections, as sentences, each with its section.
fn critical(parts: &[Went]) -> Vec<String> {
    let of = |(section, outcome): &Went| {
        let findings = reviewed(section, outcome).findings;
        let critical: Vec<String> = findings
            .iter()
            .filter(|f| f.critical(section))
            .map(|f| format!("{}: {}", section.title, sentence(section, outcome, f)))
            .collect();
        critical
    };
    parts.iter().flat_map(of).collect()
}

/// The section to practise next: most critical findings, then most findings.
fn practise<'a>(parts: &[Went<'a>]) -> Option<&'a str> {
    let weight = |(section, outcome): &&Went| {
        let findings: Vec<Finding> = reviewed(section, outcome).findings;
        (findings.iter().filter(|f| f.critical(section)).count(), findings.len())
    };
    let worst = parts.iter().rev().max_by_key(weight)?;
    (weight(&worst).1 > 0).then_some(worst.0.title.as_str())
}

fn opening(parts: &[Went], planned: usize) -> String {
    let whole = |(_, outcome): &&Went| matches!(outcome.ended, Some((_, Ending::Finished)));
    let finished = parts.iter().filter(whole).count();
    let sections = crate::text::count(planned, "section");
    let went = if parts.len() == planned {
        "The exam is over.".into()
    } else {
        format!("The exam was stopped after {} of {sections}.", parts.len())
    };
    format!("{went} You finished {finished} of {sections} in time.")
}

/// The total recap, spoken in under a minute.
pub fn exam_spoken(parts: &[Went], planned: usize) -> String {
    let mut text = opening(parts, planned);
    let next = practise(parts).map_or("Next, the same again.".into(), |title| format!("Practise next: {title}."));
    let tail = format!("{next} {CAUTION}");
    let words = |text: &str| text.split_whitespace().count();
    let (mut told, critical) = (0, critical(parts));
    let all: Vec<String> = critical.into_iter().chain(lines(parts)).collect();
    for sentence in &all {
        if words(&text) + words(sentence) + words(&tail) > MOST_WORDS - 5 {
            let _ = write!(text, " {} more on the screen.", all.len() - told);
            break;
        }
        let _ = write!(text, " {sentence}");
        told += 1;
    }
    format!("{text} {tail}")
}

/// The total recap for the terminal.
pub fn exam_text(title: &str, parts: &[Went], planned: usize) -> String {
    let mut out = format!("{title}\n{}\n", opening(parts, planned));
    for line in lines(parts) {
        let _ = writeln!(out, "  - {line}");
    }
    let critical = critical(parts);
    if !critical.is_empty() {
        let _ = writeln!(out, "Critical:");
        for line in critical {
            let _ = writeln!(out, "  - {line}");
        }
    }
    let scores: Vec<_> = parts.iter().filter_map(|(s, o)| score(s, &reviewed(s, o))).collect();
    if !scores.is_empty() {
        let (got, of): (u32, u32) = scores.iter().fold((0, 0), |a, s| (a.0 + s.got, a.1 + s.of));
        let _ = writeln!(out, "Points called: {got} of {of}, over {} of the sections.", scores.len());
    }
    let hands: usize = parts.iter().map(|(s, o)| super::hygiene(s, o).len()).sum();
    let used: Ms = parts.iter().filter_map(|(_, o)| o.used()).sum();
    let hands = if hands == 0 { "was never called".to_string() } else { format!("called {}", often(hands)) };
    let _ = writeln!(out, "Hand hygiene {hands}. At work for {}.", span(used));
    let _ = writeln!(out, "{CAUTION}");
    out
}
