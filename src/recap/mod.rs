//! A run in words: the spoken recap and the one for the terminal. What was heard is *called*; the tool can't know more.

use crate::review::{Finding, Review, review};
use crate::section::Section;
use crate::session::{Ending, Outcome};
use crate::time::{Ms, SampleIndex, spoken as span};
use std::fmt::Write;

/// Most findings that are spoken; the page has the rest.
const SPOKEN_FINDINGS: usize = 8;

/// What the tool can't know, said in every recap.
pub const CAUTION: &str = "I heard what you called, not what you did.";

/// The review of a run.
pub fn reviewed(section: &Section, outcome: &Outcome) -> Review {
    let end = outcome.ended.map_or(SampleIndex(0), |(at, _)| at);
    let mut review = review(section, &outcome.called, &outcome.dropped, end);
    for called in &outcome.before_start {
        review.findings.push(Finding::BeforeStart { say: called.say.clone(), at: called.at });
    }
    for called in &outcome.after_stop {
        review.findings.push(Finding::AfterStop { say: called.say.clone(), at: called.at });
    }
    // The critical ones first; otherwise as the section has them.
    review.findings.sort_by_key(|f| !matches!(f, Finding::NotCalled { step } if section.steps[*step].critical));
    review
}

/// The spoken recap.
pub fn spoken(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let mut text = format!("{} {}", ending(section, outcome), count(review.findings.len()));
    for finding in review.findings.iter().take(SPOKEN_FINDINGS) {
        let _ = write!(text, " {}", sentence(section, outcome, finding));
    }
    if review.findings.len() > SPOKEN_FINDINGS {
        text += " The rest is on the screen.";
    }
    format!("{text} {CAUTION}")
}

fn count(findings: usize) -> String {
    match findings {
        0 => "Every step was called, in order.".into(),
        1 => "One thing to look at.".into(),
        n => format!("{n} things to look at."),
    }
}

fn ending(section: &Section, outcome: &Outcome) -> String {
    let Some(started) = outcome.started else { return "The section was not started.".into() };
    match outcome.ended {
        Some((at, Ending::Finished)) => {
            let used = at.since(started).saturating_sub(outcome.paused);
            let left = section.clock.limit.saturating_sub(used);
            format!("You finished with {} to spare.", span(left))
        }
        Some((_, Ending::TimedOut)) => "Time ran out before you called the finish.".into(),
        Some((at, Ending::Stopped)) => format!("Stopped after {}.", span(at.since(started))),
        Some((at, Ending::MicrophoneEnded)) => format!("The sound ended after {}.", span(at.since(started))),
        None => "The run was cut off.".into(),
    }
}

/// One finding as a sentence.
pub fn sentence(section: &Section, outcome: &Outcome, finding: &Finding) -> String {
    let title = |step: usize| section.steps[step].title.as_str();
    let since = |at: SampleIndex| span(outcome.started.map_or(Ms(0), |s| at.since(s)));
    match finding {
        Finding::NotCalled { step } if section.steps[*step].critical => {
            format!("Critical, not called: {}.", title(*step))
        }
        Finding::NotCalled { step } => format!("Not called: {}.", title(*step)),
        Finding::OutOfOrder { step, at } => format!("Out of order: {}, called at {}.", title(*step), since(*at)),
        Finding::Extra { say, at } => format!("Called once more than the section has it: {say}, at {}.", since(*at)),
        Finding::TooFew { choice, called } => format!("Called {called} of {}.", section.choices[*choice].title),
        Finding::BeforeStart { say, .. } => format!("Called before the start: {say}."),
        Finding::AfterStop { say, .. } => format!("Called after the end, so it doesn't count: {say}."),
        Finding::Dropped { at, hands_after: Some(after) } => {
            format!("Dropped item called at {}, and hands {} later.", since(*at), span(*after))
        }
        Finding::Dropped { at, hands_after: None } => {
            format!("Dropped item called at {}, and no hands before the next step.", since(*at))
        }
    }
}

/// The recap for the terminal: ending, findings, the table of steps, blind time, cautions and source.
pub fn text(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let mut out = format!(
        "{} ({})\n{}\n{}\n",
        section.title,
        section.board,
        ending(section, outcome),
        count(review.findings.len())
    );
    for finding in &review.findings {
        let _ = writeln!(out, "  - {}", sentence(section, outcome, finding));
    }
    let _ = writeln!(out, "\n  called   took   plan  step");
    for time in &review.steps {
        let step = &section.steps[time.step];
        let at = outcome.started.map_or(Ms(0), |s| time.at.since(s));
        let _ = writeln!(
            out,
            "  {:>6} {:>6} {:>6}  {}",
            at.to_string(),
            time.took.to_string(),
            step.target.to_string(),
            step.title
        );
    }
    let _ = writeln!(out, "\nWhile the proctor spoke, {} of sound went unheard.", span(outcome.masked));
    if outcome.paused > Ms(0) {
        let _ = writeln!(out, "The clock was held for {}.", span(outcome.paused));
    }
    if outcome.lost_samples > 0 {
        let _ = writeln!(out, "{} samples of sound were lost; callouts in them were not heard.", outcome.lost_samples);
    }
    for caution in &section.cautions {
        let _ = writeln!(out, "Caution: {caution}");
    }
    let _ = writeln!(out, "{CAUTION}\nEdition {}. {}", section.edition, section.source);
    out
}
