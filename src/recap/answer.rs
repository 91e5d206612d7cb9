//! Answers to what is asked after the recap.

use super::{MOST_TITLES, often, reviewed, since, span};
use crate::intent::{Question, alike, names};
use crate::outcome::Outcome;
use crate::review::{Called, Finding};
use crate::section::Section;
use crate::time::Ms;

/// Most places told in one answer.
const MOST_PLACES: usize = 8;

/// Most other steps told in one answer, since they may have been meant.
const MOST_ALIKE: usize = 2;

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
        _ => None,
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
    sentences.extend(super::not_reached(section, &review, MOST_TITLES));
    if sentences.is_empty() {
        "Nothing: every step that the section needs was called.".into()
    } else {
        sentences.join(" ")
    }
}

/// The answer for what the name names. A name is easily taken for one that ends alike, so such steps are told as well, where they
/// were called: "mask" is answered for "remove the mask", too.
fn with_alike(
    section: &Section,
    outcome: &Outcome,
    name: &str,
    tell: impl Fn(&str, &[usize]) -> Option<String>,
) -> String {
    let own = names(section).remove(name).unwrap_or_default();
    let mut sentences = vec![tell(name, &own).unwrap_or_else(|| not_called(name))];
    for group in alike(section, name) {
        let called = outcome.called.iter().find(|c| group.iter().any(|s| section.steps[*s].say.contains(&c.say)));
        sentences.extend(called.and_then(|c| tell(&c.say, &group)));
    }
    sentences.truncate(1 + MOST_ALIKE);
    sentences.join(" ")
}

fn how_long(section: &Section, outcome: &Outcome, name: &str) -> String {
    let review = reviewed(section, outcome);
    with_alike(section, outcome, name, |name, steps| {
        let times: Vec<_> = review.steps.iter().filter(|t| steps.contains(&t.step)).collect();
        let took: Ms = times.iter().map(|t| t.took).sum();
        // Part of a plan is none to hold the whole against.
        let plan: Option<Ms> = times.iter().map(|t| section.steps[t.step].plan()).sum();
        let planned = plan.map_or_else(String::new, |plan| format!(", planned {}", span(plan)));
        match times.len() {
            0 => None,
            1 => Some(format!("{}: {}{planned}.", upper(name), span(took))),
            n => Some(format!("{}, called {}: {} in all{planned}.", upper(name), often(n), span(took))),
        }
    })
}

fn when(section: &Section, outcome: &Outcome, name: &str) -> String {
    with_alike(section, outcome, name, |name, steps| {
        let says = |step: &usize, say: &str| section.steps[*step].say.iter().any(|s| s == say);
        let called: Vec<_> = outcome.called.iter().filter(|c| steps.iter().any(|s| says(s, &c.say))).collect();
        // A word of several callouts: which of them is meant isn't known, so each is told.
        let callout = steps.iter().all(|s| says(s, name));
        let place = |c: &&Called| {
            let at = span(since(outcome, c.at));
            if callout || steps.len() < 2 { at } else { format!("{} {at}", c.say) }
        };
        let places: Vec<String> = called.iter().map(place).collect();
        let places: Vec<&str> = places.iter().map(String::as_str).collect();
        let often = often(places.len());
        let told = || format!("{}, called {often}, at: {}.", upper(name), list(&places, MOST_PLACES));
        (!places.is_empty()).then(told)
    })
}

fn not_called(name: &str) -> String {
    format!("I did not hear {name} called.")
}

/// The same with its first letter in upper case.
fn upper(name: &str) -> String {
    let mut letters = name.chars();
    letters.next().map(|c| c.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
