//! Fixed announcements kept as WAV files, named by the SHA-256 of what they were made from. What tells how somebody's run went
//! is kept nowhere.

use super::{Flite, Speech, VoiceError};
use crate::audio::{read_wav, write_wav};
use crate::platform;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// Raised when synthesis changes, so that older sounds are not used.
const RECIPE: &str = "4";

/// Most bytes that are kept: the announcements of some thirty sections. Those used longest ago go first.
const MOST: u64 = 256 << 20;

/// Which voice speaks.
#[derive(clap::ValueEnum, serde::Deserialize, Clone, Copy, Debug, Default, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum Proctor {
    /// A low one
    Low,
    /// A higher one
    #[default]
    // As settings may have it that were written when there was a third.
    #[serde(alias = "usual")]
    #[value(alias = "usual")]
    High,
}

impl Proctor {
    /// flite's voice.
    fn flite(self) -> Flite {
        match self {
            Proctor::Low => Flite { voice: "rms", stretch: 0.99 },
            Proctor::High => Flite { voice: "slt", stretch: 1.115 },
        }
    }
}

/// The voice, and what it has kept.
pub struct Cache {
    folder: PathBuf,
    /// How much longer than usual everything lasts, in percent.
    pace: u32,
    proctor: Proctor,
    /// How high it speaks, in percent of the usual.
    pitch: u32,
    /// Fixed announcements that can't be kept on disk, by name.
    held: BTreeMap<String, Speech>,
}

impl Cache {
    /// What is kept in `folder`.
    pub fn new(folder: &Path) -> Cache {
        let folder = folder.join("announcements");
        Cache { folder, pace: 100, proctor: Proctor::default(), pitch: 100, held: BTreeMap::new() }
    }

    /// Speak at so many percent of the usual speed.
    #[must_use]
    pub fn at_speed(self, percent: u32) -> Cache {
        Cache { pace: 10_000 / percent.max(1), ..self }
    }

    /// Speak in this voice where one was chosen, so many percent as high as usual.
    #[must_use]
    pub fn spoken_by(self, proctor: Option<Proctor>, pitch: u32) -> Cache {
        Cache { proctor: proctor.unwrap_or(self.proctor), pitch: pitch.max(1), ..self }
    }

    /// Speak more slowly from now on: a quarter slower each time, to half the usual speed.
    pub fn slower(&mut self) {
        self.pace = (self.pace * 5 / 4).min(200);
    }

    /// The sound of `text`, made now where it isn't kept. Nothing of it is kept.
    pub fn speech(&mut self, text: &str) -> Result<Speech, VoiceError> {
        match self.kept(&self.name(text)) {
            Some(speech) => Ok(speech),
            None => self.made(text),
        }
    }

    /// The sound of an announcement that says nothing of how a run goes, made now and kept where it isn't kept yet.
    pub fn fixed(&mut self, text: &str) -> Result<Speech, VoiceError> {
        let name = self.name(text);
        if let Some(speech) = self.kept(&name) {
            return Ok(speech);
        }
        let speech = self.made(text)?;
        if self.keep(&name, &speech).is_err() {
            // A folder that can't be written, or is somebody else's, costs time, not the run.
            self.held.insert(name, speech.clone());
        }
        Ok(speech)
    }

    fn name(&self, text: &str) -> String {
        let mut sum = Sha256::new().chain_update(RECIPE).chain_update([0]).chain_update(text);
        if self.pace != 100 {
            sum.update([0]);
            sum.update(self.pace.to_le_bytes());
        }
        if (self.proctor, self.pitch) != (Proctor::default(), 100) {
            sum.update(format!("{:?} {}", self.proctor, self.pitch));
        }
        format!("{:x}.wav", sum.finalize())
    }

    fn kept(&self, name: &str) -> Option<Speech> {
        if let Some(speech) = self.held.get(name) {
            return Some(speech.clone());
        }
        let path = self.folder.join(name);
        // What others can write may say anything.
        path.exists().then(|| platform::own_folder(&self.folder).ok())??;
        let (samples, rate) = read_wav(&path).ok()?;
        // When it was used last.
        let _ = platform::open(&path).and_then(|file| file.set_modified(SystemTime::now()));
        Some(Speech { samples, rate })
    }

    fn made(&self, text: &str) -> Result<Speech, VoiceError> {
        // Sound played faster is higher, so it is made as much longer first.
        let mut speech = self.proctor.flite().speak(text, self.pace * self.pitch / 100)?;
        speech.rate = speech.rate * self.pitch / 100;
        Ok(speech)
    }

    fn keep(&self, name: &str, speech: &Speech) -> std::io::Result<()> {
        platform::own_folder(&self.folder)?;
        self.forget_old();
        write_wav(&self.folder.join(name), &speech.samples, speech.rate).map_err(std::io::Error::other)?;
        self.bound(MOST)
    }

    /// Delete what was used longest ago, until no more than `most` bytes are kept.
    fn bound(&self, most: u64) -> std::io::Result<()> {
        let mut files = vec![];
        for entry in std::fs::read_dir(&self.folder)?.flatten() {
            let about = entry.metadata()?;
            if about.is_file() {
                files.push((about.modified()?, about.len(), entry.path()));
            }
        }
        files.sort();
        let mut sum: u64 = files.iter().map(|f| f.1).sum();
        for (_, length, path) in files {
            if sum <= most {
                break;
            }
            std::fs::remove_file(path)?;
            sum -= length;
        }
        Ok(())
    }

    /// Programs before this one kept all they ever said one folder higher, people's recaps too, for everybody to read.
    fn forget_old(&self) {
        let hex = |name: &str| name.len() > 64 && name.bytes().take(64).all(|b| b.is_ascii_hexdigit());
        let above = self.folder.parent().and_then(|above| std::fs::read_dir(above).ok());
        for entry in above.into_iter().flatten().flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            if hex(&name) && (name.ends_with(".wav") || name.ends_with(".tmp")) {
                // What can't be deleted is another person's, who will.
                let _ = std::fs::remove_file(entry.path());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_voice_or_pitch_is_another_sound() {
        let names = [(Proctor::Low, 100), (Proctor::High, 100), (Proctor::Low, 90)]
            .map(|(p, pitch)| Cache::new(Path::new(".")).spoken_by(Some(p), pitch).name("Twelve minutes left."));
        assert!((1..3).all(|k| (0..k).all(|other| names[k] != names[other])), "{names:?}");
    }

    #[test]
    fn what_was_used_longest_ago_goes_first() {
        let folder = tempfile::tempdir().unwrap();
        let cache = Cache::new(folder.path());
        std::fs::create_dir(&cache.folder).unwrap();
        for (k, name) in ["old", "older", "new"].into_iter().enumerate() {
            std::fs::write(cache.folder.join(name), [0; 100]).unwrap();
            let file = std::fs::File::options().write(true).open(cache.folder.join(name)).unwrap();
            let age = std::time::Duration::from_secs([20, 30, 10][k]);
            file.set_modified(SystemTime::now() - age).unwrap();
        }
        let left = || {
            let mut names: Vec<_> = std::fs::read_dir(&cache.folder)
                .unwrap()
                .map(|e| e.unwrap().file_name().into_string().unwrap())
                .collect();
            names.sort();
            names
        };
        cache.bound(300).unwrap();
        assert_eq!(left(), ["new", "old", "older"]);
        cache.bound(299).unwrap();
        assert_eq!(left(), ["new", "old"]);
        cache.bound(100).unwrap();
        assert_eq!(left(), ["new"]);
    }
}
