//! Rules that no allowed run can keep together, shown as a smallest set of them.

use crate::problem::Problem;
use crate::section::{Done, Judge, Order, Section};
use std::collections::BTreeSet;
use std::ops::Range;

/// Most states looked at; a section with more is not searched to the end, and nothing is said.
const MOST_STATES: usize = 100_000;

/// What is wrong with the rules of `section`; `rule_span` says where each stands in the text.
pub(super) fn find(section: &Section, rule_span: impl Fn(usize) -> Range<usize>) -> Vec<Problem> {
    let order = Order::of(section);
    let mut set: Vec<usize> = (0..section.rules.len()).collect();
    if possible(section, &order, &set) != Some(false) {
        return vec![];
    }
    // Leave out one rule after the other, for as long as the others still can't be kept: what stays is a smallest set.
    for rule in 0..section.rules.len() {
        let fewer: Vec<usize> = set.iter().copied().filter(|&r| r != rule).collect();
        if possible(section, &order, &fewer) == Some(false) {
            set = fewer;
        }
    }
    let ids: Vec<String> = set.iter().map(|&r| format!("`{}`", section.rules[r].id)).collect();
    let message = match ids.as_slice() {
        [only] => format!("no allowed run can keep the rule {only}"),
        many => format!("no allowed run can keep these rules together: {}", many.join(", ")),
    };
    vec![
        Problem::error("S041", rule_span(set[0]), message)
            .help("change or take away one of them; without any one, the others can be kept"),
    ]
}

/// Whether some allowed run keeps the rules in `set`; none where the search was given up.
fn possible(section: &Section, order: &Order, set: &[usize]) -> Option<bool> {
    // What each rule makes of a callout; callouts that are alike to all rules are one.
    let sight = |say: &str| -> Vec<(bool, bool)> {
        let means = |name: &str| section.means(name, say);
        set.iter()
            .map(|&r| (means(&section.rules[r].first), section.rules[r].then.as_deref().is_some_and(means)))
            .collect()
    };
    let seen = |say: &[String]| say.iter().map(|p| sight(p)).collect::<BTreeSet<_>>();
    let steps: Vec<BTreeSet<Vec<(bool, bool)>>> = section.steps.iter().map(|s| seen(&s.say)).collect();
    let events: BTreeSet<Vec<(bool, bool)>> = section.events.iter().flat_map(|e| seen(&e.say)).collect();
    let judges: Vec<Judge> =
        set.iter().map(|&r| Judge::new(section.rules[r].template, section.rules[r].count)).collect();
    let mut open = vec![(Done::default(), judges)];
    let mut known: BTreeSet<(Done, Vec<Judge>)> = open.iter().cloned().collect();
    while let Some((done, judges)) = open.pop() {
        if done.len() == order.len() && ended(section, set, &judges) {
            return Some(true);
        }
        let mut reach = |done: Done, sight: Option<&Vec<(bool, bool)>>| {
            let mut next = judges.clone();
            let fine = sight
                .is_none_or(|sight| next.iter_mut().zip(sight).fold(true, |all, (j, (a, b))| j.next(*a, *b) && all));
            if fine && known.insert((done, next.clone())) {
                open.push((done, next));
            }
        };
        for sight in &events {
            reach(done, Some(sight));
        }
        for step in (0..order.len()).filter(|&s| order.may_follow(&done, s)) {
            let mute = steps[step].is_empty() || section.steps[step].optional || section.choice_of(step).is_some();
            if mute {
                reach(done.with(step), None);
            }
            steps[step].iter().for_each(|sight| reach(done.with(step), Some(sight)));
        }
        if known.len() > MOST_STATES {
            return None;
        }
    }
    Some(false)
}

/// Whether the rules are kept where the run ends; its end answers a rule that asks for just anything.
fn ended(section: &Section, set: &[usize], judges: &[Judge]) -> bool {
    set.iter().zip(judges).all(|(&rule, judge)| {
        let mut judge = *judge;
        if section.rules[rule].then.as_deref() == Some("any") {
            judge.next(false, true);
        }
        judge.kept()
    })
}
