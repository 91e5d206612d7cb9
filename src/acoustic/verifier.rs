//! A second opinion on what libvosk heard: its result says that somebody spoke, and where; which of the phrases it was, and how
//! sure that is, is decided here, by whole phrases.

use super::accent::Accents;
use super::ear::{Ear, FILE, HOP};
use super::features::{Features, features_of};
use super::filler::Filler;
use super::g2p::G2p;
use super::phones::{Phone, Phones};
use super::phrase::{Phrase, PhraseNetwork, Pronunciation};
use super::posterior::{NONE, PhoneLoop};
use super::scores::Scores;
use super::sweep::{Likely, sweep};
use super::viterbi::{Match, begun, llr, search};
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

/// Some frames of scores with the sound around them, and the first frame of that.
fn around(scores: &Scores, (from, until): (usize, usize)) -> (usize, Scores) {
    let begin = from.saturating_sub(AROUND / HOP);
    (begin, scores.part(begin, (until + AROUND / HOP).min(scores.frames())))
}

/// Weighs phrases by the model's own network.
pub struct Verifier {
    ear: Arc<Ear>,
    phones: Phones,
    filler: Filler,
    phone_loop: PhoneLoop,
    accents: Accents,
    /// Learned when the first word is met that the lexicon lacks.
    g2p: OnceLock<G2p>,
}

impl Verifier {
    /// From a model folder of our own making; none for one from elsewhere.
    pub fn read(folder: &Path) -> Option<Verifier> {
        // The ear first: reading it takes more for a moment, which the lexicon then fills.
        let ear = Ear::read(&folder.join(FILE))?;
        let phones = Phones::read(folder)?;
        Some(Verifier::new(Arc::new(ear), phones))
    }

    fn new(ear: Arc<Ear>, phones: Phones) -> Verifier {
        let (filler, phone_loop) = (Filler::new(&phones), PhoneLoop::new(&phones));
        let accents = Accents::new(&phones.names);
        Verifier { ear, accents, filler, phone_loop, phones, g2p: OnceLock::new() }
    }

    /// The phones and words it knows.
    pub fn phones(&self) -> &Phones {
        &self.phones
    }

    /// The same with other words.
    pub fn with_pronunciations(&self, phones: Phones) -> Verifier {
        Verifier::new(Arc::clone(&self.ear), phones)
    }

    /// How a word that the lexicon lacks may be said, told from its letters; nothing for one without letters.
    pub fn spell(&self, word: &str) -> Vec<Phone> {
        self.g2p.get_or_init(|| G2p::learn(&self.phones, |_| true)).say(word)
    }

    /// The pronunciations of these phrases, each with what people with another first language say in place of its phones.
    pub fn pronunciations(&self, phrases: impl IntoIterator<Item = String>) -> Vec<Phrase> {
        let word = |w: &str| self.phones.of(w).iter().map(|phones| self.accents.widen(phones.clone())).collect();
        phrases.into_iter().map(|p| p.split(' ').map(word).collect()).collect()
    }

    /// Those of phrases given as what may be said in each slot, nothing where that may be left out; as the lexicon has them.
    pub fn slot_pronunciations(&self, phrases: impl IntoIterator<Item = Vec<Slot>>) -> Vec<Phrase> {
        let slot = |slot: &Slot| {
            let said = slot.words.iter().flat_map(|w| self.phones.of(w)).cloned();
            said.chain(slot.may_lack.then(Vec::new)).map(Pronunciation::from).collect()
        };
        phrases.into_iter().map(|slots| slots.iter().map(slot).collect()).collect()
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
        let pronunciations: BTreeSet<&[Phone]> =
            ours.iter().flat_map(|w| self.phones.of(w)).map(Vec::as_slice).collect();
        let common = self
            .phones
            .common
            .iter()
            .flat_map(|(word, cost)| self.phones.of(word).iter().map(|w| (w.as_slice(), *cost)));
        Filler::with_words(&self.phones, common.filter(|(pronunciation, _)| !pronunciations.contains(pronunciation)))
    }

    /// The phrases in a stretch of scores.
    pub fn search(&self, scores: &Scores, network: &PhraseNetwork) -> Vec<Match> {
        search(scores, &self.filler, network)
    }

    /// What speaks for a phrase that was found in these frames, about, also against `rivals`: what it may be taken for. Looked at
    /// are those frames, the 0.4 s around them, and whether somebody was talking before or went on behind.
    pub fn weigh<'a>(
        &self,
        scores: &Scores,
        frames: (usize, usize),
        pronunciations: &'a [Vec<Pronunciation>],
        talk: &Filler,
        rivals: impl Iterator<Item = &'a [Vec<Pronunciation>]>,
    ) -> Option<Features> {
        let (begin, part) = around(scores, frames);
        let rival = llr(&part, talk, pronunciations)?;
        let features = features_of(&part, &self.filler, pronunciations)?;
        let (first, after) = features.frames;
        let shares =
            self.phone_loop.log_posteriors(&part.part(first, after), std::iter::once(pronunciations).chain(rivals));
        let (own, others) = shares.split_first()?;
        let margin = own - others.iter().copied().fold(NONE, f32::max);
        let (first, after) = (begin + first, begin + after);
        let before = |frames: usize| first.saturating_sub(frames);
        let talk = self.filler.talk(&scores.part(before(TALK.0), before(TALK.1)));
        let behind = |frames: usize| (after + frames).min(scores.frames());
        let went_on = self.filler.talk(&scores.part(behind(AFTER.0), behind(AFTER.1)));
        let seen = ((behind(AFTER.1) - after) * HOP) as f32 / RATE as f32;
        Some(Features { frames: (first, after), rival, margin, talk, after: went_on, seen, ..features })
    }

    /// How well a phrase fits in these frames, about, against the filler (natural log): those frames and the 0.4 s around them are looked at.
    pub fn fit(&self, scores: &Scores, frames: (usize, usize), phrase: &[Vec<Pronunciation>]) -> Option<f32> {
        llr(&around(scores, frames).1, &self.filler, phrase)
    }

    /// The same for a phrase that may break off behind any of its phones.
    pub fn begun(&self, scores: &Scores, frames: (usize, usize), phrase: &[Vec<Pronunciation>]) -> Option<f32> {
        begun(&around(scores, frames).1, &self.filler, phrase)
    }

    /// Where in a stretch of scores the phrases would be likeliest.
    pub fn sweep(&self, scores: &Scores, network: &PhraseNetwork) -> Vec<Likely> {
        sweep(scores, &self.filler, network)
    }

    /// A pronunciation of one of a phrase's words, by its place, that fits all of these utterances of it better than the known ones do; see
    /// [`super::enrol::learned`].
    pub fn learned(
        &self,
        utterances: &[Scores],
        pronunciations: &[Vec<Pronunciation>],
        allowed: impl Fn(usize, &Vec<Phone>) -> bool,
    ) -> Vec<(usize, Vec<Phone>)> {
        super::enrol::learned(utterances, &self.filler, &self.accents, pronunciations, allowed)
    }
}
