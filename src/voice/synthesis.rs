//! Text to sound by a VITS network run in `rten`, on phonemes by `misaki-rs`.

use super::{Speech, level};
use crate::platform;
use rten::{Model, Value};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Chance in the timbre, length of a phoneme, chance in the lengths. No chance, so that the same words always sound and
/// last the same. The length brings the voice's 200 words a minute down to about 155; proctors and lecturers speak at 140 to
/// 180 (Rodero, *Text & Talk* 32 (2012) 391-411, advises 160 to 180 for radio).
const SCALES: [f32; 3] = [0.0, 1.3, 0.0];

/// Silence between sentences, in seconds.
const SENTENCE_GAP: f32 = 0.35;

/// Largest file of settings that is read.
const LARGEST_SETTINGS: u64 = 1 << 20;

/// Why there is no voice.
#[derive(Debug, thiserror::Error)]
pub enum VoiceError {
    /// The voice's file is missing or can't be loaded.
    #[error("the voice in {path} can't be used: {reason}", path = path.display())]
    Unusable {
        /// The file.
        path: PathBuf,
        /// What was found.
        reason: String,
    },
    /// A text could not be turned to sound.
    #[error("\"{text}\" could not be spoken: {reason}")]
    Unspeakable {
        /// The words.
        text: String,
        /// What went wrong.
        reason: String,
    },
}

#[derive(Deserialize)]
struct VoiceFile {
    audio: AudioSettings,
    phoneme_id_map: BTreeMap<String, Vec<i32>>,
}

#[derive(Deserialize)]
struct AudioSettings {
    sample_rate: u32,
}

/// A loaded voice.
pub struct Synthesis {
    network: Model,
    settings: VoiceFile,
    phonemes: misaki_rs::G2P,
}

impl Synthesis {
    /// Load `voice.onnx` and `voice.json` from `folder`.
    pub fn load(folder: &Path) -> Result<Synthesis, VoiceError> {
        let unusable = |path: PathBuf, reason: String| VoiceError::Unusable { path, reason };
        let (net, json) = (folder.join("voice.onnx"), folder.join("voice.json"));
        let text = platform::read_text(&json, LARGEST_SETTINGS).map_err(|e| unusable(json.clone(), e.to_string()))?;
        let settings = serde_json::from_str(&text).map_err(|e| unusable(json, e.to_string()))?;
        let network = Model::load_file(&net).map_err(|e| unusable(net, e.to_string()))?;
        Ok(Synthesis { network, settings, phonemes: misaki_rs::G2P::new(misaki_rs::Language::EnglishUS) })
    }

    /// `text` as sound, sentence by sentence, at one loudness; `pace` in percent of the usual length.
    pub fn speak(&self, text: &str, pace: u32) -> Result<Speech, VoiceError> {
        let rate = self.settings.audio.sample_rate;
        let mut speech = Speech { samples: vec![], rate };
        for sentence in text.split_inclusive(['.', '?', '!', ':']).filter(|s| s.chars().any(char::is_alphanumeric)) {
            if !speech.samples.is_empty() {
                speech.samples.extend(std::iter::repeat_n(0.0, (SENTENCE_GAP * rate as f32) as usize));
            }
            speech.samples.extend(self.sentence(sentence.trim(), pace)?);
        }
        level(&mut speech).map_err(|e| VoiceError::Unspeakable { text: text.into(), reason: e.to_string() })?;
        Ok(speech)
    }

    fn sentence(&self, text: &str, pace: u32) -> Result<Vec<f32>, VoiceError> {
        let unspeakable = |reason: String| VoiceError::Unspeakable { text: text.into(), reason };
        let (phonemes, _) = self.phonemes.g2p(text).map_err(|e| unspeakable(format!("{e:?}")))?;
        let ids = self.ids(&respell(&phonemes));
        let node = |name: &str| self.network.node_id(name).map_err(|e| unspeakable(e.to_string()));
        let length = ids.len();
        let input = Value::from_shape([1, length], ids).map_err(|e| unspeakable(e.to_string()))?;
        let lengths = Value::from_shape([1], vec![length as i32]).map_err(|e| unspeakable(e.to_string()))?;
        let [timbre, each, lengths_vary] = SCALES;
        let scales = vec![timbre, each * pace as f32 / 100.0, lengths_vary];
        let scales = Value::from_shape([3], scales).map_err(|e| unspeakable(e.to_string()))?;
        let inputs = vec![
            (node("input")?, input.into()),
            (node("input_lengths")?, lengths.into()),
            (node("scales")?, scales.into()),
        ];
        let [output] = self.network.run_n(inputs, [node("output")?], None).map_err(|e| unspeakable(e.to_string()))?;
        let tensor = output.into_tensor::<f32>().ok_or_else(|| unspeakable("the network gave no sound".into()))?;
        Ok(tensor.into_data())
    }

    /// The network's numbers: start, each phoneme between pads, end. A phoneme it doesn't have is left out.
    fn ids(&self, phonemes: &str) -> Vec<i32> {
        let id = |key: &str| self.settings.phoneme_id_map.get(key).and_then(|v| v.first()).copied();
        let (start, pad, end) = (id("^").unwrap_or(1), id("_").unwrap_or(0), id("$").unwrap_or(2));
        let mut ids = vec![start, pad];
        for phoneme in phonemes.chars().filter_map(|c| id(c.encode_utf8(&mut [0; 4]))) {
            ids.extend([phoneme, pad]);
        }
        ids.push(end);
        ids
    }
}

/// From the dictionary's letters to those the voice was made with.
fn respell(phonemes: &str) -> String {
    let mut out = String::new();
    for c in phonemes.replace("ɜɹ", "ɜː").replace("əɹ", "ɚ").chars() {
        match c {
            'A' => out += "eɪ",
            'I' => out += "aɪ",
            'W' => out += "aʊ",
            'O' => out += "oʊ",
            'Y' => out += "ɔɪ",
            'ʤ' => out += "dʒ",
            'ʧ' => out += "tʃ",
            'ᵊ' => out.push('ə'),
            'T' => out.push('ɾ'),
            'i' | 'u' | 'ɑ' | 'ɔ' => out.extend([c, 'ː']),
            c => out.push(c),
        }
    }
    // A word's last, unstressed i is short.
    out.replace("iː ", "i ").replace("iː.", "i.").replace("iː,", "i,")
}
