//! A room to talk in before a run: what is said, and the sound behind it, on one axis.

use super::mouth::Rendered;
use crate::audio::{CHUNK, Piece, Source};
use crate::driver::Mouth;
use crate::time::SampleIndex;

/// Sound and voice on one axis.
pub(super) struct Room {
    source: Box<dyn Source>,
    pub(super) mouth: Rendered,
    at: SampleIndex,
    /// Whether a recording in the microphone's place is over.
    pub(super) ended: bool,
}

impl Room {
    pub(super) fn new(source: Box<dyn Source>, mouth: Rendered, at: SampleIndex) -> Room {
        Room { source, mouth, at, ended: false }
    }

    /// Say something, and let what the microphone gives meanwhile go by; a recording stands still for that.
    pub(super) fn say(&mut self, text: &str, recording: bool) {
        let speech = self.mouth.speech(text);
        self.mouth.play(self.at, &speech);
        if !recording {
            // And a moment for the room.
            let chunks = speech.length().0 / 100 + 4;
            (0..chunks).for_each(|_| drop(self.next()));
        }
    }

    /// The next 100 ms.
    pub(super) fn next(&mut self) -> Vec<f32> {
        self.at = SampleIndex(self.at.0 + CHUNK as u64);
        loop {
            match self.source.next() {
                Some(Piece::Sound(sound)) => return sound,
                Some(_) => {}
                None => {
                    self.ended = true;
                    return vec![0.0; CHUNK];
                }
            }
        }
    }
}
