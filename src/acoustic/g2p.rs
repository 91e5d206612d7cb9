//! How a word that no lexicon has may be said: learned from the words that the lexicon has. Each letter stands for no, one or two
//! phones; which, is first aligned by expectation and maximisation (hard, Viterbi), then told by the letters around it, the widest
//! surroundings that were seen (a decision by longest context, as in memory-based letter-to-sound rules).

use super::phones::{Phone, Phones};
use std::collections::{BTreeMap, HashMap};

/// G2p on each side that can decide.
const WIDEST: usize = 4;
/// Rounds of alignment.
const ROUNDS: usize = 4;
/// Of the words, every so manieth is learned from: more teach little more, and a section waits for it.
const EVERY: usize = 3;

type Sounds = Vec<Phone>;

/// G2p to phones.
pub struct G2p {
    /// For each width, from none to [`WIDEST`]: surroundings of a letter to what it stood for most often.
    tables: Vec<HashMap<Vec<u8>, Sounds>>,
}

/// How often each letter stood for what, as far as words were aligned.
#[derive(Default)]
struct Seen {
    counts: HashMap<(u8, Sounds), f32>,
    total: BTreeMap<u8, f32>,
}

impl Seen {
    fn cost(&self, letter: u8, said: &[Phone]) -> f32 {
        if self.total.is_empty() {
            // At first one phone a letter is likeliest.
            return [1.5, 1.0, 3.0][said.len()];
        }
        let seen = self.counts.get(&(letter, said.to_vec())).copied().unwrap_or(0.0);
        -((seen + 0.1) / (self.total.get(&letter).copied().unwrap_or(0.0) + 100.0)).ln()
    }

    fn see(&mut self, letter: u8, sounds: Sounds) {
        *self.counts.entry((letter, sounds)).or_default() += 1.0;
        *self.total.entry(letter).or_default() += 1.0;
    }
}

/// For each letter of a word, the phones it stands for, at the least cost; none where there are more than two phones a letter.
fn aligned(word: &[u8], pron: &[Phone], seen: &Seen) -> Option<Vec<Sounds>> {
    let (n, m) = (word.len(), pron.len());
    let mut best = vec![f32::INFINITY; (n + 1) * (m + 1)];
    let mut took = vec![0usize; (n + 1) * (m + 1)];
    best[0] = 0.0;
    for i in 0..n {
        for j in 0..=m {
            let value = best[i * (m + 1) + j];
            if value.is_infinite() {
                continue;
            }
            for k in 0..=2.min(m - j) {
                let to = (i + 1) * (m + 1) + j + k;
                let new = value + seen.cost(word[i], &pron[j..j + k]);
                if new < best[to] {
                    (best[to], took[to]) = (new, k);
                }
            }
        }
    }
    best[n * (m + 1) + m].is_finite().then_some(())?;
    let (mut j, mut parts) = (m, vec![]);
    for i in (1..=n).rev() {
        let k = took[i * (m + 1) + j];
        parts.push(pron[j - k..j].to_vec());
        j -= k;
    }
    parts.reverse();
    Some(parts)
}

/// The letters around place `i`, `width` on each side; beyond the word's ends there are blanks.
fn around(word: &[u8], i: usize, width: usize) -> Vec<u8> {
    let at = |k: isize| usize::try_from(k).ok().and_then(|k| word.get(k)).copied().unwrap_or(b' ');
    (i as isize - width as isize..=i as isize + width as isize).map(at).collect()
}

impl G2p {
    /// Learn from the words for which `taught` holds.
    pub fn learn(phones: &Phones, taught: impl Fn(&str) -> bool) -> G2p {
        let words: Vec<(&[u8], &Sounds)> = phones
            .words()
            .filter(|(w, _)| taught(w))
            .filter_map(|(w, pronunciations)| Some((w.as_bytes(), pronunciations.first()?)))
            .step_by(EVERY)
            .collect();
        let mut seen = Seen::default();
        for _ in 0..ROUNDS {
            let mut new = Seen::default();
            // To align, every eighth of them is enough.
            for (word, pron) in words.iter().step_by(8) {
                let parts = aligned(word, pron, &seen).unwrap_or_default();
                word.iter().zip(parts).for_each(|(letter, said)| new.see(*letter, said));
            }
            seen = new;
        }
        let mut votes: Vec<HashMap<Vec<u8>, BTreeMap<Sounds, u32>>> = vec![HashMap::new(); WIDEST + 1];
        for (word, pron) in &words {
            for (i, said) in aligned(word, pron, &seen).unwrap_or_default().into_iter().enumerate() {
                for (width, table) in votes.iter_mut().enumerate() {
                    *table.entry(around(word, i, width)).or_default().entry(said.clone()).or_default() += 1;
                }
            }
        }
        let most = |votes: BTreeMap<Sounds, u32>| votes.into_iter().max_by_key(|(_, n)| *n).map(|(s, _)| s);
        let table = |t: HashMap<Vec<u8>, BTreeMap<Sounds, u32>>| {
            t.into_iter().filter_map(|(k, v)| Some((k, most(v)?))).collect()
        };
        G2p { tables: votes.into_iter().map(table).collect() }
    }

    /// How a word may be said; nothing for one without letters.
    pub fn say(&self, word: &str) -> Vec<Phone> {
        let letters = word.as_bytes();
        let said = |i: usize| (0..=WIDEST).rev().find_map(|width| self.tables[width].get(&around(letters, i, width)));
        (0..letters.len()).flat_map(|i| said(i).cloned().unwrap_or_default()).collect()
    }
}
