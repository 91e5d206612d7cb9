//! Intervals, percentiles, agreement.

use rand_distr::{Distribution, Uniform};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::SeedableRng;
use statrs::distribution::{Beta, ContinuousCDF, Normal};

/// A share with the interval that holds it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Best guess.
    pub mean: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Wilson's score interval for `hits` of `of`, two-sided at `level` (0.95 for 95 %). All of 0 to 1 where `of` is 0.
pub fn wilson(hits: f64, of: f64, level: f64) -> Interval {
    if of <= 0.0 {
        return Interval { mean: 0.5, low: 0.0, high: 1.0 };
    }
    let z = normal_quantile(0.5 + level / 2.0);
    let (p, z2) = (hits / of, z * z);
    let middle = (p + z2 / (2.0 * of)) / (1.0 + z2 / of);
    let half = z / (1.0 + z2 / of) * (p * (1.0 - p) / of + z2 / (4.0 * of * of)).sqrt();
    Interval { mean: p, low: (middle - half).max(0.0), high: (middle + half).min(1.0) }
}

/// Equal-tailed interval of a share after `hits` of `of`, starting from Jeffreys' prior, Beta(1/2, 1/2). Counts may be weighted.
pub fn beta_interval(hits: f64, of: f64, level: f64) -> Interval {
    let (a, b) = (hits + 0.5, (of - hits).max(0.0) + 0.5);
    let tail = (1.0 - level) / 2.0;
    Interval { mean: a / (a + b), low: beta_quantile(a, b, tail), high: beta_quantile(a, b, 1.0 - tail) }
}

/// Quantile of Beta(a, b), by bisection on its distribution function: 60 halvings leave 1e-18 of the interval.
pub fn beta_quantile(a: f64, b: f64, p: f64) -> f64 {
    let Ok(beta) = Beta::new(a, b) else { return p };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if beta.cdf(middle) < p { low = middle } else { high = middle }
    }
    (low + high) / 2.0
}

/// Quantile of the standard normal distribution.
pub fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

/// Percentile `p` (0 to 1) at rank p(N+1), ends held (NIST/SEMATECH e-Handbook 7.2.6.2); none of nothing.
pub fn percentile(values: &[f64], p: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let rank = p * (sorted.len() as f64 + 1.0);
    let below = (rank.floor() as usize).clamp(1, sorted.len().max(1));
    let low = *sorted.get(below - 1)?;
    let high = sorted.get(below).copied().unwrap_or(low);
    if rank < 1.0 { Some(low) } else { Some(low + (rank - below as f64).clamp(0.0, 1.0) * (high - low)) }
}

/// Bootstrap replicates of a statistic of some values (Efron & Tibshirani, An Introduction to the Bootstrap, 1993, chapter 6): it is
/// taken of `draws` samples of the same size, drawn with replacement. Empty for no values.
pub fn bootstrap(values: &[f64], draws: usize, seed: u64, statistic: impl Fn(&[f64]) -> f64) -> Vec<f64> {
    let Ok(pick) = Uniform::new(0, values.len()) else { return vec![] };
    let mut chance = Pcg64Mcg::seed_from_u64(seed);
    let mut sample = vec![0.0; values.len()];
    let mut draw = || {
        sample.iter_mut().for_each(|s| *s = values[pick.sample(&mut chance)]);
        statistic(&sample)
    };
    (0..draws).map(|_| draw()).collect()
}

/// Mean and standard deviation of a task's time from its fastest, its likely and its slowest (Malcolm, Roseboom, Clark & Fazar,
/// Operations Research 7 (1959) 646).
pub fn three_point(fastest: f64, likely: f64, slowest: f64) -> (f64, f64) {
    ((fastest + 4.0 * likely + slowest) / 6.0, (slowest - fastest) / 6.0)
}

/// Cohen's kappa of two observers' ticks: both ticked, only the first, only the second, neither. None where chance alone
/// makes them agree in everything.
pub fn kappa(both: f64, first: f64, second: f64, neither: f64) -> Option<f64> {
    let all = both + first + second + neither;
    let agreed = (both + neither) / all;
    let (a, b) = ((both + first) / all, (both + second) / all);
    let chance = a * b + (1.0 - a) * (1.0 - b);
    (all > 0.0 && chance < 1.0).then(|| (agreed - chance) / (1.0 - chance))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64, within: f64) {
        assert!((found - wanted).abs() <= within, "{found} is not {wanted}");
    }

    #[test]
    fn wilson_is_the_handbooks() {
        // Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3.
        for (hits, of, low, high) in [
            (81.0, 263.0, 0.2553, 0.3662),
            (15.0, 148.0, 0.0624, 0.1605),
            (0.0, 20.0, 0.0, 0.1611),
            (1.0, 29.0, 0.0061, 0.1718),
        ] {
            let found = wilson(hits, of, 0.95);
            near(found.low, low, 0.00005);
            near(found.high, high, 0.00005);
        }
        // NIST/SEMATECH e-Handbook 7.2.4.1: 26 of 200; one-sided lower limit at 5 %, two-sided at 95 %.
        near(wilson(26.0, 200.0, 0.90).low, 0.09577, 0.00001);
        near(wilson(26.0, 200.0, 0.95).low, 0.09028, 0.00001);
        near(wilson(26.0, 200.0, 0.95).high, 0.18366, 0.00001);
    }

    #[test]
    fn the_exact_binomial_limits_come_out_of_the_beta_quantile() {
        // NIST/SEMATECH e-Handbook 7.2.4.1: 4 of 20 at 90 %, .071354 to .401029 (recomputed: .0713539, .4010281).
        near(beta_quantile(4.0, 17.0, 0.05), 0.0713539, 1e-7);
        near(beta_quantile(5.0, 16.0, 0.95), 0.4010281, 1e-7);
        // Rule of three, Hanley & Lippman-Hand, JAMA 249 (1983) 1743: exact .0950 for 30, .0295 for 100.
        near(beta_quantile(1.0, 30.0, 0.95), 0.0950, 0.00005);
        near(beta_quantile(1.0, 100.0, 0.95), 0.0295, 0.00005);
    }

    #[test]
    fn percentiles_follow_the_handbook() {
        // NIST/SEMATECH e-Handbook 7.2.6.2: the 90th percentile of twelve gauge readings is 95.1981.
        let gauge = [
            95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1065, 95.0925, 95.1990, 95.1682,
        ];
        near(percentile(&gauge, 0.9).unwrap(), 95.1981, 0.00005);
        assert_eq!(percentile(&[], 0.5), None);
        assert_eq!(percentile(&[7.0], 0.9), Some(7.0));
        assert_eq!(percentile(&[1.0, 2.0, 4.0], 0.5), Some(2.0));
    }

    #[test]
    fn the_bootstrap_is_the_books() {
        // Efron & Tibshirani 1993, chapter 2: survival of mice. Means 86.86 and 56.22, their difference 30.63; standard errors by the
        // formula 25.24 and 14.14 (recomputed 14.16), of the difference 28.93. The bootstrap's tend to these.
        let treated = [94.0, 197.0, 16.0, 38.0, 99.0, 141.0, 23.0];
        let control = [52.0, 104.0, 146.0, 10.0, 51.0, 30.0, 40.0, 27.0, 46.0];
        let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len() as f64;
        near(mean(&treated), 86.86, 0.005);
        near(mean(&treated) - mean(&control), 30.63, 0.005);
        let spread = |x: &[f64]| (x.iter().map(|v| (v - mean(x)).powi(2)).sum::<f64>() / (x.len() - 1) as f64).sqrt();
        let one = bootstrap(&treated, 20_000, 1, mean);
        let other = bootstrap(&control, 20_000, 2, mean);
        // The formula divides by n (n - 1), the bootstrap's limit by n squared.
        let limit = |by_formula: f64, n: f64| by_formula * ((n - 1.0) / n).sqrt();
        near(spread(&one), limit(25.24, 7.0), 0.3);
        near(spread(&other), limit(14.14, 9.0), 0.2);
        let difference: Vec<f64> = one.iter().zip(&other).map(|(a, b)| a - b).collect();
        near(spread(&difference), (limit(25.24, 7.0).powi(2) + limit(14.14, 9.0).powi(2)).sqrt(), 0.3);
        near((25.24f64.powi(2) + 14.14f64.powi(2)).sqrt(), 28.93, 0.005);
        assert!(bootstrap(&[], 10, 1, mean).is_empty());
        assert_eq!(bootstrap(&treated, 5, 7, mean), bootstrap(&treated, 5, 7, mean), "seeded");
    }

    #[test]
    fn three_points_are_perts() {
        // The worked example of Wikipedia's "Program evaluation and review technique": activities a to g.
        let of = |o: f64, m: f64, p: f64| three_point(o, m, p).0;
        let [a, b, c, d] = [of(2.0, 4.0, 6.0), of(3.0, 5.0, 9.0), of(4.0, 5.0, 7.0), of(4.0, 6.0, 10.0)];
        let [e, f, g] = [of(4.0, 5.0, 7.0), of(3.0, 4.0, 8.0), of(3.0, 5.0, 8.0)];
        for (found, wanted) in [(a, 4.00), (b, 5.33), (c, 5.17), (d, 6.33), (e, 5.17), (f, 4.50), (g, 5.17)] {
            near(found, wanted, 0.005);
        }
        near(a + c + e + g, 19.50, 1e-9);
        near(a + d + f, 14.83, 0.005);
        near(b + e + g, 15.67, 0.005);
        near(three_point(2.0, 4.0, 6.0).1, 4.0 / 6.0, 1e-12);
    }

    #[test]
    fn kappa_is_cohens() {
        // Cohen 1960; the worked table 20, 5, 10, 15 gives .40.
        near(kappa(20.0, 5.0, 10.0, 15.0).unwrap(), 0.40, 1e-12);
        assert_eq!(kappa(9.0, 0.0, 0.0, 0.0), None);
    }
}
