//! A run explained by its section: what was called, what was not, what came out of order, how long each step took.
//! It makes no sentences.

mod align;
mod antichain;
mod bound;
mod mishap;
mod packing;
mod pieces;
mod safety;
mod score;
mod search;
mod sheet;
mod trace;
mod trial;
mod twins;
mod weight;

pub use align::{Alignment, Move, align, align_both_ways, align_so_far, shortest};

pub use trial::{explainable, shared_without_order};

pub use score::{Score, score};
pub use sheet::{Claim, sheet};

use crate::section::{DropAnswer, Judge, Order, Section};
use crate::time::{Ms, Pauses, SampleIndex};
use serde::Serialize;
use trace::{Trace, ends, trace};

/// One callout of a run that counted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Called {
    /// Its words.
    pub say: String,
    /// Its onset.
    pub at: SampleIndex,
}

/// A step as it went.
#[derive(Clone, Debug, PartialEq)]
pub struct StepTime {
    /// The step, by place.
    pub step: usize,
    /// Onset of its first callout.
    pub at: SampleIndex,
    /// Onset of the next callout of another step, or the end.
    pub until: SampleIndex,
    /// From the one to the other, pauses left out.
    pub took: Ms,
}

/// Something worth saying about a run.
#[derive(Clone, Debug, PartialEq)]
pub enum Finding {
    /// A needed step was not called.
    NotCalled {
        /// The step, by place.
        step: usize,
    },
    /// A needed step was not heard, but the second listen found something like its callout.
    Perhaps {
        /// The step, by place.
        step: usize,
        /// Where that was.
        at: SampleIndex,
    },
    /// A step was called, but not where the section has it.
    OutOfOrder {
        /// The step, by place.
        step: usize,
        /// When it was called.
        at: SampleIndex,
    },
    /// A callout for which the section has no more steps.
    Extra {
        /// Its words.
        say: String,
        /// When it was called.
        at: SampleIndex,
    },
    /// Fewer steps of a choice were called than it needs.
    TooFew {
        /// The choice, by place.
        choice: usize,
        /// How many were called.
        called: usize,
    },
    /// A callout came before the start words ended.
    BeforeStart {
        /// Its words.
        say: String,
        /// When it was called.
        at: SampleIndex,
    },
    /// A callout came after the stop.
    AfterStop {
        /// Its words.
        say: String,
        /// When it was called.
        at: SampleIndex,
    },
    /// A step was called before its cue.
    BeforeCue {
        /// The step, by place.
        step: usize,
        /// When it was called.
        at: SampleIndex,
    },
    /// A rule was broken.
    RuleBroken {
        /// The rule, by place.
        rule: usize,
        /// The callout at which it could no longer be kept; the end of the run where something was still missing.
        at: SampleIndex,
    },
    /// An invariant did not hold.
    InvariantBroken {
        /// The invariant, by place.
        invariant: usize,
        /// When it was broken.
        at: SampleIndex,
    },
    /// What should protect somebody was called, but too late, or was taken away before what it protects.
    Unsafe {
        /// The safety pair, by place.
        pair: usize,
        /// When the thing to be protected was called.
        at: SampleIndex,
        /// Whether the protection had been there, and was taken away.
        undone: bool,
    },
    /// A step that takes its time got less than its least time.
    TooShort {
        /// The step, by place.
        step: usize,
        /// When it was called.
        at: SampleIndex,
        /// How long until the next callout.
        took: Ms,
    },
    /// An item was dropped, and not all that answers it was called.
    Dropped {
        /// When it was called.
        at: SampleIndex,
        /// How long until hands were called, where they were called before the next step.
        hands_after: Option<Ms>,
        /// What else answers it, and was not called.
        missing: Vec<DropAnswer>,
    },
    /// A mishap was called, and not all that answers it.
    Unanswered {
        /// The named callout, by place.
        event: usize,
        /// When it was called.
        at: SampleIndex,
        /// The name of the first answer that did not follow.
        missing: String,
    },
}

/// The facts of a run that a review is made from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// Callouts that counted, by onset.
    pub called: Vec<Called>,
    /// Items dropped, by onset.
    pub dropped: Vec<SampleIndex>,
    /// Cues given, as the gated step, by place, and the end of its cue.
    pub cues: Vec<(usize, SampleIndex)>,
    /// What the second listen found: a step, by place, and where it was perhaps called.
    pub perhaps: Vec<(usize, SampleIndex)>,
    /// Where the clock was held: what lasts is measured without it.
    pub pauses: Pauses,
    /// Whether the run was cut short: what it never reached isn't missing.
    pub cut: bool,
    /// Where the run ended.
    pub end: SampleIndex,
}

/// A step that was not heard, to be looked for again.
#[derive(Clone, Debug, PartialEq)]
pub struct Sought {
    /// The step, by place.
    pub step: usize,
    /// Its callouts.
    pub say: Vec<String>,
    /// Between which places: the last callout that must come before it, and the first that must come after.
    pub between: (SampleIndex, SampleIndex),
}

/// Where the second listen is to look for the needed steps that were not called.
pub fn sought(section: &Section, facts: &Facts, start: SampleIndex) -> Vec<Sought> {
    let review = review(section, facts);
    let before = Order::of(section).all_before();
    let missing =
        review.findings.iter().filter_map(|f| if let Finding::NotCalled { step } = f { Some(*step) } else { None });
    missing
        .map(|step| {
            let called = |wanted: &dyn Fn(usize) -> bool| {
                review.steps.iter().filter(|t| wanted(t.step)).map(|t| t.at).collect::<Vec<_>>()
            };
            let from = called(&|s| before[step].has(s)).into_iter().max().unwrap_or(start);
            let until = called(&|s| before[s].has(step)).into_iter().min().unwrap_or(facts.end);
            // Called out of order, its neighbours say nothing of where it was.
            let between = if from < until { (from, until) } else { (start, facts.end) };
            Sought { step, say: section.steps[step].say.clone(), between }
        })
        .collect()
}

/// Steps with their times, and findings in the order of the section.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Review {
    /// Steps that were called.
    pub steps: Vec<StepTime>,
    /// What there is to say.
    pub findings: Vec<Finding>,
    /// Whether a shorter explanation may exist: the run had too many to look at all.
    pub unsettled: bool,
    /// Needed steps, by place, that a run which was cut short never reached: no step behind them was called.
    pub not_reached: Vec<usize>,
}

/// Explain a run.
pub fn review(section: &Section, facts: &Facts) -> Review {
    let Facts { called, cues, perhaps, pauses, cut, end, .. } = facts;
    let (answers, mut findings) = mishap::answered(section, facts);
    let Trace { steps: found, skipped, repeats, spare, cheapest, findings: misplaced } =
        trace(section, called, &answers);
    findings.extend(misplaced);
    let before = if *cut { Order::of(section).all_before() } else { vec![] };
    let reached = |step: usize| !*cut || found.iter().any(|&(later, ..)| before[later].has(step));
    let mut not_reached: Vec<usize> = vec![];
    let mut steps: Vec<(usize, SampleIndex)> = found.iter().map(|&(step, first, _)| (step, called[first].at)).collect();
    steps.sort_by_key(|&(step, at)| (at, step));
    for &(step, at) in &steps {
        let cued = cues.iter().any(|&(s, cue)| s == step && cue <= at);
        if section.steps[step].gate.is_some() && !cued {
            findings.push(Finding::BeforeCue { step, at });
        }
    }
    for (place, choice) in section.choices.iter().enumerate() {
        let (taken, left): (Vec<usize>, Vec<usize>) =
            choice.of.iter().partition(|s| steps.iter().any(|(t, _)| t == *s));
        let taken = taken.len();
        if taken < choice.at_least && !choice.of.iter().any(|&s| reached(s)) {
            not_reached.extend(left);
        } else if taken < choice.at_least {
            findings.push(Finding::TooFew { choice: place, called: taken });
        }
    }
    let needed = |&step: &usize| !section.steps[step].optional && section.choice_of(step).is_none();
    let (skipped, never): (Vec<usize>, Vec<usize>) = skipped.into_iter().filter(needed).partition(|&s| reached(s));
    not_reached.extend(never);
    not_reached.sort_unstable();
    let mut missed: Vec<Finding> = skipped.into_iter().map(|step| Finding::NotCalled { step }).collect();
    missed.sort_by_key(|f| if let Finding::NotCalled { step } = f { *step } else { 0 });
    for finding in &mut missed {
        if let Finding::NotCalled { step } = *finding
            && let Some(&(_, at)) = perhaps.iter().find(|(s, _)| *s == step)
        {
            *finding = Finding::Perhaps { step, at };
        }
    }
    missed.extend(findings);
    let once: Vec<Called> =
        called.iter().enumerate().filter(|(i, _)| !repeats.contains(i)).map(|(_, c)| c.clone()).collect();
    let broken = safety::broken(section, (&once, perhaps), &missed);
    safety::without_told(section, &broken, &mut missed);
    missed.extend(broken);
    // What answers a mishap stands between a step and the next one without being either, unless it is a step, too.
    let work = |repeats: &[usize]| -> Vec<Called> {
        let counts = |i: &usize| !spare.contains(i) && !repeats.contains(i);
        (0..called.len()).filter(counts).map(|i| called[i].clone()).collect()
    };
    let broken = constraints(section, (&work(&repeats), &work(&[])), *end, *cut, &missed);
    missed.extend(broken);
    let mut steps: Vec<StepTime> = found
        .into_iter()
        .map(|(step, first, last)| {
            let (at, until) = (called[first].at, ends(section, called, last, *end));
            StepTime { step, at, until, took: pauses.clock(at, until) }
        })
        .collect();
    steps.sort_by_key(|time| (time.at, time.step));
    // What has to last goes on in a pause, and a step that was going on when the run was cut short might have lasted yet.
    let short = |t: &StepTime| {
        let least = section.steps[t.step].at_least?;
        let short = t.until.since(t.at) < least && !(*cut && t.until == *end);
        short.then_some(Finding::TooShort { step: t.step, at: t.at, took: t.took })
    };
    missed.extend(steps.iter().filter_map(short));
    Review { steps, findings: missed, unsettled: !cheapest, not_reached }
}

/// Rules and invariants broken for a reason of their own: one that speaks of a step already reported as not called, out of
/// order or called once more is not reported again. What was called comes without and with callouts that only repeat the one before: what a
/// repeated callout alone would break is not broken.
fn constraints(
    section: &Section,
    (called, all): (&[Called], &[Called]),
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
            Finding::NotCalled { step } | Finding::Perhaps { step, .. } | Finding::OutOfOrder { step, .. } => {
                section.steps[*step].say.iter().map(String::as_str).collect()
            }
            Finding::Extra { say, .. } => vec![say.as_str()],
            _ => vec![],
        })
        .collect();
    let reported = |name: &str| name != "any" && says.iter().any(|say| section.means(name, say));
    let mut broken = vec![];
    for (place, rule) in section.rules.iter().enumerate() {
        if reported(&rule.first) || rule.then.as_deref().is_some_and(reported) {
            continue;
        }
        let at = judge(section, place, called, end, cut).filter(|_| judge(section, place, all, end, cut).is_some());
        broken.extend(at.map(|at| Finding::RuleBroken { rule: place, at }));
    }
    for (place, invariant) in section.invariants.iter().enumerate() {
        if invariant.broken_by.iter().chain(&invariant.mended_by).any(|n| reported(n)) {
            continue;
        }
        let means = |names: &[String], say: &str| names.iter().any(|n| section.means(n, say));
        let mut open: Option<SampleIndex> = None;
        let mut found = None;
        for c in called {
            if means(&invariant.mended_by, &c.say) {
                open = None;
            } else if means(&invariant.broken_by, &c.say) {
                // Broken for a while is allowed only where it must be mended at the end; twice in a row never is.
                if open.is_some() || !invariant.at_end {
                    found = found.or(Some(c.at));
                }
                open = Some(c.at);
            }
        }
        // What was still to be mended when the run was cut short is no fault.
        broken.extend(found.or(open.filter(|_| !cut)).map(|at| Finding::InvariantBroken { invariant: place, at }));
    }
    broken
}

/// Where a rule could no longer be kept. A run that was cut short might have kept it yet.
fn judge(section: &Section, rule: usize, called: &[Called], end: SampleIndex, cut: bool) -> Option<SampleIndex> {
    let rule = &section.rules[rule];
    let sight = |say: &str| {
        (section.means(&rule.first, say), rule.then.as_deref().is_some_and(|then| section.means(then, say)))
    };
    let mut judge = Judge::new(rule.template, rule.count);
    let mut waiting: Option<SampleIndex> = None;
    // Whatever may come next, the end of the run comes too: it answers a rule that asks for just anything.
    let anything = rule.then.as_deref() == Some("any");
    let seen = called.iter().map(|c| (sight(&c.say), c.at)).chain((anything && !cut).then_some(((false, true), end)));
    for ((a, b), at) in seen {
        if !judge.next(a, b) {
            return Some(at);
        }
        // The least time runs from an `a` to the `b` that answers it.
        if let (Some(from), Some(least), true) = (waiting, rule.at_least, b)
            && at.since(from) < least
        {
            return Some(at);
        }
        if b {
            waiting = None;
        }
        if a {
            waiting = Some(at);
        }
    }
    (!cut && !judge.kept()).then_some(end)
}
