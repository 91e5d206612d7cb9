//! What speaks for a phrase in one place: its ratio against the filler, and how well each phone fits its frames ("goodness of pronunciation",
//! Witt and Young 2000, from memory), what is silent around it, and more.

use super::filler::Filler;
use super::phones::SILENCE;
use super::phrase::Pronunciation;
use super::scores::{SIDE, Scores, best, phone_score};
use super::viterbi::{Path, path};
use std::collections::BTreeMap;

/// What was measured of one phrase in one stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct Features {
    /// Log-likelihood ratio of the best path with the phrase against the best path without, natural log. Above 0 the phrase wins.
    pub llr: f32,
    /// First frame of the phrase, and the one after its last, of 24 ms.
    pub frames: (usize, usize),
    /// How many phones it has.
    pub phones: usize,
    /// Mean over its phones of the mean log score of the frames against the best phone of each frame; 0 is the best.
    pub goodness: f32,
    /// The same of the phone that fits worst.
    pub worst: f32,
    /// The share of the quarter second before and after that is more likely silence than speech, 0 to 1.
    pub quiet: (f32, f32),
    /// Mean goodness over the frames of the word that fits worst.
    pub word: f32,
    /// How many phones last one frame only.
    pub short: usize,
    /// As `llr`, against common words too.
    pub rival: f32,
    /// How much louder the phrase is than the quarter second before and after it, in dB.
    pub louder: (f32, f32),
    /// How much louder the phrase is than the quietest tenth of the stretch, in dB.
    pub above: f32,
    /// By how much its posterior among all that its frames could be is more than that of the likeliest other phrase, natural log.
    pub margin: f32,
    /// The share of the second before the half second before it that is more likely speech than silence, 0 to 1.
    pub talk: f32,
    /// The share of the time from 0.4 to 0.8 s after it that is more likely speech than silence, as far as it is there, 0 to 1.
    pub after: f32,
    /// How much sound there is behind it, up to 0.8 s, in seconds.
    pub seen: f32,
    /// What its substitutions cost, natural log (`accent`).
    pub accent: f32,
}

/// Look for the phrase, given as the pronunciations of each of its words, in frames of scores.
pub fn features_of(scores: &Scores, filler: &Filler, words: &[Vec<Pronunciation>]) -> Option<Features> {
    let Path { llr, places, runs, frames: (start, until) } = path::<true>(scores, filler, words, false)?;
    let rows: Vec<&[f32]> = filler.rows(&scores.rows).collect();
    let live = &filler.live;
    let said = |(place, from, until): &&(usize, usize, usize)| places.phones[*place] != SILENCE && until > from;
    let short = runs.iter().filter(said).filter(|(_, from, until)| until - from == 1).count();
    let mut goodness: Vec<f32> = vec![];
    let mut by_word: BTreeMap<usize, (f32, usize)> = BTreeMap::new();
    for (place, from, until) in runs.iter().filter(said) {
        let score =
            |row: &&[f32]| phone_score(row, places.phones[*place]) - best(live.iter().map(|p| phone_score(row, *p))).0;
        let (sum, frames) = (rows[*from..*until].iter().map(score).sum::<f32>(), until - from);
        goodness.push(sum / frames as f32);
        let word = by_word.entry(places.words[*place]).or_default();
        *word = (word.0 + sum, word.1 + frames);
    }
    let word = by_word.values().map(|(sum, n)| sum / *n as f32).fold(0.0, f32::min);
    let quiet = |rows: &[&[f32]]| filler.quiet(rows).unwrap_or(1.0);
    let (louder, above) = scores.louder(start, until);
    Some(Features {
        llr,
        frames: (start, until),
        phones: goodness.len(),
        goodness: goodness.iter().sum::<f32>() / goodness.len().max(1) as f32,
        worst: goodness.iter().copied().fold(0.0, f32::min),
        quiet: (quiet(&rows[start.saturating_sub(SIDE)..start]), quiet(&rows[until..(until + SIDE).min(rows.len())])),
        word,
        short,
        rival: 0.0,
        louder,
        above,
        margin: 0.0,
        talk: 0.0,
        after: 0.0,
        seen: 0.0,
        accent: runs.iter().map(|(place, ..)| places.dear()[*place]).sum(),
    })
}
