//! The ears: libvosk with the section's grammar, and what of it was masked while the tool spoke.
//! It knows words and places; what they mean is the callout module's.

mod candidate;
mod endpoint;
mod engine;
mod gate;
mod listener;
mod opposite;
mod own;
mod profile;
mod rest;
mod result;
mod second;
mod sentence;
mod spelling;
mod thread;
mod verify;

pub use candidate::Candidate;
pub use engine::{ListenError, MODEL_FILES, Model, identify};
pub use gate::Gate;
pub use listener::{Arrived, Listener};
pub use own::Voiced;
pub use profile::{Enrolled, EnrolmentScore, EnrolmentTake, Profile, SpokenWord, Threshold, VERSION};
pub use result::words;
pub use second::{Doubt, Doubts};
pub use thread::EarThread;

use crate::acoustic::ear::HOP;
use crate::acoustic::scores::Scores;
use crate::acoustic::verifier::Verifier;
use crate::audio::Echo;
use crate::callout::{Heard, Vocabulary};
use crate::time::{Ms, RATE, SampleIndex};
use crate::words::Word;
use candidate::holds;
use endpoint::{BLOCK, LEVELS, front, level};
use engine::answer;
use second::{KEPT, Utterance};
use std::collections::VecDeque;
use verify::{Hypothesis, Weighing};

/// Frequent words that soak up ordinary talk beside the callouts.
pub const DECOYS: [&str; 24] = [
    "the", "to", "of", "and", "a", "in", "it", "was", "you", "is", "that", "he", "for", "be", "not", "with", "this",
    "his", "but", "at", "had", "as", "she", "have",
];

/// The recogniser of one run, fed 100 ms at a time.
pub struct Ears {
    model: Model,
    decoys: Vec<String>,
    recogniser: vosk::Recognizer,
    vocabulary: Vocabulary,
    offset: SampleIndex,
    /// Samples that libvosk was not given since it became quiet.
    rested: u64,
    opened: SampleIndex,
    fed: SampleIndex,
    /// What begins before this place was told before.
    known: SampleIndex,
    gate: Gate,
    echo: Echo,
    weighing: Option<Weighing>,
    /// The level of each 20 ms fed, the last ones.
    levels: VecDeque<f32>,
    /// By 20 ms since the ears were opened: the power of the sound without the tool's voice, and of that.
    powers: Vec<(f32, f32)>,
    /// Phrases told since the recogniser's last result, which will hold them too, each with the scores that it was found in.
    early: Vec<Utterance>,
    /// What libvosk made of an utterance whose last sound is still too near; one with the next, where that comes first.
    waiting: Vec<Word>,
    /// Where there is enough sound behind it.
    due: SampleIndex,
    /// The last sound fed, up to `fed`.
    recent: VecDeque<f32>,
    /// End of the last phrase found.
    found: SampleIndex,
    /// The same when the recogniser's last result was looked at.
    decided: SampleIndex,
    /// What somebody said, as scores, for a second listen.
    utterances: Vec<Utterance>,
    doubts: Doubts,
}

/// Sound that is remembered: an utterance is cut after a minute.
const REMEMBERED: usize = 64 * RATE as usize;

/// Sound behind an utterance that is judged with it: whoever talks on has not called anything.
const BEHIND: Ms = Ms(850);

/// A callout has ended where so much sound without it follows.
const ENDED: Ms = Ms(200);

/// The same of one that is hardly sure: who talks on has perhaps called nothing.
const DOUBTED: Ms = Ms(500);

/// As much of it is kept for the second listen, and a phrase that is found begins before; what is behind belongs to the next utterance.
const TAIL: Ms = Ms(400);

/// So far apart are the places that levels, libvosk and the network give for the same end of a word, at most.
const NEARBY: Ms = Ms(300);

/// Longest callout that is told at once.
const LONGEST: Ms = Ms(2500);

impl Ears {
    /// Ears for what can be said in the section, from place `from` on, with a gate that knows what was masked.
    pub fn open(
        model: &Model,
        vocabulary: Vocabulary,
        decoys: &[&str],
        from: SampleIndex,
        gate: Gate,
    ) -> Result<Ears, ListenError> {
        let recogniser = model.recogniser(&vocabulary, decoys)?;
        let weighing = model.weighing(&vocabulary);
        Ok(Ears {
            model: model.clone(),
            decoys: decoys.iter().map(|d| d.to_string()).collect(),
            recogniser,
            vocabulary,
            offset: from,
            rested: 0,
            opened: from,
            fed: from,
            known: from,
            gate,
            echo: Echo::new(from),
            weighing,
            levels: VecDeque::new(),
            powers: vec![],
            early: vec![],
            waiting: vec![],
            due: from,
            recent: VecDeque::new(),
            found: from,
            decided: from,
            utterances: vec![],
            doubts: Doubts::default(),
        })
    }

    /// Listen for these phrases from now on, and no others. What was still being decided is dropped.
    pub fn set_grammar(&mut self, vocabulary: Vocabulary) {
        let decoys: Vec<&str> = self.decoys.iter().map(String::as_str).collect();
        // The model heard a section's grammar before; with the old one the questions are not understood, and the run goes on.
        let Ok(recogniser) = self.model.recogniser(&vocabulary, &decoys) else { return };
        self.recogniser = recogniser;
        self.weighing = self.model.weighing(&vocabulary);
        self.early.clear();
        self.waiting.clear();
        self.vocabulary = vocabulary;
        self.offset = self.fed;
        self.rested = 0;
    }

    /// Take in one chunk at 16 kHz, floats in -1 to 1; gives the phrases that it completed.
    pub fn feed(&mut self, chunk: &[f32]) -> Vec<Heard> {
        let end = self.fed + Ms(chunk.len() as u64 * 1000 / RATE);
        // Zeros rather than nothing: word times are counted in samples fed.
        let heard = if self.gate.silent(self.fed) { vec![0.0; chunk.len()] } else { floats(&pcm(chunk)) };
        let pcm = pcm(&self.cleaned(&heard));
        self.fed = end;
        self.levels.extend(pcm.chunks(BLOCK).map(level));
        self.levels.drain(..self.levels.len().saturating_sub(LEVELS));
        let new = self.recognised(&pcm);
        let due = !new.is_empty() || self.fed >= self.due;
        let mut words = if due { std::mem::take(&mut self.waiting) } else { vec![] };
        words.extend(new);
        let heard = if words.is_empty() { self.at_once() } else { self.judged(words, false) };
        self.news(heard)
    }

    /// Where the sound begins that is remembered.
    fn remembered(&self) -> SampleIndex {
        SampleIndex(self.fed.0.saturating_sub(self.recent.len() as u64))
    }

    /// The scores of remembered sound between two places.
    fn scores(&self, verifier: &Verifier, from: SampleIndex, until: SampleIndex) -> Scores {
        let begin = self.remembered().0;
        let place = |at: SampleIndex| at.0.saturating_sub(begin) as usize;
        let sound: Vec<f32> = self.recent.range(place(from)..place(until)).copied().collect();
        verifier.scores(&sound)
    }

    /// A callout said alone is told as soon as a short pause follows it, where it is all but sure; the recogniser's own result comes
    /// later.
    fn at_once(&mut self) -> Vec<Heard> {
        if self.vocabulary.asks() {
            return vec![];
        }
        let Some((start, end, least)) = self.endpointed() else { return vec![] };
        let Some(weighing) = self.weighing.as_ref().filter(|_| end.since(start) <= LONGEST) else { return vec![] };
        let begin = self.remembered();
        let from = front(&self.levels, self.fed, start).max(begin).max(self.found);
        if from >= end {
            return vec![];
        }
        let scores = self.scores(&weighing.verifier, from, self.fed);
        let near = |a: SampleIndex, b: SampleIndex| a.since(b).max(b.since(a)) <= NEARBY;
        let alone = |f: &Hypothesis| {
            let tried = !weighing.goes_on[f.hit.phrase] && weighing.length[f.hit.phrase] >= least;
            tried && near(f.start, start) && near(f.end, end)
        };
        let mut found = weighing.found(&scores, from);
        found.retain(|(f, worded)| alone(f) && !weighing.begins_another(&scores, &f.hit, *worded));
        let mut sure = weighing.weigh(&self.vocabulary, &scores, &found, &[]);
        // The pause may lie inside a callout: "apply the st..." is somewhat like "apply the mask".
        sure.retain(|m| m.taken() && !m.doubtful() && !self.may_be_own(weighing, m));
        let heard: Vec<Heard> = sure.iter().map(Candidate::heard).collect();
        self.found = heard.iter().map(|h| h.end).fold(self.found, SampleIndex::max);
        if !sure.is_empty() {
            self.early.push(Utterance { from, scores, weighed: sure });
        }
        heard
    }

    /// The phrases in an utterance: which they are is decided by the judge where there is one, otherwise by the words alone. Where one ends with the
    /// sound, and that goes on (not `now`), nothing is decided yet.
    fn judged(&mut self, words: Vec<Word>, now: bool) -> Vec<Heard> {
        if self.vocabulary.asks() {
            return self.sentence(&words);
        }
        let theirs = self.vocabulary.find(&words);
        let (Some(weighing), [first, .., last] | [first @ last]) = (&self.weighing, &words[..]) else { return theirs };
        // What was told at once lies in this utterance, and is found again.
        let reported: Vec<&Candidate> = self.early.iter().flat_map(|u| &u.weighed).collect();
        let within = |w: &Word| reported.iter().any(|m| m.start <= w.start + NEARBY && w.end <= m.end + NEARBY);
        if words.iter().all(within) {
            // Nothing else was said there, and the network has had its say.
            self.decided = self.found;
            let early = std::mem::take(&mut self.early);
            self.keep(early);
            return vec![];
        }
        let found = reported.iter().map(|m| m.start).fold(self.found, SampleIndex::min);
        let taken = if reported.is_empty() { self.found } else { self.decided.min(found) };
        let begin = self.remembered();
        let from = front(&self.levels, self.fed, first.start).max(begin).max(taken);
        let until = (last.end + BEHIND).min(self.fed);
        if until <= from {
            return vec![];
        }
        let scores = self.scores(&weighing.verifier, from, until);
        let tail = last.end + TAIL;
        let apart =
            |start: SampleIndex, end: SampleIndex| start < tail && !reported.iter().any(|t| t.meets(start, end));
        let mut found = weighing.found(&scores, from);
        found.retain(|(f, _)| apart(f.start, f.end));
        let mut weighed = weighing.weigh(&self.vocabulary, &scores, &found, &theirs);
        // Beside what was told at once nothing is looked for where no callout was found.
        if reported.is_empty() || weighed.iter().any(Candidate::taken) {
            weighed.extend(weighing.left_out(&self.vocabulary, &scores, from, &weighed, &theirs, apart));
        }
        // Now and then libvosk, with other costs, finds a callout where the whole stretch seems likelier to be something else.
        for h in theirs.iter().filter(|h| from <= h.start && h.end <= until) {
            if !holds(&weighed, &h.meaning, h.start, h.end) {
                let found = weighing.like(&self.vocabulary, &scores, from, h);
                weighed.extend(found.filter(|m| apart(m.start, m.end) && m.fits_best()));
            }
        }
        for found in weighed.iter_mut().filter(|m| m.taken()) {
            found.own = self.may_be_own(weighing, found);
        }
        let open = |m: &Candidate| until.since(m.end) < ENDED;
        let due = |m: &Candidate| m.end + if m.doubtful() { DOUBTED } else { ENDED };
        let due = weighed.iter().filter(|m| m.taken()).map(due).fold(until, SampleIndex::max);
        if until < self.fed {
            // The next utterance holds it whole.
            weighed.retain(|m| !open(m));
        } else if !now && due > until {
            (self.waiting, self.due) = (words, due);
            return vec![];
        }
        weighed.sort_by_key(|m| m.start);
        let likeliest = |m: &&Candidate| {
            m.taken() && !weighed.iter().any(|o| o.meets(m.start, m.end) && o.evidence() > m.evidence())
        };
        let heard: Vec<Heard> = weighed.iter().filter(likeliest).map(Candidate::heard).collect();
        self.found = heard.iter().map(|h| h.end).fold(self.found, SampleIndex::max);
        self.decided = self.found;
        let weighed = std::mem::take(&mut self.early).into_iter().flat_map(|u| u.weighed).chain(weighed).collect();
        let kept = (tail.since(from).samples() as usize / HOP).min(scores.frames());
        self.keep(vec![Utterance { from, scores: scores.part(0, kept), weighed }]);
        heard
    }

    /// Keep scores for the second listen, as many as there is room for.
    fn keep(&mut self, utterances: Vec<Utterance>) {
        self.utterances.extend(utterances);
        while self.utterances.iter().map(|u| u.scores.frames()).sum::<usize>() > KEPT {
            self.utterances.remove(0);
        }
    }

    /// Everything that was weighed, taken or not: what the evidence is fitted to.
    pub fn weighed(&self) -> impl Iterator<Item = &Candidate> {
        self.utterances.iter().flat_map(|u| &u.weighed)
    }

    /// All the words that one chunk completed, filler among them, whatever is masked.
    pub fn words_in(&mut self, chunk: &[f32]) -> Vec<Word> {
        self.decode(&pcm(chunk))
    }

    /// The words still being decided when the sound ended.
    pub fn last_words(&mut self) -> Vec<Word> {
        let offset = self.offset;
        answer(&mut self.recogniser, |recogniser| words(&recogniser.final_result(), offset))
    }

    fn decode(&mut self, pcm: &[i16]) -> Vec<Word> {
        let offset = self.offset;
        answer(&mut self.recogniser, |recogniser| match recogniser.accept_waveform(pcm) {
            Ok(vosk::DecodingState::Finalized) => words(&recogniser.result(), offset),
            _ => vec![],
        })
    }

    fn remember(&mut self, sound: &[f32]) {
        self.recent.extend(sound);
        self.recent.drain(..self.recent.len().saturating_sub(REMEMBERED));
    }

    /// What was still being decided when the sound ended.
    pub fn finish(&mut self) -> Vec<Heard> {
        let mut words = std::mem::take(&mut self.waiting);
        words.extend(self.last_words());
        let heard = self.judged(words, true);
        self.news(heard)
    }

    /// What begins before this place is on record: it is heard once more, in sound that is gone through again, and never told.
    pub fn known_until(&mut self, place: SampleIndex) {
        self.known = place;
    }

    /// Of what is heard, what neither the tool said itself nor was told before.
    fn news(&self, heard: Vec<Heard>) -> Vec<Heard> {
        self.gate.others(heard).into_iter().filter(|phrase| phrase.start >= self.known).collect()
    }
}

/// As libvosk takes it: 16 bits, from a WAV file of 16 bits the very same numbers.
fn pcm(chunk: &[f32]) -> Vec<i16> {
    chunk.iter().map(|s| (s * 32768.0).round().clamp(-32768.0, 32767.0) as i16).collect()
}

fn floats(pcm: &[i16]) -> Vec<f32> {
    pcm.iter().map(|s| f32::from(*s) / 32_768.0).collect()
}
