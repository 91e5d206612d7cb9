//! The voices of flite 2.2, spoken by its program: one call a text. Bundles hold that program; otherwise it is the system's.

use super::{Speech, level};
use crate::audio::read_wav;
use crate::platform;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// Why something can't be spoken.
#[derive(Debug, thiserror::Error)]
pub enum VoiceError {
    /// The program is missing or can't be started.
    #[error("flite, which speaks, can't be used: {0}; Debian has it as the package flite")]
    Unusable(String),
    /// A text could not be turned to sound.
    #[error("\"{text}\" could not be spoken: {reason}")]
    Unspeakable {
        /// The words.
        text: String,
        /// What went wrong.
        reason: String,
    },
}

/// A voice of flite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flite {
    /// Its name there.
    pub voice: &'static str,
    /// How much longer than its own pace it is to speak, so that it comes to about 155 words a minute, as the other voice does.
    pub stretch: f32,
}

impl Flite {
    /// The program's arguments for a text that lasts so many percent of the usual, into this file.
    fn arguments(&self, text: &str, pace: u32, to: &str) -> Vec<String> {
        let stretch = format!("duration_stretch={:.3}", self.stretch * pace as f32 / 100.0);
        ["-voice", self.voice, "--setf", &stretch, "-t", text, "-o", to].map(str::to_string).to_vec()
    }

    /// `text` as sound at one loudness; `pace` in percent of the usual length.
    pub fn speak(&self, text: &str, pace: u32) -> Result<Speech, VoiceError> {
        let unusable = |e: std::io::Error| VoiceError::Unusable(e.to_string());
        let folder = tempfile::tempdir().map_err(unusable)?;
        // Spoken there, under a plain name: flite knows no names of folders beyond the system's old code pages.
        let to = "said.wav";
        let mut flite = Command::new(packed().unwrap_or_else(|| "flite".into()));
        flite.current_dir(folder.path()).args(self.arguments(text, pace, to));
        flite.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        let status = flite.status().map_err(unusable)?;
        let unspeakable = |reason: String| VoiceError::Unspeakable { text: text.into(), reason };
        if !status.success() {
            return Err(unspeakable(format!("flite ended with {status}")));
        }
        let (samples, rate) = read_wav(&folder.path().join(to)).map_err(|e| unspeakable(e.to_string()))?;
        let mut speech = Speech { samples, rate };
        level(&mut speech).map_err(|e| unspeakable(e.to_string()))?;
        Ok(speech)
    }
}

/// The program, where it lies beside this one.
fn packed() -> Option<PathBuf> {
    let beside = platform::program_folder()?.join(format!("flite{}", std::env::consts::EXE_SUFFIX));
    beside.is_file().then_some(beside)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_one_argument_and_half_the_speed_twice_as_long() {
        let low = Flite { voice: "rms", stretch: 1.12 };
        let arguments = low.arguments("-o; \"quoted\" $HOME", 200, "x.wav");
        assert_eq!(arguments[3..6], ["duration_stretch=2.240", "-t", "-o; \"quoted\" $HOME"]);
    }
}
