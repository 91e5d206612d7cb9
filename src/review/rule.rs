//! Rules and invariants of a section, held against a run.

use super::stood::Stood;
use super::{Called, Finding};
use crate::section::{Invariant, Rule, RuleAutomaton, Section};
use crate::time::SampleIndex;

/// What was called, as rules see it.
pub(super) struct Heard<'a> {
    /// Without callouts that only repeat the one before, and without what answers a mishap.
    pub work: &'a [&'a Stood<'a>],
    /// With what only repeats.
    pub repeated: &'a [&'a Stood<'a>],
    /// With what answers a mishap: a rule may ask for just that, or speak of steps between which it comes.
    pub answered: &'a [&'a Stood<'a>],
}

/// Rules and invariants broken for a reason of their own: one that speaks of a step already reported as not called, out of
/// order or called once more is not reported again. What a repeated callout alone, the answer to a mishap alone or the lack of it, or a
/// callout that the section has no more room for, would break is not broken.
pub(super) fn broken(
    section: &Section,
    heard: &Heard,
    end: SampleIndex,
    cut: bool,
    findings: &[Finding],
) -> Vec<Finding> {
    let says: Vec<&str> = findings
        .iter()
        .flat_map(|f| match f {
            Finding::Unsafe { pair, .. } => {
                let pair = &section.safety[*pair];
                let of_pair =
                    |s: &usize| std::iter::once(&pair.first).chain(&pair.then).any(|n| section.is_named(n, *s));
                (0..section.steps.len())
                    .filter(of_pair)
                    .flat_map(|s| &section.steps[s].say)
                    .map(String::as_str)
                    .collect()
            }
            Finding::NotCalled { step }
            | Finding::Perhaps { step, .. }
            | Finding::ClaimedAfterwards { step, .. }
            | Finding::OutOfOrder { step, .. } => section.steps[*step].say.iter().map(String::as_str).collect(),
            Finding::Extra { say, .. } => vec![say.as_str()],
            _ => vec![],
        })
        .collect();
    let reported = |name: &str| name != "any" && says.iter().any(|say| section.means(name, say));
    // What the section has no more room for is told as that, and may be a word misheard: it breaks nothing else.
    let extra = |c: &Stood| findings.iter().any(|f| f.is_extra(c.called.at));
    let [called, answered] =
        [heard.work, heard.answered].map(|c| c.iter().copied().filter(|c| !extra(c)).collect::<Vec<_>>());
    let mut broken = vec![];
    for (place, rule) in section.rules.iter().enumerate() {
        if reported(&rule.first) || rule.then.as_deref().is_some_and(reported) {
            continue;
        }
        let by_words = |name: &str, c: &Stood| section.means(name, &c.called.say);
        let by_steps = |name: &str, c: &Stood| c.may_be(section, name);
        let at = judge(rule, &called, end, cut, &by_words)
            .filter(|_| judge(rule, heard.repeated, end, cut, &by_words).is_some())
            .filter(|_| judge(rule, &answered, end, cut, &by_words).is_some())
            // Where steps share words, nobody is accused of one for what was another. What just anything follows is asked of the words,
            // whatever step they are for: the rub of the hands.
            .filter(|_| rule.then.as_deref() == Some("any") || judge(rule, &called, end, cut, &by_steps).is_some());
        broken.extend(at.map(|at| Finding::RuleBroken { rule: place, at }));
    }
    for (place, invariant) in section.invariants.iter().enumerate() {
        if invariant.broken_by.iter().chain(&invariant.mended_by).any(|n| reported(n)) {
            continue;
        }
        let at =
            lapse(section, invariant, &called, cut).filter(|_| lapse(section, invariant, &answered, cut).is_some());
        broken.extend(at.map(|at| Finding::InvariantBroken { invariant: place, at }));
    }
    broken
}

/// Where an invariant did not hold. What was still to be mended when the run was cut short is no fault.
fn lapse(section: &Section, invariant: &Invariant, called: &[&Stood], cut: bool) -> Option<SampleIndex> {
    let means = |names: &[String], say: &str| names.iter().any(|n| section.means(n, say));
    let mut open: Option<SampleIndex> = None;
    let mut found = None;
    for c in called {
        let Called { say, at } = c.called;
        if means(&invariant.mended_by, say) {
            open = None;
        } else if means(&invariant.broken_by, say) {
            // Broken for a while is allowed only where it must be mended at the end; twice in a row never is.
            if open.is_some() || !invariant.at_end {
                found = found.or(Some(*at));
            }
            open = Some(*at);
        }
    }
    found.or(open.filter(|_| !cut))
}

/// Where a rule could no longer be kept; where the time between two callouts was too short, the first of them. A run that was cut
/// short might have kept it yet.
fn judge(
    rule: &Rule,
    called: &[&Stood],
    end: SampleIndex,
    cut: bool,
    means: &impl Fn(&str, &Stood) -> bool,
) -> Option<SampleIndex> {
    let sight = |c: &Stood| (means(&rule.first, c), rule.then.as_deref().is_some_and(|then| means(then, c)));
    let mut automaton = RuleAutomaton::new(rule.template, rule.count);
    let mut waiting: Option<SampleIndex> = None;
    for ((a, b), at) in called.iter().map(|c| (sight(c), c.called.at)) {
        if !automaton.next(a, b) {
            return Some(at);
        }
        // The least time runs from an `a` to the `b` that answers it.
        if let (Some(from), Some(least), true) = (waiting, rule.at_least, b)
            && at.since(from) < least
        {
            return Some(from);
        }
        if b {
            waiting = None;
        }
        if a {
            waiting = Some(at);
        }
    }
    if cut || automaton.kept() {
        return None;
    }
    // The end of the run answers a rule that asks for just anything, however soon it came: nobody called anything there.
    let anything = rule.then.as_deref() == Some("any");
    (!(anything && automaton.next(false, true) && automaton.kept())).then_some(end)
}
