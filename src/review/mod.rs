//! A run explained by its section: what was called, what was not, what came out of order, how long each step took.
//! It makes no sentences.

mod align;
mod alignment;
mod antichain;
mod bound;
mod finding;
mod mishap;
mod packing;
mod pieces;
mod rule;
mod safety;
mod score;
mod search;
mod second;
mod sheet;
mod stood;
mod trace;
mod trial;
mod twins;
mod weight;

pub use align::{align, align_both_ways, align_so_far};
pub use alignment::{Alignment, Move, shortest};
pub use finding::Finding;
pub use score::{Score, score};
pub use second::{SearchTarget, search_targets};
pub use sheet::{Claim, sheet};
pub use trial::{explainable, shared_without_order};

use crate::section::{Order, Section};
use crate::time::{Ms, Pauses, SampleIndex};
use serde::Serialize;
use stood::Stood;
use trace::{Trace, ends, lasted, trace};

/// One callout of a run that counted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Called {
    /// Its words.
    pub say: String,
    /// Its onset.
    pub at: SampleIndex,
}

/// What somebody says afterwards of a step that was not heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Claimed {
    /// That it was called.
    Called,
    /// That it was gone through without a callout.
    Unsaid,
    /// That it was not called.
    NotCalled,
}

/// A step as it went.
#[derive(Clone, Debug, PartialEq)]
pub struct StepTime {
    /// The step, by place.
    pub step: usize,
    /// Onset of its first callout.
    pub at: SampleIndex,
    /// Onset of the next callout of another step, or of a mishap behind which it wasn't called again; the end of its phase where that
    /// came sooner.
    pub until: SampleIndex,
    /// From the one to the other; pauses are left out, and what lies between a mishap and the step called again.
    pub took: Ms,
}

/// The facts of a run that a review is made from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// Callouts that counted, by onset.
    pub called: Vec<Called>,
    /// Items dropped, by onset.
    pub dropped: Vec<SampleIndex>,
    /// Where each phase that was begun started, and where it ended; empty where that means nothing.
    pub phases: Vec<(SampleIndex, Option<SampleIndex>)>,
    /// Cues given, as the gated step, by place, and the end of its cue.
    pub cues: Vec<(usize, SampleIndex)>,
    /// What the second listen found: a step, by place, and where it was perhaps called.
    pub perhaps: Vec<(usize, SampleIndex)>,
    /// What is claimed afterwards: a step, by place, and what.
    pub claims: Vec<(usize, Claimed)>,
    /// Where the clock was held: what lasts is measured without it.
    pub pauses: Pauses,
    /// Whether the run was cut short: what it never reached isn't missing.
    pub cut: bool,
    /// Where the run ended.
    pub end: SampleIndex,
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
    /// Whether the run was cut short.
    pub cut: bool,
}

/// What is told of a step that was not called but perhaps heard, or that is claimed; none where it just wasn't called.
fn doubtful(step: usize, perhaps: &[(usize, SampleIndex)], claims: &[(usize, Claimed)]) -> Option<Finding> {
    let perhaps = perhaps.iter().find(|(s, _)| *s == step).map(|(_, at)| *at);
    match claims.iter().find(|(s, _)| *s == step).map(|(_, claimed)| claimed) {
        Some(Claimed::Called) => Some(Finding::ClaimedAfterwards { step, called: true, perhaps }),
        Some(Claimed::Unsaid) => Some(Finding::ClaimedAfterwards { step, called: false, perhaps }),
        Some(Claimed::NotCalled) => None,
        None => perhaps.map(|at| Finding::Perhaps { step, at }),
    }
}

/// Explain a run.
pub fn review(section: &Section, facts: &Facts) -> Review {
    let Facts { called, cues, perhaps, claims, pauses, cut, end, .. } = facts;
    let (answers, mut findings) = mishap::answered(section, facts);
    let Trace { steps: found, skipped, repeats, spare, stands, cheapest, findings: misplaced } =
        trace(section, facts, &answers);
    findings.extend(misplaced);
    let before = Order::of(section).all_before();
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
        if taken >= choice.at_least {
            continue;
        }
        if !choice.of.iter().any(|&s| reached(s)) {
            not_reached.extend(left);
            continue;
        }
        let maybe: Vec<Finding> = left.iter().filter_map(|&s| doubtful(s, perhaps, claims)).collect();
        // Nobody is accused of too few where those perhaps called make up for them.
        if taken + maybe.len() < choice.at_least {
            findings.push(Finding::TooFew { choice: place, called: taken });
        }
        findings.extend(maybe);
    }
    let needed = |&step: &usize| !section.steps[step].optional && section.choice_of(step).is_none();
    let (mut skipped, never): (Vec<usize>, Vec<usize>) = skipped.into_iter().filter(needed).partition(|&s| reached(s));
    not_reached.extend(never);
    not_reached.sort_unstable();
    skipped.sort_unstable();
    let missing = |step| doubtful(step, perhaps, claims).unwrap_or(Finding::NotCalled { step });
    let mut missed: Vec<Finding> = skipped.into_iter().map(missing).collect();
    missed.extend(findings);
    let stood: Vec<Stood> =
        called.iter().zip(&stands).map(|(c, &stands)| Stood::new(section, &before, c, stands)).collect();
    let once: Vec<&Stood> = stood.iter().enumerate().filter(|(i, _)| !repeats.contains(i)).map(|(_, c)| c).collect();
    let broken = safety::broken(section, (&once, perhaps), *cut, &missed);
    safety::without_told(section, &broken, &mut missed);
    missed.extend(broken);
    // What answers a mishap stands between a step and the next one without being either, unless it is a step, too.
    let without = |these: &[usize], those: &[usize]| -> Vec<&Stood> {
        let counts = |i: &usize| !these.contains(i) && !those.contains(i);
        (0..called.len()).filter(counts).map(|i| &stood[i]).collect()
    };
    let heard = rule::Heard {
        work: &without(&spare, &repeats),
        repeated: &without(&spare, &[]),
        answered: &without(&[], &repeats),
    };
    let broken = rule::broken(section, &heard, *end, *cut, &missed);
    missed.extend(broken);
    let mishaps = mishap::begun(section, facts);
    let mut steps = vec![];
    let mut short = vec![];
    for (step, first, last) in found {
        let (at, next) = (called[first].at, ends(section, called, last, *end));
        let own = called.iter().zip(&stands).filter(|(_, stands)| **stands == Some(step));
        let calls: Vec<SampleIndex> = own.map(|(c, _)| c.at).collect();
        let (took, until) = lasted(facts, &calls, &mishaps, next);
        steps.push(StepTime { step, at, until, took });
        // What has to last goes on in a pause, in a mishap and behind its phase, and a step that was going on when the run was cut short
        // might have lasted yet.
        let least = section.steps[step].at_least;
        if least.is_some_and(|least| next.since(at) < least) && !(*cut && next == *end) {
            short.push(Finding::TooShort { step, at, took: pauses.clock(at, next) });
        }
    }
    steps.sort_by_key(|time| (time.at, time.step));
    short.sort_by_key(|finding| finding.at());
    missed.extend(short);
    Review { steps, findings: missed, unsettled: !cheapest, not_reached, cut: *cut }
}
