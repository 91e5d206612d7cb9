//! How sure it is that a phrase was called: a logistic model of what was measured, fitted on the development set by
//! `tests/bench/ears/fit.py`. A callout is said alone, so silence on both sides speaks for one as much as the sound itself does.

use super::spot::Spotted;

/// Weight of each measure, then the constant; the order is that of [`measures`].
const WEIGHTS: [f64; 11] = [0.9257, 0.2515, 0.5979, 0.0306, 3.1891, 1.5859, 1.5849, 3.7446, 1.6321, 0.4826, -11.9493];

/// At or above this probability (on a set with as many callouts as other findings) a phrase counts as called.
pub const CALLED: f64 = 0.7;

/// In the second listen, at or above this a step that was not heard was perhaps called, where the phrase also fits better than anything
/// else by [`BETTER`]: chosen on the development set, where 57 % of what was missed at 10 dB came back and none of 75 left out did.
pub const PERHAPS: f64 = 0.05;

/// Least log-likelihood ratio of a callout found by the second listen.
pub const BETTER: f32 = 1.0;

/// What the model looks at. `agreed`: libvosk found the same phrase there.
pub fn measures(spotted: &Spotted, agreed: bool) -> [f64; 10] {
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
    ]
}

/// Probability, 0 to 1, that the phrase was called.
pub fn evidence(spotted: &Spotted, agreed: bool) -> f64 {
    let measures = measures(spotted, agreed);
    let sum: f64 = measures.iter().zip(&WEIGHTS).map(|(m, w)| m * w).sum();
    1.0 / (1.0 + (-sum - WEIGHTS[10]).exp())
}
