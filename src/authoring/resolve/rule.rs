//! Choices and rules.

use super::super::names::Names;
use super::super::schema::File;
use crate::problem::Problem;
use crate::section::{Choice, Rule};
use crate::time::Ms;

pub(super) fn choices(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<Choice> {
    let mut taken: Vec<usize> = vec![];
    let mut choices = vec![];
    for keys in &file.choice {
        let of: Vec<usize> = keys.of.iter().flat_map(|n| names.steps(n, None, problems)).collect();
        let at_least = *keys.at_least.as_ref();
        if at_least > of.len() {
            let message = format!("{at_least} of {} steps can't be taken", of.len());
            problems.push(Problem::error("S007", keys.at_least.span(), message));
        }
        if of.iter().any(|s| taken.contains(s)) {
            let problem =
                Problem::error("S032", keys.at_least.span(), "a step of this choice is in another choice already");
            problems.push(problem.help("put each step in one choice at most"));
        }
        taken.extend(&of);
        choices.push(Choice { title: keys.title.clone(), of, at_least });
    }
    choices
}

pub(super) fn rules(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<Rule> {
    file.rule
        .iter()
        .map(|keys| {
            if keys.template.binary() != keys.then.is_some() {
                let message = if keys.then.is_some() {
                    "this template speaks of one callout, so `then` has no place"
                } else {
                    "this template speaks of two callouts, and `then` is missing"
                };
                let problem = Problem::error("S033", keys.id.span(), message);
                problems.push(problem.help(format!("{} asks: {}", keys.template.name(), keys.template.sentence())));
            }
            let seconds = keys.at_least_seconds.unwrap_or(0.0);
            if !(0.0..=36_000.0).contains(&seconds) {
                problems.push(Problem::error("S034", keys.id.span(), format!("{seconds} seconds can't be waited for")));
            }
            Rule {
                id: keys.id.as_ref().clone(),
                template: keys.template,
                first: names.operand(&keys.first, problems),
                then: keys.then.as_ref().map(|n| names.operand(n, problems)),
                count: keys.count,
                at_least: keys.at_least_seconds.map(|s| Ms((s.clamp(0.0, 36_000.0) * 1000.0) as u64)),
                severity: keys.severity,
                message: names.filled(&keys.message, None, problems),
                published: keys.published.clone(),
            }
        })
        .collect()
}
