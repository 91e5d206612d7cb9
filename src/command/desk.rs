//! `listen`, or no verb at all: the front desk. What is to be rehearsed is chosen by voice, and after each run it is there again.

use super::devices::Devices;
use super::mouth::Rendered;
use super::rehearse::{self, Options as Rehearsal};
use super::{Failure, Runs, mock, runtime, sections};
use crate::audio::{CHUNK, Levels, Piece, Source};
use crate::authoring::{self, ExamPart};
use crate::desk::{Before, Choice, DEAF, Desk, Entry, Event, Menu, Went};
use crate::driver::Reception;
use crate::history;
use crate::intent::Question;
use crate::listen::{DECOYS, EarThread, Ears, Gate, Model};
use crate::outcome::{Mode, Outcome};
use crate::recap;
use crate::section::Section;
use crate::terminal::{self, outln};
use crate::time::{Ms, RATE, SampleIndex};
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

/// Sound that is remembered to measure the room and the voice by.
const REMEMBERED: usize = 12 * RATE as usize;

/// Quiet in front of a phrase that the room is measured by, and the least that says something.
const QUIET: (Ms, Ms) = (Ms(3_000), Ms(500));

/// What the desk stands on.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// Sections of your own, beside those that are shipped
    files: Vec<PathBuf>,
    #[command(flatten)]
    devices: Devices,
    /// Divide the limit, the warning and the plan of what is rehearsed by this
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=60))]
    compress: u32,
    /// One warning and no help, as in an exam room, until somebody says: practice mode
    #[arg(long)]
    exam: bool,
    #[command(flatten)]
    worn: rehearse::Worn,
    #[command(flatten)]
    coaching: rehearse::Coaching,
    /// Keep the recordings of the runs beside their journals
    #[arg(long)]
    keep_audio: bool,
    /// Where they lie.
    #[command(flatten)]
    runs: Runs,
}

impl Options {
    /// With what the settings say where no flag does.
    pub fn settle(&mut self, settings: &super::settings::Settings) {
        self.devices.settle(settings);
        self.worn.settle(settings);
        self.coaching.settle(settings);
        self.exam |= settings.mode == Some(Mode::Exam);
    }
}

/// Whether the program was called without a verb by somebody at a terminal.
pub fn alone(arguments: usize) -> bool {
    arguments == 1 && terminal::attended()
}

/// Stand at the desk until the evening is over.
pub fn run(options: &Options) -> Result<(), Failure> {
    let files = files(options)?;
    let mut desk = Desk::new(menu(options, &files), options.exam);
    let model = taught(&options.devices.model()?, &desk);
    super::runs::make(&options.runs.folder())?;
    let mut mouth = Some(options.devices.voiced(vec![DEAF.to_string()])?);
    let mut place = SampleIndex(0);
    let mut first = Event::Opened;
    loop {
        let Some(voice) = mouth.as_mut() else { return Ok(()) };
        let (choice, at) = stand(options, &model, &mut desk, voice, (place, first))?;
        place = at;
        let Some(choice) = choice else { break };
        let file = &files[choice.entry];
        outln!();
        let went = if file.exam {
            if mock::through(&mock_exam(options, &file.path), &mut place)? { Went::Stopped } else { Went::Over }
        } else {
            let ran = rehearse::one(&rehearsal(options, &file.path, &choice, place), &mut mouth)?;
            place = place + ran.at.since(SampleIndex(0));
            match ran.outcome.again {
                _ if ran.stopped => Went::Stopped,
                true => Went::Again,
                false => Went::Over,
            }
        };
        outln!();
        first = Event::Back(went, menu(options, &files));
    }
    match &mouth {
        Some(mouth) => options.devices.show_rendered(mouth),
        None => Ok(()),
    }
}

/// A file that can be rehearsed.
struct Rehearsable {
    path: PathBuf,
    entry: Entry,
    section: Option<Section>,
    exam: bool,
}

/// Those named and those that are shipped. One that is named and can't be used is an error; a shipped one is left out.
fn files(options: &Options) -> Result<Vec<Rehearsable>, Failure> {
    let mut files = vec![];
    for path in &options.files {
        let (section, _) = super::section(path, 0)?;
        let own = rehearsable(options, path, section);
        files.push(Rehearsable { entry: Entry { own: true, ..own.entry }, ..own });
    }
    for path in sections::files() {
        let Ok(text) = super::authored(&path, "a folder with sections") else { continue };
        match (authoring::read(&text).0, authoring::exam(&text).0) {
            (Some(section), _) => files.push(rehearsable(options, &path, section)),
            (None, Some(exam)) => {
                let folder = path.parent().unwrap_or(Path::new("."));
                // One that can't be used is told when the exam begins.
                let section = |part: &ExamPart| {
                    let text = super::authored(&folder.join(part.file.as_ref()), "a section file").ok()?;
                    authoring::read(&text).0
                };
                let sections: Vec<Section> = exam.sections.iter().filter_map(section).collect();
                let entry = Entry::of_exam(&exam.title, &sections);
                files.push(Rehearsable { path, entry, section: None, exam: true });
            }
            (None, None) => {}
        }
    }
    if files.is_empty() {
        return Err(Failure::storage("there are no sections here", "name a section file"));
    }
    Ok(files)
}

fn rehearsable(options: &Options, path: &Path, section: Section) -> Rehearsable {
    // Its minutes are told as they will pass.
    let entry = Entry::of(&section.clone().compressed(options.compress), &sections::name(path).replace('-', " "));
    Rehearsable { path: path.into(), entry, section: Some(section), exam: false }
}

/// What is there now, and what the runs so far show of it. Without runs that can be read nothing is known of any.
fn menu(options: &Options, files: &[Rehearsable]) -> Menu {
    let folder = options.runs.folder();
    let history = folder.is_dir().then(|| super::index::runs_in(&folder).ok()).flatten().unwrap_or_default();
    let before = |section: &Section| {
        let weakest = history::weakest(&history, section)?;
        let past = history::past(&history, section, options.compress);
        let title = |id: &String| section.steps.iter().find(|s| s.id == *id).map(|s| s.title.clone());
        let ready = recap::answer(section, &Outcome::default(), past.as_ref(), &Question::Ready);
        let weak = weakest.steps.iter().filter_map(title).collect();
        Some(Before { runs: weakest.runs, weak, drill: weakest.steps, ready: ready.unwrap_or_default() })
    };
    let entry = |file: &Rehearsable| Entry { before: file.section.as_ref().and_then(before), ..file.entry.clone() };
    let last = history.runs.iter().max_by_key(|run| run.started).map(|run| &history.sections[run.section as usize].id);
    let last = last.and_then(|id| files.iter().position(|f| f.section.as_ref().is_some_and(|s| s.id == *id)));
    Menu { entries: files.iter().map(entry).collect(), last }
}

fn rehearsal(options: &Options, path: &Path, choice: &Choice, from: SampleIndex) -> Rehearsal {
    Rehearsal {
        file: path.into(),
        devices: options.devices.clone(),
        compress: options.compress,
        drill: choice.drill.clone(),
        drops: choice.drops,
        exam: choice.exam,
        skip_reading: choice.skips_reading,
        worn: options.worn.clone(),
        coaching: options.coaching.clone(),
        keep_audio: options.keep_audio,
        runs: options.runs.clone(),
        from,
        ..Rehearsal::default()
    }
}

fn mock_exam(options: &Options, path: &Path) -> mock::Options {
    mock::Options::of(path, &options.devices, options.compress, &options.worn, options.keep_audio, &options.runs)
}

/// The model, able to hear all that can be said at this desk.
fn taught(model: &Model, desk: &Desk) -> Model {
    let words = desk.words();
    let wanted: Vec<&str> = words.iter().map(String::as_str).chain(DECOYS).collect();
    model.with_pronunciations(&wanted, &[])
}

/// Stand at the desk from a place on, until a run is to begin, or, none, until it is over.
fn stand(
    options: &Options,
    model: &Model,
    desk: &mut Desk,
    mouth: &mut Rendered,
    (from, first): (SampleIndex, Event),
) -> Result<(Option<Choice>, SampleIndex), Failure> {
    let ears = Ears::open(model, desk.vocabulary(), &DECOYS, from, Gate::default())
        .map_err(|e| Failure::device(e, "look at the model with `microphone`"))?;
    mouth.begin_at(from);
    let (source, _) = options.devices.source(from, from)?;
    let heard = Arc::new(Mutex::new(Remembered { from, sound: VecDeque::new() }));
    let source = Box::new(Tapped { source, heard: Arc::clone(&heard) });
    let mut measure = |quiet: SampleIndex, start: SampleIndex, end: SampleIndex| {
        let heard = heard.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let (silence, speech) = (heard.between(quiet.max(start - QUIET.0), start), heard.between(start, end));
        // One phrase is too little to tell an echo by.
        let levels = || Levels { echo: None, ..Levels::of(&silence, &speech) };
        (silence.len() as u64 >= QUIET.1.samples()).then(|| levels().advice())
    };
    let headset = options.worn.headset;
    let mut show = terminal::headline;
    runtime::attended(|interrupt| {
        let reception = Reception { desk, mouth, show: &mut show, measure: &mut measure, headset };
        reception.stand(from, first, EarThread::start(ears, source), interrupt)
    })
}

/// The last sound of a source.
struct Remembered {
    from: SampleIndex,
    sound: VecDeque<f32>,
}

impl Remembered {
    fn between(&self, from: SampleIndex, until: SampleIndex) -> Vec<f32> {
        let place = |at: SampleIndex| (at.0.saturating_sub(self.from.0) as usize).min(self.sound.len());
        let (from, until) = (place(from), place(until));
        self.sound.range(from..until.max(from)).copied().collect()
    }
}

/// A source that remembers its last sound.
struct Tapped {
    source: Box<dyn Source>,
    heard: Arc<Mutex<Remembered>>,
}

impl Source for Tapped {
    fn next(&mut self) -> Option<Piece> {
        let piece = self.source.next();
        if let Some(Piece::Sound(sound)) = &piece {
            let mut heard = self.heard.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
            heard.sound.extend(sound);
            let over = heard.sound.len().saturating_sub(REMEMBERED).next_multiple_of(CHUNK);
            heard.sound.drain(..over);
            heard.from = SampleIndex(heard.from.0 + over as u64);
        }
        piece
    }

    fn overflowed(&mut self) -> u64 {
        self.source.overflowed()
    }
}
