//! The voices of flite 2.2, spoken by its program: one call a text. Bundles hold that program; otherwise it is the system's.

use super::{Speech, level};
use crate::audio::read_wav;
use crate::platform;
use std::io::Write;
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

/// How words of the trades are said that flite would say otherwise, in a file of its own format, and under which name it gets that.
const WORDS: (&str, &str) = ("words.txt", include_str!("words.txt"));

/// A voice of flite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flite {
    /// Its name there.
    pub voice: &'static str,
    /// How much longer than its own pace it is to speak, so that readings come to 155 to 160 words a minute, as the other voice's do.
    pub stretch: f32,
}

impl Flite {
    /// The program's arguments for what lasts so many percent of the usual, into this file. It reads the text from its input, and says sentence after
    /// sentence, each alike wherever it stands; one of its arguments would be all one breath to it, and seen by everybody.
    fn arguments(&self, pace: u32, to: &str) -> Vec<String> {
        let stretch = format!("duration_stretch={:.3}", self.stretch * pace as f32 / 100.0);
        ["-add_lex", WORDS.0, "-voice", self.voice, "--setf", &stretch, "-f", "-", "-o", to]
            .map(str::to_string)
            .to_vec()
    }

    /// `text` as sound at one loudness; `pace` in percent of the usual length.
    pub fn speak(&self, text: &str, pace: u32) -> Result<Speech, VoiceError> {
        let unusable = |e: std::io::Error| VoiceError::Unusable(e.to_string());
        let unspeakable = |reason: String| VoiceError::Unspeakable { text: text.into(), reason };
        let folder = tempfile::tempdir().map_err(|e| unspeakable(e.to_string()))?;
        std::fs::write(folder.path().join(WORDS.0), WORDS.1).map_err(|e| unspeakable(e.to_string()))?;
        // Spoken there, under a plain name: flite knows no names of folders beyond the system's old code pages.
        let to = "said.wav";
        let mut flite = Command::new(packed().unwrap_or_else(|| "flite".into()));
        flite.current_dir(folder.path()).args(self.arguments(pace, to));
        flite.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null());
        let mut flite = flite.spawn().map_err(unusable)?;
        // Where it has ended before it read all, its status says so.
        let _ = flite.stdin.take().map(|mut input| input.write_all(text.as_bytes()));
        let status = flite.wait().map_err(unusable)?;
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
    fn half_the_speed_lasts_twice_as_long() {
        let arguments = Flite { voice: "rms", stretch: 1.12 }.arguments(200, "x.wav");
        assert!(arguments.contains(&"duration_stretch=2.240".to_string()), "{arguments:?}");
    }

    /// A sentence is as long alone as behind another one, and what looks like an option is only said.
    #[test]
    fn sentences_are_said_alike_wherever_they_stand() {
        let low = Flite { voice: "rms", stretch: 1.0 };
        let seconds = |text: &str| low.speak(text, 100).unwrap().length().seconds();
        let (first, second) = ("-o \"$HOME\"; and so on.", "Drape and protect your client.");
        let both = seconds(&format!("{first} {second}"));
        assert!((both - seconds(first) - seconds(second)).abs() < 0.02, "{both}");
    }
}
