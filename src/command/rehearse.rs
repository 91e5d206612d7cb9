//! `rehearse FILE`: one run of a section, with the microphone or a recording in its place.

use super::Failure;
use crate::audio::{Microphone, Recording, Source, Speaker, read_wav, write_wav};
use crate::callout::Vocabulary;
use crate::driver::{Driver, Mouth};
use crate::journal::{Header, VERSION, Writer};
use crate::listen::{Ears, Model};
use crate::recap;
use crate::section::Section;
use crate::session::{Mode, Session};
use crate::time::{RATE, SampleIndex};
use crate::voice::{Cache, Speech};
use std::path::{Path, PathBuf};

/// Frequent words that soak up ordinary talk beside the callouts.
const DECOYS: [&str; 24] = [
    "the", "to", "of", "and", "a", "in", "it", "was", "you", "is", "that", "he", "for", "be", "not", "with", "this",
    "his", "but", "at", "had", "as", "she", "have",
];

/// Whether the proctor is heard.
#[derive(clap::ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum Voice {
    /// It speaks.
    On,
    /// Its words are only shown.
    Off,
}

/// How a run is to be made.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// The section file
    pub file: PathBuf,
    /// A WAV file that stands in for the microphone
    #[arg(long, value_name = "WAV")]
    pub mic: Option<PathBuf>,
    /// Take the WAV file in at the speed it was recorded, and speak aloud
    #[arg(long, requires = "mic")]
    pub real_speed: bool,
    /// Divide the limit, the warning and the plan by this, for a fast walk-through of the order
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=60))]
    pub compress: u32,
    /// What the proctor draws with, a finger for example; the time of day where it is not given
    #[arg(long)]
    pub seed: Option<u64>,
    /// One warning and no help, as in an exam room
    #[arg(long)]
    pub exam: bool,
    /// The voice can't reach the microphone: listen while it speaks
    #[arg(long)]
    pub headset: bool,
    /// Whether the proctor speaks aloud; without a voice its words are only shown
    #[arg(long, value_enum, default_value_t = Voice::On)]
    pub voice: Voice,
    /// Write what is spoken to this WAV file
    #[arg(long, value_name = "WAV")]
    pub render: Option<PathBuf>,
    /// Folder for the run's journal
    #[arg(long, default_value = "runs")]
    pub runs: PathBuf,
    /// A Vosk model folder to listen with
    #[arg(long, value_name = "DIR")]
    pub model: Option<PathBuf>,
}

/// Rehearse.
pub fn run(options: &Options) -> Result<(), Failure> {
    let now = jiff::ZonedDateTime::now();
    let seed = options.seed.unwrap_or_else(|| now.timestamp().as_millisecond().unsigned_abs());
    let (section, text) = super::section(&options.file, seed)?;
    let section = section.compressed(options.compress);
    let models = super::models();
    let folder = options.model.clone().unwrap_or_else(|| models.join("english"));
    let model = Model::load(&folder)
        .map_err(|e| Failure::new(3, e, "run `bash models/setup.sh`, or name a whole folder with --model"))?;
    let vocabulary = Vocabulary::of(&section);
    super::check::unheard(&options.file, &text, &model);
    let refused = |e| Failure::new(3, e, "choose other callouts");
    let ears = Ears::open(&model, vocabulary, &DECOYS).map_err(refused)?;
    let mut cache = (options.voice == Voice::On).then(|| Cache::new(&models.join("cache"), &models.join("voice")));
    prepare(&section, &mut cache);
    let aloud = options.mic.is_none() || options.real_speed;
    let device =
        |e| Failure::new(3, e, "plug one in, or give a recording with --mic (and --voice off to speak nothing)");
    let speaker = if aloud && cache.is_some() { Some(Speaker::open().map_err(device)?) } else { None };
    let source: Box<dyn Source> = match &options.mic {
        Some(wav) => Box::new(recording(wav, options.real_speed)?),
        None => Box::new(Microphone::open().map_err(device)?),
    };
    let mode = if options.exam { Mode::Exam } else { Mode::Coach };
    let header = Header {
        stepbell: VERSION,
        started: now.timestamp().to_string(),
        section: text,
        compress: options.compress,
        mode,
        seed,
    };
    let storage = |e: &dyn std::fmt::Display| Failure::new(4, e, "choose a folder that can be written with --runs");
    std::fs::create_dir_all(&options.runs).map_err(|e| storage(&format!("{}: {e}", options.runs.display())))?;
    let path = options.runs.join(format!("{}-{}.journal", now.strftime("%Y-%m-%dT%H-%M-%S%.3f"), section.id));
    let mut journal = Writer::create(&path, &header).map_err(|e| storage(&e))?;
    println!("{} ({})", section.title, section.board);
    if options.compress > 1 {
        println!(
            "Compressed {} times: a minute of the section lasts {:.1} seconds.",
            options.compress,
            60.0 / f64::from(options.compress)
        );
    }
    for caution in &section.cautions {
        println!("Caution: {caution}");
    }
    let mut mouth = Rendered { cache, speaker, rate: 22_050, heard: vec![] };
    let mut show = |line: &str| println!("{line}");
    let driver = Driver {
        session: Session::new(section, mode),
        journal: &mut journal,
        mouth: &mut mouth,
        show: &mut show,
        headset: options.headset,
    };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|e| Failure::new(3, e, "free some file handles and try again"))?;
    let session = runtime.block_on(async {
        // Without a handler for the key there is no gentle end, but the journal holds the run all the same.
        let interrupt = std::pin::pin!(async {
            if tokio::signal::ctrl_c().await.is_err() {
                std::future::pending::<()>().await;
            }
        });
        driver.run(ears, source, interrupt).await
    });
    let session = session.map_err(|e| Failure::new(4, e, "free some space; what was announced is in the journal"))?;
    print!("\n{}", recap::text(session.section(), session.outcome()));
    println!("\njournal: {}", path.display());
    if let Some(out) = &options.render {
        write_wav(out, &mouth.heard, mouth.rate)
            .map_err(|e| Failure::new(4, e, "name a file that can be written with --render"))?;
        println!("spoken: {}", out.display());
    }
    Ok(())
}

/// Make every fixed announcement before the run, so that none waits for synthesis.
fn prepare(section: &Section, cache: &mut Option<Cache>) {
    for text in Session::announcements(section) {
        let Some(Err(error)) = cache.as_mut().map(|cache| cache.speech(&text)) else { continue };
        eprintln!("stepbell: no voice: {error}\n  next: run `bash models/setup.sh`; the run goes on without it");
        *cache = None;
    }
}

/// A recording in the microphone's place, with a word about one that holds too little.
fn recording(wav: &Path, real_speed: bool) -> Result<Recording, Failure> {
    let failure = |e: &dyn std::fmt::Display| Failure::new(1, e, "give a WAV file with sound in it");
    let (samples, rate) = read_wav(wav).map_err(|e| failure(&e))?;
    if u64::from(rate) < RATE {
        eprintln!(
            "stepbell: {}: at {rate} Hz speech loses what tells words apart; few callouts will be heard",
            wav.display()
        );
        eprintln!("  next: record at 16000 Hz or more");
    }
    Recording::new(&samples, rate, real_speed).map_err(|e| failure(&e))
}

/// A voice whose sound is laid on a track, place for place.
struct Rendered {
    cache: Option<Cache>,
    speaker: Option<Speaker>,
    rate: u32,
    heard: Vec<f32>,
}

impl Rendered {
    fn place(&self, at: SampleIndex) -> usize {
        (at.0 * u64::from(self.rate) / RATE) as usize
    }
}

impl Mouth for Rendered {
    fn speech(&mut self, text: &str) -> Speech {
        println!("  \u{201c}{text}\u{201d}");
        let made = self.cache.as_mut().map(|cache| cache.speech(text));
        match made {
            Some(Ok(speech)) => speech,
            Some(Err(error)) => {
                eprintln!(
                    "stepbell: no voice: {error}\n  next: run `bash models/setup.sh`; the run goes on without it"
                );
                self.cache = None;
                Speech::silent(text)
            }
            None => Speech::silent(text),
        }
    }

    fn play(&mut self, at: SampleIndex, speech: &Speech) {
        if self.cache.is_some() {
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

    fn finish(&mut self) {
        if let Some(speaker) = &self.speaker {
            speaker.finish();
        }
    }
}
