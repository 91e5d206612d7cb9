//! A second opinion on what is asked: logistic regression over words, neighbours and what the rules find, learnt from wordings that people wrote
//! down. (Manning, Raghavan and Schütze, Introduction to Information Retrieval, 2008, chapter 14, on linear classifiers.) It sees no meaning.

use super::Question;
use super::rules::{Heard, Ruled};
use super::word::stem;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

/// The first line has the kinds, each with its bias; then a line each: a feature and its weights, each with the place of its kind.
/// `models/recipe/questions.py` writes it.
const WEIGHTS: &str = include_str!("weights.tsv");

/// What no question of ours asks.
pub(super) const NOT: &str = "not";

/// What was learnt.
pub(super) static LIKELY: LazyLock<Likely> = LazyLock::new(|| Likely::of(WEIGHTS));

/// Weights of words.
pub(super) struct Likely {
    /// What is asked, with how likely it is before anything is heard, natural log.
    kinds: Vec<(&'static str, f64)>,
    /// By feature: the kinds, by place, that it speaks for or against, natural log.
    weights: BTreeMap<&'static str, Vec<(usize, f64)>>,
}

impl Heard {
    /// Words, neighbours (the edges of the sentence are neighbours, too), names, and what the rules say; once each, in order.
    pub(super) fn features(&self, ruled: &Ruled) -> Vec<String> {
        let stems: Vec<String> = self.blank.iter().map(|w| stem(w)).collect();
        let edged: Vec<&str> = ["<"].into_iter().chain(stems.iter().map(String::as_str)).chain([">"]).collect();
        let named = self.named.iter().flat_map(|n| n.split(' ')).map(|w| format!("*{}", stem(w)));
        let of = |question: Option<&Question>| question.map_or(NOT.into(), Question::kind);
        let rules = match ruled {
            Ruled::Question(question) => format!("={}", of(Some(question))),
            Ruled::Not(nearest) => format!("~{}", of(nearest.as_ref())),
        };
        let all: BTreeSet<String> = stems
            .iter()
            .cloned()
            .chain(edged.windows(2).map(|w| w.join(" ")))
            .chain(edged.windows(3).map(|w| w.join(" ")))
            .chain(edged.windows(3).map(|w| format!("{} _ {}", w[0], w[2])))
            .chain(named)
            .chain([format!("{} names", self.named.len().min(2)), format!("{} unknown", self.unknown.min(3)), rules])
            .collect();
        all.into_iter().collect()
    }
}

impl Likely {
    fn of(text: &'static str) -> Likely {
        let mut lines = text.lines();
        let pairs = |line: &'static str| -> Vec<(&'static str, f64)> {
            let pair = |p: &'static str| p.split_once(':').and_then(|(k, w)| Some((k, w.parse().ok()?)));
            line.split('\t').filter_map(pair).collect()
        };
        let kinds = pairs(lines.next().unwrap_or_default());
        let weight = |line: &'static str| {
            let (feature, rest) = line.split_once('\t')?;
            let of = |(place, weight): (&str, f64)| Some((place.parse().ok()?, weight / 100.0));
            Some((feature, pairs(rest).into_iter().filter_map(of).collect()))
        };
        Likely { kinds, weights: lines.filter_map(weight).collect() }
    }

    /// The likeliest kind of question, or [`NOT`], and its probability.
    pub(super) fn asked(&self, features: &[String]) -> (&'static str, f64) {
        let mut scores: Vec<f64> = self.kinds.iter().map(|k| k.1 / 100.0).collect();
        for (place, weight) in features.iter().filter_map(|f| self.weights.get(f.as_str())).flatten() {
            if let Some(score) = scores.get_mut(*place) {
                *score += weight;
            }
        }
        let all: f64 = scores.iter().map(|s| s.exp()).sum();
        let best = (0..scores.len()).max_by(|a, b| scores[*a].total_cmp(&scores[*b]));
        best.map_or((NOT, 0.0), |place| (self.kinds[place].0, scores[place].exp() / all))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_add_up_to_a_probability() {
        let likely = Likely::of("not:0\tleft:0\tlongest:-100\nleft\t1:200\nlong\t2:250");
        let asked = |features: &[&str]| likely.asked(&features.iter().map(|f| f.to_string()).collect::<Vec<_>>());
        let (kind, sure) = asked(&["left", "unknown"]);
        assert!(kind == "left" && (sure - 2f64.exp() / (1.0 + 2f64.exp() + (-1f64).exp())).abs() < 1e-12);
        assert_eq!(asked(&["left", "long"]).0, "left");
        assert_eq!(asked(&["long"]).0, "longest");
    }

    #[test]
    fn every_kind_that_was_learnt_is_a_question_that_there_is() {
        let of = |k: &str| {
            let value = |v: serde_json::Value| serde_json::from_value::<Question>(v).is_ok();
            let one = serde_json::json!("*");
            let shapes = [one.clone(), serde_json::Value::Null, serde_json::json!([one, "*"])];
            value(k.into()) || shapes.into_iter().any(|s| value(serde_json::json!({ k: s })))
        };
        let kinds: Vec<&str> = LIKELY.kinds.iter().map(|k| k.0).collect();
        assert!(kinds.len() > 40 && kinds.iter().all(|k| *k == NOT || of(k)), "{kinds:?}");
        assert!(LIKELY.weights.values().flatten().all(|(place, _)| *place < kinds.len()));
    }
}
