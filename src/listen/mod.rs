//! The ears: libvosk with the section's grammar, and what of it was masked while the tool spoke.
//! It knows words and places; what they mean is the callout module's.

mod thread;

pub use thread::{Arrived, EarThread};

use crate::callout::{Heard, Vocabulary};
use crate::time::{Ms, RATE, SampleIndex};
use crate::words::Word;
use std::path::{Path, PathBuf};

/// Files without which a model folder can't be used: libvosk aborts the process on some of them missing.
const MODEL_FILES: [&str; 8] = [
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    "graph/HCLr.fst",
    "graph/Gr.fst",
    "graph/words.txt",
    "graph/disambig_tid.int",
    "graph/phones/word_boundary.int",
];

/// How far into the tool's own speech a callout that had begun before it may run on.
const GRACE: Ms = Ms(1200);

/// Why the recogniser can't be had.
#[derive(Debug, thiserror::Error)]
pub enum ListenError {
    /// The model's folder, or a file in it, is missing.
    #[error("the English model is not complete: {path} is missing", path = path.display())]
    MissingModel {
        /// The folder or file.
        path: PathBuf,
    },
    /// libvosk would not load it.
    #[error("the recogniser could not load the model in {path}", path = path.display())]
    Refused {
        /// The folder.
        path: PathBuf,
    },
}

/// The loaded model, which knows which words it can hear.
pub struct Model {
    inner: vosk::Model,
    words: std::collections::BTreeSet<String>,
}

impl Model {
    /// Load the model folder at `path`, after checking that it is whole.
    pub fn load(path: &Path) -> Result<Model, ListenError> {
        for file in MODEL_FILES {
            if !path.join(file).is_file() {
                return Err(ListenError::MissingModel { path: path.join(file) });
            }
        }
        vosk::set_log_level(vosk::LogLevel::Error);
        let refused = || ListenError::Refused { path: path.to_path_buf() };
        let words = std::fs::read_to_string(path.join("graph/words.txt")).map_err(|_| refused())?;
        let words = words.lines().filter_map(|l| l.split(' ').next()).map(str::to_string).collect();
        let inner = vosk::Model::new(path.display().to_string()).ok_or_else(refused)?;
        Ok(Model { inner, words })
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

/// A span in which the tool speaks.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Mask {
    from: SampleIndex,
    until: Option<SampleIndex>,
}

/// The recogniser of one run, fed 100 ms at a time.
pub struct Ears {
    recogniser: vosk::Recognizer,
    vocabulary: Vocabulary,
    fed: SampleIndex,
    masks: Vec<Mask>,
}

impl Ears {
    /// Ears for what can be said in the section.
    pub fn open(model: &Model, vocabulary: Vocabulary, decoys: &[&str]) -> Result<Ears, ListenError> {
        let grammar = vocabulary.grammar(decoys.iter().copied(), |w| model.knows(w));
        let mut recogniser = vosk::Recognizer::new_with_grammar(&model.inner, RATE as f32, &grammar)
            .ok_or_else(|| ListenError::Refused { path: PathBuf::from("the section's grammar") })?;
        recogniser.set_words(true);
        // Partials with words come from the determinised lattice, 1.0 to 1.7 s later.
        recogniser.set_partial_words(false);
        Ok(Ears { recogniser, vocabulary, fed: SampleIndex(0), masks: vec![] })
    }

    /// The tool begins to speak at this place.
    pub fn mask(&mut self, from: SampleIndex) {
        if self.masks.last().is_none_or(|m| m.until.is_some()) {
            self.masks.push(Mask { from, until: None });
        }
    }

    /// The tool's voice, and its echo in the room, end here.
    pub fn unmask(&mut self, until: SampleIndex) {
        if let Some(mask) = self.masks.last_mut().filter(|m| m.until.is_none()) {
            mask.until = Some(until);
        }
    }

    /// Take in one chunk at 16 kHz, floats in -1 to 1; gives the phrases that it completed.
    pub fn feed(&mut self, chunk: &[f32]) -> Vec<Heard> {
        let end = self.fed + Ms(chunk.len() as u64 * 1000 / RATE);
        // Zeros rather than nothing: word times are counted in samples fed.
        let silent =
            self.masks.last().is_some_and(|m| m.until.is_none_or(|u| u > self.fed) && m.from + GRACE <= self.fed);
        let pcm = if silent { vec![0; chunk.len()] } else { pcm(chunk) };
        self.fed = end;
        let words = self.decode(&pcm);
        self.understood(&words)
    }

    /// All the words that one chunk completed, filler among them, whatever is masked.
    pub fn words_in(&mut self, chunk: &[f32]) -> Vec<Word> {
        self.decode(&pcm(chunk))
    }

    /// The words still being decided when the sound ended.
    pub fn last_words(&mut self) -> Vec<Word> {
        words(self.recogniser.final_result())
    }

    fn decode(&mut self, pcm: &[i16]) -> Vec<Word> {
        match self.recogniser.accept_waveform(pcm) {
            Ok(vosk::DecodingState::Finalized) => words(self.recogniser.result()),
            _ => vec![],
        }
    }

    /// What was still being decided when the sound ended.
    pub fn finish(&mut self) -> Vec<Heard> {
        let words = self.last_words();
        self.understood(&words)
    }

    fn understood(&self, words: &[Word]) -> Vec<Heard> {
        let own = |at: SampleIndex| self.masks.iter().any(|m| at >= m.from && m.until.is_none_or(|u| at < u));
        // By the onset of the whole phrase: one that began before the tool spoke may run on under its voice.
        self.vocabulary.find(words).into_iter().filter(|heard| !own(heard.start)).collect()
    }
}

/// As libvosk takes it: 16 bits, from a WAV file of 16 bits the very same numbers.
fn pcm(chunk: &[f32]) -> Vec<i16> {
    chunk.iter().map(|s| (s * 32768.0).round().clamp(-32768.0, 32767.0) as i16).collect()
}

fn words(result: vosk::CompleteResult) -> Vec<Word> {
    let Some(single) = result.single() else { return vec![] };
    let place = |seconds: f32| SampleIndex::from_seconds(f64::from(seconds));
    single
        .result
        .iter()
        .map(|w| Word { text: w.word.to_string(), start: place(w.start), end: place(w.end), confidence: w.conf })
        .collect()
}
