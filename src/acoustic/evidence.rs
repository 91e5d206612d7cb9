//! How sure it is that a phrase was called: small networks that look at what was measured, fitted on the development set by
//! `tests/bench/ears/fit.py`. A callout is said alone, so silence on both sides speaks for one as much as the sound itself does.

use super::spot::Spotted;
use std::sync::OnceLock;

/// How many measures there are.
const MEASURES: usize = 20;

/// What `fit.py` wrote: the mean and the spread of each measure, then networks of [`HIDDEN`] rows (a weight for each measure, and
/// a constant) and one (a weight for each of those, and a constant).
const FITTED: &str = include_str!("evidence.txt");
const HIDDEN: usize = 16;

/// At or above this probability (on a set with as many callouts as other findings) a phrase counts as called.
pub const CALLED: f64 = 0.80;

/// In the second listen, at or above this a step that was not heard was perhaps called, where the phrase also fits not much worse than anything
/// else, by [`BETTER`]: chosen on the development set, where 34 of 57 missed at 10 dB came back and none of 41 left out did.
pub const PERHAPS: f64 = 0.05;

/// Least log-likelihood ratio of a callout found by the second listen.
pub const BETTER: f32 = -2.0;

/// What the model looks at. `agreed`: libvosk found the same phrase there.
pub fn measures(spotted: &Spotted, agreed: bool) -> [f64; MEASURES] {
    let s = |x: f32| f64::from(x);
    let n = spotted.phones.max(1) as f64;
    let (before, after) = (s(spotted.quiet.0), s(spotted.quiet.1));
    let frames = (spotted.frames.1 - spotted.frames.0) as f64;
    [
        s(spotted.ratio.min(40.0)) / 10.0,
        s(spotted.ratio) / n,
        s(spotted.fit),
        s(spotted.worst.max(-8.0)),
        before,
        after,
        before.min(after),
        n.ln(),
        frames / n / 3.0,
        f64::from(u8::from(agreed)),
        s(spotted.rival.clamp(-20.0, 40.0)) / 10.0,
        s(spotted.rival) / n,
        s(spotted.word),
        spotted.short as f64 / n,
        s(spotted.louder.0.clamp(0.0, 30.0)) / 10.0,
        s(spotted.louder.1.clamp(0.0, 30.0)) / 10.0,
        s(spotted.louder.0.min(spotted.louder.1).clamp(0.0, 30.0)) / 10.0,
        s(spotted.still.0),
        s(spotted.still.1),
        s(spotted.above.clamp(0.0, 40.0)) / 10.0,
    ]
}

/// The rows of [`FITTED`].
fn fitted() -> &'static [Vec<f64>] {
    static ROWS: OnceLock<Vec<Vec<f64>>> = OnceLock::new();
    ROWS.get_or_init(|| {
        FITTED.lines().map(|l| l.split(' ').map(|n| n.parse().expect("fit.py writes numbers")).collect()).collect()
    })
}

/// A weight for each value, and the constant behind them.
fn weigh(row: &[f64], values: &[f64]) -> f64 {
    row.iter().zip(values).map(|(w, v)| w * v).sum::<f64>() + row[row.len() - 1]
}

/// Probability, 0 to 1, that the phrase was called.
pub fn evidence(spotted: &Spotted, agreed: bool) -> f64 {
    let [mean, spread, networks @ ..] = fitted() else { unreachable!("the file has more than two rows") };
    let measures: Vec<f64> = measures(spotted, agreed)
        .iter()
        .zip(mean.iter().zip(spread))
        .map(|(m, (mean, spread))| (m - mean) / spread)
        .collect();
    let networks = networks.chunks(HIDDEN + 1);
    let count = networks.len() as f64;
    let probability = |rows: &[Vec<f64>]| {
        let hidden: Vec<f64> = rows[..HIDDEN].iter().map(|row| weigh(row, &measures).tanh()).collect();
        1.0 / (1.0 + (-weigh(&rows[HIDDEN], &hidden)).exp())
    };
    networks.map(probability).sum::<f64>() / count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fitted_rows_are_whole() {
        let rows = fitted();
        assert!(rows.len() > 2 && (rows.len() - 2).is_multiple_of(HIDDEN + 1));
        for (k, row) in rows.iter().enumerate() {
            let length = match k {
                0 | 1 => MEASURES,
                k if (k - 2) % (HIDDEN + 1) == HIDDEN => HIDDEN + 1,
                _ => MEASURES + 1,
            };
            assert_eq!(row.len(), length, "row {k}");
            assert!(row.iter().all(|v| v.is_finite()));
        }
        assert!(rows[1].iter().all(|spread| *spread > 0.0));
    }
}
