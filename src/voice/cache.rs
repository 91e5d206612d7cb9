//! Prompts kept as WAV files, named by the SHA-256 of what they were made from.

use super::{Speech, Synthesis, VoiceError};
use crate::audio::{read_wav, write_wav};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// Raised when synthesis changes, so that older sounds are not used.
const RECIPE: &str = "3";

/// The cache of one voice.
pub struct Cache {
    folder: PathBuf,
    voice: PathBuf,
    synthesis: Option<Synthesis>,
    /// How much longer than usual everything lasts, in percent.
    pace: u32,
}

impl Cache {
    /// A cache in `folder` of the voice in `voice`; the voice is loaded only when something is missing.
    pub fn new(folder: &Path, voice: &Path) -> Cache {
        Cache { folder: folder.to_path_buf(), voice: voice.to_path_buf(), synthesis: None, pace: 100 }
    }

    /// Speak more slowly from now on: a quarter slower each time, to half the usual speed.
    pub fn slower(&mut self) {
        self.pace = (self.pace * 5 / 4).min(200);
    }

    /// The sound of `text`, made now if it isn't kept yet.
    pub fn speech(&mut self, text: &str) -> Result<Speech, VoiceError> {
        let mut sum = Sha256::new().chain_update(RECIPE).chain_update([0]).chain_update(text);
        if self.pace != 100 {
            sum.update([0]);
            sum.update(self.pace.to_le_bytes());
        }
        let name = format!("{:x}.wav", sum.finalize());
        let path = self.folder.join(name);
        if let Ok((samples, rate)) = read_wav(&path) {
            return Ok(Speech { samples, rate });
        }
        let synthesis = match &mut self.synthesis {
            Some(loaded) => loaded,
            none => none.insert(Synthesis::load(&self.voice)?),
        };
        let speech = synthesis.speak(text, self.pace)?;
        // A cache that can't be written costs time, not the run. Written aside first: another run may read it now.
        let aside = path.with_extension(format!("{}.tmp", std::process::id()));
        if std::fs::create_dir_all(&self.folder).is_ok() && write_wav(&aside, &speech.samples, speech.rate).is_ok() {
            let _ = std::fs::rename(&aside, &path);
        }
        Ok(speech)
    }
}
