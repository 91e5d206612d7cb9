//! Rules that no allowed run can keep together, shown as a smallest set of them.

use crate::problem::Problem;
use crate::section::{Done, Order, Rule, RuleAutomaton, Section};
use std::collections::BTreeSet;
use std::ops::Range;

/// Most rules in a file. All of them are followed side by side, so time and memory grow with their number.
pub(super) const MAX_RULES: usize = 200;

/// Most states of one search; a section with more is not searched to the end, and nothing is said.
const MOST_STATES: usize = 100_000;

/// Most rules followed in the states that one search holds: 16 bytes each, and each is held twice.
const MOST_FOLLOWED: usize = 1_000_000;

/// Most work of all searches for one file together, in steps of a rule over a callout: some half a second.
const MOST_WORK: u64 = 30_000_000;

/// Most rules of a set that are told in plain words.
const MOST_TOLD: usize = 3;

/// What it costs to look up one state, in steps of a rule.
const LOOK_UP: u64 = 30;

/// What is wrong with the rules of `section`; `rule_span` says where each stands in the text.
pub(super) fn find(section: &Section, rule_span: impl Fn(usize) -> Range<usize>) -> Vec<Problem> {
    let order = Order::of(section);
    let callouts = Callouts::of(section);
    let mut set: Vec<usize> = (0..section.rules.len()).collect();
    let mut work = MOST_WORK;
    let mut possible = |set: &[usize]| possible(section, &order, &callouts.seen_by(set), set, &mut work);
    if possible(&set) != Some(false) {
        return vec![];
    }
    // Leave out one rule after the other, for as long as the others still can't be kept: what stays is a smallest set.
    let mut smallest = true;
    for rule in 0..section.rules.len() {
        let fewer: Vec<usize> = set.iter().copied().filter(|&r| r != rule).collect();
        match possible(&fewer) {
            Some(false) => set = fewer,
            Some(true) => {}
            None => smallest = false,
        }
    }
    let ids: Vec<String> = set.iter().map(|&r| format!("`{}`", section.rules[r].id)).collect();
    let message = match ids.as_slice() {
        [only] => format!("no allowed run can keep the rule {only}"),
        many => format!("no allowed run can keep these rules together: {}", many.join(", ")),
    };
    let next = match smallest {
        true => "change or take away one of them; without any one, the others can be kept",
        false => "change or take away some of them; fewer of them may contradict each other already",
    };
    let asks = |&r: &usize| format!("`{}` asks: {}", section.rules[r].id, section.rules[r].sentence());
    let help = set.iter().take(MOST_TOLD).map(asks).chain([next.to_string()]).collect::<Vec<_>>().join("\n");
    vec![Problem::error("S041", rule_span(set[0]), message).help(help)]
}

/// What each rule makes of a callout: whether it is its first operand, and whether its second.
type Sight = Vec<(bool, bool)>;

/// The callouts of a section as rules see them; those that are alike to all rules are one.
struct Callouts {
    of_steps: Vec<BTreeSet<Sight>>,
    /// What may come at any moment: named callouts, and hand hygiene, of which more is never a fault.
    at_any_time: BTreeSet<Sight>,
}

impl Callouts {
    /// As all rules of `section` see them.
    fn of(section: &Section) -> Callouts {
        let says = |name: &str| -> BTreeSet<&str> {
            let steps = section.steps.iter().filter(|s| s.is_named(name)).flat_map(|s| &s.say);
            steps
                .chain(section.events.iter().filter(|e| name == e.id).flat_map(|e| &e.say))
                .map(String::as_str)
                .collect()
        };
        let operands = |rule: &Rule| (says(&rule.first), rule.then.as_deref().map(says).unwrap_or_default());
        let meant: Vec<_> = section.rules.iter().map(|r| (r, operands(r))).collect();
        let sight = |say: &String| -> Sight {
            let any = |name: Option<&str>| name == Some("any");
            meant
                .iter()
                .map(|(rule, (first, then))| {
                    let say = say.as_str();
                    (any(Some(&rule.first)) || first.contains(say), any(rule.then.as_deref()) || then.contains(say))
                })
                .collect()
        };
        let of_steps = section.steps.iter().map(|s| s.say.iter().map(sight).collect()).collect();
        let named = section.events.iter().flat_map(|e| &e.say);
        let hygiene = section.steps.iter().filter(|s| s.hygiene).flat_map(|s| &s.say);
        let at_any_time = named.chain(hygiene).map(sight).collect();
        Callouts { of_steps, at_any_time }
    }

    /// As the rules in `set` see them.
    fn seen_by(&self, set: &[usize]) -> Callouts {
        let seen = |sights: &BTreeSet<Sight>| sights.iter().map(|s| set.iter().map(|&r| s[r]).collect()).collect();
        Callouts { of_steps: self.of_steps.iter().map(seen).collect(), at_any_time: seen(&self.at_any_time) }
    }
}

/// Whether some allowed run keeps the rules in `set`; none where the search was given up. What it does is taken from `work`.
fn possible(section: &Section, order: &Order, callouts: &Callouts, set: &[usize], work: &mut u64) -> Option<bool> {
    let automata: Vec<RuleAutomaton> =
        set.iter().map(|&r| RuleAutomaton::new(section.rules[r].template, section.rules[r].count)).collect();
    let most = MOST_STATES.min(MOST_FOLLOWED / set.len().max(1));
    let mut open = vec![(Done::default(), automata)];
    let mut known: BTreeSet<(Done, Vec<RuleAutomaton>)> = open.iter().cloned().collect();
    while let Some((done, automata)) = open.pop() {
        if done.len() == order.len() && ended(section, set, &automata) {
            return Some(true);
        }
        let mut reach = |done: Done, sight: Option<&Sight>| {
            *work = work.saturating_sub(LOOK_UP + set.len() as u64);
            let mut next = automata.clone();
            let fine = sight
                .is_none_or(|sight| next.iter_mut().zip(sight).fold(true, |all, (j, (a, b))| j.next(*a, *b) && all));
            if fine && known.insert((done, next.clone())) {
                open.push((done, next));
            }
        };
        for sight in &callouts.at_any_time {
            reach(done, Some(sight));
        }
        for step in (0..order.len()).filter(|&s| order.may_follow(&done, s)) {
            let says = &callouts.of_steps[step];
            let mute = says.is_empty() || section.steps[step].optional || section.choice_of(step).is_some();
            if mute {
                reach(done.with(step), None);
            }
            says.iter().for_each(|sight| reach(done.with(step), Some(sight)));
        }
        if known.len() > most || *work == 0 {
            return None;
        }
    }
    Some(false)
}

/// Whether the rules are kept where the run ends; its end answers a rule that asks for just anything.
fn ended(section: &Section, set: &[usize], automata: &[RuleAutomaton]) -> bool {
    set.iter().zip(automata).all(|(&rule, judge)| {
        let mut automaton = *judge;
        if section.rules[rule].then.as_deref() == Some("any") {
            automaton.next(false, true);
        }
        automaton.kept()
    })
}
