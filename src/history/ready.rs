//! Whether a person is ready: the chance that the next run has no critical finding and is finished in time, with an interval.

use super::stats::percentile;
use super::{CLAIMED, History, Interval, NOT_CALLED, PERHAPS, Run, fit};
use rand_distr::{Beta, ChiSquared, Distribution, StandardNormal};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::SeedableRng;
use statrs::distribution::{ContinuousCDF, Normal};

/// With fewer whole runs nothing is said.
pub const TOO_FEW: usize = 5;

/// Draws from what the runs leave open.
pub(super) const DRAWS: usize = 4_000;

/// A run counts half as much as one this many runs later: people learn.
const HALF_LIFE: f64 = 8.0;

/// How much of a step's chance to be left out is taken from the person's other critical steps, in runs.
const SHARED: f64 = 4.0;

/// What holds readiness down.
#[derive(Clone, Debug, PartialEq)]
pub enum Limiter {
    /// A critical step that was left out, or only claimed: by place, the share of runs to come in which it is.
    Step(usize, f64),
    /// A critical finding of another kind, in this share of runs.
    OtherCritical(f64),
    /// Time: the chance not to finish before the limit.
    Time(f64),
}

/// Chance of a good next run.
#[derive(Clone, Debug, PartialEq)]
pub struct Readiness {
    /// No critical finding, and in time where that can be told, with a 90 % interval.
    pub good: Interval,
    /// No critical finding.
    pub clean: f64,
    /// No finding of any kind, with a 90 % interval; whatever the time.
    pub spotless: Interval,
    /// Finished in time; none where nothing is timed, or the clock was compressed: that tells nothing of the real one.
    pub in_time: Option<f64>,
    /// What holds `good` down, the worst first; shares under 1 %, and steps that were never left out, are no part of it.
    pub limiters: Vec<Limiter>,
    /// Needed steps that were left out, by place, with the number of runs; the most first.
    pub missed: Vec<(usize, usize)>,
    /// Needed steps that were not heard for sure, by place: in how many runs perhaps called, and in how many claimed afterwards.
    pub unsure: Vec<(usize, [usize; 2])>,
    /// Runs in which something was found that is in neither of the two.
    pub others: usize,
    /// Whole runs it is made from.
    pub runs: usize,
    /// Draws of the chance whose mean and interval are `good`: those of several sections multiply.
    pub(super) draws: Vec<f64>,
}

/// What may go wrong, by its weights in the runs so far: steps that may be left out, and findings that no such step explains.
struct Slips {
    missed: Vec<f64>,
    others: f64,
    /// Weight of the runs that `others` is counted in.
    without: f64,
    total: f64,
}

impl Slips {
    /// One draw of the chances that the next run has each: a step, and something else. Steps lend one another what little is known.
    fn draw(&self, chance: &mut Pcg64Mcg) -> (Vec<f64>, f64) {
        let mut beta = |a: f64, b: f64| Beta::new(a.max(1e-6), b.max(1e-6)).map_or(0.5, |d| d.sample(chance));
        let (pooled, of) = (self.missed.iter().sum::<f64>(), self.total * self.missed.len() as f64);
        let shared = beta(pooled + 0.5, of - pooled + 0.5);
        let step = |missed: &f64| beta(SHARED * shared + missed, SHARED * (1.0 - shared) + self.total - missed);
        let steps = self.missed.iter().map(step).collect();
        // Where nothing else was ever found, the section may have no such rule: a weaker prior than Jeffreys'.
        let other = if self.others > 0.0 { beta(self.others + 0.5, self.without - self.others + 0.5) } else { 0.0 };
        (steps, other)
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Mean and 90 % interval of draws.
pub(super) fn interval(draws: &[f64]) -> Interval {
    Interval {
        mean: mean(draws),
        low: percentile(draws, 0.05).unwrap_or(0.0),
        high: percentile(draws, 0.95).unwrap_or(1.0),
    }
}

/// What the run counts that has so many later ones.
pub(super) fn recency(later: usize) -> f64 {
    0.5f64.powf(later as f64 / HALF_LIFE)
}

/// Readiness for a section from its whole runs so far; none with fewer than [`TOO_FEW`].
pub fn readiness(history: &History, section: usize, seed: u64) -> Option<Readiness> {
    let runs = history.of(section);
    let about = &history.sections[section];
    if runs.len() < TOO_FEW {
        return None;
    }
    let needed: Vec<usize> = (0..about.steps.len()).filter(|s| !about.steps[*s].free).collect();
    let (critical, plain): (Vec<usize>, Vec<usize>) = needed.iter().partition(|s| about.steps[**s].critical);
    let weight = |k: usize| recency(runs.len() - 1 - k);
    let weighed = |of: &dyn Fn(&Run) -> bool| -> f64 {
        runs.iter().enumerate().filter(|(_, r)| of(r)).map(|(k, _)| weight(k)).sum()
    };
    // A claim takes nothing critical away, so it weighs as much; what was perhaps called is a finding, and accuses nobody.
    let out = |took: u32| took == NOT_CALLED || took == CLAIMED;
    let left_out = |run: &Run, steps: &[usize]| steps.iter().filter(|s| out(run.took[**s])).count();
    // Findings that no missing step explains: a rule broken, say.
    let other_critical = |run: &Run| left_out(run, &critical) < run.critical as usize;
    // A step left out often brings another finding with it, so the chance of one alone is that of runs in which none was left out.
    let complete = |run: &Run| left_out(run, &needed) == 0;
    let other = |run: &Run| complete(run) && run.findings > run.critical;
    let slips = |steps: &[usize], other: &dyn Fn(&Run) -> bool, of: &dyn Fn(&Run) -> bool| Slips {
        missed: steps.iter().map(|s| weighed(&|r| out(r.took[*s]))).collect(),
        others: weighed(other),
        without: weighed(of),
        total: weighed(&|_| true),
    };
    let (grave, slight) = (slips(&critical, &other_critical, &|_| true), slips(&plain, &other, &complete));
    let count = |of: &dyn Fn(&Run) -> bool| runs.iter().filter(|r| of(r)).count();
    // A run that was cut by its limit took at least that long: it counts as a little longer.
    let times: Vec<f64> =
        runs.iter().map(|r| r.used.seconds().max(0.1) * if r.finished { 1.0 } else { 1.05 }).collect();
    let curve = fit(&times)?;
    let next = runs.len() as f64 + 1.0;

    let mut chance = Pcg64Mcg::seed_from_u64(seed);
    // Its own draws, so that what is told of critical findings does not hang on the other steps.
    let mut also = Pcg64Mcg::seed_from_u64(seed ^ 0x5107);
    let (mut clean, mut spotless, mut in_time, mut good) = (vec![], vec![], vec![], vec![]);
    let mut by_step = vec![0.0; critical.len()];
    let mut by_other = 0.0;
    let limit = about.limit.filter(|_| about.compress == 1);
    for _ in 0..DRAWS {
        let kept = |(steps, other): &(Vec<f64>, f64)| steps.iter().map(|s| 1.0 - s).product::<f64>() * (1.0 - other);
        let (drawn, slight) = (grave.draw(&mut chance), slight.draw(&mut also));
        by_step.iter_mut().zip(&drawn.0).for_each(|(sum, share)| *sum += share);
        by_other += drawn.1;
        spotless.push(kept(&drawn) * kept(&slight));
        let kept = kept(&drawn);
        let timely = limit.map_or(1.0, |limit| {
            // Normal with unknown mean and spread: both are drawn, so that the interval holds what few runs leave open.
            let (freedom, _) = curve.prediction(next);
            let freedom = freedom.max(1.0);
            let squares = ChiSquared::new(freedom).map_or(freedom, |d| d.sample(&mut chance));
            let spread = curve.spread * (freedom / squares.max(1e-9)).sqrt();
            let (_, whole) = curve.prediction(next);
            // Of the prediction's variance, all but the new run's own part is doubt about the law.
            let doubt = ((whole / curve.spread.max(1e-12)).powi(2) - 1.0).max(0.0).sqrt() * spread;
            let z: f64 = StandardNormal.sample(&mut chance);
            let middle = curve.at(next).ln() + doubt * z;
            Normal::standard().cdf((limit.seconds().ln() - middle) / spread.max(1e-9))
        });
        clean.push(kept);
        in_time.push(timely);
        good.push(kept * timely);
    }
    let mut limiters: Vec<Limiter> = (critical.iter().zip(&by_step).zip(&grave.missed))
        .filter(|(_, missed)| **missed > 0.0)
        .map(|((step, sum), _)| Limiter::Step(*step, sum / DRAWS as f64))
        .collect();
    limiters.push(Limiter::OtherCritical(by_other / DRAWS as f64));
    limiters.push(Limiter::Time(1.0 - mean(&in_time)));
    let share = |driver: &Limiter| match driver {
        Limiter::Step(_, share) | Limiter::OtherCritical(share) | Limiter::Time(share) => *share,
    };
    limiters.retain(|d| share(d) >= 0.01);
    limiters.sort_by(|a, b| share(b).total_cmp(&share(a)));
    let of = |step: usize, kind: u32| count(&|r| r.took[step] == kind);
    let mut missed: Vec<(usize, usize)> =
        needed.iter().map(|&step| (step, of(step, NOT_CALLED))).filter(|(_, n)| *n > 0).collect();
    let unsure = needed.iter().map(|&step| (step, [PERHAPS, CLAIMED].map(|kind| of(step, kind))));
    let unsure = unsure.filter(|(_, runs)| *runs != [0, 0]).collect();
    let unheard = |run: &Run| needed.iter().filter(|s| out(run.took[**s]) || run.took[**s] == PERHAPS).count();
    missed.sort_by_key(|(step, n)| (std::cmp::Reverse(*n), *step));
    Some(Readiness {
        good: interval(&good),
        clean: mean(&clean),
        spotless: interval(&spotless),
        in_time: limit.map(|_| mean(&in_time)),
        limiters,
        missed,
        unsure,
        others: count(&|r| unheard(r) < r.findings as usize),
        runs: runs.len(),
        draws: good,
    })
}

#[cfg(test)]
mod tests {
    use super::super::{About, StepAbout};
    use super::*;
    use crate::outcome::Fade;
    use crate::time::Ms;

    /// Nine runs of 10 minutes, in time, of two steps, the first of them critical; the second is left out in the first four.
    fn nine(compress: u32) -> History {
        let step =
            |id: &str, critical| StepAbout { id: id.into(), title: id.into(), critical, free: false, plan: None };
        let about = About {
            id: "x".into(),
            title: "X".into(),
            edition: "2026-01-01".into(),
            compress,
            limit: Some(Ms(1_000_000)),
            steps: vec![step("a", true), step("b", false)],
            criteria: vec![],
        };
        let run = |k: u32| Run {
            section: 0,
            started: i64::from(k),
            finished: true,
            whole: true,
            used: Ms(600_000 + 1_000 * u64::from(k % 3)),
            critical: 0,
            findings: u32::from(k < 4),
            hygiene: 0,
            fade: Fade::All,
            guessed: None,
            points: None,
            took: vec![1_000, if k < 4 { NOT_CALLED } else { 1_000 }],
            claims: vec![],
            name: String::new(),
        };
        History { sections: vec![about], runs: (0..9).map(run).collect() }
    }

    #[test]
    fn both_chances_are_told_and_only_what_happened_holds_them_down() {
        let ready = readiness(&nine(1), 0, 9).unwrap();
        assert!(ready.good.mean > 0.9 && ready.in_time.unwrap() > 0.95, "{ready:?}");
        // Four of nine, the older ones: between a third and three quarters stay clean.
        assert!((0.33..0.75).contains(&ready.spotless.mean) && ready.spotless.high < ready.good.mean, "{ready:?}");
        assert_eq!((ready.missed.as_slice(), ready.others), ([(1, 4)].as_slice(), 0));
        assert!(!ready.limiters.iter().any(|d| matches!(d, Limiter::Step(..))), "{ready:?}");
    }

    /// A step that was perhaps called is no left-out one; one that is claimed weighs as much as one, but isn't called so.
    #[test]
    fn what_was_not_heard_for_sure_is_counted_apart() {
        let with = |kind: u32| {
            let mut history = nine(10);
            for (k, run) in history.runs.iter_mut().enumerate() {
                let critical = kind != PERHAPS && k < 4;
                (run.findings, run.critical) = (u32::from(k < 4), u32::from(critical));
                run.took = vec![if k < 4 { kind } else { 1_000 }, 1_000];
            }
            readiness(&history, 0, 9).unwrap()
        };
        let (out, claimed, perhaps) = (with(NOT_CALLED), with(CLAIMED), with(PERHAPS));
        assert_eq!((out.missed.as_slice(), out.unsure.len()), ([(0, 4)].as_slice(), 0));
        assert_eq!((claimed.missed.len(), claimed.unsure.as_slice()), (0, [(0, [0, 4])].as_slice()));
        assert_eq!((perhaps.missed.len(), perhaps.unsure.as_slice()), (0, [(0, [4, 0])].as_slice()));
        assert_eq!([out.others, claimed.others, perhaps.others], [0; 3]);
        assert_eq!(claimed.clean, out.clean);
        assert!(perhaps.clean > 0.9 && perhaps.spotless.mean < 0.8, "{perhaps:?}");
        assert!(!perhaps.limiters.iter().any(|d| matches!(d, Limiter::Step(..) | Limiter::OtherCritical(_))));
    }

    #[test]
    fn a_compressed_clock_says_nothing_of_time() {
        let ready = readiness(&nine(10), 0, 9).unwrap();
        assert_eq!(ready.in_time, None);
        assert_eq!(ready.good.mean, ready.clean);
    }
}
