//! What one person's own voice taught: how they say words, and how sure of a callout of theirs one must be.

use super::{DECOYS, Ears, Gate, ListenError, Model};
use crate::acoustic::phones::Phone;
use crate::audio::CHUNK;
use crate::callout::{Meaning, Vocabulary};
use crate::time::SampleIndex;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Version of a profile's file.
pub const VERSION: u32 = 1;

/// A callout of which one is less sure in its own person's voice than this share of the usual threshold keeps that: below it ordinary talk would count, too.
const FLOOR: f64 = 0.75;
/// The threshold lies so far below the less sure one of two utterances: the next one may be worse.
const BELOW: f64 = 0.9;
/// Callouts of which one is surer than this are well understood.
const SURE: f64 = 0.95;
/// Sound around an utterance that is looked at with it: 0.3 s.
const AROUND: usize = 4_800;

/// A word as somebody says it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpokenWord {
    /// The word.
    pub word: String,
    /// Its sounds, in the phones of CMUdict without stress.
    pub sounds: String,
}

/// A callout with a threshold of its own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Threshold {
    /// The callout.
    pub say: String,
    /// Evidence from which on it counts as called, 0 to 1.
    pub called: f64,
}

impl Threshold {
    /// Of a callout of which one was this sure, and its person says that they called it; none where ordinary talk would count, too.
    pub fn confirmed(say: &str, evidence: f64, usual: f64) -> Option<Threshold> {
        let floor = FLOOR * usual;
        let called = ((100.0 * BELOW * evidence).floor() / 100.0).max(floor);
        (floor..usual).contains(&evidence).then(|| Threshold { say: say.into(), called })
    }
}

/// What `enrol` keeps of a person: no sound, only this.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Profile {
    /// Version of the format.
    pub version: u32,
    /// The model it was made with, as [`Model::id`] names it; another one hears differently.
    pub model: String,
    /// When, RFC 3339.
    pub made: String,
    /// Words said otherwise than the lexicon has them.
    #[serde(default, rename = "word")]
    pub words: Vec<SpokenWord>,
    /// Callouts that count from another threshold on.
    #[serde(default, rename = "callout")]
    pub callouts: Vec<Threshold>,
}

/// A callout said for the profile, and where in the sound.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EnrolmentTake {
    /// Its words.
    pub say: String,
    /// Each utterance: first sample, and the one after its last.
    pub places: Vec<(usize, usize)>,
}

/// How sure one was of each utterance of a callout, 0 to 1, and whether it counted.
#[derive(Clone, Debug, PartialEq)]
pub struct EnrolmentScore {
    /// The callout.
    pub say: String,
    /// The usual threshold: evidence from which on it counts where nobody enrolled it.
    pub threshold: f64,
    /// Evidence and whether it counted as called, by utterance.
    pub utterances: Vec<(f64, bool)>,
}

/// A profile, and how the same utterances were heard without and with it.
#[derive(Clone, Debug, PartialEq)]
pub struct Enrolled {
    /// The profile.
    pub profile: Profile,
    /// Before.
    pub before: Vec<EnrolmentScore>,
    /// With the profile: the very recordings that it was made from, so this flatters.
    pub after: Vec<EnrolmentScore>,
}

impl Profile {
    /// The sounds of those of its words that are among these.
    pub fn sounds(&self, words: &[&str]) -> Vec<(String, String)> {
        let ours = self.words.iter().filter(|w| words.contains(&w.word.as_str()));
        ours.map(|w| (w.word.clone(), w.sounds.clone())).collect()
    }

    /// Its thresholds by callout.
    pub fn thresholds(&self) -> BTreeMap<String, f64> {
        self.callouts.iter().map(|c| (c.say.clone(), c.called)).collect()
    }

    /// Learn from callouts said twice or more, at these places of `sound` (16 kHz, -1 to 1), with all that can be said as `vocabulary` and
    /// the section's own sounds. None where the model is from elsewhere.
    pub fn learn(
        model: &Model,
        vocabulary: &Vocabulary,
        own: &[(String, String)],
        sound: &[f32],
        takes: &[EnrolmentTake],
    ) -> Result<Option<Enrolled>, ListenError> {
        let mut wanted = vocabulary.words();
        wanted.extend(DECOYS);
        wanted.sort_unstable();
        wanted.dedup();
        let base = model.with_pronunciations(&wanted, own);
        let Some(verifier) = base.verifier() else { return Ok(None) };
        let before = scored(&base, vocabulary, sound, takes)?;
        // What sounds like another word of the section, or a common one, would be taken for it.
        let mut taken: BTreeMap<&[Phone], BTreeSet<&str>> = BTreeMap::new();
        let common = verifier.phones().common.iter().map(|(word, _)| word.as_str());
        for word in wanted.iter().copied().chain(common) {
            for pronunciation in verifier.phones().of(word) {
                taken.entry(pronunciation).or_default().insert(word);
            }
        }
        let mut words = BTreeSet::new();
        // What is understood anyhow needs no other pronunciation.
        let unsure = |s: &&EnrolmentTake| before.iter().any(|k| k.say == s.say && k.least() < SURE);
        for one in takes.iter().filter(unsure) {
            let pronunciations = verifier.pronunciations([one.say.clone()]).remove(0);
            let part = |(a, b): &(usize, usize)| {
                verifier.scores(&sound[a.saturating_sub(AROUND)..(b + AROUND).min(sound.len())])
            };
            let utterances: Vec<_> = one.places.iter().map(part).collect();
            let spelt: Vec<&str> = one.say.split(' ').collect();
            let allowed = |place: usize, pronunciation: &Vec<Phone>| {
                taken.get(pronunciation.as_slice()).is_none_or(|words| words.iter().all(|w| *w == spelt[place]))
            };
            for (place, pronunciation) in verifier.learned(&utterances, &pronunciations, allowed) {
                let sounds =
                    pronunciation.iter().map(|p| verifier.phones().names[*p].as_str()).collect::<Vec<_>>().join(" ");
                words.insert(SpokenWord { word: spelt[place].into(), sounds });
            }
        }
        let with = |words: &BTreeSet<SpokenWord>| {
            let sounds = own.iter().cloned().chain(words.iter().map(|w| (w.word.clone(), w.sounds.clone())));
            model.with_pronunciations(&wanted, &sounds.collect::<Vec<_>>())
        };
        let mut after =
            if words.is_empty() { before.clone() } else { scored(&with(&words), vocabulary, sound, takes)? };
        // A pronunciation that makes any callout worse, its own or one that shares the word, goes again.
        let worse: BTreeSet<&str> = before
            .iter()
            .zip(&after)
            .filter(|(b, a)| a.least() < b.least() - 0.05)
            .flat_map(|(b, _)| b.say.split(' '))
            .collect();
        // And one that makes no callout understood: something else was said in its place, perhaps.
        let helped: BTreeSet<&str> = before
            .iter()
            .zip(&after)
            .filter(|(b, a)| a.least() >= FLOOR * a.threshold && a.least() > b.least())
            .flat_map(|(b, _)| b.say.split(' '))
            .collect();
        let good = |w: &&SpokenWord| helped.contains(w.word.as_str()) && !worse.contains(w.word.as_str());
        let kept: BTreeSet<SpokenWord> = words.iter().filter(good).cloned().collect();
        if kept != words {
            after = if kept.is_empty() { before.clone() } else { scored(&with(&kept), vocabulary, sound, takes)? };
        }
        let threshold = |k: &EnrolmentScore| {
            let called = (100.0 * BELOW * k.least()).floor() / 100.0;
            let wanted = k.utterances.len() > 1 && k.least() < k.threshold && called >= FLOOR * k.threshold;
            wanted.then(|| Threshold { say: k.say.clone(), called })
        };
        let callouts: Vec<Threshold> = after.iter().filter_map(threshold).collect();
        for k in &mut after {
            let threshold = callouts.iter().find(|c| c.say == k.say).map_or(k.threshold, |c| c.called);
            k.utterances.iter_mut().for_each(|(evidence, taken)| *taken = *evidence >= threshold);
        }
        let words = kept.into_iter().collect();
        let profile = Profile { version: VERSION, model: model.id().into(), made: String::new(), words, callouts };
        Ok(Some(Enrolled { profile, before, after }))
    }
}

impl EnrolmentScore {
    /// The evidence of its less sure utterance.
    pub fn least(&self) -> f64 {
        self.utterances.iter().map(|(e, _)| *e).fold(1.0, f64::min)
    }

    /// How many utterances counted.
    pub fn taken(&self) -> usize {
        self.utterances.iter().filter(|(_, taken)| *taken).count()
    }
}

/// How sure the ears are of what was said where.
fn scored(
    model: &Model,
    vocabulary: &Vocabulary,
    sound: &[f32],
    takes: &[EnrolmentTake],
) -> Result<Vec<EnrolmentScore>, ListenError> {
    let mut ears = Ears::open(model, vocabulary.clone(), &DECOYS, SampleIndex(0), Gate::default())?;
    sound.chunks(CHUNK).for_each(|chunk| drop(ears.feed(chunk)));
    ears.finish();
    let evidence = |say: &str, (from, until): (usize, usize)| {
        let here = ears.weighed().filter(|m| (m.start.0 as usize) < until && m.end.0 as usize > from);
        let ours = here.filter(|m| matches!(&m.meaning, Meaning::Callout(s) if s == say));
        ours.map(|m| m.evidence()).fold(0.0, f64::max)
    };
    let one = |s: &EnrolmentTake| {
        let threshold = model.threshold(&s.say);
        let utterances = s.places.iter().map(|p| evidence(&s.say, *p)).map(|e| (e, e >= threshold)).collect();
        EnrolmentScore { say: s.say.clone(), threshold, utterances }
    };
    Ok(takes.iter().map(one).collect())
}
