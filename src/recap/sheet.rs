//! The board's criteria beside a run, in words, on the page and as data; and where each finding's demand comes from.

use crate::outcome::Outcome;
use crate::review::{Claim, Finding, Review, Score, sheet};
use crate::section::{DropAnswer, Section};
use maud::{Markup, html};
use serde::Serialize;

/// A criterion as data has it.
#[derive(Serialize)]
pub(super) struct CriterionData<'a> {
    number: &'a str,
    text: &'a str,
    claim: Claim,
    infection_control: bool,
    points: u32,
}

/// The sheet of a run; empty for a section without criteria.
pub(super) fn lines<'a>(section: &'a Section, outcome: &Outcome, review: &Review) -> Vec<CriterionData<'a>> {
    let claims = sheet(section, &outcome.called, review);
    let line = |(c, claim): (&'a crate::section::Criterion, Claim)| CriterionData {
        number: &c.id,
        text: &c.text,
        claim,
        infection_control: c.infection,
        points: c.points,
    };
    section.criteria.iter().zip(claims).map(line).collect()
}

/// The sheet for the terminal: what was claimed by number, all else with its words.
pub(super) fn text(section: &Section, outcome: &Outcome, review: &Review) -> String {
    let lines = lines(section, outcome, review);
    if lines.is_empty() {
        return String::new();
    }
    let of = |claim: Claim| lines.iter().filter(move |l| l.claim == claim);
    let numbers: Vec<&str> = of(Claim::Claimed).map(|l| l.number).collect();
    let told = if numbers.is_empty() { "none".into() } else { numbers.join(", ") };
    let mut out = format!("\nCriteria claimed: {} of {} ({told}).\n", numbers.len(), lines.len());
    for claim in [Claim::Contradicted, Claim::NotClaimed, Claim::NotReached, Claim::CantBeHeard] {
        for line in of(claim) {
            out += &format!("  {} {}: {}\n", line.number, claim.in_words(), line.text);
        }
    }
    out
}

/// The sheet for the page.
pub(super) fn table(section: &Section, outcome: &Outcome, review: &Review) -> Markup {
    let lines = lines(section, outcome, review);
    let points = lines.iter().any(|l| l.points > 0);
    html! {
        @if !lines.is_empty() {
            h2 { "The board's criteria" }
            div.scroll tabindex="0" role="region" aria-label="Criteria" {
                table {
                    caption { span { "By their number in the source, in our own words. Claimed is what was called; nobody saw it." } }
                    thead { tr { th scope="col" { "Criterion" } th scope="col" { "In this run" } @if points { th scope="col" { "Points" } } } }
                    tbody { @for line in &lines { tr {
                        th scope="row" { (line.number) " " (line.text) }
                        td { (line.claim.in_words()) }
                        @if points { td { (line.points) } }
                    } } }
                }
            }
        }
    }
}

/// A score in a sentence.
pub(super) fn points(score: &Score) -> String {
    let unheard = match score.unheard {
        0 => String::new(),
        n => format!("; {n} more can't be heard, an observer gives them"),
    };
    let verdict = match score.passed {
        Some(true) => ", at or above the board's mark",
        Some(false) => ", below the board's mark or with a critical finding",
        None => "",
    };
    format!("Points called: {} of {}{unheard}{verdict}.", score.got, score.of)
}

/// Whether a section's file says where its demands come from.
pub(super) fn marked(section: &Section) -> bool {
    !section.criteria.is_empty() || section.steps.iter().any(|s| s.published.is_some())
}

/// Where the demand behind a finding comes from, as a clause in brackets; empty where the file doesn't say, or it has none.
pub(super) fn origin(section: &Section, finding: &Finding) -> String {
    let fact = matches!(
        finding,
        Finding::BeforeStart { .. }
            | Finding::AfterStop { .. }
            | Finding::Extra { .. }
            | Finding::InvariantBroken { .. }
    );
    if fact || !marked(section) {
        return String::new();
    }
    let from =
        finding.published(section).map_or_else(|| "common practice".into(), |source| format!("published, {source}"));
    let critical = match finding.unheard() {
        Some((step, _)) if finding.critical(section) => {
            let critical = section.steps[step].critical_published.as_ref();
            critical.map_or_else(
                || "; critical: common practice".into(),
                |source| format!("; critical: published, {source}"),
            )
        }
        _ => String::new(),
    };
    format!(" ({from}{critical})")
}

/// What did not answer a dropped item, as a clause.
pub(super) fn unanswered(missing: &[DropAnswer]) -> String {
    let words = |answer: &DropAnswer| match answer {
        DropAnswer::Away => "where it went",
        DropAnswer::Fresh => "a fresh one",
        DropAnswer::Hands => "hands after it was put away",
    };
    if missing.is_empty() {
        return String::new();
    }
    format!("; not called: {}", missing.iter().map(words).collect::<Vec<_>>().join(", "))
}
