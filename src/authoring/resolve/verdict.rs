//! Safety pairs and criteria of a file, to names and problems.

use super::super::names::Names;
use super::super::nearest;
use super::super::schema::{File, SafetyKeys};
use crate::problem::Problem;
use crate::section::{Criterion, Order, SafetyPair, Section};
use std::collections::BTreeSet;

/// The pairs of a file that protect.
pub(super) fn safety(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<SafetyPair> {
    let pair = |keys: &SafetyKeys, problems: &mut Vec<Problem>| {
        let mut each = |of: &[toml::Spanned<String>]| of.iter().map(|n| names.operand(n, problems)).collect::<Vec<_>>();
        let (then, undone_by) = (each(&keys.then), each(&keys.undone_by));
        let first = names.operand(&keys.first, problems);
        if keys.then.is_empty() || then.contains(&first) {
            let problem = Problem::error("S051", keys.id.span(), "this pair protects nothing");
            problems.push(problem.help("name in `then` what is safe only behind `first`"));
        } else if let Some(name) = keys.then.iter().find(|n| names.overlap(n.as_ref(), &first)) {
            let message = format!("`{}` holds a step of `{first}`, which can't come before itself", name.as_ref());
            let problem = Problem::error("S051", name.span(), message);
            problems.push(problem.help("name in `then` the steps of it that are safe only behind `first`"));
        }
        if keys.consequence.as_ref().trim().is_empty() {
            let problem = Problem::error("S052", keys.consequence.span(), "the consequence has no words");
            problems.push(problem.help("say in a sentence who is hurt, and what to drill"));
        }
        let consequence = names.filled(&keys.consequence, None, problems).trim().to_string();
        SafetyPair {
            id: keys.id.as_ref().clone(),
            first,
            then,
            undone_by,
            consequence,
            published: keys.published.clone(),
        }
    };
    file.safety.iter().map(|keys| pair(keys, problems)).collect()
}

/// What protects is critical, and its place in the order must be one that can protect.
pub(super) fn settle(file: &File, section: &mut Section, problems: &mut Vec<Problem>) {
    let of = |section: &Section, name: &str| -> Vec<usize> {
        (0..section.steps.len()).filter(|s| section.is_named(name, *s)).collect()
    };
    let before = Order::of(section).all_before();
    for (place, pair) in section.safety.clone().iter().enumerate() {
        for turn in pair.turns(section) {
            let first = of(section, &turn.first);
            for name in &turn.then {
                let then = of(section, name);
                let all = || then.iter().all(|t| first.iter().all(|f| before[*f].has(*t)));
                if !first.is_empty() && !then.is_empty() && all() {
                    let first = &turn.first;
                    let message = format!("the order has `{name}` before `{first}`, which should protect from it");
                    let problem = Problem::error("S053", file.safety[place].id.span(), message);
                    problems.push(problem.help("change `after`, or turn the pair round"));
                }
            }
        }
        of(section, &pair.first).iter().for_each(|s| section.steps[*s].critical = true);
    }
}

/// The criteria of a file.
pub(super) fn criteria(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<Criterion> {
    let breakable: Vec<&str> = (file.rule.iter().map(|r| &r.id))
        .chain(file.invariant.iter().map(|i| &i.id))
        .chain(file.safety.iter().map(|s| &s.id))
        .map(|id| id.as_ref().as_str())
        .collect();
    let mut seen = BTreeSet::new();
    let mut found = vec![];
    for keys in &file.criterion {
        if !seen.insert(keys.id.as_ref()) {
            let message = format!("a second criterion has the number {}", keys.id.as_ref());
            problems.push(Problem::error("S005", keys.id.span(), message).help("give each criterion its own `id`"));
        }
        let steps: Vec<String> = keys.steps.iter().map(|n| names.operand(n, problems)).collect();
        let at_least = keys.at_least.as_ref().map_or(steps.len(), |n| *n.as_ref());
        if let Some(asked) = keys.at_least.as_ref().filter(|n| *n.as_ref() > steps.len()) {
            let message = format!("{at_least} of {} steps can't be claimed", steps.len());
            problems.push(Problem::error("S007", asked.span(), message));
        }
        for name in keys.broken_by.iter().filter(|n| !breakable.contains(&n.as_ref().as_str())) {
            let message = format!("no rule, invariant or safety pair is called `{}`", name.as_ref());
            let problem = Problem::error("S006", name.span(), message);
            problems.push(match nearest(name.as_ref(), breakable.iter().copied()) {
                Some(near) => problem.help(format!("did you mean `{near}`?")),
                None => problem.help("it must be the `id` of a [[rule]], an [[invariant]] or a [[safety]] pair"),
            });
        }
        found.push(Criterion {
            id: keys.id.as_ref().clone(),
            text: keys.text.clone(),
            steps,
            at_least,
            broken_by: keys.broken_by.iter().map(|n| n.as_ref().clone()).collect(),
            infection: keys.infection,
            points: keys.points,
        });
    }
    found
}
