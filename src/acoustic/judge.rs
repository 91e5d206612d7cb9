//! A second opinion on what libvosk heard: its result says that somebody spoke, and where; which of the phrases it was, and how
//! sure that is, is decided here, by whole phrases.

use super::ear::{Ear, FILE, HOP};
use super::letters::Letters;
use super::phones::{Phone, Phones};
use super::share::{Chances, NONE};
use super::spot::{Filler, Hit, Layout, Scores, Spotted, ratio, search, spot};
use super::sweep::{Likely, sweep};
use crate::time::RATE;
use crate::words::Slot;
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::{Arc, OnceLock};

/// Sound around a phrase that is looked at with it: 0.4 s.
const AROUND: usize = 6_400;

/// Frames before a phrase in which talk speaks against it: from 1.5 to 0.5 s before.
const TALK: (usize, usize) = (63, 21);

/// Frames behind it in which talk does: from 0.4 to 0.8 s.
const AFTER: (usize, usize) = (17, 33);

/// Weighs phrases by the model's own network.
pub struct Judge {
    ear: Arc<Ear>,
    phones: Phones,
    filler: Filler,
    chances: Chances,
    /// Learned when the first word is met that the lexicon lacks.
    letters: OnceLock<Letters>,
}

/// The ways to say each word of each phrase.
pub type Ways = Vec<Vec<Vec<Vec<Phone>>>>;

impl Judge {
    /// From a model folder of our own making; none for one from elsewhere.
    pub fn read(folder: &Path) -> Option<Judge> {
        let phones = Phones::read(folder)?;
        let ear = Ear::read(&folder.join(FILE))?;
        Some(Judge::new(Arc::new(ear), phones))
    }

    fn new(ear: Arc<Ear>, phones: Phones) -> Judge {
        let (filler, chances) = (Filler::new(&phones), Chances::new(&phones));
        Judge { ear, filler, chances, phones, letters: OnceLock::new() }
    }

    /// The phones and words it knows.
    pub fn phones(&self) -> &Phones {
        &self.phones
    }

    /// The same with other words.
    pub fn taught(&self, phones: Phones) -> Judge {
        Judge::new(Arc::clone(&self.ear), phones)
    }

    /// How a word that the lexicon lacks may be said, told from its letters; nothing for one without letters.
    pub fn spell(&self, word: &str) -> Vec<Phone> {
        self.letters.get_or_init(|| Letters::learn(&self.phones, |_| true)).say(word)
    }

    /// The ways to say these phrases.
    pub fn ways(&self, phrases: impl IntoIterator<Item = String>) -> Ways {
        self.worded(phrases.into_iter().map(|p| p.split(' ').map(Slot::of).collect()))
    }

    /// The ways to say these phrases, given as what may be said in each slot: nothing, where that may be left out.
    pub fn worded(&self, phrases: impl IntoIterator<Item = Vec<Slot>>) -> Ways {
        let ways = |slot: &Slot| {
            let said = slot.words.iter().flat_map(|w| self.phones.of(w)).cloned();
            said.chain(slot.may_lack.then(Vec::new)).collect()
        };
        phrases.into_iter().map(|slots| slots.iter().map(ways).collect()).collect()
    }

    /// How many phones a phrase has at least; 0 where a word of it can't be said.
    pub fn length(&self, phrase: &str) -> usize {
        let shortest = |word: &str| self.phones.of(word).iter().map(Vec::len).min();
        phrase.split(' ').map(shortest).sum::<Option<usize>>().unwrap_or(0)
    }

    /// The scores of a stretch of sound at 16 kHz, in -1 to 1: a frame for each [`HOP`] samples.
    pub fn scores(&self, sound: &[f32]) -> Scores {
        self.ear.scores(sound)
    }

    /// Ordinary talk, without the words of these phrases.
    pub fn talk(&self, phrases: &[String]) -> Filler {
        let ours: BTreeSet<&str> = phrases.iter().flat_map(|p| p.split(' ')).collect();
        let ways: BTreeSet<&[Phone]> = ours.iter().flat_map(|w| self.phones.of(w)).map(Vec::as_slice).collect();
        let common = self
            .phones
            .common
            .iter()
            .flat_map(|(word, cost)| self.phones.of(word).iter().map(|w| (w.as_slice(), *cost)));
        Filler::with_words(&self.phones, common.filter(|(way, _)| !ways.contains(way)))
    }

    /// The phrases in a stretch of scores.
    pub fn search(&self, scores: &Scores, layout: &Layout) -> Vec<Hit> {
        search(scores, &self.filler, layout)
    }

    /// What speaks for a phrase that was found in these frames, about, also against `rivals`: the ways that one of its ways may be taken for. Looked at
    /// are those frames, the 0.4 s around them, and whether somebody was talking before or went on behind.
    pub fn weigh<'a>(
        &self,
        scores: &Scores,
        (from, until): (usize, usize),
        ways: &'a [Vec<Vec<Phone>>],
        talk: &Filler,
        rivals: impl Iterator<Item = &'a [Vec<Vec<Phone>>]>,
    ) -> Option<Spotted> {
        let begin = from.saturating_sub(AROUND / HOP);
        let part = scores.part(begin, (until + AROUND / HOP).min(scores.frames()));
        let rival = ratio(&part, talk, ways)?;
        let spotted = spot(&part, &self.filler, ways)?;
        let (first, after) = spotted.frames;
        let shares = self.chances.shares(&part.part(first, after), std::iter::once(ways).chain(rivals));
        let (own, others) = shares.split_first()?;
        let margin = own - others.iter().copied().fold(NONE, f32::max);
        let (first, after) = (begin + first, begin + after);
        let before = |frames: usize| first.saturating_sub(frames);
        let talk = self.filler.talk(&scores.part(before(TALK.0), before(TALK.1)));
        let behind = |frames: usize| (after + frames).min(scores.frames());
        let went_on = self.filler.talk(&scores.part(behind(AFTER.0), behind(AFTER.1)));
        let seen = ((behind(AFTER.1) - after) * HOP) as f32 / RATE as f32;
        Some(Spotted { frames: (first, after), rival, own: *own, margin, talk, after: went_on, seen, ..spotted })
    }

    /// Where in a stretch of scores the phrases would be likeliest.
    pub fn sweep(&self, scores: &Scores, layout: &Layout) -> Vec<Likely> {
        sweep(scores, &self.filler, layout)
    }

    /// A way to say one of a phrase's words, by its place, that fits all of these utterances of it better than the known ways do; see
    /// [`super::enrol::learned`].
    pub fn learned(
        &self,
        utterances: &[Scores],
        ways: &[Vec<Vec<Phone>>],
        fit: impl Fn(usize, &Vec<Phone>) -> bool,
    ) -> Vec<(usize, Vec<Phone>)> {
        super::enrol::learned(utterances, &self.filler, ways, fit)
    }
}
