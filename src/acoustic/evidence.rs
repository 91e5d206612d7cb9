//! How sure it is that a phrase was called: a forest of small trees that look at what was measured, fitted on the development set by
//! `tests/bench/ears/fit.py`. A callout is said alone, so silence on both sides speaks for one as much as the sound itself does.

use super::features::Features;
use std::sync::OnceLock;

/// How many measures there are.
const MEASURES: usize = 22;

/// What `fit.py` wrote: the slope and the constant of the curve that makes the forest's answer a probability; then the trees, a node a
/// line, the left branch before the right one: a measure and the value up to which it goes left, or the share of callouts in a leaf.
const FITTED: &str = include_str!("evidence.txt");
/// The forest's answer is held this far from 0 and 1, as `fit.py` held it when it fitted the curve.
const EDGE: f64 = 0.002;

/// At or above this probability (among what is found in the development set) a phrase counts as called; one of [`SHORT`] phones or fewer, which talk
/// holds far more often by chance, at or above the second. Chosen on the development set.
const CALLED: (f64, f64) = (0.55, 0.80);

/// Most phones of a short phrase.
const SHORT: usize = 3;

/// The probability from which on a phrase of so many phones counts as called.
pub fn threshold(phones: usize) -> f64 {
    if phones <= SHORT { CALLED.1 } else { CALLED.0 }
}

/// Least log-likelihood ratio of a callout found by the second listen, or weighed where the search leaves it out.
pub const BETTER: f32 = -3.0;

/// What the second listen weighs: a constant, the logarithm of the evidence's odds, the share of phones that last one frame, the silence before the phrase
/// and its margin. By logistic regression on the development set (`fit.py`), with a line that 1.5 % of the callouts sought where nobody said them pass.
const PERHAPS: [f64; 5] = [3.67, 0.62, -1.98, -0.80, 1.13];

/// What speaks for a callout that the second listen finds: from 0 on its step was perhaps called. A callout that is missing was hardly heard, whatever the
/// reason, so what is around it tells less than in the evidence. Where it isn't there, its phones are squeezed in.
pub fn perhaps(features: &Features) -> f64 {
    let (p, m) = (evidence(features, false).clamp(EDGE, 1.0 - EDGE), measures(features, false));
    PERHAPS.iter().zip([1.0, (p / (1.0 - p)).ln(), m[12], m[4], m[17]]).map(|(weight, x)| weight * x).sum()
}

/// What the model looks at. `agreed`: libvosk found the same phrase there.
pub fn measures(features: &Features, agreed: bool) -> [f64; MEASURES] {
    let s = |x: f32| f64::from(x);
    let n = features.phones.max(1) as f64;
    let (before, after) = (s(features.quiet.0), s(features.quiet.1));
    let frames = (features.frames.1 - features.frames.0) as f64;
    [
        s(features.llr.min(40.0)) / 10.0,
        s(features.llr) / n,
        s(features.goodness),
        s(features.worst.max(-8.0)),
        before,
        after,
        before.min(after),
        n.ln(),
        frames / n / 3.0,
        f64::from(u8::from(agreed)),
        s(features.rival) / n,
        s(features.word),
        features.short as f64 / n,
        s(features.louder.0.clamp(0.0, 30.0)) / 10.0,
        s(features.louder.1.clamp(0.0, 30.0)) / 10.0,
        s(features.louder.0.min(features.louder.1).clamp(0.0, 30.0)) / 10.0,
        s(features.above.clamp(0.0, 40.0)) / 10.0,
        s(features.margin.clamp(-30.0, 30.0)) / 10.0,
        s(features.talk),
        s(features.after),
        s(features.seen),
        s(features.accent) / n,
    ]
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Node {
    /// Left, which is the next node, where the measure is at most so much; else to the node `right`.
    Fork { measure: usize, most: f32, right: usize },
    /// The share of callouts among the findings that end here.
    Leaf(f64),
}

struct Forest {
    slope: f64,
    constant: f64,
    nodes: Vec<Node>,
    /// Where each tree begins.
    trees: Vec<usize>,
}

impl Forest {
    /// Reads what `fit.py` writes; `None` where it is cut off or holds something else.
    fn read(text: &str) -> Option<Self> {
        let mut lines = text.lines();
        let (slope, constant) = lines.next()?.split_once(' ')?;
        let mut forest =
            Forest { slope: slope.parse().ok()?, constant: constant.parse().ok()?, nodes: vec![], trees: vec![] };
        let mut lines = lines.peekable();
        while lines.peek().is_some() {
            forest.trees.push(forest.nodes.len());
            // Forks whose right branch is still to come.
            let mut open: Vec<usize> = vec![];
            loop {
                let here = forest.nodes.len();
                let line = lines.next()?;
                if let Some((measure, most)) = line.split_once(' ') {
                    let measure = measure.parse().ok().filter(|m| *m < MEASURES)?;
                    forest.nodes.push(Node::Fork { measure, most: most.parse().ok()?, right: 0 });
                    open.push(here);
                    continue;
                }
                forest.nodes.push(Node::Leaf(line.parse().ok()?));
                let Some(fork) = open.pop() else { break };
                if let Node::Fork { right, .. } = &mut forest.nodes[fork] {
                    *right = here + 1;
                }
            }
        }
        (!forest.trees.is_empty()).then_some(forest)
    }

    /// The share of callouts in the leaf that the measures lead to.
    fn leaf(&self, tree: usize, measures: &[f64]) -> f64 {
        let mut at = tree;
        loop {
            match self.nodes[at] {
                Node::Leaf(share) => return share,
                // The trees were grown on single precision.
                Node::Fork { measure, most, right } => {
                    at = if measures[measure] as f32 <= most { at + 1 } else { right }
                }
            }
        }
    }

    fn probability(&self, measures: &[f64]) -> f64 {
        let sum: f64 = self.trees.iter().map(|tree| self.leaf(*tree, measures)).sum();
        let share = (sum / self.trees.len() as f64).clamp(EDGE, 1.0 - EDGE);
        1.0 / (1.0 + (-self.slope * (share / (1.0 - share)).ln() - self.constant).exp())
    }
}

fn fitted() -> &'static Forest {
    static FOREST: OnceLock<Forest> = OnceLock::new();
    FOREST.get_or_init(|| Forest::read(FITTED).expect("fit.py writes whole trees"))
}

/// Probability, 0 to 1, that the phrase was called.
pub fn evidence(features: &Features, agreed: bool) -> f64 {
    fitted().probability(&measures(features, agreed))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tree_is_read_and_walked() {
        // Measure 1 up to 0.5: then measure 0 up to 2; shares 0.1, 0.9; else 0.4. A second tree is one leaf.
        let forest = Forest::read("1 0\n1 0.5\n0 2\n0.1\n0.9\n0.4\n0.5\n").unwrap();
        assert_eq!(forest.trees, [0, 5]);
        for (measures, share) in [([2.0, 0.5], 0.1), ([2.1, 0.5], 0.9), ([0.0, 0.6], 0.4)] {
            assert_eq!(forest.leaf(0, &measures), share);
            // The curve is straight here: the mean of both trees comes out.
            assert!((forest.probability(&measures) - (share + 0.5) / 2.0).abs() < 1e-12);
        }
        let bent = Forest { slope: 2.0, constant: -1.0, ..forest };
        let odds = |p: f64| (p / (1.0 - p)).ln();
        assert!((odds(bent.probability(&[0.0, 0.6])) - (2.0 * odds(0.45) - 1.0)).abs() < 1e-9);
    }

    #[test]
    fn a_cut_off_forest_is_not_read() {
        for text in ["", "1 0\n", "1 0\n1 0.5\n0.1\n", "1 0\n99 0.5\n0.1\n0.2\n", "1 0\nx\n"] {
            assert!(Forest::read(text).is_none(), "{text:?}");
        }
    }

    #[test]
    fn the_fitted_forest_is_whole() {
        let forest = fitted();
        assert!(forest.trees.len() >= 10 && forest.slope > 0.0);
        assert!(forest.nodes.iter().all(|n| !matches!(n, Node::Leaf(share) if !(0.0..=1.0).contains(share))));
    }
}
