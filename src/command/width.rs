//! Refuses a section whose runs can't be explained in bounded time.

use crate::authoring::callout_spans;
use crate::problem::Problem;
use crate::review::{explainable, shared_without_order};
use crate::section::Section;

/// What is wrong where made-up runs of `section`, written as `text`, can't be explained within the limits.
pub fn too_wide(section: &Section, text: &str) -> Option<Problem> {
    if explainable(section) {
        return None;
    }
    let shared = shared_without_order(section);
    let problem = match shared.first() {
        Some((say, steps)) => {
            let spans = callout_spans(text);
            let span = spans.iter().find(|(s, _)| s == say).map_or(0..0, |(_, span)| span.clone());
            let message = format!(
                "{steps} steps share the callout \"{say}\" and may come in any order: what a run's callouts stand for can't be \
                 told within a third of a second"
            );
            Problem::error("S054", span, message).help("give these steps callouts of their own, or an order by `after`")
        }
        None => {
            let message = "what a run's callouts stand for can't be told within a third of a second: too many steps may come in any order";
            Problem::error("S054", 0..0, message)
                .help("give more steps an order by `after`, or split the section in two files")
        }
    };
    Some(problem)
}
