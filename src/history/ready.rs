//! Whether a person is ready: the chance that the next run has no critical finding and is finished in time, with an interval.

use super::stats::percentile;
use super::{History, Interval, NOT_CALLED, Run, fit};
use rand_distr::{Beta, ChiSquared, Distribution, StandardNormal};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::SeedableRng;
use statrs::distribution::{ContinuousCDF, Normal};

/// With fewer whole runs nothing is said.
pub const TOO_FEW: usize = 5;

/// Draws from what the runs leave open.
const DRAWS: usize = 4_000;

/// A run counts half as much as one this many runs later: people learn.
const HALF_LIFE: f64 = 8.0;

/// How much of a step's chance to be left out is taken from the person's other critical steps, in runs.
const SHARED: f64 = 4.0;

/// What holds readiness down.
#[derive(Clone, Debug, PartialEq)]
pub enum Driver {
    /// A critical step that is left out in this share of runs, by place.
    Step(usize, f64),
    /// A critical finding of another kind, in this share of runs.
    OtherCritical(f64),
    /// Time: the chance not to finish before the limit.
    Time(f64),
}

/// Chance of a good next run.
#[derive(Clone, Debug, PartialEq)]
pub struct Readiness {
    /// No critical finding and in time, with a 90 % interval.
    pub good: Interval,
    /// No critical finding.
    pub clean: f64,
    /// Finished in time; 1 where nothing is timed.
    pub in_time: f64,
    /// What holds it down, the worst first; shares under 1 % are left out.
    pub drivers: Vec<Driver>,
    /// Whole runs it is made from.
    pub runs: usize,
}

/// Readiness for a section from its whole runs so far; none with fewer than [`TOO_FEW`].
pub fn readiness(history: &History, section: usize, seed: u64) -> Option<Readiness> {
    let runs = history.of(section);
    let about = &history.sections[section];
    if runs.len() < TOO_FEW {
        return None;
    }
    let critical: Vec<usize> =
        (0..about.steps.len()).filter(|s| about.steps[*s].critical && !about.steps[*s].free).collect();
    let weight = |k: usize| 0.5f64.powf((runs.len() - 1 - k) as f64 / HALF_LIFE);
    let total: f64 = (0..runs.len()).map(weight).sum();
    let missed: Vec<f64> = critical
        .iter()
        .map(|&step| runs.iter().enumerate().filter(|(_, r)| r.took[step] == NOT_CALLED).map(|(k, _)| weight(k)).sum())
        .collect();
    // Critical findings that no missing step explains: a rule broken, say.
    let other = |run: &Run| critical.iter().filter(|s| run.took[**s] == NOT_CALLED).count() < run.critical as usize;
    let others: f64 = runs.iter().enumerate().filter(|(_, r)| other(r)).map(|(k, _)| weight(k)).sum();
    // A run that was cut by its limit took at least that long: it counts as a little longer.
    let times: Vec<f64> =
        runs.iter().map(|r| r.used.seconds().max(0.1) * if r.finished { 1.0 } else { 1.05 }).collect();
    let curve = fit(&times)?;
    let next = runs.len() as f64 + 1.0;

    let mut chance = Pcg64Mcg::seed_from_u64(seed);
    let pooled_missed: f64 = missed.iter().sum();
    let pooled_of = total * critical.len() as f64;
    let (mut clean, mut in_time, mut good) = (vec![], vec![], vec![]);
    let mut by_step = vec![0.0; critical.len()];
    let mut by_other = 0.0;
    let beta =
        |a: f64, b: f64, chance: &mut Pcg64Mcg| Beta::new(a.max(1e-6), b.max(1e-6)).map_or(0.5, |d| d.sample(chance));
    for _ in 0..DRAWS {
        let shared = beta(pooled_missed + 0.5, pooled_of - pooled_missed + 0.5, &mut chance);
        let mut kept = 1.0;
        for (k, missed) in missed.iter().enumerate() {
            let share = beta(SHARED * shared + missed, SHARED * (1.0 - shared) + total - missed, &mut chance);
            by_step[k] += share;
            kept *= 1.0 - share;
        }
        // Where no rule has ever been broken critically, the section may have no such rule: a weaker prior than Jeffreys'.
        let share = if others > 0.0 { beta(others + 0.5, total - others + 0.5, &mut chance) } else { 0.0 };
        by_other += share;
        kept *= 1.0 - share;
        let timely = about.limit.map_or(1.0, |limit| {
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
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let mut drivers: Vec<Driver> =
        critical.iter().zip(&by_step).map(|(step, sum)| Driver::Step(*step, sum / DRAWS as f64)).collect();
    drivers.push(Driver::OtherCritical(by_other / DRAWS as f64));
    drivers.push(Driver::Time(1.0 - mean(&in_time)));
    let share = |driver: &Driver| match driver {
        Driver::Step(_, share) | Driver::OtherCritical(share) | Driver::Time(share) => *share,
    };
    drivers.retain(|d| share(d) >= 0.01);
    drivers.sort_by(|a, b| share(b).total_cmp(&share(a)));
    let good = Interval {
        mean: mean(&good),
        low: percentile(&good, 0.05).unwrap_or(0.0),
        high: percentile(&good, 0.95).unwrap_or(1.0),
    };
    Some(Readiness { good, clean: mean(&clean), in_time: mean(&in_time), drivers, runs: runs.len() })
}
