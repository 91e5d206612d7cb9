//! Phrases as graphs of phones, which the searches walk.

use super::filler::PAUSE;
use super::phones::{Phone, SILENCE};
use super::scores::NEVER;

/// The stretch before a phrase, as what its first places come from.
pub(super) const START: usize = usize::MAX;

/// Other phones in the place of some of a word's.
#[derive(Clone, Debug, PartialEq)]
pub struct Substitution {
    /// The place in the word.
    pub at: usize,
    /// How many phones of the word they stand for: 1, or 2 where the second one is dropped.
    pub of: usize,
    /// What is said there.
    pub said: Vec<Phone>,
    /// Natural log, above 0.
    pub cost: f32,
}

/// How a word is said.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pronunciation {
    /// Its phones; none where the word may be left out.
    pub phones: Vec<Phone>,
    /// What may be said instead of some of them.
    pub substitutions: Vec<Substitution>,
}

impl From<Vec<Phone>> for Pronunciation {
    fn from(phones: Vec<Phone>) -> Pronunciation {
        Pronunciation { phones, substitutions: vec![] }
    }
}

/// A phrase: the pronunciations of each of its words.
pub type Phrase = Vec<Vec<Pronunciation>>;

/// Whether every word has a pronunciation. One in the middle may be left out: one of its pronunciations is empty.
pub(super) fn sayable(words: &[Vec<Pronunciation>]) -> bool {
    let ([first, .., last] | [first @ last]) = words else { return false };
    words.iter().all(|w| !w.is_empty())
        && [first, last].iter().all(|w| w.iter().all(|spoken| !spoken.phones.is_empty()))
}

/// Phrases laid out for [`search`].
pub struct PhraseNetwork {
    pub(super) places: PhoneGraph,
    /// The places that can end a phrase, and which it is.
    pub(super) ends: Vec<(usize, usize)>,
    /// By place, up to the last carrier's: which carrier it is in, none for the pause behind them.
    pub(super) carriers: Vec<Option<usize>>,
}

impl PhraseNetwork {
    /// `phrases` as for [`features_of`]; those that are `carried` may stand behind one of some carriers, given likewise. What has a word without a
    /// pronunciation is passed over.
    pub fn new(
        phrases: &[Vec<Vec<Pronunciation>>],
        carried: impl Fn(usize) -> bool,
        carriers: &[Vec<Vec<Pronunciation>>],
    ) -> PhraseNetwork {
        let mut network = PhraseNetwork { places: PhoneGraph::default(), ends: vec![], carriers: vec![] };
        let mut behind: Vec<(usize, f32)> = vec![];
        let alone = vec![(START, 0.0)];
        for (carrier, words) in carriers.iter().enumerate().filter(|(_, words)| sayable(words)) {
            let ends = network.places.add(words, alone.clone());
            behind.extend(ends.into_iter().map(|end| (end, PAUSE)));
            network.carriers.resize(network.places.len(), Some(carrier));
        }
        if !behind.is_empty() {
            let pause = network.places.push(SILENCE, 0, &behind, 0.0);
            network.carriers.push(None);
            behind.push((pause, 0.0));
        }
        for (phrase, words) in phrases.iter().enumerate().filter(|(_, words)| sayable(words)) {
            let before = [&alone[..], if carried(phrase) { &behind } else { &[] }].concat();
            network.ends.extend(network.places.add(words, before).into_iter().map(|end| (end, phrase)));
        }
        network
    }

    /// Whether any phrase is in it.
    pub fn holds_phrases(&self) -> bool {
        !self.ends.is_empty()
    }
}

/// Phrases as small graphs: each word's pronunciations side by side, a silence allowed between words. A place is a phone of one.
#[derive(Default)]
pub(super) struct PhoneGraph {
    pub(super) phones: Vec<Phone>,
    /// By place: which word of its phrase it is in.
    pub(super) words: Vec<usize>,
    /// By place: where what can come before it begins in `before`.
    first: Vec<usize>,
    /// Places, and what it costs to come from there; [`START`] is the stretch before the phrase.
    before: Vec<(usize, f32)>,
    /// By place: what entering it costs besides, since something else is usually said there.
    dear: Vec<f32>,
}

impl PhoneGraph {
    /// One phrase, and the places that can end it.
    pub(super) fn of(words: &[Vec<Pronunciation>]) -> (PhoneGraph, Vec<usize>) {
        let mut places = PhoneGraph::default();
        let ends = places.add(words, vec![(START, 0.0)]);
        (places, ends)
    }

    /// Add a phrase behind these places; gives the places that can end it.
    fn add(&mut self, words: &[Vec<Pronunciation>], before: Vec<(usize, f32)>) -> Vec<usize> {
        let mut ends = before;
        for (word, pronunciations) in words.iter().enumerate() {
            if word > 0 {
                ends.iter_mut().for_each(|(_, cost)| *cost = PAUSE);
                let pause = self.push(SILENCE, word, &ends, 0.0);
                ends.push((pause, 0.0));
            }
            let mut last = vec![];
            for spoken in pronunciations {
                // By phone of the word, and behind its last: what can come before it.
                let mut before = vec![vec![]; spoken.phones.len() + 1];
                before[0].clone_from(&ends);
                for (at, phone) in spoken.phones.iter().enumerate() {
                    let here = std::mem::take(&mut before[at]);
                    let place = self.push(*phone, word, &here, 0.0);
                    before[at + 1].push((place, 0.0));
                    for other in spoken.substitutions.iter().filter(|other| other.at == at) {
                        let (mut from, mut cost) = (here.clone(), other.cost);
                        for phone in &other.said {
                            from = vec![(self.push(*phone, word, &from, cost), 0.0)];
                            cost = 0.0;
                        }
                        before[at + other.of].extend(from);
                    }
                }
                last.extend(before.pop().unwrap_or_default());
            }
            ends = last;
        }
        ends.into_iter().map(|(e, _)| e).collect()
    }

    fn push(&mut self, phone: Phone, word: usize, before: &[(usize, f32)], dear: f32) -> usize {
        self.dear.push(dear);
        self.first.push(self.before.len());
        self.before.extend(before);
        self.phones.push(phone);
        self.words.push(word);
        self.phones.len() - 1
    }

    pub(super) fn len(&self) -> usize {
        self.phones.len()
    }

    /// Each place's phone, and what can come before it.
    pub(super) fn iter(&self) -> impl Iterator<Item = (Phone, &[(usize, f32)])> {
        let until = self.first.iter().skip(1).copied().chain([self.before.len()]);
        self.phones.iter().zip(self.first.iter().zip(until)).map(|(phone, (a, b))| (*phone, &self.before[*a..b]))
    }

    /// What entering each place costs besides, natural log.
    pub(super) fn dear(&self) -> &[f32] {
        &self.dear
    }

    /// One frame on, from the values `inside` to the values `to`. Each place and the one it came from is told to `came`, START where the phrase
    /// begins at it, from `outside`.
    pub(super) fn advance(
        &self,
        inside: &[f32],
        row: &[f32],
        outside: f32,
        to: &mut [f32],
        mut came: impl FnMut(usize, usize),
    ) {
        for (k, (phone, before)) in self.iter().enumerate() {
            let mut enter = (NEVER, START);
            for (b, cost) in before {
                let value = if *b == START { outside } else { inside[*b] } - cost;
                if value > enter.0 {
                    enter = (value, *b);
                }
            }
            let (value, stay) = (enter.0 - self.dear[k] + row[2 * phone], inside[k] + row[2 * phone + 1]);
            to[k] = value.max(stay);
            came(k, if stay > value { k } else { enter.1 });
        }
    }
}
