//! What one person's own voice teaches: ways to say words that fit it better than the lexicon's do.

use super::phones::Phone;
use super::spot::{Filler, Scores, ratio, words_of};

/// By how much each change of a phone must make a word likelier in every utterance, natural log: about what one of 40 phones is worth where any
/// would do, so that noise alone changes nothing.
const GAIN: f32 = 3.0;

/// Utterances in which a phrase is so much less likely than ordinary talk are something else than the phrase.
const ELSE: f32 = -20.0;

/// How many frames earlier and later than its best place a word is listened to as well, since a wrong way puts its edges wrong.
const EDGE: usize = 4;

/// A way to say one of a phrase's words, by its place in it, that every one of these utterances of it (two at least) supports: the known way,
/// changed phone by phone, at most half of them, as long as each change makes the word likelier in all utterances. `words`: the known
/// ways, word by word; `fit` says whether a word may be said some way at all. Nothing where the utterances are hardly the phrase.
pub fn learned(
    utterances: &[Scores],
    filler: &Filler,
    words: &[Vec<Vec<Phone>>],
    fit: impl Fn(usize, &Vec<Phone>) -> bool,
) -> Vec<(usize, Vec<Phone>)> {
    let whole =
        |words: &[Vec<Vec<Phone>>]| -> Vec<f32> { utterances.iter().filter_map(|u| ratio(u, filler, words)).collect() };
    let known = whole(words);
    if known.len() < 2 || known.len() < utterances.len() || known.iter().any(|r| *r < ELSE) {
        return vec![];
    }
    let spans: Vec<Vec<(usize, usize)>> = utterances.iter().filter_map(|u| words_of(u, filler, words)).collect();
    let one = |(word, ways): (usize, &Vec<Vec<Phone>>)| {
        let part = |(u, spans): (&Scores, &Vec<(usize, usize)>)| {
            let (from, until) = spans[word];
            u.part(from.saturating_sub(EDGE), (until + EDGE).min(u.frames()))
        };
        let parts: Vec<Scores> = utterances.iter().zip(&spans).map(part).collect();
        let changed = ways.iter().filter_map(|way| climbed(&parts, filler, way, |way| fit(word, way)));
        let gain = |way: Vec<Phone>| {
            let mut with = words.to_vec();
            with[word].push(way.clone());
            (least(&whole(&with), &known), way)
        };
        let best = changed.map(gain).max_by(|a, b| a.0.total_cmp(&b.0));
        best.filter(|(least, _)| *least >= GAIN).map(|(_, way)| (word, way))
    };
    words.iter().enumerate().filter_map(one).collect()
}

/// The least gain of some values over others.
fn least(values: &[f32], over: &[f32]) -> f32 {
    values.iter().zip(over).map(|(v, o)| v - o).fold(f32::INFINITY, f32::min)
}

/// A way changed by one phone after the other, as long as that pays; none where it never does.
fn climbed(parts: &[Scores], filler: &Filler, way: &[Phone], fit: impl Fn(&Vec<Phone>) -> bool) -> Option<Vec<Phone>> {
    let value = |way: &Vec<Phone>| -> Vec<f32> {
        parts.iter().map(|p| ratio(p, filler, &[vec![way.clone()]]).unwrap_or(f32::NEG_INFINITY)).collect()
    };
    let mut now = way.to_vec();
    for _ in 0..(way.len() / 2).max(1) {
        let so_far = value(&now);
        let gain = |way: Vec<Phone>| (least(&value(&way), &so_far), way);
        let best =
            changes(&now, filler.speech()).into_iter().filter(|w| fit(w)).map(gain).max_by(|a, b| a.0.total_cmp(&b.0));
        match best {
            Some((least, way)) if least >= GAIN => now = way,
            _ => break,
        }
    }
    (now != way).then_some(now)
}

/// Every way that differs by one phone: another one in its place, one left out, one more. None shorter than three phones.
fn changes(way: &[Phone], phones: &[Phone]) -> Vec<Vec<Phone>> {
    let other = |k: usize| {
        phones.iter().filter(move |p| **p != way[k]).map(move |p| [&way[..k], &[*p], &way[k + 1..]].concat())
    };
    let more = |k: usize| phones.iter().map(move |p| [&way[..k], &[*p], &way[k..]].concat());
    let less = (0..way.len()).map(|k| [&way[..k], &way[k + 1..]].concat());
    let all = (0..way.len()).flat_map(other).chain((0..=way.len()).flat_map(more)).chain(less);
    all.filter(|w| w.len() >= 3).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_change_by_one_phone_is_tried() {
        // Of three phones, with two to choose from: another at 3 places, one more at 4, and nothing shorter than three.
        let all = changes(&[5, 6, 7], &[5, 9]);
        assert_eq!(all.len(), (1 + 2 + 2) + 4 * 2);
        assert!(all.contains(&vec![9, 6, 7]) && all.contains(&vec![5, 6, 7, 9]) && all.contains(&vec![5, 9, 6, 7]));
    }
}
