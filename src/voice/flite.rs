//! The small voices of flite 2.2, spoken by its program, which is not part of this one: one call a text.

use super::{Speech, VoiceError, level};
use crate::audio::read_wav;
use std::path::PathBuf;
use std::process::{Command, Stdio};

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
        let unusable = |reason: String| VoiceError::Unusable { path: PathBuf::from("flite"), reason };
        let folder = tempfile::tempdir().map_err(|e| unusable(e.to_string()))?;
        let wav = folder.path().join("said.wav");
        let to = wav.to_str().ok_or_else(|| unusable("the temporary folder has no plain name".into()))?;
        let mut flite = Command::new("flite");
        flite.args(self.arguments(text, pace, to)).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        let status = flite.status().map_err(|e| unusable(format!("{e}; Debian has it as the package flite")))?;
        let unspeakable = |reason: String| VoiceError::Unspeakable { text: text.into(), reason };
        if !status.success() {
            return Err(unspeakable(format!("flite ended with {status}")));
        }
        let (samples, rate) = read_wav(&wav).map_err(|e| unspeakable(e.to_string()))?;
        let mut speech = Speech { samples, rate };
        level(&mut speech).map_err(|e| unspeakable(e.to_string()))?;
        Ok(speech)
    }
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
