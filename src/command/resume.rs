//! `resume RUN`: go on with a run that was cut off, or close it with its recap.

use super::devices::{self, Devices};
use super::rehearse::show_written;
use super::runs::RunArgument;
use super::settings::Voice;
use super::{Failure, runtime};
use crate::audio::{CHUNK, Kept, Recording};
use crate::driver::{Driver, Standing};
use crate::journal::{JournalError, Record, Writer};
use crate::listen::{EarThread, Gate};
use crate::recap;
use crate::session::Event;
use crate::terminal::{out, outln};
use crate::text::count;
use crate::time::{Ms, SampleIndex};
use std::path::Path;
use std::time::SystemTime;

/// Sound in front of the cut that is listened to again, where it was kept: the recogniser adapts to the voice and the room,
/// and one that has heard only two minutes decides otherwise once in some hundred words. Ten minutes take it a quarter of one.
const AGAIN: Ms = Ms(600_000);

/// How to go on.
#[derive(clap::Args, Debug)]
pub struct Options {
    #[command(flatten)]
    run: RunArgument,
    #[command(flatten)]
    devices: Devices,
    /// Don't go on: close the run where it was cut off, and recap
    #[arg(long)]
    close: bool,
}

impl Options {
    /// With what the settings say where no flag does.
    pub fn settle(&mut self, settings: &super::settings::Settings) {
        self.devices.settle(settings);
    }
}

/// Go on with a run.
pub fn run(options: &Options) -> Result<(), Failure> {
    let path = super::runs::find(&options.run)?;
    let away = since(&path).filter(|_| options.devices.mic.is_none());
    let (journal, mut writer, torn) = Writer::resume(&path).map_err(|e| Failure::storage(&e, hint(&e)))?;
    if let Some(torn) = torn {
        outln!("The last {} were never finished; they were moved to {}.", count(journal.torn, "byte"), torn.display());
    }
    let standing = Standing::rebuild(&journal, super::runs::session(&journal)?);
    let Standing { mut session, at, masked, heard, differs, remaining } = standing;
    if session.closed() {
        outln!("This run is over.\n");
    } else if options.close {
        let record = Record { at, event: Event::Interrupted };
        writer.append(&record, None).map_err(|e| Failure::storage(&e, hint(&e)))?;
        session.handle(at, &record.event);
    } else if let Some(event) = differs {
        return Err(Failure::storage(
            format!(
                "{}: from event {event} on this program understands the run differently than it was lived",
                path.display()
            ),
            "close it with `resume --close`, or go on with the program that wrote it",
        ));
    }
    if session.closed() {
        let page = super::page::of_run(&path, &journal.header, &session);
        out!("{}", recap::text(session.section(), session.outcome()));
        return show_written(page, Ok(None));
    }

    // Its own words can be told from what is heard only where all of the run speaks, or nothing does.
    let unspoken = journal.header.settings.unspoken;
    if unspoken && options.devices.speaks() {
        outln!("This run was begun without a voice, and goes on without one.");
    }
    let voice = if unspoken { Some(Voice::Off) } else { options.devices.voice };
    let devices = Devices { voice, ..options.devices.clone() };
    let model = devices.model()?;
    if model.id() != journal.header.model {
        outln!("Another model listens now than when the run was begun.");
    }
    let section = session.section().clone();
    // The profile lies beside the run's journal.
    let runs = path.parent().unwrap_or(Path::new("."));
    let profile = super::profile::read(runs, model.id())?;
    let model = devices::model_for(model, &section, &profile);
    // Whole chunks: the recogniser is fed from one, and sound that was kept lies in them.
    let again = SampleIndex((at - AGAIN).0 / CHUNK as u64 * CHUNK as u64);
    let mut mouth = devices.mouth(&section, journal.header.settings.compress)?;
    let (mut source, mut before) = devices.source(again, at)?;
    let wav = path.with_extension("wav");
    if wav.is_file() {
        if before.is_empty() {
            before = kept(&wav, again, at);
        }
        let kept = Kept::new(source, &wav, at);
        source =
            Box::new(kept.map_err(|e| Failure::storage(format!("{}: {e}", wav.display()), "move the recording away"))?);
    }
    let from = SampleIndex(at.0 - (before.len() * CHUNK) as u64);
    let mut ears = devices::ears(&model, &section, from, Gate::shut_in(&masked))?;
    // What was in front of the cut and isn't on record yet is recovered; what is may come a little later than it did, behind the cut.
    ears.known_until(heard);
    let recovered = before.iter().flat_map(|chunk| ears.feed(chunk)).collect();
    super::rehearse::introduce(&section, journal.header.settings.compress);
    let mut show = crate::terminal::tell;
    let session = runtime::carry_out(&path, |interrupt| {
        let driver = Driver {
            session,
            journal: &mut writer,
            mouth: &mut mouth,
            show: &mut show,
            headset: journal.header.settings.headset,
            waits: devices.mic.is_some(),
        };
        driver.go_on(at, remaining, away, recovered, EarThread::start(ears, source), interrupt)
    })?;
    let (page, spoken) = (super::page::of_run(&path, &journal.header, &session), devices.rendered(&mouth));
    out!("\n{}", recap::text(session.section(), session.outcome()));
    outln!("\njournal: {}", path.display());
    show_written(page, spoken)
}

fn hint(error: &JournalError) -> &'static str {
    match error {
        JournalError::InUse { .. } => "wait until the other one has ended, or leave it with Ctrl-C in its window",
        JournalError::TooOld { .. } => "`recap` shows it",
        JournalError::Flawed { .. } => {
            "`recap` can't show it either; the lines in front of that place can be read by hand"
        }
        JournalError::Storage { .. } => {
            "name a run, or the journal file that `rehearse` printed, in a folder that can be written"
        }
    }
}

/// How long ago the journal was last written; unknown where the clock was set back since.
fn since(path: &Path) -> Option<Ms> {
    let written = std::fs::metadata(path).ok()?.modified().ok()?;
    Some(Ms(SystemTime::now().duration_since(written).ok()?.as_millis() as u64))
}

/// The kept recording's sound between two places, in whole chunks; nothing where it can't be read.
fn kept(wav: &Path, from: SampleIndex, at: SampleIndex) -> Vec<Vec<f32>> {
    Recording::open(wav, false).map(|mut sound| sound.seek(from, at)).unwrap_or_default()
}
