//! A broken safety pair in words: what was called before what, and what comes of it.

use super::since;
use crate::outcome::Outcome;
use crate::section::{SafetyPair, Section};
use crate::time::{SampleIndex, spoken as span};

/// What comes of leaving a step out, where it is the first of a pair that protects, and what it protects was called.
pub fn consequence<'a>(section: &'a Section, outcome: &Outcome, step: usize) -> Option<&'a str> {
    let called = |name: &String| outcome.called.iter().any(|c| section.means(name, &c.say));
    let pair = |p: &&SafetyPair| section.is_named(&p.first, step) && p.then.iter().any(called);
    section.safety.iter().find(pair).map(|p| p.consequence.as_str())
}

/// The sentence for a broken pair.
pub fn unsafe_sentence(section: &Section, outcome: &Outcome, (pair, at, undone): (usize, SampleIndex, bool)) -> String {
    let keys = &section.safety[pair];
    let say = outcome.called.iter().chain(outcome.struck()).find(|c| c.at == at).map_or("", |c| c.say.as_str());
    let then = (0..section.steps.len())
        .find(|s| section.steps[*s].say.iter().any(|p| p == say) && keys.then.iter().any(|n| section.is_named(n, *s)));
    // In a loop the pair is told with the turn it was broken in, where its callouts tell the turns apart.
    let turn = then.and_then(|s| section.steps[s].id.split_once('@')).map(|(_, turn)| turn);
    let of_turn = |s: &usize| section.steps[*s].id.split_once('@').map(|(_, t)| t) == turn;
    let named: Vec<usize> = (0..section.steps.len()).filter(|s| section.is_named(&keys.first, *s)).collect();
    let first = named.iter().find(|s| of_turn(s)).or(named.first());
    let wanted = first.filter(|s| turn.is_some() && of_turn(s)).map_or(&keys.first, |s| &section.steps[*s].id);
    let title =
        |step: Option<usize>, else_: &str| step.map_or_else(|| else_.to_string(), |s| section.steps[s].title.clone());
    let (then, first) = (title(then, say), title(first.copied(), &keys.first));
    let never = !outcome.called.iter().any(|c| section.means(wanted, &c.say));
    let how = if never {
        format!("and \u{201c}{first}\u{201d} was not called before it")
    } else if undone {
        format!("with no new \u{201c}{first}\u{201d} before it")
    } else {
        format!("before \u{201c}{first}\u{201d}")
    };
    // What is told after a silent run has no times.
    let when = if outcome.told { "told".into() } else { format!("called at {}", span(since(outcome, at))) };
    format!("Critical: \u{201c}{then}\u{201d} was {when}, {how}. {}", keys.consequence)
}
