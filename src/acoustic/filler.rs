//! Any speech at all, and silence: what a phrase is held against.

use super::phones::{Phone, Phones, SILENCE};
use super::scores::{NEVER, Scores, best, phone_score};
use std::collections::BTreeMap;

/// Cost of a silence between two words, or of none: both ln 2.
pub(super) const PAUSE: f32 = std::f32::consts::LN_2;
/// Cost of a phone of the filler, besides its chance: rather a phrase too many is found. The wide ear's scores want more than libvosk's network, whose
/// folder says 1.6 (0.6, 1.6 and 3 were tried on the development set).
const EACH: f64 = 3.0;
/// What stands for the node before a word's first.
const FIRST: u32 = u32::MAX;

/// Filler and silence: any phone after any other, at the costs of the graph; and common words, where it has some.
pub struct Filler {
    /// The phones, silence first.
    pub(super) live: Vec<Phone>,
    /// Row q, column p: the cost of q after p.
    costs: Vec<f32>,
    /// The cost of each phone after something that is no filler.
    enter: Vec<f32>,
    /// Scores of a frame: two for each phone, enter and stay.
    width: usize,
    /// Common words as a tree of phones: each node's phone and the node before it, [`FIRST`] for a word's first. Small, since there are many.
    nodes: Vec<(u16, u32)>,
    /// The nodes that end a word, and what that word costs.
    ends: Vec<(usize, f32)>,
}

impl Filler {
    /// The same with common words in it, each given by its pronunciations and its cost.
    pub fn with_words<'a>(phones: &Phones, words: impl IntoIterator<Item = (&'a [Phone], f32)>) -> Filler {
        let mut filler = Filler::new(phones);
        let mut at: BTreeMap<(Option<usize>, Phone), usize> = BTreeMap::new();
        let mut ends: BTreeMap<usize, f32> = BTreeMap::new();
        for (pronunciation, cost) in words {
            let mut node = None;
            for phone in pronunciation {
                let next = *at.entry((node, *phone)).or_insert(filler.nodes.len());
                if next == filler.nodes.len() {
                    filler.nodes.push((*phone as u16, node.map_or(FIRST, |n| n as u32)));
                }
                node = Some(next);
            }
            if let Some(node) = node {
                let end = ends.entry(node).or_insert(cost);
                *end = end.min(cost);
            }
        }
        filler.ends = ends.into_iter().collect();
        filler
    }

    /// The phones of speech.
    pub fn speech(&self) -> &[Phone] {
        &self.live[1..]
    }

    /// Whether a frame is more likely silence than speech.
    fn silent(&self, row: &[f32]) -> bool {
        phone_score(row, SILENCE) > best(self.speech().iter().map(|p| phone_score(row, *p))).0
    }

    /// The share of some frames that is more likely silence than speech; `None` of none.
    pub(super) fn quiet(&self, rows: &[&[f32]]) -> Option<f32> {
        (!rows.is_empty()).then(|| rows.iter().filter(|row| self.silent(row)).count() as f32 / rows.len() as f32)
    }

    /// The share of some frames that is more likely speech than silence; 0 of none.
    pub fn talk(&self, scores: &Scores) -> f32 {
        self.quiet(&self.rows(&scores.rows).collect::<Vec<_>>()).map_or(0.0, |quiet| 1.0 - quiet)
    }

    /// How many states there are.
    pub(super) fn states(&self) -> usize {
        self.live.len() + self.nodes.len()
    }

    /// The best state to leave it from, and its value there.
    pub(super) fn over(&self, values: &[f32]) -> (f32, usize) {
        let phones = best(values[..self.live.len()].iter().copied());
        let word = self.word_over(values);
        if word.0 > phones.0 { word } else { phones }
    }

    /// The best end of a word.
    fn word_over(&self, values: &[f32]) -> (f32, usize) {
        self.ends.iter().fold((NEVER, 0), |best, (node, cost)| {
            let state = self.live.len() + node;
            let value = values[state] - cost;
            if value > best.0 { (value, state) } else { best }
        })
    }

    /// At the chances that the model's folder names.
    pub fn new(phones: &Phones) -> Filler {
        let n = phones.names.len();
        let (entry, _, scale) = phones.filler;
        let begin = |q: Phone| (entry + EACH + scale * phones.follow(None, q)) as f32;
        let step = |p: Phone, q: Phone| match (p, q) {
            (SILENCE, q) => begin(q),
            (_, SILENCE) => PAUSE,
            (p, q) => (EACH + scale * phones.follow(Some(p), q)) as f32,
        };
        let live = phones.live();
        let costs = live.iter().flat_map(|q| live.iter().map(|p| step(*p, *q))).collect();
        let enter = live.iter().map(|q| if *q == SILENCE { 0.0 } else { begin(*q) }).collect();
        Filler { live, costs, enter, width: 2 * n, nodes: vec![], ends: vec![] }
    }

    /// One frame on, from the values `from` to the values `to`. Each state and the one it came from is told to `came`, none where it came in from
    /// outside the filler at `extra`.
    pub(super) fn advance(
        &self,
        from: &[f32],
        row: &[f32],
        extra: f32,
        to: &mut [f32],
        mut came: impl FnMut(usize, Option<usize>),
    ) {
        let states = self.live.len();
        let word = self.word_over(from);
        // Into a phone of the filler: from outside, or from a word.
        let outside = if word.0 > extra { (word.0, Some(word.1)) } else { (extra, None) };
        // Into a word: from outside, from silence, or from another word or phone without a pause.
        let into = {
            let mut into = (outside.0 - if outside.1.is_some() { PAUSE } else { 0.0 }, outside.1);
            if extra > into.0 {
                into = (extra, None);
            }
            if from[0] > into.0 {
                into = (from[0], Some(0));
            }
            let phone = best(from[1..states].iter().copied());
            if phone.0 - PAUSE > into.0 { (phone.0 - PAUSE, Some(phone.1 + 1)) } else { into }
        };
        for (q, phone) in self.live.iter().enumerate() {
            let mut enter = (outside.0 - self.enter[q], outside.1);
            for (p, (value, cost)) in from.iter().zip(&self.costs[q * states..(q + 1) * states]).enumerate() {
                if p != q && value - cost > enter.0 {
                    enter = (value - cost, Some(p));
                }
            }
            let (value, stay) = (enter.0 + row[2 * phone], from[q] + row[2 * phone + 1]);
            to[q] = value.max(stay);
            came(q, if stay > value { Some(q) } else { enter.1 });
        }
        for (k, (phone, before)) in self.nodes.iter().enumerate() {
            let (phone, before) = (usize::from(*phone), states + *before as usize);
            let enter = if before < from.len() { (from[before], Some(before)) } else { into };
            let (value, stay) = (enter.0 + row[2 * phone], from[states + k] + row[2 * phone + 1]);
            to[states + k] = value.max(stay);
            came(states + k, if stay > value { Some(states + k) } else { enter.1 });
        }
    }

    pub(super) fn rows<'a>(&self, scores: &'a [f32]) -> std::slice::ChunksExact<'a, f32> {
        scores.chunks_exact(self.width)
    }
}
