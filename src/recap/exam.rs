//! A whole exam in words: one recap over all of its sections.

use super::{CAUTION, MOST_WORDS, often, reviewed, sentence, span};
use crate::outcome::{Ending, Outcome};
use crate::review::{Claim, Finding, Score, score, sheet};
use crate::section::Section;
use crate::time::Ms;
use std::fmt::Write;

/// A section that was gone through.
pub type SectionResult<'a> = (&'a Section, &'a Outcome);

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
fn lines(parts: &[SectionResult]) -> Vec<String> {
    let line = |(section, outcome): &SectionResult| {
        let findings = reviewed(section, outcome).findings;
        let critical = findings.iter().filter(|f| f.critical(section)).count();
        format!("{}: {}; {}.", section.title, ended(section, outcome), things(findings.len(), critical))
    };
    parts.iter().map(line).collect()
}

/// The critical findings of all sections, as sentences, each with its section.
fn critical(parts: &[SectionResult]) -> Vec<String> {
    let of = |(section, outcome): &SectionResult| {
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
fn practise<'a>(parts: &[SectionResult<'a>]) -> Option<&'a str> {
    let weight = |(section, outcome): &&SectionResult| {
        let findings: Vec<Finding> = reviewed(section, outcome).findings;
        (findings.iter().filter(|f| f.critical(section)).count(), findings.len())
    };
    let worst = parts.iter().rev().max_by_key(weight)?;
    (weight(&worst).1 > 0).then_some(worst.0.title.as_str())
}

fn opening(parts: &[SectionResult], planned: usize) -> String {
    let whole = |(_, outcome): &&SectionResult| matches!(outcome.ended, Some((_, Ending::Finished)));
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
pub fn exam_spoken(parts: &[SectionResult], planned: usize) -> String {
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

/// The criteria of all sections in one line; none where no section has any.
fn sheet_of(parts: &[SectionResult]) -> Option<String> {
    let claims: Vec<Claim> = parts.iter().flat_map(|(s, o)| sheet(s, &o.called, &reviewed(s, o))).collect();
    let of = |claim: Claim| claims.iter().filter(|c| **c == claim).count();
    (!claims.is_empty()).then(|| {
        format!(
            "Criteria: {} of {} claimed, {} not claimed{}, {} contradicted, {} for an observer.",
            of(Claim::Claimed),
            claims.len(),
            of(Claim::NotClaimed),
            if of(Claim::NotReached) > 0 { format!(", {} not reached", of(Claim::NotReached)) } else { String::new() },
            of(Claim::Contradicted),
            of(Claim::CantBeHeard)
        )
    })
}

/// The points of all sections that have some, and how many sections those are; held against the exam's mark where every section
/// was gone through.
fn total(parts: &[SectionResult], planned: usize, mark: Option<u8>) -> Option<(Score, usize)> {
    let reviews: Vec<_> = parts.iter().map(|(s, o)| (*s, reviewed(s, o), &o.called)).collect();
    let scores: Vec<Score> = reviews.iter().filter_map(|(s, r, called)| score(s, called, r)).collect();
    let clean = !reviews.iter().any(|(s, r, _)| r.findings.iter().any(|f| f.critical(s)));
    let sum = |of: fn(&Score) -> u64| scores.iter().map(of).sum::<u64>();
    let mark = mark.filter(|_| parts.len() == planned);
    let total = Score::against(mark, clean, (sum(|s| s.got), sum(|s| s.unheard), sum(|s| s.of)));
    (!scores.is_empty()).then_some((total, scores.len()))
}

/// The total recap for the terminal; `mark` is the exam's own, in percent of all points.
pub fn exam_text((title, mark): (&str, Option<u8>), parts: &[SectionResult], planned: usize) -> String {
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
    if let Some(line) = sheet_of(parts) {
        let _ = writeln!(out, "{line}");
    }
    if let Some((score, of)) = total(parts, planned, mark) {
        let _ = writeln!(out, "Over {of} of the sections: {}", super::sheet::points(&score));
    }
    let hands: usize = parts.iter().map(|(s, o)| super::hygiene(s, o).len()).sum();
    let used: Ms = parts.iter().filter_map(|(_, o)| o.used()).sum();
    let hands = if hands == 0 { "was never called".to_string() } else { format!("called {}", often(hands)) };
    let _ = writeln!(out, "Hand hygiene {hands}. At work for {}.", span(used));
    let _ = writeln!(out, "{CAUTION}");
    out
}
