//! A run in words: the spoken recap and the one for the terminal. What was heard is *called*; the tool can't know more.

mod answer;
mod corrected;
mod data;
mod exam;
mod harm;
mod page;
mod sentence;
mod sheet;
mod spoken;
mod text;
mod timeline;

pub use answer::{answer, following, help};
pub use corrected::{claim, corrections, kept};
pub use data::{SCHEMA, cell, csv, json, kind, told_at, webvtt};
pub use exam::{SectionResult, exam_spoken, exam_text};
pub use page::{head, page};
pub use sentence::{section_says, sentence};
pub use spoken::spoken;
pub use text::text;

use crate::outcome::{Absence, Ending, Mode, Outcome};
use crate::review::{Called, Finding, Review, review};
use crate::section::Section;
use crate::text::upper;
use crate::time::{Ms, SampleIndex, spoken as span};

/// Most words of the spoken recap: at 150 words a minute under a minute. The page has the rest.
const MOST_WORDS: usize = 145;

/// Most titles in one breath.
const MOST_TITLES: usize = 8;

/// What the tool can't know, said in every recap.
pub const CAUTION: &str = "I heard what you called, not what you did.";

/// The same after a silent run.
const TOLD_CAUTION: &str = "I heard what you told me afterwards, not what you did.";

/// A run as pages and data tell it.
pub struct RunView<'a> {
    /// What was rehearsed.
    pub section: &'a Section,
    /// How it went.
    pub outcome: &'a Outcome,
    /// What there is to say of it.
    pub review: Review,
    /// Civil time at the start, RFC 3339.
    pub started: &'a str,
    /// Coach or exam.
    pub mode: Mode,
    /// How far the clock was compressed.
    pub compress: u32,
    /// What the proctor drew with.
    pub seed: u64,
}

/// Section time of a place: every time that is told is this one, so that pauses lie in none of them.
fn since(outcome: &Outcome, place: SampleIndex) -> Ms {
    outcome.clock(place)
}

/// Callouts for hand hygiene, in order.
pub fn hygiene<'a>(section: &Section, outcome: &'a Outcome) -> Vec<&'a Called> {
    outcome.called.iter().filter(|c| section.is_hygiene(&c.say)).collect()
}

/// Whether only hands and labels are listened for, the other callouts having faded: what lies between two callouts is work that nobody
/// calls, so how long anything took isn't known.
fn only_hygiene(section: &Section) -> bool {
    section.id.ends_with("-hygiene") && section.steps.iter().all(|s| s.hygiene || s.labels)
}

/// How long callouts of these steps took that stand for no step, as hands do that answer a dropped item or a torn glove: each from its
/// onset to the next callout of anything else.
fn apart(section: &Section, outcome: &Outcome, review: &Review, steps: &[usize]) -> Vec<Ms> {
    let says = |step: usize, c: &Called| section.steps[step].say.contains(&c.say);
    let stands = |c: &Called| review.steps.iter().any(|t| says(t.step, c) && t.at <= c.at && c.at < t.until);
    let mine = |c: &&Called| steps.iter().any(|s| says(*s, c)) && !stands(c);
    let others: Vec<SampleIndex> = (outcome.called.iter().filter(|c| !mine(c)).map(|c| c.at))
        .chain(outcome.dropped.iter().copied())
        .chain(outcome.ended.map(|(end, _)| end))
        .collect();
    let mut until = SampleIndex(0);
    let mut took = vec![];
    for c in outcome.called.iter().filter(mine) {
        // Called again before anything else came, it goes on.
        if c.at >= until {
            until = others.iter().copied().filter(|at| *at > c.at).min().unwrap_or(c.at);
            took.push(outcome.pauses.clock(c.at, until));
        }
    }
    took
}

/// Titles in one breath: where one of them holds a comma, semicolons stand between them.
fn listed(titles: &[&str]) -> String {
    titles.join(if titles.iter().any(|t| t.contains(',')) { "; " } else { ", " })
}

/// Titles in one breath, at most so many; the rest are counted.
fn listed_up_to(titles: &[&str], most: usize) -> String {
    let more = titles.len().saturating_sub(most);
    let told = listed(&titles[..titles.len() - more]);
    if more > 0 { format!("{told}, and {more} more") } else { told }
}

/// The word for what was heard: after a silent run it is what was told.
fn called_or_told(outcome: &Outcome) -> &'static str {
    if outcome.told { "told" } else { "called" }
}

/// The review of a run.
pub fn reviewed(section: &Section, outcome: &Outcome) -> Review {
    let mut review = review(section, &outcome.facts());
    review.findings.extend(kept(section, outcome));
    for called in &outcome.before_start {
        review.findings.push(Finding::BeforeStart { say: called.say.clone(), at: called.at });
    }
    for called in &outcome.after_stop {
        review.findings.push(Finding::AfterStop { say: called.say.clone(), at: called.at });
    }
    // By harm, then by what is scored, then common practice; otherwise as the section has them.
    review.findings.sort_by_key(|f| f.weight(section));
    review
}

/// The steps that a run which was cut short never reached, at most so many by name; none where it reached all.
pub fn not_reached(section: &Section, review: &Review, most: usize) -> Option<String> {
    let titles = review.not_reached.iter().map(|s| section.steps[*s].title.as_str()).collect::<Vec<_>>();
    (!titles.is_empty()).then(|| format!("Not reached: {}.", listed_up_to(&titles, most)))
}

/// What the tool can't know of this run.
pub fn caution(outcome: &Outcome) -> &'static str {
    if outcome.told { TOLD_CAUTION } else { CAUTION }
}

fn often(times: usize) -> String {
    match times {
        1 => "once".into(),
        2 => "twice".into(),
        n => format!("{n} times"),
    }
}

/// A while in which nobody listened, as a clause.
pub fn away(why: Absence, span: Option<Ms>) -> String {
    let why = match why {
        Absence::Restarted => "the program was gone",
        Absence::Slept => "the computer slept",
        Absence::Microphone => "the microphone was gone",
    };
    let how_long = span.map_or_else(|| "a while".into(), self::span);
    format!("{why} for {how_long}; the clock was held")
}

fn count(section: &Section, outcome: &Outcome, review: &Review) -> String {
    let count = match review.findings.len() {
        0 if !outcome.whole() => "Nothing to look at, as far as it went.".into(),
        0 if only_hygiene(section) => {
            let labels = if section.steps.iter().any(|s| s.labels) { " and every label" } else { "" };
            format!(
                "All hand hygiene{labels} that the section needs was called, in order. I listened for nothing else."
            )
        }
        0 => format!("Every step that the section needs was {}, in order.", called_or_told(outcome)),
        1 => "One thing to look at.".into(),
        n => format!("{n} things to look at."),
    };
    // Nobody is to be told of more faults than there may be without a word about it.
    if review.unsettled {
        format!("{count} Some may be none: this run can be read in too many ways to try them all.")
    } else {
        count
    }
}

fn ending(section: &Section, outcome: &Outcome) -> String {
    if outcome.started.is_none() {
        return "The section was not started.".into();
    }
    match outcome.ended {
        Some((_, Ending::Finished | Ending::TimedOut)) => parts(section, outcome),
        Some((at, Ending::Stopped)) => format!("Stopped after {}.", span(since(outcome, at))),
        Some((at, Ending::MicrophoneEnded)) => format!("The sound ended after {}.", span(since(outcome, at))),
        None => "The run was cut off.".into(),
    }
}

/// How the time that the candidate guessed compares with the clock's.
pub fn guess(outcome: &Outcome) -> Option<String> {
    let (guessed, used) = (outcome.guessed?, outcome.used()?);
    Some(format!("You guessed {}; it was {}.", span(guessed), span(used)))
}

/// How each phase ended.
fn parts(section: &Section, outcome: &Outcome) -> String {
    let alone = section.phases.len() == 1;
    let told = section.phases.iter().zip(&outcome.phases).filter_map(|(phase, (from, end))| {
        let (to, how) = (*end)?;
        let used = outcome.pauses.clock(*from, to);
        let of = if alone { String::new() } else { format!("{}: ", upper(&phase.title)) };
        Some(match (how, phase.clock.limit) {
            (Ending::Finished, Some(limit)) => {
                format!("{of}You finished with {} to spare.", span(limit.saturating_sub(used)))
            }
            (Ending::Finished, None) => format!("{of}You finished after {}.", span(used)),
            _ => format!("{of}Time ran out before you called the finish."),
        })
    });
    told.collect::<Vec<_>>().join(" ")
}
