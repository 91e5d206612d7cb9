//! What the second listen is to look for, and where.

use super::{Facts, Finding, review};
use crate::section::{Order, Section};
use crate::time::SampleIndex;

/// A step that was not heard, to be looked for again.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchTarget {
    /// The step, by place.
    pub step: usize,
    /// Its callouts.
    pub say: Vec<String>,
    /// Between which places: the last callout that must come before it, and the first that must come after.
    pub between: (SampleIndex, SampleIndex),
}

/// Where the second listen is to look for the needed steps that were not called, and with `choices` for those of a choice of which too
/// few were.
pub fn search_targets(section: &Section, facts: &Facts, start: SampleIndex, choices: bool) -> Vec<SearchTarget> {
    let review = review(section, facts);
    let before = Order::of(section).all_before();
    let uncalled = |s: &usize| !review.steps.iter().any(|t| t.step == *s);
    let missing = review.findings.iter().flat_map(|f| match f {
        Finding::NotCalled { step } => vec![*step],
        Finding::TooFew { choice, .. } if choices => {
            section.choices[*choice].of.iter().copied().filter(uncalled).collect()
        }
        _ => vec![],
    });
    missing
        .map(|step| {
            let called = |wanted: &dyn Fn(usize) -> bool| {
                review.steps.iter().filter(|t| wanted(t.step)).map(|t| t.at).collect::<Vec<_>>()
            };
            let from = called(&|s| before[step].has(s)).into_iter().max().unwrap_or(start);
            let until = called(&|s| before[s].has(step)).into_iter().min().unwrap_or(facts.end);
            // Called out of order, its neighbours say nothing of where it was.
            let between = if from < until { (from, until) } else { (start, facts.end) };
            SearchTarget { step, say: section.steps[step].say.clone(), between }
        })
        .collect()
}
