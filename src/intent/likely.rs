//! A second opinion on what is asked: naive Bayes over words and pairs of neighbours, counted from wordings that people wrote down. (Manning, Raghavan
//! and Schütze, Introduction to Information Retrieval, 2008, section 13.2; add-alpha smoothing there.) It sees no meaning.

use super::Question;
use super::word::stem;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

/// A line each: what is asked, and the sentence with "*" for each name of a step.
const WORDINGS: &str = include_str!("wordings.tsv");

/// Added to every count, so that a word never seen with a question doesn't rule it out.
const ALPHA: f64 = 0.1;

/// What no question of ours asks.
const NOT: &str = "not";

/// The counts over all wordings.
pub(super) static LIKELY: LazyLock<Likely> = LazyLock::new(|| Likely::of(WORDINGS));

/// How often each word or pair was seen with each question.
pub(super) struct Likely {
    /// What is asked, how many names it has, how many of its wordings there are, and how many words and pairs they have.
    kinds: Vec<(String, usize, u32, u32)>,
    /// By word or pair: the kinds, by place, that it was seen with, and in how many of their wordings.
    seen: BTreeMap<String, BTreeMap<usize, u32>>,
}

/// What a question asks without its names, as wordings have it.
pub(super) fn kind(question: &Question) -> String {
    match serde_json::to_value(question) {
        Ok(serde_json::Value::String(kind)) => kind,
        Ok(serde_json::Value::Object(map)) => map.keys().next().cloned().unwrap_or_default(),
        _ => String::new(),
    }
}

/// Words and pairs of neighbours, once each; the edges of the sentence are neighbours, too.
fn features(words: &[String]) -> BTreeSet<String> {
    let stems: Vec<String> = words.iter().map(|w| stem(w)).collect();
    let edged: Vec<&str> = ["<"].into_iter().chain(stems.iter().map(String::as_str)).chain([">"]).collect();
    stems.iter().cloned().chain(edged.windows(2).map(|pair| pair.join(" "))).collect()
}

fn names_in(words: &[String]) -> usize {
    words.iter().filter(|w| *w == "*").count().min(2)
}

impl Likely {
    fn of(wordings: &str) -> Likely {
        let mut likely = Likely { kinds: vec![], seen: BTreeMap::new() };
        for (kind, sentence) in wordings.lines().filter_map(|line| line.split_once('\t')) {
            let words: Vec<String> = sentence.split(' ').map(str::to_string).collect();
            let names = if kind == NOT { 0 } else { names_in(&words) };
            let known = likely.kinds.iter().position(|k| k.0 == kind && k.1 == names);
            let place = known.unwrap_or_else(|| {
                likely.kinds.push((kind.to_string(), names, 0, 0));
                likely.kinds.len() - 1
            });
            likely.kinds[place].2 += 1;
            for feature in features(&words) {
                likely.kinds[place].3 += 1;
                *likely.seen.entry(feature).or_default().entry(place).or_default() += 1;
            }
        }
        likely
    }

    /// The likeliest kind of question with so many names, or [`NOT`], and by how much it is likelier than the next one, natural log.
    pub(super) fn asked(&self, words: &[String]) -> Option<(&str, f64)> {
        let names = names_in(words);
        let seen: Vec<&BTreeMap<usize, u32>> = features(words).iter().filter_map(|f| self.seen.get(f)).collect();
        let mut scores: Vec<(f64, &str)> = vec![];
        for (place, (kind, of, wordings, total)) in self.kinds.iter().enumerate() {
            if *of == names || kind == NOT {
                let all = f64::from(*total) + ALPHA * self.seen.len() as f64;
                let count = |counts: &&BTreeMap<usize, u32>| f64::from(counts.get(&place).copied().unwrap_or(0));
                let of_words: f64 = seen.iter().map(|counts| ((count(counts) + ALPHA) / all).ln()).sum();
                scores.push((f64::from(*wordings).ln() + of_words, kind));
            }
        }
        scores.sort_by(|a, b| b.0.total_cmp(&a.0));
        let [(best, kind), (next, _), ..] = scores[..] else { return None };
        Some((kind, best - next))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_seen_with_a_question_makes_it_likelier() {
        let likely = Likely::of(
            "left\thow much was left\nlongest\twhat was longest\nhow_long\thow long was *\nnot\twhat was that noise",
        );
        let asked = |sentence: &str| {
            let words: Vec<String> = sentence.split(' ').map(str::to_string).collect();
            likely.asked(&words).map(|(kind, by)| (kind.to_string(), by > 0.0))
        };
        assert_eq!(asked("how much is left then"), Some(("left".into(), true)));
        assert_eq!(asked("how long * took"), Some(("how_long".into(), true)));
        assert_eq!(asked("what was that noise"), Some(("not".into(), true)));
    }

    #[test]
    fn every_wording_is_of_a_question_that_there_is() {
        let kinds: BTreeSet<&str> = LIKELY.kinds.iter().map(|k| k.0.as_str()).collect();
        let of = |k: &str| {
            let value = |v: serde_json::Value| serde_json::from_value::<Question>(v).is_ok();
            let one = serde_json::json!("*");
            let shapes = [one.clone(), serde_json::Value::Null, serde_json::json!([one, "*"])];
            value(k.into()) || shapes.into_iter().any(|s| value(serde_json::json!({ k: s })))
        };
        assert!(kinds.len() > 40 && kinds.iter().all(|k| *k == NOT || of(k)), "{kinds:?}");
    }
}
