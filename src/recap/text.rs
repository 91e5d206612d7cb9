//! The recap for the terminal.

use super::{
    away, caution, corrections, count, ending, guess, not_reached, only_hygiene, reviewed, sentence, sheet, since,
};
use crate::outcome::Outcome;
use crate::review::score;
use crate::section::Section;
use crate::time::{Ms, spoken as span};
use std::fmt::Write;

/// The recap for the terminal: ending, findings, the table of steps, blind time, cautions and source.
pub fn text(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let mut out = format!(
        "{} ({})\n{}\n{}\n",
        section.title,
        section.board,
        ending(section, outcome),
        count(section, outcome, &review)
    );
    for finding in &review.findings {
        let _ = writeln!(out, "  - {}{}", sentence(section, outcome, finding), sheet::origin(section, finding));
    }
    if let Some(not_reached) = not_reached(section, &review, usize::MAX) {
        let _ = writeln!(out, "{not_reached}");
    }
    if let Some(guess) = guess(outcome) {
        let _ = writeln!(out, "{guess}");
    }
    if outcome.told {
        let told: Vec<&str> = outcome.called.iter().map(|c| c.say.as_str()).collect();
        let _ = writeln!(out, "\nA silent run. Told afterwards, in order: {}.", told.join(", "));
    } else if !review.steps.is_empty() && only_hygiene(section) {
        let _ = writeln!(out, "\n  called  step");
    } else if !review.steps.is_empty() {
        let _ = writeln!(out, "\n  called   took   plan  step");
    }
    for time in review.steps.iter().filter(|_| !outcome.told) {
        let step = &section.steps[time.step];
        let at = since(outcome, time.at);
        if only_hygiene(section) {
            let _ = writeln!(out, "  {:>6}  {}", at.to_string(), step.title);
            continue;
        }
        let _ = writeln!(
            out,
            "  {:>6} {:>6} {:>6}  {}",
            at.to_string(),
            time.took.to_string(),
            step.plan().map_or_else(String::new, |plan| plan.to_string()),
            step.title
        );
    }
    out += &sheet::text(section, outcome, &review);
    if let Some(score) = score(section, &outcome.called, &review) {
        let _ = writeln!(out, "\n{}", sheet::points(&score));
    }
    out.push('\n');
    if outcome.masked > Ms(0) {
        let _ = writeln!(out, "While the proctor spoke, {} of sound went unheard.", span(outcome.masked));
    }
    for correction in corrections(section, outcome) {
        let _ = writeln!(out, "You said afterwards: {correction}");
    }
    if outcome.pauses.total() > Ms(0) {
        let _ = writeln!(out, "The clock was held for {}.", span(outcome.pauses.total()));
    }
    for gone in &outcome.away {
        let started = outcome.started.is_some_and(|s| gone.at >= s);
        let at = if started { format!("At {}", span(since(outcome, gone.at))) } else { "Before the start".into() };
        let _ = writeln!(out, "{at}, {}.", away(gone.why, gone.span));
    }
    if outcome.lost_samples > 0 {
        let _ = writeln!(out, "{} samples of sound were lost; callouts in them were not heard.", outcome.lost_samples);
    }
    for caution in &section.cautions {
        let _ = writeln!(out, "Caution: {caution}");
    }
    let _ = writeln!(out, "{}\nEdition {}. {}", caution(outcome), section.edition, section.source);
    out
}
