//! The proctor's voice: on the loudspeaker, on a track, or only shown.

use crate::audio::Speaker;
use crate::driver::{Mouth, UNWRITTEN};
use crate::session::Sign;
use crate::terminal::{self, Progress};
use crate::time::{Ms, RATE, SampleIndex};
use crate::voice::{Cache, Speech, Worker, chime};

/// A voice whose sound is laid on a track, place for place.
pub struct Rendered {
    voice: Option<Worker>,
    speaker: Option<Speaker>,
    /// Samples a second of the track.
    pub(super) rate: u32,
    /// The track: what was heard, where it is wanted.
    pub(super) heard: Vec<f32>,
    /// Whether there is a track.
    tracked: bool,
    /// Where on the track the run that is going on began.
    begun: usize,
    /// Shown while the second listen goes on.
    busy: Option<Progress>,
}

impl Rendered {
    /// A mouth; without a voice the length of words is all there is of them.
    pub(super) fn new(cache: Option<Cache>, speaker: Option<Speaker>, tracked: bool) -> Rendered {
        let voice = cache.map(Worker::start);
        Rendered { voice, speaker, rate: 22_050, heard: vec![], tracked, begun: 0, busy: None }
    }

    fn place(&self, at: SampleIndex) -> usize {
        self.begun + (at.0 * u64::from(self.rate) / RATE) as usize
    }

    /// Another run begins behind what was spoken so far.
    pub fn begin(&mut self) {
        self.begun = self.heard.len();
    }

    /// The same for what begins at this place of its axis.
    pub fn begin_at(&mut self, at: SampleIndex) {
        self.begun = self.heard.len().saturating_sub((at.0 * u64::from(self.rate) / RATE) as usize);
    }

    fn voiceless(&mut self, error: &dyn std::fmt::Display) {
        terminal::warn(format_args!("no voice: {error}"), &format!("{}; the run goes on without it", super::mend()));
        self.voice = None;
    }

    /// Make fixed announcements while other things go on, so that hardly one waits for synthesis.
    pub fn prepare(&mut self, announcements: Vec<String>) {
        if let Some(voice) = &self.voice {
            voice.prepare(announcements.into_iter().chain([UNWRITTEN.to_string()]).collect());
        }
    }
}

impl Mouth for Rendered {
    fn speech(&mut self, text: &str) -> Speech {
        terminal::tell(&format!("  \u{201c}{text}\u{201d}"));
        let made = self.voice.as_ref().map(|voice| voice.speech(text));
        match made {
            Some(Ok(speech)) => speech,
            Some(Err(error)) => {
                self.voiceless(&error);
                Speech::silent(text)
            }
            None => Speech::silent(text),
        }
    }

    fn play(&mut self, at: SampleIndex, speech: &Speech) {
        if self.voice.is_some() && self.tracked {
            self.rate = speech.rate;
            let from = self.place(at);
            self.heard.resize(from.max(self.heard.len()), 0.0);
            self.heard.truncate(from);
            self.heard.extend_from_slice(&speech.samples);
        }
        if let Some(speaker) = &mut self.speaker {
            speaker.play(&speech.samples, speech.rate);
        }
    }

    fn hush(&mut self, at: SampleIndex) {
        let place = self.place(at);
        self.heard.truncate(place);
        if let Some(speaker) = &mut self.speaker {
            speaker.hush();
        }
    }

    fn sign(&mut self, at: SampleIndex, sign: Sign) {
        // Rising for what was understood, falling for what is in doubt; E, A and back.
        let notes = if sign == Sign::Heard { [1318.5, 1760.0] } else { [880.0, 659.3] };
        let chime = chime(notes, self.rate);
        self.play(at, &chime);
    }

    fn held(&mut self, length: Ms) {
        self.finish();
        // What comes next lies behind it on the track, whatever its place on the axis.
        self.begun += (length.samples() * u64::from(self.rate) / RATE) as usize;
    }

    fn listens_again(&mut self, on: bool) {
        self.busy = on.then(|| Progress::going_on("listening again"));
    }

    fn slower(&mut self) {
        if let Some(voice) = &self.voice {
            voice.slower();
        }
    }

    fn finish(&mut self) {
        if let Some(speaker) = &self.speaker {
            speaker.finish();
        }
    }
}
