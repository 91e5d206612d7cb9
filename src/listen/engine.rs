//! libvosk: its model, and a recogniser of a section's phrases.

use crate::acoustic::LARGEST_FILE;
use crate::acoustic::ear::FILE as EAR;
use crate::acoustic::evidence::threshold;
use crate::acoustic::graph::{Graph, graph};
use crate::acoustic::verifier::Verifier;
use crate::callout::Vocabulary;
use crate::platform;
use crate::time::RATE;
use crate::words::Word;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

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

/// The model, which knows which words it can hear.
#[derive(Clone)]
pub struct Model {
    recognition: Arc<Recognition>,
    id: String,
    verifier: Option<Arc<Verifier>>,
    pub(super) words: Arc<BTreeSet<String>>,
    /// By phrase: the evidence from which on it counts as called, where it isn't the usual one.
    pub(super) called: Arc<BTreeMap<String, f64>>,
}

/// libvosk's part, loaded when it is first to recognise: a run hears by a graph of its own words, and never loads the one of all.
struct Recognition {
    folder: PathBuf,
    graph: Option<Graph>,
    model: OnceLock<Option<vosk::Model>>,
}

impl Recognition {
    fn new(folder: &Path, graph: Option<Graph>) -> Arc<Recognition> {
        Arc::new(Recognition { folder: folder.to_path_buf(), graph, model: OnceLock::new() })
    }

    fn model(&self) -> Result<&vosk::Model, ListenError> {
        let refused = || ListenError::Refused { path: self.folder.clone() };
        self.model.get_or_init(|| self.load()).as_ref().ok_or_else(refused)
    }

    fn load(&self) -> Option<vosk::Model> {
        vosk::set_log_level(vosk::LogLevel::Error);
        let load = |folder: &Path| vosk::Model::new(folder.display().to_string());
        let Some(graph) = &self.graph else { return load(&self.folder) };
        let folder = tempfile::tempdir().ok()?;
        let at = |name: &str| folder.path().join(name);
        std::fs::create_dir(at("graph")).ok()?;
        for name in ["am", "conf", "graph/phones", "graph/disambig_tid.int"] {
            platform::link(&self.folder.join(name), &at(name)).ok()?;
        }
        std::fs::write(at("graph/HCLr.fst"), &graph.hclr).ok()?;
        std::fs::write(at("graph/Gr.fst"), &graph.gr).ok()?;
        std::fs::write(at("graph/words.txt"), &graph.words).ok()?;
        load(folder.path())
    }
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
    /// Load the model folder at `path`, after checking that it is whole. libvosk, which can end the program on a file that is damaged, loads
    /// its part when something is to be recognised: try a folder from elsewhere in a process of its own first.
    pub fn load(path: &Path) -> Result<Model, ListenError> {
        Model::load_identified(path, identify(path)?)
    }

    /// The same for a folder that [`identify`] has just looked at and named so.
    pub fn load_identified(path: &Path, id: String) -> Result<Model, ListenError> {
        let refused = || ListenError::Refused { path: path.to_path_buf() };
        let text = std::fs::read_to_string(path.join("graph/words.txt")).map_err(|_| refused())?;
        let words = Arc::new(text.lines().filter_map(|l| l.split(' ').next()).map(str::to_string).collect());
        Ok(Model {
            recognition: Recognition::new(path, None),
            id,
            words,
            verifier: Verifier::read(path).map(Arc::new),
            called: Arc::default(),
        })
    }

    /// Which model this is, as [`identify`] names it.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// What weighs the phrases that the recogniser finds; none for a model that is not of our own making.
    pub fn verifier(&self) -> Option<Arc<Verifier>> {
        self.verifier.clone()
    }

    /// The same model, able to hear the words of `wanted` and no others: words that its lexicon lacks are listened for as they are spelt, and
    /// those of `sounds` (a word and its phones) as it says. A graph of just these words takes fifty megabytes less. A model from elsewhere
    /// stays as it is.
    pub fn with_pronunciations(&self, wanted: &[&str], sounds: &[(String, String)]) -> Model {
        let Some(verifier) = &self.verifier else { return self.clone() };
        let mut phones = verifier.phones().keeping(wanted);
        for (word, sounds) in sounds {
            phones.spelt(sounds).into_iter().for_each(|pronunciation| phones.teach(word, pronunciation));
        }
        let mut entries = BTreeMap::new();
        for word in wanted {
            if phones.of(word).is_empty() {
                Some(verifier.spell(word))
                    .filter(|pronunciation| !pronunciation.is_empty())
                    .into_iter()
                    .for_each(|pronunciation| phones.teach(word, pronunciation));
            }
            if !phones.of(word).is_empty() {
                entries.insert(word.to_string(), phones.of(word).to_vec());
            }
        }
        let graph = graph(&entries, &phones, phones.filler);
        let words = Arc::new(entries.into_keys().chain([crate::words::FILLER.to_string()]).collect());
        let verifier = Some(Arc::new(verifier.with_pronunciations(phones)));
        Model { recognition: Recognition::new(&self.recognition.folder, Some(graph)), words, verifier, ..self.clone() }
    }

    /// The words that ears for a vocabulary listen for: all that are listed, the decoys, and of the other wordings' those that are known.
    pub fn wanted<'a>(&self, vocabulary: &'a Vocabulary) -> Vec<&'a str> {
        let more = [vocabulary.more_words(false), vocabulary.more_words(true)];
        let more = more.into_iter().flatten().filter(|w| self.knows(w));
        vocabulary.words().into_iter().chain(super::DECOYS).chain(more).collect()
    }

    /// The same model with evidence of its own, 0 to 1, from which on each of these phrases counts as called.
    pub fn with_thresholds(&self, called: BTreeMap<String, f64>) -> Model {
        Model { called: Arc::new(called), ..self.clone() }
    }

    /// How a word would be listened for, as phones; none for a model from elsewhere.
    pub fn sounds(&self, word: &str) -> Option<String> {
        let verifier = self.verifier.as_ref()?;
        let phones = verifier.phones();
        let pronunciation = phones.of(word).first().cloned().unwrap_or_else(|| verifier.spell(word));
        Some(pronunciation.iter().map(|p| phones.names[*p].as_str()).collect::<Vec<_>>().join(" "))
    }

    /// The evidence, 0 to 1, from which on a phrase counts as called where nobody enrolled it.
    pub fn threshold(&self, phrase: &str) -> f64 {
        threshold(self.verifier.as_ref().map_or(0, |verifier| verifier.length(phrase)))
    }

    /// A recogniser of these phrases.
    pub(super) fn recogniser(&self, vocabulary: &Vocabulary, decoys: &[&str]) -> Result<vosk::Recognizer, ListenError> {
        let grammar = vocabulary.grammar(decoys.iter().copied(), |w| self.knows(w));
        let mut recogniser = vosk::Recognizer::new_with_grammar(self.recognition.model()?, RATE as f32, &grammar)
            .ok_or_else(|| ListenError::Refused { path: PathBuf::from("the section's grammar") })?;
        recogniser.set_words(true);
        // Partials with words come from the determinised lattice, 1.0 to 1.7 s later.
        recogniser.set_partial_words(false);
        Ok(recogniser)
    }

    /// Recognise a second of noise among these words, so that what is broken in the model shows.
    pub fn try_out(&self, words: &[&str]) -> Result<(), ListenError> {
        let grammar: Vec<String> =
            words.iter().map(|w| w.to_string()).chain([crate::words::FILLER.to_string()]).collect();
        let mut recogniser = vosk::Recognizer::new_with_grammar(self.recognition.model()?, RATE as f32, &grammar)
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
}

/// The vosk crate panics on an answer that is no JSON, as when a broken network makes a confidence that is no number.
/// Such an answer is nothing heard.
pub(super) fn answer(
    recogniser: &mut vosk::Recognizer,
    ask: impl FnOnce(&mut vosk::Recognizer) -> Vec<Word>,
) -> Vec<Word> {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| ask(recogniser))).unwrap_or_default()
}
