//! What one person's own voice teaches: pronunciations that fit it better than the lexicon's do.

use super::accent::Accents;
use super::filler::Filler;
use super::phones::Phone;
use super::phrase::Pronunciation;
use super::scores::Scores;
use super::viterbi::{llr, words_of};

/// By how much each change of a phone must make a word likelier in every utterance, natural log: about what one of 40 phones is worth where any
/// would do, so that noise alone changes nothing.
const GAIN: f32 = 3.0;

/// Utterances in which a phrase is so much less likely than ordinary talk are something else than the phrase.
const ELSE: f32 = -20.0;

/// How many frames earlier and later than its best place a word is listened to as well, since a wrong pronunciation puts its edges wrong.
const EDGE: usize = 4;

/// A pronunciation of one of a phrase's words, by its place in it, that every one of these utterances of it (two at least) supports: the known one,
/// changed phone by phone, at most half of them, as long as each change makes the word likelier in all utterances. `words`: those known,
/// word by word; `allowed` says whether a word may be said so at all. Nothing where the utterances are hardly the phrase.
pub fn learned(
    utterances: &[Scores],
    filler: &Filler,
    accents: &Accents,
    words: &[Vec<Pronunciation>],
    allowed: impl Fn(usize, &Vec<Phone>) -> bool,
) -> Vec<(usize, Vec<Phone>)> {
    let whole = |words: &[Vec<Pronunciation>]| -> Vec<f32> {
        utterances.iter().filter_map(|u| llr(u, filler, words)).collect()
    };
    let before = whole(words);
    if before.len() < 2 || before.len() < utterances.len() || before.iter().any(|r| *r < ELSE) {
        return vec![];
    }
    let spans: Vec<Vec<(usize, usize)>> = utterances.iter().filter_map(|u| words_of(u, filler, words)).collect();
    let one = |(word, pronunciations): (usize, &Vec<Pronunciation>)| {
        let part = |(u, spans): (&Scores, &Vec<(usize, usize)>)| {
            let (from, until) = spans[word];
            u.part(from.saturating_sub(EDGE), (until + EDGE).min(u.frames()))
        };
        let parts: Vec<Scores> = utterances.iter().zip(&spans).map(part).collect();
        let changed = pronunciations.iter().filter_map(|pronunciation| {
            climbed(&parts, filler, accents, &pronunciation.phones, |pronunciation| allowed(word, pronunciation))
        });
        let gain = |pronunciation: Vec<Phone>| {
            let mut with = words.to_vec();
            with[word].push(accents.widen(pronunciation.clone()));
            (least(&whole(&with), &before), pronunciation)
        };
        let best = changed.map(gain).max_by(|a, b| a.0.total_cmp(&b.0));
        best.filter(|(least, _)| *least >= GAIN).map(|(_, pronunciation)| (word, pronunciation))
    };
    words.iter().enumerate().filter_map(one).collect()
}

/// The least gain of some values over others.
fn least(values: &[f32], over: &[f32]) -> f32 {
    values.iter().zip(over).map(|(v, o)| v - o).fold(f32::INFINITY, f32::min)
}

/// A pronunciation changed by one phone after the other, as long as that pays; none where it never does.
fn climbed(
    parts: &[Scores],
    filler: &Filler,
    accents: &Accents,
    pronunciation: &[Phone],
    allowed: impl Fn(&Vec<Phone>) -> bool,
) -> Option<Vec<Phone>> {
    let value = |pronunciation: &Vec<Phone>| -> Vec<f32> {
        parts
            .iter()
            .map(|p| llr(p, filler, &[vec![accents.widen(pronunciation.clone())]]).unwrap_or(f32::NEG_INFINITY))
            .collect()
    };
    let mut now = pronunciation.to_vec();
    for _ in 0..(pronunciation.len() / 2).max(1) {
        let so_far = value(&now);
        let gain = |pronunciation: Vec<Phone>| (least(&value(&pronunciation), &so_far), pronunciation);
        let best = changes(&now, filler.speech())
            .into_iter()
            .filter(|w| allowed(w))
            .map(gain)
            .max_by(|a, b| a.0.total_cmp(&b.0));
        match best {
            Some((least, pronunciation)) if least >= GAIN => now = pronunciation,
            _ => break,
        }
    }
    (now != pronunciation).then_some(now)
}

/// Every pronunciation that differs by one phone: another one in its place, one left out, one more. None shorter than three phones.
fn changes(pronunciation: &[Phone], phones: &[Phone]) -> Vec<Vec<Phone>> {
    let other = |k: usize| {
        phones
            .iter()
            .filter(move |p| **p != pronunciation[k])
            .map(move |p| [&pronunciation[..k], &[*p], &pronunciation[k + 1..]].concat())
    };
    let more = |k: usize| phones.iter().map(move |p| [&pronunciation[..k], &[*p], &pronunciation[k..]].concat());
    let less = (0..pronunciation.len()).map(|k| [&pronunciation[..k], &pronunciation[k + 1..]].concat());
    let all = (0..pronunciation.len()).flat_map(other).chain((0..=pronunciation.len()).flat_map(more)).chain(less);
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
