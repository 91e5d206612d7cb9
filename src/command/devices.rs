//! What a run takes place on: the microphone or a recording in its place, the recogniser, and the voice.

use super::Failure;
use super::mouth::Rendered;
use super::output::{self, Content};
use super::settings::{PITCHES, SPEEDS, Settings, Voice};
use crate::audio::{DeviceError, Microphone, Recording, Source, Speaker, write_wav};
use crate::callout::Vocabulary;
use crate::listen::{DECOYS, Ears, Gate, Model, Profile};
use crate::platform::Replacement;
use crate::section::Section;
use crate::session::Session;
use crate::terminal::{self, outln};
use crate::time::{Ms, RATE, SampleIndex};
use crate::voice::{Cache, Proctor};
use std::path::{Path, PathBuf};

/// What a run is made with.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct Devices {
    /// A WAV file that stands in for the microphone
    #[arg(long, value_name = "WAV")]
    pub mic: Option<PathBuf>,
    /// Take the WAV file in at the speed it was recorded, and speak aloud
    #[arg(long, requires = "mic")]
    pub real_speed: bool,
    /// A microphone, loudspeaker or headset, by a part of its name as `devices` lists it; may be given twice
    #[arg(long, value_name = "NAME")]
    pub device: Vec<String>,
    /// Whether the proctor speaks aloud, as it does where nothing else is set; without a voice its words are only shown
    #[arg(long, value_enum)]
    pub voice: Option<Voice>,
    /// How fast the voice speaks, in percent of the usual
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u32).range(SPEEDS))]
    pub speed: Option<u32>,
    /// Whose voice it is
    #[arg(long, value_enum)]
    pub proctor: Option<Proctor>,
    /// How high the voice is, in percent of the usual
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u32).range(PITCHES))]
    pub pitch: Option<u32>,
    /// Write what is spoken to this WAV file
    #[arg(long, value_name = "WAV")]
    pub render: Option<PathBuf>,
    /// A Vosk model folder to listen with
    #[arg(long, value_name = "DIR")]
    pub model: Option<PathBuf>,
}

impl Devices {
    /// With what the settings say where no flag does.
    pub fn settle(&mut self, settings: &Settings) {
        if self.device.is_empty() {
            self.device.clone_from(&settings.device);
        }
        self.voice = self.voice.or(settings.voice);
        self.speed = self.speed.or(settings.speed);
        self.proctor = self.proctor.or(settings.proctor);
        self.pitch = self.pitch.or(settings.pitch);
    }

    /// Load the model to listen with.
    pub fn model(&self) -> Result<Model, Failure> {
        let folder = self.model.clone().unwrap_or_else(|| super::models().join("english"));
        let failure = |e: &dyn std::fmt::Display| {
            Failure::device(e, format!("{}; or name a whole folder with --model", super::mend()))
        };
        let id = super::probe::tried(&folder).map_err(|e| failure(&e))?;
        let model = Model::load_identified(&folder, id).map_err(|e| failure(&e))?;
        if self.model.is_none() && model.verifier().is_none() {
            let what = "older than this program, or not whole: it has no wide ear that can be used";
            let next = format!("{}; or name another model with --model", super::mend());
            return Err(Failure::device(format!("the English model in {} is {what}", folder.display()), next));
        }
        Ok(model)
    }

    /// The voice, its fixed announcements being made; and the loudspeaker, where it is to be heard.
    pub fn mouth(&self, section: &Section, compress: u32) -> Result<Rendered, Failure> {
        self.voiced(Session::announcements(section, compress))
    }

    /// The same for these announcements.
    pub fn voiced(&self, announcements: Vec<String>) -> Result<Rendered, Failure> {
        self.writable()?;
        let speed = self.speed.unwrap_or(100);
        let (proctor, pitch) = (self.proctor, self.pitch.unwrap_or(100));
        let voice = || Cache::new(&super::cache()).at_speed(speed).spoken_by(proctor, pitch);
        let cache = self.speaks().then(voice);
        let aloud = cache.is_some() && !self.at_once();
        let speaker = if aloud { Some(Speaker::open(&self.device).map_err(no_device)?) } else { None };
        let mut mouth = Rendered::new(cache, speaker, self.render.is_some());
        mouth.prepare(announcements);
        Ok(mouth)
    }

    /// Whether the proctor speaks aloud.
    pub fn speaks(&self) -> bool {
        self.voice.unwrap_or_default() == Voice::On
    }

    /// Whether a recording is taken in as fast as it can be.
    pub fn at_once(&self) -> bool {
        self.mic.is_some() && !self.real_speed
    }

    /// The microphone, or the recording in its place gone on with at `at`; and of a recording the sound in front of that.
    pub fn source(&self, since: SampleIndex, at: SampleIndex) -> Result<(Box<dyn Source>, Chunks), Failure> {
        Ok(match &self.mic {
            Some(wav) => {
                let mut recording = recording(wav, self.real_speed)?;
                let before = recording.seek(since, at);
                (Box::new(recording), before)
            }
            None => (Box::new(Microphone::open(&self.device).map_err(no_device)?), vec![]),
        })
    }

    /// Write what was spoken, where that was asked for; gives where.
    pub fn rendered(&self, mouth: &Rendered) -> Result<Option<&Path>, Failure> {
        let Some(out) = &self.render else { return Ok(None) };
        write_wav(out, &mouth.heard, mouth.rate).map_err(|e| Failure::storage(e, WRITABLE))?;
        Ok(Some(out))
    }

    /// The same, and show where.
    pub fn show_rendered(&self, mouth: &Rendered) -> Result<(), Failure> {
        if let Some(out) = self.rendered(mouth)? {
            outln!("spoken: {}", out.display());
        }
        Ok(())
    }

    /// Say now what could not be written at the end, or would take something else away: before the run, not after it.
    fn writable(&self) -> Result<(), Failure> {
        let Some(out) = &self.render else { return Ok(()) };
        if let Some(mic) = &self.mic {
            output::apart(out, mic, "the recording that --mic names", "--render")?;
        }
        output::free(out, Content::Sound, "--render")?;
        Replacement::begin(out).map(drop).map_err(|e| unwritable(out, &e))
    }
}

const WRITABLE: &str = "name a file that can be written with --render";

fn unwritable(out: &Path, why: &dyn std::fmt::Display) -> Failure {
    Failure::storage(format!("{}: {why}", out.display()), WRITABLE)
}

fn no_device(error: DeviceError) -> Failure {
    let next = match error {
        DeviceError::Unknown(_) => "`stepbell devices` lists those that are there; --device default takes the system's",
        DeviceError::Unclear { .. } => "give more of its name with --device",
        _ => {
            "plug one in, or let programs use it in the system's privacy settings; or give a recording with --mic (and --voice off \
             to speak nothing)"
        }
    };
    Failure::device(error, next)
}

/// Sound in whole chunks.
pub type Chunks = Vec<Vec<f32>>;

/// The model, able to hear every word of a section and no others, as a person's profile has them.
pub fn model_for(model: Model, section: &Section, profile: &Profile) -> Model {
    let vocabulary = Vocabulary::of(section);
    let mut wanted = model.wanted(&vocabulary);
    // Only callouts are spelt where they are not known.
    let more = [Vocabulary::questions(section), Vocabulary::spans(Ms(u64::MAX)), Vocabulary::answers()];
    wanted.extend(more.iter().flat_map(Vocabulary::words).filter(|w| model.knows(w)));
    wanted.sort_unstable();
    wanted.dedup();
    let sounds = section.sounds.iter().cloned().chain(profile.sounds(&wanted)).collect::<Vec<_>>();
    model.with_pronunciations(&wanted, &sounds).with_thresholds(profile.thresholds())
}

/// Ears for a section, from a place on.
pub fn ears(model: &Model, section: &Section, from: SampleIndex, gate: Gate) -> Result<Ears, Failure> {
    Ears::open(model, Vocabulary::of(section), &DECOYS, from, gate)
        .map_err(|e| Failure::device(e, "free some space for a temporary folder, or choose other callouts"))
}

/// A recording in the microphone's place, with a word about one that holds too little.
fn recording(wav: &Path, real_speed: bool) -> Result<Recording, Failure> {
    let failure = |e: &dyn std::fmt::Display| Failure::authored(e, "give a WAV file with sound in it");
    let recording = Recording::open(wav, real_speed).map_err(|e| failure(&e))?;
    let rate = recording.rate();
    if u64::from(rate) < RATE {
        let what = "speech loses what tells words apart; few callouts will be heard";
        terminal::warn(format_args!("{}: at {rate} Hz {what}", wav.display()), "record at 16000 Hz or more");
    }
    Ok(recording)
}
