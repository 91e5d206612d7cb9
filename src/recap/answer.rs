//! Answers to what is asked after the recap.

use super::{MOST_TITLES, often, reviewed, since, span};
use crate::callout::{Question, names};
use crate::review::Finding;
use crate::section::Section;
use crate::session::Outcome;
use crate::time::Ms;

/// Most places told in one answer.
const MOST_PLACES: usize = 8;

/// The answer to a question about a run; none for a wish, which isn't answered in words.
pub fn answer(section: &Section, outcome: &Outcome, question: &Question) -> Option<String> {
    if outcome.started.is_none() {
        return matches!(question, Question::Missed | Question::HowLong(_) | Question::When(_))
            .then(|| "The section was not started.".into());
    }
    match question {
        Question::Missed => Some(missed(section, outcome)),
        Question::HowLong(name) | Question::When(name) if outcome.told => {
            Some(format!("I can't say of {name}: what is told afterwards has no times."))
        }
        Question::HowLong(name) => Some(how_long(section, outcome, name)),
        Question::When(name) => Some(when(section, outcome, name)),
        Question::Repeat | Question::Slower | Question::Again | Question::Enough => None,
    }
}

/// Titles in one breath.
fn list(titles: &[&str], most: usize) -> String {
    let more = titles.len().saturating_sub(most);
    let told = titles[..titles.len() - more].join(", ");
    if more > 0 { format!("{told}, and {more} more") } else { told }
}

fn missed(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let title = |step: usize| section.steps[step].title.as_str();
    let mut sentences: Vec<String> = vec![];
    let missing: Vec<&str> = review
        .findings
        .iter()
        .filter_map(|f| if let Finding::NotCalled { step } = f { Some(title(*step)) } else { None })
        .collect();
    if !missing.is_empty() {
        sentences.push(format!("Not called: {}.", list(&missing, MOST_TITLES)));
    }
    for finding in &review.findings {
        if let Finding::TooFew { .. } | Finding::Perhaps { .. } = finding {
            sentences.push(super::sentence(section, outcome, finding));
        }
    }
    if sentences.is_empty() {
        "Nothing: every step that the section needs was called.".into()
    } else {
        sentences.join(" ")
    }
}

fn how_long(section: &Section, outcome: &Outcome, name: &str) -> String {
    let steps = names(section).remove(name).unwrap_or_default();
    let review = reviewed(section, outcome);
    let times: Vec<_> = review.steps.iter().filter(|t| steps.contains(&t.step)).collect();
    let took: Ms = times.iter().map(|t| t.took).sum();
    let plan: Ms = times.iter().map(|t| section.steps[t.step].target).sum();
    let planned = if plan > Ms(0) { format!(", planned {}", span(plan)) } else { String::new() };
    match times.len() {
        0 => not_called(name),
        1 => format!("{}: {}{planned}.", upper(name), span(took)),
        n => format!("{}, called {}: {} in all{planned}.", upper(name), often(n), span(took)),
    }
}

fn when(section: &Section, outcome: &Outcome, name: &str) -> String {
    let steps = names(section).remove(name).unwrap_or_default();
    let of_these = |say: &String| steps.iter().any(|s| section.steps[*s].say.contains(say));
    let places: Vec<String> =
        outcome.called.iter().filter(|c| of_these(&c.say)).map(|c| span(since(outcome, c.at))).collect();
    if places.is_empty() {
        return not_called(name);
    }
    let places: Vec<&str> = places.iter().map(String::as_str).collect();
    format!("{}, called {}, at: {}.", upper(name), often(places.len()), list(&places, MOST_PLACES))
}

fn not_called(name: &str) -> String {
    format!("I did not hear {name} called.")
}

/// The same with its first letter in upper case.
fn upper(name: &str) -> String {
    let mut letters = name.chars();
    letters.next().map(|c| c.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
