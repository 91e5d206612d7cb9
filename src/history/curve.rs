//! How times fall with practice: a level, a power law and an exponential, fitted to logarithms and compared by AICc.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// A law that times follow over run numbers 1, 2, 3 …
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// T = B.
    Level,
    /// T = B · N^-a (Newell & Rosenbloom 1981).
    Power,
    /// T = B · e^(-a·N) (Heathcote, Brown & Mewhort 2000 find it in single people's series).
    Exponential,
}

/// A fitted law.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Which law.
    pub shape: Shape,
    /// B, in the unit of the times.
    pub start: f64,
    /// a; 0 for a level.
    pub rate: f64,
    /// Akaike's criterion, corrected for few values: smaller is better.
    pub aicc: f64,
    /// Standard deviation of the logarithms around the law.
    pub spread: f64,
    /// Number of times it was fitted to.
    pub count: usize,
    /// Mean and sum of squares of the regressor, for predictions.
    mean: f64,
    squares: f64,
}

impl Curve {
    fn regressor(shape: Shape, n: f64) -> f64 {
        match shape {
            Shape::Level => 0.0,
            Shape::Power => n.ln(),
            Shape::Exponential => n,
        }
    }

    /// The time that the law gives for run `n`.
    pub fn at(&self, n: f64) -> f64 {
        self.start * (-self.rate * Self::regressor(self.shape, n)).exp()
    }

    /// Degrees of freedom left, and the standard deviation of the logarithm of a new time in run `n` around [`Curve::at`].
    pub fn prediction(&self, n: f64) -> (f64, f64) {
        let fitted = if self.shape == Shape::Level { 1.0 } else { 2.0 };
        let lever = match self.shape {
            Shape::Level => 0.0,
            _ => (Self::regressor(self.shape, n) - self.mean).powi(2) / self.squares.max(1e-12),
        };
        (self.count as f64 - fitted, self.spread * (1.0 + 1.0 / self.count as f64 + lever).sqrt())
    }

    /// Chance that run `n` takes at most `limit`.
    pub fn within(&self, limit: f64, n: f64) -> f64 {
        let (freedom, deviation) = self.prediction(n);
        let z = (limit.ln() - self.at(n).ln()) / deviation.max(1e-9);
        StudentsT::new(0.0, 1.0, freedom.max(1.0)).map_or(0.5, |t| t.cdf(z))
    }
}

/// The law that explains positive times, in the order of the runs, best; none for fewer than five.
pub fn fit(times: &[f64]) -> Option<Curve> {
    let curves = [Shape::Level, Shape::Power, Shape::Exponential].map(|shape| fit_as(shape, times));
    curves.into_iter().flatten().min_by(|a, b| a.aicc.total_cmp(&b.aicc))
}

/// One law fitted by least squares on logarithms.
pub fn fit_as(shape: Shape, times: &[f64]) -> Option<Curve> {
    if times.len() < 5 || times.iter().any(|t| !t.is_finite() || *t <= 0.0) {
        return None;
    }
    let n = times.len() as f64;
    let x: Vec<f64> = (1..=times.len()).map(|k| Curve::regressor(shape, k as f64)).collect();
    let y: Vec<f64> = times.iter().map(|t| t.ln()).collect();
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let squares: f64 = x.iter().map(|v| (v - mx).powi(2)).sum();
    let slope = match shape {
        Shape::Level => 0.0,
        _ => x.iter().zip(&y).map(|(a, b)| (a - mx) * (b - my)).sum::<f64>() / squares,
    };
    let level = my - slope * mx;
    let rest: f64 = x.iter().zip(&y).map(|(a, b)| (b - level - slope * a).powi(2)).sum();
    // Parameters: the level, the slope where there is one, and the spread.
    let k = if shape == Shape::Level { 2.0 } else { 3.0 };
    // Times equal to the last digit leave nothing to explain; that must not make a law infinitely good.
    let rest = rest.max(1e-12);
    let aicc = n * (rest / n).ln() + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0);
    let spread = (rest / (n - (k - 1.0))).sqrt();
    Some(Curve { shape, start: level.exp(), rate: -slope, aicc, spread, count: times.len(), mean: mx, squares })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_eighty_percent_curve_is_found_again() {
        // Wright, Journal of the Aeronautical Sciences 3 (1936) 122: each doubling takes 80 %, b = log2(0.8) = -0.32193. Times of
        // units 1 to 8 of 100; unit 16 takes 40.96.
        let times = [100.0, 80.0, 70.21, 64.0, 59.56, 56.17, 53.45, 51.20];
        let curve = fit(&times).unwrap();
        assert_eq!(curve.shape, Shape::Power);
        assert!((curve.rate - 0.32193).abs() < 1e-4 && (curve.start - 100.0).abs() < 0.01, "{curve:?}");
        assert!((curve.at(16.0) - 40.96).abs() < 0.01);
    }

    #[test]
    fn the_law_that_made_the_times_is_chosen() {
        let wobble = |k: usize| 1.0 + 0.01 * ((k * 7919 % 13) as f64 - 6.0) / 6.0;
        let made = |law: &dyn Fn(f64) -> f64| (1..=30).map(|k| law(k as f64) * wobble(k)).collect::<Vec<f64>>();
        assert_eq!(fit(&made(&|n| 900.0 * n.powf(-0.2))).unwrap().shape, Shape::Power);
        assert_eq!(fit(&made(&|n| 900.0 * (-0.03 * n).exp())).unwrap().shape, Shape::Exponential);
        assert_eq!(fit(&made(&|_| 900.0)).unwrap().shape, Shape::Level);
        assert_eq!(fit(&[5.0, 4.0, 3.0, 2.0]), None);
        assert_eq!(fit(&[1.0, 1.0, 0.0, 1.0, 1.0, 1.0]), None);
    }

    #[test]
    fn the_chance_to_be_in_time_is_a_half_at_the_law_itself() {
        let times: Vec<f64> = (1..=12).map(|k| 1000.0 * (1.0 + 0.02 * (k % 3) as f64)).collect();
        let curve = fit(&times).unwrap();
        assert!((curve.within(curve.at(13.0), 13.0) - 0.5).abs() < 1e-9);
        assert!(curve.within(2000.0, 13.0) > 0.999 && curve.within(700.0, 13.0) < 0.001);
    }
}
