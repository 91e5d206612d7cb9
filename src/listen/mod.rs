//! The ears: libvosk with the section's grammar, and what of it was masked while the tool spoke.
//! It knows words and places; what they mean is the callout module's.

mod gate;
mod profile;
mod result;
mod thread;

pub use gate::Gate;
pub use profile::{Enrolled, Known, Line, Profile, Said, Spoken, VERSION};
pub use result::words;
pub use thread::EarThread;

use crate::acoustic::LARGEST_FILE;
use crate::acoustic::ear::{FILE as EAR, HOP, LEAD};
use crate::acoustic::evidence::{BETTER, PERHAPS, evidence, line};
use crate::acoustic::graph::graph;
use crate::acoustic::judge::{Judge, Ways};
use crate::acoustic::phones::Phone;
use crate::acoustic::spot::{Filler, Hit, Layout, Scores, Spotted};
use crate::acoustic::sweep::Likely;
use crate::callout::{Heard, Meaning, Vocabulary};
use crate::platform;
use crate::review::Sought;
use crate::time::{Ms, RATE, SampleIndex};
use crate::words::Word;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

/// What came from the ears' side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arrived {
    /// A chunk of sound, or the time for one; and samples lost since the last.
    Chunk {
        /// In samples of the device.
        lost: u64,
    },
    /// No sound comes any more; the axis stands still until [`Arrived::Back`].
    Gone,
    /// Sound comes again, after so long.
    Back(Ms),
    /// The computer slept for so long, and the axis stood still.
    Slept(Ms),
    /// There will be no more sound: from here on silence carries the axis on.
    Ended,
}

/// What the driver listens through: the ears on their own thread, or what a simulation puts in their place.
#[allow(async_fn_in_trait, reason = "one task drives it, so nothing needs it to be sent to another thread")]
pub trait Listener {
    /// Wait for what comes next. May be dropped and called again.
    async fn next(&mut self) -> Arrived;
    /// Decode the chunk that has come, told first of the masks begun (true) and ended since; gives the phrases completed.
    async fn decode(&mut self, masks: Vec<(bool, SampleIndex)>) -> Vec<Heard>;
    /// What was still being decided when the sound ended.
    async fn finish(&mut self) -> Vec<Heard>;
    /// Listen for these phrases from now on, and no others.
    async fn attend(&mut self, vocabulary: Vocabulary);
    /// Look for steps again in what was heard: which were perhaps called, and where.
    async fn search(&mut self, wanted: Vec<Sought>) -> Vec<(usize, SampleIndex)>;
}

/// Files without which a model folder can't be used: libvosk aborts the process on some of them missing.
pub const MODEL_FILES: [&str; 8] = [
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    "graph/HCLr.fst",
    "graph/Gr.fst",
    "graph/words.txt",
    "graph/disambig_tid.int",
    "graph/phones/word_boundary.int",
];

/// Frequent words that soak up ordinary talk beside the callouts.
pub const DECOYS: [&str; 24] = [
    "the", "to", "of", "and", "a", "in", "it", "was", "you", "is", "that", "he", "for", "be", "not", "with", "this",
    "his", "but", "at", "had", "as", "she", "have",
];

/// Why the recogniser can't be had.
#[derive(Debug, thiserror::Error)]
pub enum ListenError {
    /// The model's folder, or a file in it, is missing.
    #[error("the English model is not complete: {path} is missing", path = path.display())]
    MissingModel {
        /// The folder or file.
        path: PathBuf,
    },
    /// A file in it can't be read, or is none.
    #[error("the model's {path}: {source}", path = path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        source: std::io::Error,
    },
    /// libvosk would not load it.
    #[error("the recogniser could not load the model in {path}", path = path.display())]
    Refused {
        /// The folder.
        path: PathBuf,
    },
}

/// The loaded model, which knows which words it can hear.
#[derive(Clone)]
pub struct Model {
    inner: Arc<vosk::Model>,
    id: String,
    judge: Option<Arc<Judge>>,
    folder: PathBuf,
    words: Arc<BTreeSet<String>>,
    /// By phrase: the evidence from which on it counts as called, where it isn't the usual one.
    called: Arc<BTreeMap<String, f64>>,
}

/// Look at a model folder without libvosk, which ends the whole program on a file that is missing: whether it is whole, and
/// SHA-256 of its files, the first 8 bytes in hex, as its name.
pub fn identify(path: &Path) -> Result<String, ListenError> {
    let mut sum = Sha256::new();
    let ear = path.join(EAR).is_file().then_some(EAR);
    for file in MODEL_FILES.into_iter().chain(ear) {
        let at = path.join(file);
        let bytes = platform::read(&at, LARGEST_FILE).map_err(|source| match source.kind() {
            std::io::ErrorKind::NotFound => ListenError::MissingModel { path: at.clone() },
            _ => ListenError::Unreadable { path: at.clone(), source },
        })?;
        sum.update(file);
        sum.update(bytes.len().to_le_bytes());
        sum.update(&bytes);
    }
    Ok(sum.finalize().iter().take(8).map(|b| format!("{b:02x}")).collect())
}

impl Model {
    /// Load the model folder at `path`, after checking that it is whole. libvosk can end the program on a file that is damaged:
    /// try a folder from elsewhere in a process of its own first.
    pub fn load(path: &Path) -> Result<Model, ListenError> {
        Model::load_identified(path, identify(path)?)
    }

    /// The same for a folder that [`identify`] has just looked at and named so.
    pub fn load_identified(path: &Path, id: String) -> Result<Model, ListenError> {
        vosk::set_log_level(vosk::LogLevel::Error);
        let refused = || ListenError::Refused { path: path.to_path_buf() };
        let text = std::fs::read_to_string(path.join("graph/words.txt")).map_err(|_| refused())?;
        let words = Arc::new(text.lines().filter_map(|l| l.split(' ').next()).map(str::to_string).collect());
        let inner = Arc::new(vosk::Model::new(path.display().to_string()).ok_or_else(refused)?);
        Ok(Model {
            inner,
            id,
            words,
            judge: Judge::read(path).map(Arc::new),
            folder: path.to_path_buf(),
            called: Arc::default(),
        })
    }

    /// Which model this is, as [`identify`] names it.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// What weighs the phrases that the recogniser finds; none for a model that is not of our own making.
    pub fn judge(&self) -> Option<Arc<Judge>> {
        self.judge.clone()
    }

    /// The same model, able to hear every word of `wanted`: words that its lexicon lacks are listened for as they are spelt, and those of
    /// `sounds` (a word and its phones) as it says. A graph of just these words is written for that. A model from elsewhere stays as it is.
    pub fn taught(&self, wanted: &[&str], sounds: &[(String, String)]) -> Result<Model, ListenError> {
        let same = |_: &Arc<Judge>| sounds.is_empty() && wanted.iter().all(|w| self.knows(w));
        let Some(judge) = self.judge.as_ref().filter(|j| !same(j)) else { return Ok(self.clone()) };
        let mut phones = judge.phones().clone();
        for (word, sounds) in sounds {
            phones.spelt(sounds).into_iter().for_each(|way| phones.teach(word, way));
        }
        let mut entries = BTreeMap::new();
        for word in wanted {
            if phones.of(word).is_empty() {
                Some(judge.spell(word))
                    .filter(|way| !way.is_empty())
                    .into_iter()
                    .for_each(|way| phones.teach(word, way));
            }
            if !phones.of(word).is_empty() {
                entries.insert(word.to_string(), phones.of(word).to_vec());
            }
        }
        let refused = || ListenError::Refused { path: self.folder.clone() };
        let graph = graph(&entries, &phones, phones.filler);
        let folder = tempfile::tempdir().map_err(|_| refused())?;
        let at = |name: &str| folder.path().join(name);
        let made = || -> std::io::Result<()> {
            std::fs::create_dir(at("graph"))?;
            for name in ["am", "conf", "graph/phones", "graph/disambig_tid.int"] {
                platform::link(&self.folder.join(name), &at(name))?;
            }
            std::fs::write(at("graph/HCLr.fst"), &graph.hclr)?;
            std::fs::write(at("graph/Gr.fst"), &graph.gr)?;
            std::fs::write(at("graph/words.txt"), &graph.words)
        };
        made().map_err(|_| refused())?;
        let inner = Arc::new(vosk::Model::new(folder.path().display().to_string()).ok_or_else(refused)?);
        let words = Arc::new(entries.into_keys().chain([crate::words::FILLER.to_string()]).collect());
        Ok(Model { inner, words, judge: Some(Arc::new(judge.taught(phones))), ..self.clone() })
    }

    /// The same model with evidence of its own, 0 to 1, from which on each of these phrases counts as called.
    pub fn asking(&self, called: BTreeMap<String, f64>) -> Model {
        Model { called: Arc::new(called), ..self.clone() }
    }

    /// How a word would be listened for, as phones; none for a model from elsewhere.
    pub fn sounds(&self, word: &str) -> Option<String> {
        let judge = self.judge.as_ref()?;
        let phones = judge.phones();
        let way = phones.of(word).first().cloned().unwrap_or_else(|| judge.spell(word));
        Some(way.iter().map(|p| phones.names[*p].as_str()).collect::<Vec<_>>().join(" "))
    }

    /// The evidence, 0 to 1, from which on a phrase counts as called where nobody enrolled it.
    pub fn line(&self, phrase: &str) -> f64 {
        line(self.judge.as_ref().map_or(0, |judge| judge.length(phrase)))
    }

    /// A recogniser of these phrases.
    fn recogniser(&self, vocabulary: &Vocabulary, decoys: &[&str]) -> Result<vosk::Recognizer, ListenError> {
        let grammar = vocabulary.grammar(decoys.iter().copied(), |w| self.knows(w));
        let mut recogniser = vosk::Recognizer::new_with_grammar(&self.inner, RATE as f32, &grammar)
            .ok_or_else(|| ListenError::Refused { path: PathBuf::from("the section's grammar") })?;
        recogniser.set_words(true);
        // Partials with words come from the determinised lattice, 1.0 to 1.7 s later.
        recogniser.set_partial_words(false);
        Ok(recogniser)
    }

    /// What these phrases are weighed by.
    fn weighing(&self, vocabulary: &Vocabulary) -> Option<Weighing> {
        let judge = self.judge()?;
        let phrases: Vec<String> = vocabulary.phrases().collect();
        let longer =
            |p: &String| phrases.iter().any(|q| q.strip_prefix(p.as_str()).is_some_and(|r| r.starts_with(' ')));
        let goes_on = phrases.iter().map(longer).collect();
        let length = phrases.iter().map(|p| judge.length(p)).collect();
        let talk = judge.talk(&phrases);
        let callout = |place: usize| matches!(vocabulary.meaning(place), Meaning::Callout(_));
        let opposites: BTreeSet<String> = phrases.iter().flat_map(|p| opposites(p)).collect();
        let opposites = opposites.into_iter().filter(|p| !phrases.contains(p));
        let ways = judge.ways(phrases.iter().cloned().chain(opposites));
        let worded = judge.worded(vocabulary.slots());
        let carriers = judge.ways(CARRIERS.map(str::to_string));
        let layout = Layout::new(&ways, |way| way < phrases.len() && callout(way), &carriers);
        let called = phrases.iter().map(|p| self.called.get(p).copied().unwrap_or_else(|| self.line(p))).collect();
        // Questions and guesses have no other wordings: their stretches are searched once.
        let other = vocabulary.has_other_wordings().then(|| Layout::new(&worded, callout, &carriers));
        let worded = Worded { layout: other, ways: worded, kin: vocabulary.kin() };
        Some(Weighing { judge, ways, worded, carriers, layout, talk, goes_on, length, called })
    }

    /// Recognise a second of noise among these words, so that what is broken in the model shows.
    pub fn try_out(&self, words: &[&str]) -> Result<(), ListenError> {
        let grammar: Vec<String> =
            words.iter().map(|w| w.to_string()).chain([crate::words::FILLER.to_string()]).collect();
        let mut recogniser = vosk::Recognizer::new_with_grammar(&self.inner, RATE as f32, &grammar)
            .ok_or_else(|| ListenError::Refused { path: PathBuf::from("a grammar to try the model with") })?;
        recogniser.set_words(true);
        let noise: Vec<i16> = (0..RATE as u32).map(|k| (k.wrapping_mul(2_654_435_761) >> 18) as i16 - 8_192).collect();
        let _ = recogniser.accept_waveform(&noise);
        let _ = recogniser.final_result();
        Ok(())
    }

    /// Whether the model has a pronunciation for `word`.
    pub fn knows(&self, word: &str) -> bool {
        self.words.contains(word)
    }

    /// Up to three known words that sound like `word`, the nearest in spelling first.
    pub fn sound_alikes(&self, word: &str) -> Vec<String> {
        let sound = rough_sound(word);
        let mut near: Vec<(usize, &String)> = self
            .words
            .iter()
            .filter(|w| w.len().abs_diff(word.len()) <= 3 && rough_sound(w) == sound)
            .map(|w| (strsim::damerau_levenshtein(w, word), w))
            .collect();
        near.sort();
        near.into_iter().take(3).map(|(_, w)| w.clone()).collect()
    }
}

/// The letters of a word that are left when those that sound alike are made one, vowels after the first are dropped and
/// doubles are joined.
fn rough_sound(word: &str) -> String {
    let spelt = word.replace("ph", "f").replace("ck", "k").replace("gh", "").replace("wr", "r").replace("kn", "n");
    let mut sound = String::new();
    for (k, c) in spelt.chars().enumerate() {
        let c = match c {
            'c' | 'q' => 'k',
            'z' => 's',
            'v' => 'f',
            'd' => 't',
            'y' => 'i',
            c => c,
        };
        let vowel = matches!(c, 'a' | 'e' | 'i' | 'o' | 'u' | 'h' | '\'');
        if (k == 0 || !vowel) && !sound.ends_with(c) {
            sound.push(if vowel { 'a' } else { c });
        }
    }
    sound
}

/// The recogniser of one run, fed 100 ms at a time.
pub struct Ears {
    model: Model,
    decoys: Vec<String>,
    recogniser: vosk::Recognizer,
    vocabulary: Vocabulary,
    offset: SampleIndex,
    fed: SampleIndex,
    gate: Gate,
    weighing: Option<Weighing>,
    /// The level of each 20 ms fed, the last ones.
    levels: VecDeque<f32>,
    /// Phrases told since the recogniser's last result, which will hold them too.
    early: Vec<Measured>,
    /// What libvosk made of an utterance whose last sound is still too near; one with the next, where that comes first.
    waiting: Vec<Word>,
    /// The last sound fed, up to `fed`.
    recent: VecDeque<f32>,
    /// End of the last phrase found.
    found: SampleIndex,
    /// The same when the recogniser's last result was looked at.
    decided: SampleIndex,
    /// What somebody said, as scores, for a second listen.
    utterances: Vec<Utterance>,
}

/// What phrases are weighed by.
struct Weighing {
    judge: Arc<Judge>,
    /// Of each phrase, by place in the vocabulary; behind them those of their opposites, which are no phrases.
    ways: Ways,
    /// The same phrases in wordings that nobody listed.
    worded: Worded,
    /// Of what may stand in front of a callout; with nothing behind it, it is what a phrase may be taken for.
    carriers: Ways,
    layout: Layout,
    talk: Filler,
    /// By phrase: whether a longer one begins with it, so that its end is no end yet.
    goes_on: Vec<bool>,
    /// By phrase: its phones, without those of carrier words.
    length: Vec<usize>,
    /// By phrase: the evidence from which on it counts as called.
    called: Vec<f64>,
}

/// Phrases with the wordings that follow from those listed.
struct Worded {
    ways: Ways,
    /// None where no phrase has other wordings.
    layout: Option<Layout>,
    /// By phrase: those with a wording in common, which are none of its rivals.
    kin: Vec<Vec<usize>>,
}

/// The evidence from which on a callout in a wording that nobody listed counts as called: there are many of those, and some sound like talk.
const UNLISTED: f64 = 0.95;

impl Weighing {
    /// What may be said where some ways are found: the other phrases and their opposites, and carrier words alone.
    fn rivals<'a>(&'a self, mine: &'a [Vec<Vec<Vec<Phone>>>]) -> impl Iterator<Item = &'a [Vec<Vec<Phone>>]> {
        self.ways.iter().chain(&self.carriers).filter(|way| !mine.contains(way)).map(Vec::as_slice)
    }

    /// All wordings of what stands for something else than a phrase does, and the opposites and carrier words.
    fn others(&self, phrase: usize) -> impl Iterator<Item = &[Vec<Vec<Phone>>]> {
        let Worded { ways, kin, .. } = &self.worded;
        let others = ways.iter().enumerate().filter(move |(k, _)| !kin[phrase].contains(k)).map(|(_, way)| way);
        others.chain(&self.ways[ways.len()..]).chain(&self.carriers).map(Vec::as_slice)
    }

    /// The phrases in a stretch of scores that begins at `from`: as they are listed, and in other wordings (true).
    fn found(&self, scores: &Scores, from: SampleIndex) -> Vec<(Found, bool)> {
        let found = |(hit, worded): (Hit, bool)| {
            let (start, end) = (sample(from, hit.from), sample(from, hit.until));
            (hit.phrase < self.called.len()).then_some((Found { start, end, hit }, worded))
        };
        let hits = |layout, worded| self.judge.search(scores, layout).into_iter().map(move |hit| (hit, worded));
        let others = self.worded.layout.iter().flat_map(|layout| hits(layout, true));
        hits(&self.layout, false).chain(others).filter_map(found).collect()
    }

    /// Those of some found ones that are worth it, weighed against all others. `theirs`: what libvosk has there. Another wording is only looked at where
    /// the listed one doesn't count as called, and only kept where it does.
    fn weigh(
        &self,
        vocabulary: &Vocabulary,
        scores: &Scores,
        found: &[(Found, bool)],
        theirs: &[Heard],
    ) -> Vec<Measured> {
        let mut weighed: Vec<Measured> = vec![];
        let mut whose: Vec<usize> = vec![];
        for (Found { start, end, hit }, worded) in found {
            let same = |phrase: &usize| self.worded.kin[hit.phrase].contains(phrase);
            let taken = |(m, phrase): (&Measured, &usize)| same(phrase) && m.taken() && m.meets(*start, *end);
            if *worded && weighed.iter().zip(&whose).any(taken) {
                continue;
            }
            let ways = if *worded { &self.worded.ways[hit.phrase] } else { &self.ways[hit.phrase] };
            let carried = hit.carrier.map(|c| [&self.carriers[c][..], ways].concat());
            let (said, frames) = (carried.as_deref().unwrap_or(ways), (hit.from, hit.until));
            // The phrase itself is none of its rivals where carrier words stand in front of it either.
            let listed = (!worded).then(|| self.rivals(&self.ways[hit.phrase..=hit.phrase]));
            let rivals = self.others(hit.phrase).chain(listed.into_iter().flatten());
            let spotted = self.judge.weigh(scores, frames, said, &self.talk, rivals);
            let Some(spotted) = spotted else { continue };
            let measured = self.measured(vocabulary, hit.phrase, (*start, *end), spotted, theirs);
            let asked = if *worded { measured.called.max(UNLISTED) } else { measured.called };
            let measured = Measured { called: asked, ..measured };
            if !worded || measured.taken() {
                weighed.push(measured);
                whose.push(hit.phrase);
            }
        }
        // What fits better there in other words is that, and not what it was taken for.
        let better = |m: &Measured| weighed.iter().any(|o| o.meets(m.start, m.end) && o.evidence() > m.evidence());
        let worse: Vec<bool> = weighed.iter().map(|m| m.taken() && better(m)).collect();
        let mut worse = worse.into_iter();
        weighed.retain(|_| !worse.next().unwrap_or(false));
        weighed
    }

    /// What libvosk heard, weighed likewise: of the phrases that mean the same the one that fits best there. The scores begin at `from`.
    fn like(&self, vocabulary: &Vocabulary, scores: &Scores, from: SampleIndex, heard: &Heard) -> Option<Measured> {
        let place = (frame(from, scores, heard.start), frame(from, scores, heard.end));
        let there = |phrase: usize| {
            let (ways, rivals) = (&self.ways[phrase], self.rivals(&self.ways[phrase..=phrase]));
            Some((phrase, self.judge.weigh(scores, place, ways, &self.talk, rivals)?))
        };
        let same = (0..self.called.len()).filter(|phrase| vocabulary.meaning(*phrase) == heard.meaning);
        let (phrase, spotted) = same.filter_map(there).max_by(|a, b| a.1.ratio.total_cmp(&b.1.ratio))?;
        let place = (sample(from, spotted.frames.0), sample(from, spotted.frames.1));
        Some(self.measured(vocabulary, phrase, place, spotted, std::slice::from_ref(heard)))
    }

    fn measured(
        &self,
        vocabulary: &Vocabulary,
        phrase: usize,
        (start, end): (SampleIndex, SampleIndex),
        spotted: Spotted,
        theirs: &[Heard],
    ) -> Measured {
        let (meaning, called) = (vocabulary.meaning(phrase), self.called[phrase]);
        let found = Measured { meaning, start, end, spotted, agreed: false, called };
        let agreed = theirs.iter().any(|h| h.meaning == found.meaning && found.meets(h.start, h.end));
        Measured { agreed, ..found }
    }
}

/// Where a frame begins, of scores that begin at `from`.
fn sample(from: SampleIndex, frame: usize) -> SampleIndex {
    SampleIndex(from.0 + (frame * HOP + LEAD) as u64)
}

/// The frame at a place, of scores that begin at `from`; the first or their end where it lies outside.
fn frame(from: SampleIndex, scores: &Scores, at: SampleIndex) -> usize {
    ((at.0.saturating_sub(from.0) as usize).saturating_sub(LEAD) / HOP).min(scores.frames())
}

/// A phrase that was found, and is still to be weighed.
struct Found {
    start: SampleIndex,
    end: SampleIndex,
    hit: Hit,
}

/// What people say in front of a callout without thinking. A callout in the middle of a sentence is something else, and no callout.
const CARRIERS: [&str; 9] =
    ["okay", "now", "okay now", "now the", "okay now the", "next", "next the", "and now the", "i'm going to"];

/// Words of which one is easily taken for a phrase with the other in it, where only that is a callout.
const OPPOSITES: [(&str, &str); 10] = [
    ("on", "off"),
    ("apply", "remove"),
    ("put", "take"),
    ("open", "close"),
    ("up", "down"),
    ("in", "out"),
    ("hot", "cold"),
    ("first", "second"),
    ("new", "old"),
    ("left", "right"),
];

/// The phrase with one of its words turned into its opposite.
fn opposites(phrase: &str) -> Vec<String> {
    let words: Vec<&str> = phrase.split(' ').collect();
    let turned =
        |word: &str| OPPOSITES.iter().find_map(|(a, b)| (*a == word).then_some(*b).or((*b == word).then_some(*a)));
    let with = |(k, other): (usize, &str)| [&words[..k], &[other], &words[k + 1..]].concat().join(" ");
    words.iter().enumerate().filter_map(|(k, w)| turned(w).map(|o| (k, o))).map(with).collect()
}

/// A phrase that was found and weighed.
#[derive(Clone)]
pub struct Measured {
    /// What it means.
    pub meaning: Meaning,
    /// Onset of its first word.
    pub start: SampleIndex,
    /// End of its last word.
    pub end: SampleIndex,
    /// What was measured.
    pub spotted: Spotted,
    /// Whether libvosk found the same there.
    pub agreed: bool,
    /// The evidence from which on this phrase counts as called.
    pub called: f64,
}

impl Measured {
    /// How sure it is, 0 to 1.
    pub fn evidence(&self) -> f64 {
        evidence(&self.spotted, self.agreed)
    }

    fn heard(&self) -> Heard {
        Heard { meaning: self.meaning.clone(), start: self.start, end: self.end, confidence: self.evidence() as f32 }
    }

    /// Whether it shares some time with what lies between these places.
    fn meets(&self, start: SampleIndex, end: SampleIndex) -> bool {
        self.start < end && self.end > start
    }

    /// Whether it counts as called.
    fn taken(&self) -> bool {
        self.evidence() >= self.called
    }
}

/// The scores of an utterance, and the phrases found in it.
struct Utterance {
    from: SampleIndex,
    scores: Scores,
    weighed: Vec<Measured>,
}

/// Frames of scores kept for a second listen: 20 minutes of speech, 16 MB.
const KEPT: usize = 20 * 60 * RATE as usize / HOP;

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

/// Where a callout that is looked for again may be, in scores that begin at `from`.
#[derive(Clone)]
struct Place {
    likely: Likely,
    from: SampleIndex,
    scores: Rc<Scores>,
}

/// Places of a step's callouts that the second listen weighs: 10 to 20 ms each.
const LIKELIEST: usize = 6;

/// Sound that is remembered: an utterance is cut after a minute.
const REMEMBERED: usize = 64 * RATE as usize;

/// Sound in front of an utterance that is judged with it, so that a phrase said with a pause in it is found whole.
const BEFORE: Ms = Ms(1500);

/// So much is enough where the rest of it is quiet: the network is most of what a callout costs.
const NEAR: Ms = Ms(600);

/// Sound behind an utterance that is judged with it: whoever talks on has not called anything. libvosk's result comes about as late.
const BEHIND: Ms = Ms(850);

/// A callout has ended where so much sound without it follows.
const ENDED: Ms = Ms(200);

/// As much of it is kept for the second listen, and a phrase that is found begins before; what is behind belongs to the next utterance.
const TAIL: Ms = Ms(400);

/// Samples of one level.
const BLOCK: usize = 320;
/// Levels that are remembered: 4 s.
const LEVELS: usize = 200;
/// So far below the loudest of them it is quiet, in dB; and speech is at least so loud, in dBFS.
const BELOW: f32 = 13.0;
const LOUD: f32 = -55.0;
/// Levels of the pause behind a callout at which it is tried: 0.2 to 0.28 s, or 0.4 to 0.48 s for one of fewer than [`LONG`] phones, which talk holds
/// now and then in front of a short pause; so once each, since levels come five at a time.
const PAUSES: [(RangeInclusive<usize>, usize); 2] = [(10..=14, LONG), (20..=24, 0)];
const LONG: usize = 8;
/// Levels of the pause in front of it: 0.3 s.
const FRONT: usize = 15;
/// Longest callout that is told at once.
const LONGEST: Ms = Ms(2500);
/// Evidence from which on it is.
const SURE: f64 = 0.93;

/// Level of some samples in dBFS.
fn level(block: &[i16]) -> f32 {
    let power = block.iter().map(|s| (f32::from(*s) / 32_768.0).powi(2)).sum::<f32>() / block.len().max(1) as f32;
    10.0 * power.max(1e-12).log10()
}

/// Where the sound begins that is judged with speech that begins at `start`; `levels` are the last ones up to `fed`.
fn front(levels: &VecDeque<f32>, fed: SampleIndex, start: SampleIndex) -> SampleIndex {
    let (far, near) = (start - BEFORE, start - NEAR);
    let first = fed.0.saturating_sub((levels.len() * BLOCK) as u64);
    if far.0 < first {
        return far;
    }
    let block = |at: SampleIndex| ((at.0 - first) as usize / BLOCK).min(levels.len());
    let loudest = levels.range(block(start)..).copied().fold(f32::MIN, f32::max);
    let quiet = levels.range(block(far)..block(near)).all(|level| *level < loudest - BELOW);
    if quiet { near } else { far }
}

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
            fed: from,
            gate,
            weighing,
            levels: VecDeque::new(),
            early: vec![],
            waiting: vec![],
            recent: VecDeque::new(),
            found: from,
            decided: from,
            utterances: vec![],
        })
    }

    /// Listen for these phrases from now on, and no others. What was still being decided is dropped.
    pub fn attend(&mut self, vocabulary: Vocabulary) {
        let decoys: Vec<&str> = self.decoys.iter().map(String::as_str).collect();
        // The model heard a section's grammar before; with the old one the questions are not understood, and the run goes on.
        let Ok(recogniser) = self.model.recogniser(&vocabulary, &decoys) else { return };
        self.recogniser = recogniser;
        self.weighing = self.model.weighing(&vocabulary);
        self.early.clear();
        self.waiting.clear();
        self.vocabulary = vocabulary;
        self.offset = self.fed;
    }

    /// The tool begins (true) or has ended to speak at this place.
    pub fn tell(&mut self, begins: bool, at: SampleIndex) {
        self.gate.tell(begins, at);
    }

    /// Take in one chunk at 16 kHz, floats in -1 to 1; gives the phrases that it completed.
    pub fn feed(&mut self, chunk: &[f32]) -> Vec<Heard> {
        let end = self.fed + Ms(chunk.len() as u64 * 1000 / RATE);
        // Zeros rather than nothing: word times are counted in samples fed.
        let pcm = if self.gate.silent(self.fed) { vec![0; chunk.len()] } else { pcm(chunk) };
        self.fed = end;
        self.levels.extend(pcm.chunks(BLOCK).map(level));
        self.levels.drain(..self.levels.len().saturating_sub(LEVELS));
        let new = self.decode(&pcm);
        let mut words = std::mem::take(&mut self.waiting);
        words.extend(new);
        let heard = if words.is_empty() { self.at_once() } else { self.judged(words, false) };
        self.gate.others(heard)
    }

    /// Speech between two pauses, the second one still going on: where it begins and ends, and how many phones a callout has at least that is
    /// tried there now.
    fn between_pauses(&self) -> Option<(SampleIndex, SampleIndex, usize)> {
        let loudest = self.levels.iter().copied().fold(f32::MIN, f32::max);
        let quiet = |level: &f32| *level < loudest - BELOW;
        let behind = self.levels.iter().rev().take_while(|l| quiet(l)).count();
        let (_, least) = PAUSES.iter().find(|(pause, _)| loudest >= LOUD && pause.contains(&behind))?;
        // Back over the speech, to the first pause that is longer than one inside a phrase.
        let (mut length, mut pause) = (0, 0);
        for level in self.levels.iter().rev().skip(behind) {
            length += 1;
            pause = if quiet(level) { pause + 1 } else { 0 };
            if pause == FRONT {
                let end = SampleIndex(self.fed.0 - (behind * BLOCK) as u64);
                let start = SampleIndex(end.0.saturating_sub(((length - FRONT) * BLOCK) as u64));
                return Some((start, end, *least));
            }
        }
        None
    }

    /// Where the sound begins that is remembered.
    fn remembered(&self) -> SampleIndex {
        SampleIndex(self.fed.0.saturating_sub(self.recent.len() as u64))
    }

    /// The scores of remembered sound between two places.
    fn scores(&self, judge: &Judge, from: SampleIndex, until: SampleIndex) -> Scores {
        let begin = self.remembered().0;
        let place = |at: SampleIndex| at.0.saturating_sub(begin) as usize;
        let sound: Vec<f32> = self.recent.range(place(from)..place(until)).copied().collect();
        judge.scores(&sound)
    }

    /// A callout said alone is told as soon as a short pause follows it, where it is all but sure; the recogniser's own result comes a
    /// quarter of a second later.
    fn at_once(&mut self) -> Vec<Heard> {
        if self.vocabulary.asks() {
            return vec![];
        }
        let Some((start, end, least)) = self.between_pauses() else { return vec![] };
        let Some(weighing) = self.weighing.as_ref().filter(|_| end.since(start) <= LONGEST) else { return vec![] };
        let begin = self.remembered();
        let from = front(&self.levels, self.fed, start).max(begin).max(self.found);
        if from >= end {
            return vec![];
        }
        let scores = self.scores(&weighing.judge, from, self.fed);
        let near = |a: SampleIndex, b: SampleIndex| a.since(b).max(b.since(a)) <= Ms(300);
        let alone = |f: &Found| {
            let tried = !weighing.goes_on[f.hit.phrase] && weighing.length[f.hit.phrase] >= least;
            tried && near(f.start, start) && near(f.end, end)
        };
        let found: Vec<_> = weighing.found(&scores, from).into_iter().filter(|(f, _)| alone(f)).collect();
        let mut sure = weighing.weigh(&self.vocabulary, &scores, &found, &[]);
        sure.retain(|m| m.evidence() >= SURE.max(m.called));
        let heard: Vec<Heard> = sure.iter().map(Measured::heard).collect();
        self.found = heard.iter().map(|h| h.end).fold(self.found, SampleIndex::max);
        self.early.extend(sure);
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
        let told = &self.early;
        let found = told.iter().map(|m| m.start).fold(self.found, SampleIndex::min);
        let taken = if told.is_empty() { self.found } else { self.decided.min(found) };
        let begin = self.remembered();
        let from = front(&self.levels, self.fed, first.start).max(begin).max(taken);
        let until = (last.end + BEHIND).min(self.fed);
        if until <= from {
            return vec![];
        }
        let scores = self.scores(&weighing.judge, from, until);
        let tail = last.end + TAIL;
        let apart = |start: SampleIndex, end: SampleIndex| start < tail && !told.iter().any(|t| t.meets(start, end));
        let mut found = weighing.found(&scores, from);
        found.retain(|(f, _)| apart(f.start, f.end));
        let mut weighed = weighing.weigh(&self.vocabulary, &scores, &found, &theirs);
        // Now and then libvosk, with other costs, finds a callout where the whole stretch seems likelier to be something else.
        for h in theirs.iter().filter(|h| from <= h.start && h.end <= until) {
            if !weighed.iter().any(|m| m.meaning == h.meaning && m.meets(h.start, h.end)) {
                let found = weighing.like(&self.vocabulary, &scores, from, h);
                weighed.extend(found.filter(|m| apart(m.start, m.end)));
            }
        }
        let open = |m: &Measured| until.since(m.end) < ENDED;
        if until < self.fed {
            // The next utterance holds it whole.
            weighed.retain(|m| !open(m));
        } else if !now && weighed.iter().any(|m| m.taken() && open(m)) {
            self.waiting = words;
            return vec![];
        }
        weighed.sort_by_key(|m| m.start);
        let likeliest = |m: &&Measured| {
            m.taken() && !weighed.iter().any(|o| o.meets(m.start, m.end) && o.evidence() > m.evidence())
        };
        let heard: Vec<Heard> = weighed.iter().filter(likeliest).map(Measured::heard).collect();
        self.found = heard.iter().map(|h| h.end).fold(self.found, SampleIndex::max);
        self.decided = self.found;
        let weighed = std::mem::take(&mut self.early).into_iter().chain(weighed).collect();
        let kept = (tail.since(from).samples() as usize / HOP).min(scores.frames());
        self.utterances.push(Utterance { from, scores: scores.part(0, kept), weighed });
        while self.utterances.iter().map(|u| u.scores.frames()).sum::<usize>() > KEPT {
            self.utterances.remove(0);
        }
        heard
    }

    /// The sentence that was said, where sentences are listened for: libvosk's words, or one of those expected, whichever the wide ear finds likelier.
    fn sentence(&mut self, words: &[Word]) -> Vec<Heard> {
        let theirs = self.vocabulary.find(words);
        let (Some(weighing), Some(heard)) = (&self.weighing, theirs.first()) else { return theirs };
        let from = front(&self.levels, self.fed, words[0].start).max(self.remembered()).max(self.found);
        let until = (heard.end + BEHIND).min(self.fed);
        if until <= from {
            return vec![];
        }
        let scores = self.scores(&weighing.judge, from, until);
        let all = (0, scores.frames());
        let ratio = |ways: &[Vec<Vec<Phone>>]| {
            weighing.judge.weigh(&scores, all, ways, &weighing.talk, std::iter::empty()).map(|s| s.ratio)
        };
        let said: Vec<&str> = words.iter().map(|w| w.text.as_str()).filter(|w| *w != crate::words::FILLER).collect();
        let ways = weighing.judge.ways([said.join(" ")]);
        let own = ways.first().and_then(|ways| ratio(ways));
        let expected = weighing.found(&scores, from).into_iter();
        let expected = expected.filter_map(|(f, _)| Some((ratio(&weighing.ways[f.hit.phrase])?, f)));
        let best = expected.max_by(|a, b| a.0.total_cmp(&b.0)).filter(|(found, _)| own.is_none_or(|own| *found > own));
        let heard = match best {
            Some((_, f)) => Heard {
                meaning: self.vocabulary.meaning(f.hit.phrase),
                start: f.start,
                end: f.end,
                confidence: heard.confidence,
            },
            None => heard.clone(),
        };
        self.found = self.found.max(heard.end);
        vec![self.vocabulary.understood(heard)]
    }

    /// Everything that was weighed, taken or not: what the evidence is fitted to.
    pub fn weighed(&self) -> impl Iterator<Item = &Measured> {
        self.utterances.iter().flat_map(|u| &u.weighed)
    }

    /// Look for steps again in what was said between two places, apart from the phrases that were found there: which were
    /// perhaps called, and where.
    pub fn search(&self, wanted: &[Sought]) -> Vec<(usize, SampleIndex)> {
        let found = self.again(wanted).into_iter().zip(wanted);
        found.filter_map(|(best, sought)| best.map(|(_, at, _)| (sought.step, at))).collect()
    }

    /// Where in what was said, apart from the phrases that were found, each step's callouts perhaps are: the evidence, 0 to 1,
    /// the place, and what was measured there. All callouts are looked for in one pass over what was said; only the likeliest places of each step
    /// are weighed, so that a long run of talk is gone through in seconds.
    pub fn again(&self, wanted: &[Sought]) -> Vec<Option<(f64, SampleIndex, Spotted)>> {
        let Some(weighing) = &self.weighing else { return vec![None; wanted.len()] };
        let say = |s: &Sought| weighing.judge.ways(s.say.iter().cloned());
        let (ways, whose): (Vec<_>, Vec<usize>) =
            wanted.iter().enumerate().flat_map(|(k, s)| say(s).into_iter().map(move |way| (way, k))).unzip();
        let layout = Layout::new(&ways, |_| false, &[]);
        let mut places: Vec<Vec<Place>> = vec![vec![]; wanted.len()];
        // The sound of two utterances may overlap: what one holds whole, the other may hold in part.
        let taken: Vec<&Measured> = self.weighed().filter(|m| m.taken()).collect();
        for utterance in &self.utterances {
            for (from, until) in utterance.left() {
                let (scores, from) =
                    (Rc::new(utterance.scores.part(from, until)), SampleIndex(utterance.from.0 + (from * HOP) as u64));
                for likely in weighing.judge.sweep(&scores, &layout) {
                    let (start, end) = (sample(from, likely.frames.0), sample(from, likely.frames.1));
                    let (first, last) = wanted[whose[likely.phrase]].between;
                    let again = taken.iter().any(|m| m.meets(start, end));
                    if first <= start && end <= last && !again && !self.gate.own(start) {
                        places[whose[likely.phrase]].push(Place { likely, from, scores: Rc::clone(&scores) });
                    }
                }
            }
        }
        let mine = |k: usize| ways.iter().zip(&whose).filter(move |(_, step)| **step == k).map(|(way, _)| way.clone());
        let best = |(k, mut places): (usize, Vec<Place>)| {
            places.sort_by(|a, b| b.likely.ratio.total_cmp(&a.likely.ratio));
            let mine: Ways = mine(k).collect();
            let weighed = places.into_iter().take(LIKELIEST).filter_map(|Place { likely, from, scores }| {
                let (way, rivals) = (&ways[likely.phrase], weighing.rivals(&mine));
                let spotted = weighing.judge.weigh(&scores, likely.frames, way, &weighing.talk, rivals)?;
                let (start, end) = (sample(from, spotted.frames.0), sample(from, spotted.frames.1));
                let again = taken.iter().any(|m| m.meets(start, end));
                (!again).then(|| (evidence(&spotted, false), start, spotted))
            });
            let fine = weighed.filter(|(evidence, _, spotted)| spotted.ratio >= BETTER && *evidence >= PERHAPS);
            fine.max_by(|a, b| a.0.total_cmp(&b.0))
        };
        places.into_iter().enumerate().map(best).collect()
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
        self.recent.extend(pcm.iter().map(|s| f32::from(*s) / 32_768.0));
        self.recent.drain(..self.recent.len().saturating_sub(REMEMBERED));
        answer(&mut self.recogniser, |recogniser| match recogniser.accept_waveform(pcm) {
            Ok(vosk::DecodingState::Finalized) => words(&recogniser.result(), offset),
            _ => vec![],
        })
    }

    /// What was still being decided when the sound ended.
    pub fn finish(&mut self) -> Vec<Heard> {
        let mut words = std::mem::take(&mut self.waiting);
        words.extend(self.last_words());
        let heard = self.judged(words, true);
        self.gate.others(heard)
    }
}

/// The vosk crate panics on an answer that is no JSON, as when a broken network makes a confidence that is no number.
/// Such an answer is nothing heard.
fn answer(recogniser: &mut vosk::Recognizer, ask: impl FnOnce(&mut vosk::Recognizer) -> Vec<Word>) -> Vec<Word> {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| ask(recogniser))).unwrap_or_default()
}

/// As libvosk takes it: 16 bits, from a WAV file of 16 bits the very same numbers.
fn pcm(chunk: &[f32]) -> Vec<i16> {
    chunk.iter().map(|s| (s * 32768.0).round().clamp(-32768.0, 32767.0) as i16).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A second and a half in front of speech is judged with it where somebody talked there, or where that can't be told any more.
    #[test]
    fn sound_in_front_is_left_out_only_where_it_is_quiet() {
        let (fed, start) = (SampleIndex(10 * RATE), SampleIndex(9 * RATE));
        // Three seconds of levels in blocks of 20 ms: from 7 s to 10 s, the last one speech.
        let levels = |talk: std::ops::Range<usize>| -> VecDeque<f32> {
            (0..150).map(|k| if k >= 100 || talk.contains(&k) { -25.0 } else { -60.0 }).collect()
        };
        assert_eq!(front(&levels(0..0), fed, start), start - NEAR);
        // Talk that ended before, or lies so near that it is looked at in any case, changes nothing.
        assert_eq!(front(&levels(0..24), fed, start), start - NEAR);
        assert_eq!(front(&levels(71..90), fed, start), start - NEAR);
        assert_eq!(front(&levels(40..45), fed, start), start - BEFORE);
        assert_eq!(front(&levels(24..26), fed, start), start - BEFORE);
        // Noise as loud as the speech, or nearly, is no quiet.
        assert_eq!(front(&levels(0..0).iter().map(|l| l.max(-37.0)).collect(), fed, start), start - BEFORE);
        let short = levels(0..0).range(30..).copied().collect();
        assert_eq!(front(&short, fed, start), start - BEFORE);
        assert_eq!(front(&VecDeque::new(), fed, start), start - BEFORE);
    }
}
