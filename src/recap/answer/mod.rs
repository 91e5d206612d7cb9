//! Answers to what is asked after the recap. Each comes from the record of the run, of earlier runs or of the section; none is made up.

mod other;
mod step;
mod whole;

use super::{listed_up_to as list, only_hygiene, since};
use crate::intent::{Question, THAT};
use crate::outcome::{Outcome, Past};
use crate::section::Section;
use crate::text::upper;

pub use step::following;

/// Most other steps told in one answer, since they may have been meant, and most findings or places.
const MOST_ALIKE: usize = 2;
const MOST_FINDINGS: usize = 4;
const MOST_PLACES: usize = 8;

/// Said where all was told after a silent run.
const UNTIMED: &str = "I can't say: what is told afterwards has no times.";

/// Said where all but hands and labels has faded.
const FADED: &str = "I can't say: I listened for hands and labels only, so how long they took isn't known.";

/// The answer to a question about a run, of which `past` came before; none for a wish, which isn't answered in words.
pub fn answer(section: &Section, outcome: &Outcome, past: Option<&Past>, question: &Question) -> Option<String> {
    use Question::*;
    // What is asked of the section itself can be told of any run.
    let told = match question {
        Repeat | Slower | Again | Enough => return None,
        Help => Some(help().into()),
        Limit => Some(whole::limit(section)),
        Planned(name) if name != THAT => Some(step::planned(section, name)),
        Needs(name) if name != THAT => Some(step::needs(section, name)),
        Caution(Some(name)) if name != THAT => Some(step::caution(section, name)),
        Caution(_) => Some(whole::cautions(section)),
        Source(Some(name)) if name != THAT => Some(step::source(section, name)),
        Source(_) => Some(section.source.clone()),
        Next(name) => Some(step::next(section, name.as_deref())),
        Prior(name) if name != THAT => Some(step::prior(section, name)),
        Ready => Some(other::ready(past)),
        _ => None,
    };
    if told.is_some() {
        return told;
    }
    if outcome.started.is_none() {
        return Some("The section was not started.".into());
    }
    let timed = |words: &dyn Fn() -> String| if outcome.told { UNTIMED.to_string() } else { words() };
    let lasts = |words: &dyn Fn() -> String| if only_hygiene(section) { FADED.to_string() } else { timed(words) };
    Some(match question {
        HowLong(name) if name == THAT => whole::total(section, outcome),
        question if question.name() == Some(THAT) => "Which step do you mean? Ask again with its name.".into(),
        HowLong(name) | When(name) if outcome.told => {
            format!("I can't say of {name}: what is told afterwards has no times.")
        }
        HowLong(name) => lasts(&|| step::how_long(section, outcome, name)),
        When(name) => step::when(section, outcome, name),
        Called(name) | HowOften(name) => step::called(section, outcome, name),
        Order(a, b) => step::order(section, outcome, a, b),
        Between(a, b) => timed(&|| step::between(section, outcome, a, b)),
        Explain(Some(name)) => step::explain(section, outcome, name),
        Explain(None) => whole::explain(section, outcome),
        Missed => whole::missed(section, outcome),
        Longest => lasts(&|| whole::extreme(section, outcome, true)),
        Shortest => lasts(&|| whole::extreme(section, outcome, false)),
        Over => lasts(&|| whole::against_plan(section, outcome, true)),
        Under => lasts(&|| whole::against_plan(section, outcome, false)),
        Left => whole::left(section, outcome),
        Total => whole::total(section, outcome),
        Count => whole::count(section, outcome),
        First => whole::first(outcome),
        Last => whole::last(outcome),
        Hygiene => whole::hygiene(section, outcome),
        Critical => whole::critical(section, outcome),
        Misplaced => whole::misplaced(section, outcome),
        Findings => whole::findings(section, outcome),
        Summary => super::spoken(section, outcome),
        Well => whole::well(section, outcome),
        Points => whole::points(section, outcome),
        Dropped => whole::dropped(outcome),
        Paused => whole::paused(outcome),
        WithLast => other::with_last(section, outcome, past),
        WithBest => other::with_best(section, outcome, past),
        Practise => other::practise(section, outcome, past),
        _ => return None,
    })
}

/// What can be asked, by a few examples.
pub fn help() -> &'static str {
    "Ask, for example: what did I miss, what took longest, what went over plan, was anything critical, how long was a step, did I call a step, \
     what does it need, how was it compared with last time, am I ready, or what should I practise. Say start again, or that's all."
}
