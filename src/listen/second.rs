//! The second listen: what was said is gone through again for steps that were not called, also where another phrase was found, but hardly.

use super::Ears;
use super::candidate::Candidate;
use super::verify::{frame, sample};
use crate::acoustic::ear::HOP;
use crate::acoustic::evidence::{BETTER, evidence, perhaps};
use crate::acoustic::features::Features;
use crate::acoustic::phrase::{Phrase, PhraseNetwork};
use crate::acoustic::scores::Scores;
use crate::acoustic::sweep::Likely;
use crate::callout::Meaning;
use crate::review::SearchTarget;
use crate::time::{RATE, SampleIndex};
use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::{Arc, Mutex, PoisonError};

/// The scores of an utterance, and the phrases found in it.
pub(super) struct Utterance {
    pub(super) from: SampleIndex,
    pub(super) scores: Scores,
    pub(super) weighed: Vec<Candidate>,
}

/// Frames of scores kept for a second listen: 20 minutes of speech, 16 MB.
pub(super) const KEPT: usize = 20 * 60 * RATE as usize / HOP;

impl Utterance {
    /// The stretches of frames that hold no phrase that was found.
    fn left(&self) -> Vec<(usize, usize)> {
        let frame = |at: SampleIndex| frame(self.from, &self.scores, at);
        let mut at = 0;
        let mut left = vec![];
        for taken in self.weighed.iter().filter(|w| w.taken()) {
            left.push((at, frame(taken.start)));
            at = at.max(frame(taken.end));
        }
        left.push((at, self.scores.frames()));
        left.retain(|(from, until)| from < until);
        left
    }
}

/// A step that was perhaps called: whoever says so afterwards has taught how they say it.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// The step, by place.
    pub step: usize,
    /// The callout that it may have been, as it is listed.
    pub say: String,
    /// The evidence, 0 to 1.
    pub evidence: f64,
}

/// Such steps, as the ears find them on their thread.
pub type Doubts = Arc<Mutex<Vec<Doubt>>>;

/// What was found for a step.
struct Sought {
    /// What [`perhaps`] says.
    weight: f64,
    start: SampleIndex,
    features: Features,
    /// The callout; none where its wording is not listed.
    say: Option<String>,
}

/// Where a callout that is looked for again may be, in scores that begin at `from`.
#[derive(Clone)]
struct Place {
    likely: Likely,
    from: SampleIndex,
    scores: Rc<Scores>,
    /// Whether another phrase was found there, but hardly.
    doubted: bool,
}

/// Places of a step's callouts that the second listen weighs, where nothing was found and where another phrase was: 10 to 20 ms each.
const LIKELIEST: usize = 6;

impl Ears {
    /// Look for steps again in what was said between two places, apart from the phrases that were surely found there: which were
    /// perhaps called, and where.
    pub fn search(&self, wanted: &[SearchTarget]) -> Vec<(usize, SampleIndex)> {
        let called = self.sought(wanted).into_iter().map(|best| best.filter(|s| s.weight >= 0.0));
        let found = called.zip(wanted).filter_map(|(best, target)| Some((best?, target.step)));
        let mut doubts = self.doubts.lock().unwrap_or_else(PoisonError::into_inner);
        let mut place = |(Sought { start, features, say, .. }, step)| {
            doubts.extend(say.map(|say| Doubt { step, say, evidence: evidence(&features, false) }));
            (step, start)
        };
        found.map(&mut place).collect()
    }

    /// What the second listen finds, from now on.
    pub fn doubts(&self) -> Doubts {
        Arc::clone(&self.doubts)
    }

    /// Where in what was said, apart from the phrases that were surely found, each step's callouts fit best: what [`perhaps`] says, the place, and
    /// what was measured there. All callouts are looked for in one pass over what was said; only the likeliest places of each step are weighed, so that a
    /// long run of talk is gone through in seconds.
    pub fn again(&self, wanted: &[SearchTarget]) -> Vec<Option<(f64, SampleIndex, Features)>> {
        self.sought(wanted).into_iter().map(|best| best.map(|s| (s.weight, s.start, s.features))).collect()
    }

    fn sought(&self, wanted: &[SearchTarget]) -> Vec<Option<Sought>> {
        let Some(weighing) = &self.weighing else { return wanted.iter().map(|_| None).collect() };
        let place: BTreeMap<String, usize> = self.vocabulary.phrases().zip(0..).collect();
        // As they are listed, and in other wordings (none).
        let say = |s: &SearchTarget| {
            let listed = weighing.verifier.pronunciations(s.say.iter().cloned()).into_iter().zip(&s.say);
            let worded = s.say.iter().filter_map(|say| weighing.wordings(*place.get(say)?));
            let listed = listed.map(|(p, say)| (p, Some(say.clone())));
            listed.chain(worded.map(|p| (p.clone(), None))).collect::<Vec<_>>()
        };
        let all = wanted.iter().enumerate().flat_map(|(k, s)| say(s).into_iter().map(move |(p, say)| (p, (k, say))));
        let (pronunciations, whose): (Vec<_>, Vec<(usize, Option<String>)>) = all.unzip();
        let network = PhraseNetwork::new(&pronunciations, |_| false, &[]);
        let mut places: Vec<Vec<Place>> = vec![vec![]; wanted.len()];
        // The sound of two utterances may overlap: what one holds whole, the other may hold in part.
        let taken: Vec<(&Candidate, bool)> = self.weighed().filter(|m| m.taken()).map(|m| (m, m.doubtful())).collect();
        let own = |m: &Candidate, k: usize| matches!(&m.meaning, Meaning::Callout(say) if wanted[k].say.contains(say));
        // Whether another phrase was found there; none where what was found is sure, or is a callout of this step.
        let over = |start: SampleIndex, end: SampleIndex, k: usize| {
            let met: Vec<_> = taken.iter().filter(|(m, _)| m.meets(start, end)).collect();
            met.iter().all(|(m, doubtful)| *doubtful && !own(m, k)).then_some(!met.is_empty())
        };
        for utterance in &self.utterances {
            let whole = (0, utterance.scores.frames());
            let doubted = utterance.weighed.iter().any(|m| m.taken() && m.doubtful());
            let left = utterance.left().into_iter().map(|part| (part, false));
            for ((from, until), doubted) in left.chain(doubted.then_some((whole, true))) {
                let (scores, from) =
                    (Rc::new(utterance.scores.part(from, until)), SampleIndex(utterance.from.0 + (from * HOP) as u64));
                for likely in weighing.verifier.sweep(&scores, &network) {
                    let (start, end) = (sample(from, likely.frames.0), sample(from, likely.frames.1));
                    let k = whose[likely.phrase].0;
                    let (first, last) = wanted[k].between;
                    let here = over(start, end, k) == Some(doubted);
                    if first <= start && end <= last && here && !self.gate.own(start) {
                        places[k].push(Place { likely, from, scores: Rc::clone(&scores), doubted });
                    }
                }
            }
        }
        let mine = |k: usize| {
            pronunciations
                .iter()
                .zip(&whose)
                .filter(move |(_, (step, _))| *step == k)
                .map(|(pronunciation, _)| pronunciation.clone())
        };
        let best = |(k, mut places): (usize, Vec<Place>)| {
            places.sort_by(|a, b| b.likely.llr.total_cmp(&a.likely.llr));
            let (doubted, left): (Vec<Place>, Vec<Place>) = places.into_iter().partition(|place| place.doubted);
            let likeliest = [left, doubted].into_iter().flat_map(|places| places.into_iter().take(LIKELIEST));
            let mine: Vec<Phrase> = mine(k).collect();
            let weighed = likeliest.filter_map(|Place { likely, from, scores, doubted }| {
                let (pronunciation, rivals) = (&pronunciations[likely.phrase], weighing.rivals(&mine));
                let features =
                    weighing.verifier.weigh(&scores, likely.frames, pronunciation, &weighing.talk, rivals)?;
                let (start, end) = (sample(from, features.frames.0), sample(from, features.frames.1));
                let again = over(start, end, k).is_none_or(|over| over && !doubted);
                let again = again || self.is_own(weighing, pronunciation, (start, end), features.llr);
                let say = whose[likely.phrase].1.clone();
                let weight = perhaps(&features);
                (!again && features.llr >= BETTER).then_some(Sought { weight, start, features, say })
            });
            weighed.max_by(|a, b| a.weight.total_cmp(&b.weight))
        };
        places.into_iter().enumerate().map(best).collect()
    }
}
