//! Phrases that were found, weighed against all that may be said instead.

use super::Model;
use super::candidate::{Candidate, holds};
use super::opposite::{opposites, other_uses, turned};
use crate::acoustic::ear::{HOP, LEAD};
use crate::acoustic::evidence::BETTER;
use crate::acoustic::features::Features;
use crate::acoustic::filler::Filler;
use crate::acoustic::phrase::{Phrase, PhraseNetwork, Pronunciation};
use crate::acoustic::scores::Scores;
use crate::acoustic::sweep::Likely;
use crate::acoustic::verifier::Verifier;
use crate::acoustic::viterbi::Match;
use crate::callout::{Heard, Meaning, Vocabulary};
use crate::time::SampleIndex;
use crate::words::Slot;
use std::collections::{BTreeSet, VecDeque};
use std::sync::Arc;

/// What people say in front of a callout without thinking, a line each. A callout in the middle of a sentence is something else, and no callout.
const CARRIERS: &str = include_str!("../../models/english/carriers.txt");

impl Model {
    /// What these phrases are weighed by.
    pub(super) fn weighing(&self, vocabulary: &Vocabulary) -> Option<Weighing> {
        let verifier = self.verifier()?;
        let phrases: Vec<String> = vocabulary.phrases().collect();
        let longer = |p: &str, q: &str| q.strip_prefix(p).is_some_and(|rest| rest.starts_with(' '));
        let goes_on = phrases.iter().map(|p| phrases.iter().any(|q| longer(p, q))).collect();
        let length = phrases.iter().map(|p| verifier.length(p)).collect();
        let talk = verifier.talk(&phrases);
        let callout = |place: usize| matches!(vocabulary.meaning(place), Meaning::Callout(_));
        let opposites: BTreeSet<String> = phrases.iter().flat_map(|p| opposites(p)).collect();
        let opposites = opposites.into_iter().filter(|p| !phrases.contains(p));
        let pronunciations = verifier.pronunciations(phrases.iter().cloned().chain(opposites));
        let slots: Vec<Vec<Slot>> = vocabulary.slots().collect();
        let turned_of = |p: &String| {
            let these = phrases.iter().zip(&slots).filter(|(q, _)| *q == p || longer(p, q));
            verifier.slot_pronunciations(these.flat_map(|(_, slots)| turned(slots)))
        };
        let turned = phrases.iter().map(turned_of).collect();
        let other_use = slots.iter().map(|slots| verifier.slot_pronunciations(other_uses(slots))).collect();
        let kin = vocabulary.kin();
        let varied = |phrase: usize| slots[phrase].iter().any(|slot| slot.ways() > 1);
        let near = (0..phrases.len()).map(|p| {
            let words: Vec<&str> = phrases[p].split(' ').collect();
            (0..slots.len()).filter(|q| varied(*q) && !kin[p].contains(q) && near(&words, &slots[*q])).collect()
        });
        let near = near.collect();
        let all = verifier.slot_pronunciations(slots.iter().cloned());
        let worded = |(phrase, said): (usize, &Phrase)| if varied(phrase) { said.clone() } else { vec![] };
        let worded: Vec<Phrase> = all.iter().enumerate().map(worded).collect();
        let carriers = verifier.pronunciations(CARRIERS.lines().map(str::to_string));
        let listed = |phrase: usize| phrase < phrases.len() && callout(phrase);
        let network = PhraseNetwork::new(&pronunciations, listed, &carriers);
        let other = PhraseNetwork::new(&worded, callout, &carriers);
        let called = phrases.iter().map(|p| self.called.get(p).copied().unwrap_or_else(|| self.threshold(p))).collect();
        let worded = Worded { network: other, pronunciations: worded, kin, near, all };
        Some(Weighing {
            verifier,
            pronunciations,
            turned,
            other_use,
            worded,
            carriers,
            network,
            talk,
            goes_on,
            length,
            called,
        })
    }
}

/// What phrases are weighed by.
pub(super) struct Weighing {
    pub(super) verifier: Arc<Verifier>,
    /// Of each phrase, by place in the vocabulary; behind them those of their opposites, which are no phrases.
    pub(super) pronunciations: Vec<Phrase>,
    /// By phrase: what it is easily taken for, in all wordings: with a word turned into its opposite, and so those that go on behind it.
    turned: Vec<Vec<Phrase>>,
    /// By phrase: the same behind words for something else that is done with it, or that it isn't done.
    other_use: Vec<Vec<Phrase>>,
    /// The same phrases in wordings that nobody listed.
    worded: Worded,
    /// Of what may stand in front of a callout; with nothing behind it, it is what a phrase may be taken for.
    carriers: Vec<Phrase>,
    network: PhraseNetwork,
    pub(super) talk: Filler,
    /// By phrase: whether a longer one begins with it, so that its end is no end yet.
    pub(super) goes_on: Vec<bool>,
    /// By phrase: its phones, without those of carrier words.
    pub(super) length: Vec<usize>,
    /// By phrase: the evidence from which on it counts as called.
    called: Vec<f64>,
}

/// Phrases with the wordings that follow from those listed.
struct Worded {
    /// By phrase; empty where it has no other wordings.
    pronunciations: Vec<Phrase>,
    network: PhraseNetwork,
    /// By phrase: those with a wording in common, which are none of its rivals.
    kin: Vec<Vec<usize>>,
    /// By phrase: those whose wordings it is easily taken for a part of: they begin with its first word, or hold all of its words.
    near: Vec<Vec<usize>>,
    /// By phrase: in all its wordings, also where it has no others.
    all: Vec<Phrase>,
}

/// The evidence from which on a callout in a wording that nobody listed counts as called: there are many of those, and some sound like talk.
const UNLISTED: f64 = 0.95;

/// Frames, beside the 0.4 s around what was found, in which what it may be a part of is looked for: 0.4 s.
const WIDER: usize = 17;

/// By so much, in nats, a phrase fits better with that than alone: it did by 12 to 52 where six voices said it, and by chance by 7.5 at most in 36 callouts
/// at 10 dB.
const USED: f32 = 10.0;

/// Places of callouts that are weighed where the best explanation holds none: 10 to 20 ms each.
const LIKELIEST: usize = 3;

impl Weighing {
    /// What may be said where some pronunciations are found: the other phrases and their opposites, and carrier words alone.
    pub(super) fn rivals<'a>(
        &'a self,
        mine: &'a [Vec<Vec<Pronunciation>>],
    ) -> impl Iterator<Item = &'a [Vec<Pronunciation>]> {
        self.pronunciations
            .iter()
            .chain(&self.carriers)
            .filter(|pronunciation| !mine.contains(pronunciation))
            .map(Vec::as_slice)
    }

    /// All that stands for something else than a phrase does, in all wordings, the opposites and carrier words.
    fn others(&self, phrase: usize) -> impl Iterator<Item = &[Vec<Pronunciation>]> {
        let kin = &self.worded.kin[phrase];
        let listed = self.pronunciations.iter().enumerate().filter(|(k, _)| !kin.contains(k)).map(|(_, p)| p);
        listed.chain(&self.carriers).map(Vec::as_slice).chain(self.wordings_apart_from(phrase))
    }

    /// Wordings that nobody listed of what stands for something else than a phrase does.
    fn wordings_apart_from(&self, phrase: usize) -> impl Iterator<Item = &[Vec<Pronunciation>]> {
        let Worded { pronunciations, kin, .. } = &self.worded;
        let others = pronunciations.iter().enumerate().filter(move |(k, _)| !kin[phrase].contains(k));
        others.map(|(_, p)| p.as_slice()).filter(|p| !p.is_empty())
    }

    /// A phrase of the vocabulary, by its place, in the wordings that nobody listed; none where it has no others.
    pub(super) fn wordings(&self, phrase: usize) -> Option<&Phrase> {
        self.worded.pronunciations.get(phrase).filter(|p| !p.is_empty())
    }

    /// What may be said for something, in all its wordings.
    pub(super) fn said<'a>(
        &'a self,
        vocabulary: &'a Vocabulary,
        meaning: &'a Meaning,
    ) -> impl Iterator<Item = &'a Phrase> {
        let phrases = self.worded.pronunciations.iter().enumerate();
        phrases.filter(move |(k, _)| vocabulary.meaning(*k) == *meaning).map(|(_, phrase)| phrase)
    }

    /// The phrases in a stretch of scores that begins at `from`: as they are listed, and in other wordings (true).
    pub(super) fn found(&self, scores: &Scores, from: SampleIndex) -> Vec<(Hypothesis, bool)> {
        let found = |(hit, worded): (Match, bool)| {
            let (start, end) = (sample(from, hit.from), sample(from, hit.until));
            (hit.phrase < self.called.len()).then_some((Hypothesis { start, end, hit }, worded))
        };
        let hits = |network, worded| self.verifier.search(scores, network).into_iter().map(move |hit| (hit, worded));
        let others = self.worded.network.holds_phrases().then(|| hits(&self.worded.network, true));
        hits(&self.network, false).chain(others.into_iter().flatten()).filter_map(found).collect()
    }

    /// What the best explanation of a stretch of scores that begins at `from`, which [`Self::found`] gives, leaves out since something else beats it by a
    /// little. Of the places that are `there` the likeliest few are weighed: all, where no callout was found, and those of callouts that are hardly sure.
    /// They have to be as sure as what is told at once, and to fit best or to be surer than the callout.
    pub(super) fn left_out(
        &self,
        vocabulary: &Vocabulary,
        scores: &Scores,
        from: SampleIndex,
        weighed: &[Candidate],
        theirs: &[Heard],
        there: impl Fn(SampleIndex, SampleIndex) -> bool,
    ) -> Vec<Candidate> {
        let taken: Vec<&Candidate> = weighed.iter().filter(|m| m.taken()).collect();
        if !taken.is_empty() && !taken.iter().any(|m| m.doubtful()) {
            return vec![];
        }
        let doubted = |start, end| taken.iter().any(|m| m.doubtful() && m.meets(start, end));
        let mut likely = self.verifier.sweep(scores, &self.network);
        likely.retain(|l| {
            let (start, end) = (sample(from, l.frames.0), sample(from, l.frames.1));
            let wanted = there(start, end) && (taken.is_empty() || doubted(start, end));
            l.phrase < self.called.len() && l.llr >= BETTER && wanted
        });
        likely.sort_by(|a, b| b.llr.total_cmp(&a.llr));
        let hypothesis = |Likely { phrase, frames: (first, until), .. }: Likely| {
            let hit = Match { phrase, from: first, until, carrier: None };
            (Hypothesis { start: sample(from, first), end: sample(from, until), hit }, false)
        };
        let mut likely: Vec<_> = likely.into_iter().take(LIKELIEST).map(hypothesis).collect();
        likely.retain(|(f, _)| !holds(weighed, &vocabulary.meaning(f.hit.phrase), f.start, f.end));
        let beaten = |m: &Candidate| taken.iter().any(|o| o.meets(m.start, m.end) && o.evidence() >= m.evidence());
        let counts = |m: &Candidate| m.sure() && if taken.is_empty() { m.fits_best() } else { !beaten(m) };
        self.weigh(vocabulary, scores, &likely, theirs).into_iter().filter(counts).collect()
    }

    /// Those of some found ones that are worth it, weighed against all others. `theirs`: what libvosk has there. Another wording is only looked at where
    /// the listed one doesn't count as called, and only kept where it does.
    pub(super) fn weigh(
        &self,
        vocabulary: &Vocabulary,
        scores: &Scores,
        found: &[(Hypothesis, bool)],
        theirs: &[Heard],
    ) -> Vec<Candidate> {
        let mut weighed: Vec<Candidate> = vec![];
        let mut whose: Vec<usize> = vec![];
        // What is weighed in another's place comes last, and is none itself.
        let mut found: VecDeque<_> = found.iter().map(|(f, worded)| (f.clone(), *worded, true)).collect();
        while let Some((Hypothesis { start, end, hit }, worded, first)) = found.pop_front() {
            let same = |phrase: &usize| self.worded.kin[hit.phrase].contains(phrase);
            let taken = |(m, phrase): (&Candidate, &usize)| same(phrase) && m.taken() && m.meets(start, end);
            if worded && weighed.iter().zip(&whose).any(taken) {
                continue;
            }
            let pronunciations =
                if worded { &self.worded.pronunciations[hit.phrase] } else { &self.pronunciations[hit.phrase] };
            let (said, frames) = (self.carried(&hit, pronunciations), (hit.from, hit.until));
            // The phrase itself is none of its rivals where carrier words stand in front of it either.
            let own = &self.pronunciations[hit.phrase..=hit.phrase];
            let listed = (!worded).then(|| self.rivals(own).chain(self.wordings_apart_from(hit.phrase)));
            let others = worded.then(|| self.others(hit.phrase));
            let rivals = listed.into_iter().flatten().chain(others.into_iter().flatten());
            let features = self.verifier.weigh(scores, frames, &said, &self.talk, rivals);
            let Some(features) = features.filter(|f| !self.is_turned(scores, &hit, f)) else { continue };
            if let Some(phrase) = first.then(|| self.part_of(scores, &hit, &features)).flatten() {
                found.push_back((Hypothesis { start, end, hit: Match { phrase, ..hit } }, true, false));
                continue;
            }
            let measured = self.measured(vocabulary, hit.phrase, (start, end), features, theirs);
            let asked = if worded { measured.called.max(UNLISTED) } else { measured.called };
            let measured = Candidate { called: asked, ..measured };
            if !worded || measured.taken() {
                weighed.push(measured);
                whose.push(hit.phrase);
            }
        }
        // What fits better there in other words is that, and not what it was taken for.
        let better = |m: &Candidate| weighed.iter().any(|o| o.meets(m.start, m.end) && o.evidence() > m.evidence());
        let worse: Vec<bool> = weighed.iter().map(|m| m.taken() && better(m)).collect();
        let mut worse = worse.into_iter();
        weighed.retain(|_| !worse.next().unwrap_or(false));
        weighed
    }

    /// What libvosk heard, weighed likewise: of the phrases that mean the same the one that fits best there. The scores begin at `from`.
    pub(super) fn like(
        &self,
        vocabulary: &Vocabulary,
        scores: &Scores,
        from: SampleIndex,
        heard: &Heard,
    ) -> Option<Candidate> {
        let place = (frame(from, scores, heard.start), frame(from, scores, heard.end));
        let there = |phrase: usize| {
            let (pronunciations, rivals) =
                (&self.pronunciations[phrase], self.rivals(&self.pronunciations[phrase..=phrase]));
            Some((phrase, self.verifier.weigh(scores, place, pronunciations, &self.talk, rivals)?))
        };
        let same = (0..self.called.len()).filter(|phrase| vocabulary.meaning(*phrase) == heard.meaning);
        let (phrase, features) = same.filter_map(there).max_by(|a, b| a.1.llr.total_cmp(&b.1.llr))?;
        let hit = Match { phrase, from: place.0, until: place.1, carrier: None };
        let other = self.is_turned(scores, &hit, &features) || self.part_of(scores, &hit, &features).is_some();
        (!other).then_some(())?;
        let place = (sample(from, features.frames.0), sample(from, features.frames.1));
        Some(self.measured(vocabulary, phrase, place, features, std::slice::from_ref(heard)))
    }

    /// Whether the beginning of another phrase, in any wording, fits better where one was found: in "removing the massage cream" a speaker may stop
    /// before "cream", and in "apply the steam towel" there is a stop in "steam". Up to there they are somewhat like "removing the mask", "apply the mask".
    pub(super) fn begins_another(&self, scores: &Scores, hit: &Match, worded: bool) -> bool {
        let (mine, frames) =
            (if worded { &self.worded.pronunciations } else { &self.pronunciations }, (hit.from, hit.until));
        let Some(mine) = self.verifier.fit(scores, frames, &self.carried(hit, &mine[hit.phrase])) else {
            return false;
        };
        let kin = &self.worded.kin[hit.phrase];
        let others = self.worded.all.iter().enumerate().filter(|(phrase, _)| !kin.contains(phrase));
        let begun = |phrase: &Phrase| self.verifier.begun(scores, frames, &self.carried(hit, phrase));
        others.filter_map(|(_, phrase)| begun(phrase)).any(|other| other > mine)
    }

    /// The phrase of which another wording, which nobody listed, fits best there, with what is around it, and better than what was found: "removing the
    /// mask" is found in "removing the massage cream", and "massage cream" is too.
    fn part_of(&self, scores: &Scores, hit: &Match, features: &Features) -> Option<usize> {
        let Worded { pronunciations, near, .. } = &self.worded;
        let fit =
            |phrase: &usize| Some((*phrase, self.verifier.fit(scores, wide(scores, hit), &pronunciations[*phrase])?));
        let best = near[hit.phrase].iter().filter_map(fit).max_by(|a, b| a.1.total_cmp(&b.1));
        best.filter(|(_, llr)| *llr > features.llr).map(|(phrase, _)| phrase)
    }

    /// Whether what was found fits worse there, with what is around it, than with one of its words turned into the opposite: "gloves off" holds most of
    /// "gloves on", and its end lies behind the place of that. Likewise with what else may be done with it in front: who tests the steam towel hasn't applied it.
    fn is_turned(&self, scores: &Scores, hit: &Match, features: &Features) -> bool {
        let fit = |phrase: &Phrase| self.verifier.fit(scores, (hit.from, hit.until), &self.carried(hit, phrase));
        let used = |phrase: &Phrase| self.verifier.fit(scores, wide(scores, hit), phrase);
        self.turned[hit.phrase].iter().filter_map(fit).any(|turned| turned > features.llr)
            || self.other_use[hit.phrase].iter().filter_map(used).any(|used| used > features.llr + USED)
    }

    /// A phrase behind the carrier words that were found in front of one.
    fn carried(&self, hit: &Match, phrase: &Phrase) -> Phrase {
        hit.carrier.map_or_else(|| phrase.clone(), |c| [&self.carriers[c][..], phrase].concat())
    }

    fn measured(
        &self,
        vocabulary: &Vocabulary,
        phrase: usize,
        (start, end): (SampleIndex, SampleIndex),
        features: Features,
        theirs: &[Heard],
    ) -> Candidate {
        let (meaning, called) = (vocabulary.meaning(phrase), self.called[phrase]);
        let found = Candidate { meaning, start, end, features, agreed: false, own: false, called };
        let agreed = theirs.iter().any(|h| h.meaning == found.meaning && found.meets(h.start, h.end));
        Candidate { agreed, ..found }
    }
}

/// Where a frame begins, of scores that begin at `from`.
pub(super) fn sample(from: SampleIndex, frame: usize) -> SampleIndex {
    SampleIndex(from.0 + (frame * HOP + LEAD) as u64)
}

/// The frame at a place, of scores that begin at `from`; the first or their end where it lies outside.
pub(super) fn frame(from: SampleIndex, scores: &Scores, at: SampleIndex) -> usize {
    ((at.0.saturating_sub(from.0) as usize).saturating_sub(LEAD) / HOP).min(scores.frames())
}

/// The frames in which what a finding may be a part of is looked for.
fn wide(scores: &Scores, hit: &Match) -> (usize, usize) {
    (hit.from.saturating_sub(WIDER), (hit.until + WIDER).min(scores.frames()))
}

/// Whether some words begin like a phrase, given by what may be said for each of its words, or are a part of it.
fn near(words: &[&str], slots: &[Slot]) -> bool {
    let may = |slot: &Slot, word: &str| slot.words.iter().any(|w| w == word);
    let here = |part: &[Slot]| part.iter().zip(words).all(|(slot, word)| may(slot, word));
    slots.first().is_some_and(|slot| may(slot, words[0])) || slots.windows(words.len()).any(here)
}

/// A phrase that was found, and is still to be weighed.
#[derive(Clone)]
pub(super) struct Hypothesis {
    pub(super) start: SampleIndex,
    pub(super) end: SampleIndex,
    pub(super) hit: Match,
}
