//! Answers that need other runs than this one.

use crate::outcome::{Former, Outcome, Past};
use crate::recap::{reviewed, spoken};
use crate::review::Finding;
use crate::section::Section;
use crate::time::{Ms, spoken as span};

const NONE: &str = "I know of no earlier whole run of this section.";

/// This run as one to compare.
fn now(section: &Section, outcome: &Outcome) -> Option<Former> {
    let review = reviewed(section, outcome);
    let finished = matches!(outcome.ended, Some((_, crate::outcome::Ending::Finished)));
    let critical = review.findings.iter().filter(|f| f.critical(section)).count() as u32;
    outcome.whole().then(|| Former {
        used: outcome.used().unwrap_or(Ms(0)),
        finished,
        findings: review.findings.len() as u32,
        critical,
    })
}

/// How two runs differ: findings, critical ones, time.
fn compared(section: &Section, outcome: &Outcome, other: &Former, its: &str) -> String {
    let Some(now) = now(section, outcome) else { return "This run is not whole, so I can't compare it.".into() };
    let things = |n: u32| crate::text::count(n as usize, "finding");
    let mut told = format!("{} now, {} {its}.", things(now.findings), other.findings);
    if now.critical + other.critical > 0 {
        told += &format!(" Critical: {} now, {} {its}.", now.critical, other.critical);
    }
    // What is told afterwards has no times, and a run that was cut by its limit none of its own.
    if !outcome.told && now.finished && other.finished {
        let (word, by) = if now.used <= other.used {
            ("faster", other.used.saturating_sub(now.used))
        } else {
            ("slower", now.used.saturating_sub(other.used))
        };
        told += &if by < Ms(1_000) { " As fast.".into() } else { format!(" {} {word}.", super::upper(&span(by))) };
    } else if now.finished != other.finished {
        told += if now.finished { " Finished in time now, not then." } else { " Not finished in time now, but then." };
    }
    told
}

pub fn with_last(section: &Section, outcome: &Outcome, past: Option<&Past>) -> String {
    past.map_or_else(|| NONE.into(), |past| compared(section, outcome, &past.last, "last time"))
}

pub fn with_best(section: &Section, outcome: &Outcome, past: Option<&Past>) -> String {
    past.map_or_else(|| NONE.into(), |past| compared(section, outcome, &past.best, "in your best"))
}

pub fn ready(past: Option<&Past>) -> String {
    match past.map(|p| (p.runs, p.ready)) {
        None | Some((_, None)) => {
            let runs = past.map_or(0, |p| p.runs);
            format!("I can't say yet: it takes {} whole runs before this one, and there are {runs}.", 5)
        }
        Some((runs, Some((mean, low, high)))) => format!(
            "By your {runs} runs before this one: a {mean} percent chance that the next has nothing critical and ends in time, between {low} and {high}."
        ),
    }
}

pub fn practise(section: &Section, outcome: &Outcome, past: Option<&Past>) -> String {
    let review = reviewed(section, outcome);
    let findings: Vec<&Finding> = review.findings.iter().collect();
    let mut told = spoken::practise(section, &review, &findings);
    if let Some(past) = past.filter(|p| !p.weak.is_empty()) {
        told +=
            &format!(" By your {} before: {}.", crate::text::count(past.runs as usize, "run"), past.weak.join(", "));
    }
    told
}
