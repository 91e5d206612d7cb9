//! `rehearse FILE`: one run of a section, with the microphone or a recording in its place.

use super::devices::{self, Devices};
use super::mouth::Rendered;
use super::settings::{Signs, Told};
use super::{Failure, Runs, runtime};
use crate::audio::Kept;
use crate::driver::Driver;
use crate::journal::{Header, Writer};
use crate::listen::{EarThread, Gate};
use crate::outcome::{Fade, Mode, Outcome};
use crate::recap;
use crate::section::Section;
use crate::session::{Session, Settings, Tell};
use crate::terminal::{self, out, outln};
use crate::time::SampleIndex;
use std::path::{Path, PathBuf};

/// How a run is to be made.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct Options {
    /// The section file
    pub file: PathBuf,
    /// What it is made with.
    #[command(flatten)]
    pub devices: Devices,
    /// Divide the limit, the warning and the plan by this, for a fast walk-through of the order
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=60))]
    pub compress: u32,
    /// What the proctor draws with, a finger for example; the time of day where it is not given
    #[arg(long)]
    pub seed: Option<u64>,
    /// Drill only these steps: a step's name, a loop's or a phase's; may be given more than once
    #[arg(long, value_name = "NAME")]
    pub drill: Vec<String>,
    /// Drill what your runs so far show you are weakest in
    #[arg(long, conflicts_with = "drill")]
    pub weak: bool,
    /// Let the proctor say, at some moment, that an item has dropped
    #[arg(long)]
    pub drops: bool,
    /// What is called out: the real exam is silent, so callouts fade
    #[arg(long, value_enum, default_value_t = Calling::All)]
    pub fade: Calling,
    /// One warning and no help, as in an exam room
    #[arg(long)]
    pub exam: bool,
    /// Warnings and help, as usual: where the settings say exam
    #[arg(long, conflicts_with = "exam")]
    pub coach: bool,
    /// Ask how long it took, before the recap says so: the exam room has no clock. In real time only
    #[arg(long, conflicts_with = "compress")]
    pub guess: bool,
    /// What the coach tells of itself, and whether it gives signs.
    #[command(flatten)]
    pub coaching: Coaching,
    /// Leave the reading out: in practice only
    #[arg(long, conflicts_with = "exam")]
    pub skip_reading: bool,
    /// End after the recap, without listening for questions
    #[arg(long)]
    pub no_questions: bool,
    /// Whether the voice can't reach the microphone
    #[command(flatten)]
    pub worn: Worn,
    /// Keep the recording of the run beside its journal
    #[arg(long)]
    pub keep_audio: bool,
    /// Where they lie.
    #[command(flatten)]
    pub runs: Runs,
    /// Whether the recap is left to a mock exam.
    #[arg(skip)]
    pub unreported: bool,
    /// Where in the recording that stands in for the microphone the run begins.
    #[arg(skip)]
    pub from: SampleIndex,
}

/// What the coach tells of itself, and whether it gives signs. In exam mode it does neither.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct Coaching {
    /// What the coach tells unasked: the next step after a long pause, the name of each phase, where the plan is at the warning; "next" alone where
    /// nothing else is set. Whoever asks "what comes next" is told in any case
    #[arg(long, value_enum, value_delimiter = ',', value_name = "WHAT")]
    pub tells: Vec<Told>,
    /// Whether, in practice, a soft tone answers each callout that was understood, and a lower one where that is not for sure
    #[arg(long, value_enum)]
    pub sign: Option<Signs>,
}

impl Coaching {
    /// With what the settings say where no flag does.
    pub fn settle(&mut self, settings: &super::settings::Settings) {
        if self.tells.is_empty() {
            self.tells.clone_from(&settings.tells);
        }
        self.sign = self.sign.or(settings.sign);
    }

    fn tells(&self) -> Vec<Tell> {
        let all = if self.tells.is_empty() { &[Told::Next][..] } else { &self.tells };
        all.iter().filter_map(|told| told.tell()).collect()
    }
}

/// Whether the voice can reach the microphone.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct Worn {
    /// The voice can't reach the microphone: listen while it speaks
    #[arg(long)]
    pub headset: bool,
    /// The voice reaches the microphone: where the settings say headset
    #[arg(long, conflicts_with = "headset")]
    pub no_headset: bool,
}

impl Worn {
    /// With what the settings say where no flag does.
    pub fn settle(&mut self, settings: &super::settings::Settings) {
        self.headset |= settings.headset.unwrap_or(false) && !self.no_headset;
    }
}

impl Options {
    /// With what the settings say where no flag does.
    pub fn settle(&mut self, settings: &super::settings::Settings) {
        self.devices.settle(settings);
        self.worn.settle(settings);
        self.coaching.settle(settings);
        self.exam |= settings.mode == Some(Mode::Exam) && !self.coach;
    }
}

/// What is called out in a run.
#[derive(clap::ValueEnum, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Calling {
    /// Every step
    #[default]
    All,
    /// Hand hygiene and labels only
    Hygiene,
    /// Nothing; afterwards you tell what you went through
    Silent,
    /// What your runs so far allow: less after three good ones in a row, more after a bad one
    Auto,
}

/// A run that was made.
pub struct Ran {
    /// What was rehearsed.
    pub section: Section,
    /// How it went.
    pub outcome: Outcome,
    /// How far its sound was listened to.
    pub at: SampleIndex,
    /// Whether everything was to stop.
    pub stopped: bool,
}

/// Rehearse, and again as often as the person asks for it.
pub fn run(options: &Options) -> Result<(), Failure> {
    if options.exam && options.skip_reading {
        let what = "--skip-reading is for practice only, and the settings say mode = \"exam\"";
        return Err(Failure::usage(what, "add --coach for this run, or leave --skip-reading out"));
    }
    let mut mouth = None;
    while one(options, &mut mouth)?.outcome.again {
        if options.devices.mic.is_some() {
            outln!("To start again, give another recording.");
            break;
        }
        outln!();
    }
    Ok(())
}

/// What is drilled: what was named, or what this person leaves out most.
fn drilled(options: &Options, section: &Section) -> Result<Vec<String>, Failure> {
    if !options.weak {
        return Ok(options.drill.clone());
    }
    let weakest = super::history::weak(&options.runs.folder(), section)?;
    outln!("Drilled is what was left out or ran over most in {}: {}.", weakest.runs, weakest.steps.join(", "));
    Ok(weakest.steps)
}

/// What is to be called: what was asked for, or what this person's runs so far say.
fn faded(options: &Options, section: &Section) -> Result<Fade, Failure> {
    Ok(match options.fade {
        Calling::All => Fade::All,
        Calling::Hygiene => Fade::Hygiene,
        Calling::Silent => Fade::Silent,
        Calling::Auto => {
            let faded = super::history::faded(&options.runs.folder(), section)?;
            outln!("{}", faded.sentence());
            // A section without hand hygiene has no step between everything and nothing.
            let nothing = faded.fade == Fade::Hygiene && section.hygiene_only().is_none();
            if nothing { Fade::Silent } else { faded.fade }
        }
    })
}

/// One run, spoken by `mouth`; where there is none yet it is opened once all else is known to be right.
pub fn one(options: &Options, mouth: &mut Option<Rendered>) -> Result<Ran, Failure> {
    let now = jiff::ZonedDateTime::now();
    let seed = options.seed.unwrap_or_else(|| now.timestamp().as_millisecond().unsigned_abs());
    let (section, text) = super::section(&options.file, seed)?;
    let (drill, fade) = (drilled(options, &section)?, faded(options, &section)?);
    let mode = if options.exam { Mode::Exam } else { Mode::Coach };
    let model = options.devices.model()?;
    let settings = Settings {
        compress: options.compress,
        seed,
        headset: options.worn.headset,
        unspoken: !options.devices.speaks(),
        drill,
        fade,
        drops: options.drops,
        listens_again: model.verifier().is_some(),
        seeks_choices: true,
        answers: !options.no_questions && !options.unreported,
        confirms: !options.no_questions && !options.unreported,
        asks_time: options.guess,
        unreported: options.unreported,
        signs: options.coaching.sign == Some(Signs::On) && mode == Mode::Coach,
        tells: (mode == Mode::Coach).then(|| options.coaching.tells()),
        skips_reading: options.skip_reading,
        ..Settings::from(mode)
    };
    let section = settings.applied(section).ok_or_else(|| {
        let what = if settings.drill.is_empty() { "hand hygiene to call".into() } else { settings.drill.join(", ") };
        Failure::usage(
            format!("{what}: no such step"),
            "name steps, loops or phases as the section file has them; `show` lists them",
        )
    })?;
    let past = (settings.answers || mode == Mode::Coach)
        .then(|| super::history::past(&options.runs.folder(), &section, settings.compress));
    let settings = Settings { past: past.flatten(), ..settings };
    let session = Session::new(section.clone(), settings.clone());
    let header = Header::new(now.timestamp().to_string(), text.clone(), settings);
    let header = Header { model: model.id().to_string(), ..header };
    super::check::unheard(&options.file, &text, &model);
    let profile = super::profile::read(&options.runs.folder(), model.id())?;
    let model = devices::model_for(model, &section, &profile);
    // Before the sound of the run is tried: that may be asked for in this folder, as the demo does.
    super::runs::make(&options.runs.folder())?;
    let start = SampleIndex(0);
    let ears = devices::ears(&model, &section, start, Gate::default())?;
    let doubts = ears.doubts();
    let mouth = match mouth {
        Some(mouth) => mouth,
        none => none.insert(options.devices.voiced(vec![])?),
    };
    mouth.prepare(Session::announcements(&section, options.compress));
    mouth.begin();
    let (mut source, _) = options.devices.source(options.from, options.from)?;
    let storage = |e: &dyn std::fmt::Display| Failure::storage(e, "choose a folder that can be written with --runs");
    let name = format!("{}-{}", now.strftime("%Y-%m-%dT%H-%M-%S%.3f"), plain_name(&section.id));
    let path = options.runs.folder().join(format!("{name}.journal"));
    let mut journal = Writer::create(&path, &header).map_err(|e| storage(&e))?;
    if options.keep_audio {
        let wav = path.with_extension("wav");
        let kept = Kept::new(source, &wav, start).map_err(|e| storage(&format!("{}: {e}", wav.display())))?;
        source = Box::new(kept);
    }
    introduce(&section, options.compress);
    let mut show = crate::terminal::tell;
    let headset = options.worn.headset;
    let session = runtime::carry_out(&path, |interrupt| {
        let driver = Driver { session, journal: &mut journal, mouth, show: &mut show, headset, waits: false };
        driver.run(EarThread::start(ears, source), interrupt)
    });
    let session = match session {
        Ok(session) => session,
        // What was spoken so far is written all the same.
        Err(left) => return options.devices.show_rendered(mouth).and(Err(left)),
    };
    // All files first: what is shown can be lost, and one file that can't be written is no reason to lose the other.
    let page = super::page::of_run(&path, &header, &session);
    let spoken = if options.unreported { Ok(None) } else { options.devices.rendered(mouth) };
    if !options.unreported {
        out!("\n{}", recap::text(session.section(), session.outcome()));
    }
    outln!("\njournal: {}", path.display());
    if options.keep_audio {
        outln!("recording: {}", path.with_extension("wav").display());
    }
    show_written(page, spoken)?;
    let doubts = std::mem::take(&mut *doubts.lock().unwrap_or_else(std::sync::PoisonError::into_inner));
    let usual = |say: &str| model.threshold(say);
    super::profile::confirmed(&options.runs.folder(), model.id(), usual, &doubts, session.outcome())?;
    Ok(Ran { section, outcome: session.outcome().clone(), at: journal.at(), stopped: session.stopped() })
}

/// Show where page and sound were written; fails where one was not.
pub fn show_written(page: Result<PathBuf, Failure>, spoken: Result<Option<&Path>, Failure>) -> Result<(), Failure> {
    if let Ok(page) = &page {
        outln!("page: {}", page.display());
    }
    if let Ok(Some(spoken)) = &spoken {
        outln!("spoken: {}", spoken.display());
    }
    if let (Err(_), Err(failure)) = (&page, &spoken) {
        terminal::report(failure);
    }
    page.and(spoken).map(drop)
}

/// Title, compression and cautions.
pub fn introduce(section: &Section, compress: u32) {
    outln!("{} ({})", section.title, section.board);
    if compress > 1 {
        outln!(
            "Compressed {} times: a minute of the section lasts {:.1} seconds.",
            compress,
            60.0 / f64::from(compress)
        );
    }
    for caution in &section.cautions {
        outln!("Caution: {caution}");
    }
}

/// A section's name as part of a file's name: it can't lead out of the folder, hide the file or be too long.
fn plain_name(id: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() || c == '_' { c } else { '-' };
    id.chars().take(60).map(plain).collect()
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_name_stays_in_its_folder() {
        assert_eq!(super::plain_name("../../etc/passwd"), "------etc-passwd");
        assert_eq!(super::plain_name("nails/\u{202e}\0x"), "nails---x");
        assert_eq!(super::plain_name(&"a".repeat(500)).len(), 60);
    }
}
