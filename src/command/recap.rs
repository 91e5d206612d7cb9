//! `recap [RUN]`, `replay [RUN]`: what a journal alone tells of a run.

use super::Failure;
use crate::audio::Speaker;
use crate::journal::{self, Journal};
use crate::session::{Effect, Session};
use crate::terminal::{self, out, outln};
use crate::text::count;
use crate::time::RATE;
use crate::voice::Cache;
use crate::{authoring, recap};
use std::path::{Path, PathBuf};

/// Which run.
#[derive(clap::Args, Debug)]
pub struct Which {
    /// The run's name, or its journal file; the latest run where none is named
    run: Option<String>,
    /// Folder of the runs
    #[arg(long, default_value_os_t = super::runs())]
    runs: PathBuf,
}

/// Which run, and how its recap is told.
#[derive(clap::Args, Debug)]
pub struct Told {
    #[command(flatten)]
    which: Which,
    /// Say the recap through the loudspeaker too
    #[arg(long)]
    aloud: bool,
}

/// Print the recap of a run.
pub fn recap(told: &Told) -> Result<(), Failure> {
    let (_, session) = lived(&find(&told.which)?)?;
    finish(told, &session)
}

/// Print what was said and shown in a run, with its place in seconds since the microphone was opened, then its recap.
pub fn replay(told: &Told) -> Result<(), Failure> {
    let (journal, mut session) = open(&find(&told.which)?)?;
    let first = journal.replay(&mut session, |record, effects| {
        for effect in effects {
            let seconds = record.at.0 as f64 / RATE as f64;
            match effect {
                Effect::Speak { text, .. } => outln!("{seconds:>8.1}  \u{201c}{text}\u{201d}"),
                Effect::Show(line) => outln!("{seconds:>8.1}  {line}"),
                Effect::Arm(..)
                | Effect::Disarm(_)
                | Effect::Hush
                | Effect::Search(_)
                | Effect::Listen(_)
                | Effect::Slower
                | Effect::Close => {}
            }
        }
    });
    outln!();
    differs(first);
    finish(told, &session)
}

fn differs(first: Option<usize>) {
    if let Some(event) = first {
        terminal::note(&format!(
            "From event {event} on this program understands the run differently than it was lived; the recap may differ."
        ));
    }
}

fn finish(told: &Told, session: &Session) -> Result<(), Failure> {
    out!("{}", recap::text(session.section(), session.outcome()));
    if told.aloud {
        let unspoken = "the recap is on the screen; plug a loudspeaker in to hear it";
        let voice = super::models().join("voice");
        let text = recap::spoken(session.section(), session.outcome());
        let speech = Cache::new(&super::cache(), &voice).speech(&text);
        let speech = speech.map_err(|e| Failure::device(e, super::mend()))?;
        let mut speaker = Speaker::open().map_err(|e| Failure::device(e, unspoken))?;
        speaker.play(&speech.samples, speech.rate);
        speaker.finish();
    }
    Ok(())
}

fn open(path: &Path) -> Result<(Journal, Session), Failure> {
    let journal = journal::load(path)
        .map_err(|e| Failure::storage(e, "name a run, or the journal file that `rehearse` printed"))?;
    if journal.torn > 0 {
        terminal::note(&format!(
            "The last {} of this journal were never finished, and are left out.",
            count(journal.torn, "byte")
        ));
    }
    let session = session(&journal)?;
    Ok((journal, session))
}

/// A journal, and the session as it ended.
pub fn lived(path: &Path) -> Result<(Journal, Session), Failure> {
    let (journal, mut session) = open(path)?;
    differs(journal.replay(&mut session, |_, _| {}));
    Ok((journal, session))
}

/// A fresh session for a journal's events.
pub fn session(journal: &Journal) -> Result<Session, Failure> {
    let section = authoring::read_recorded(&journal.header.section, journal.header.settings.seed);
    let section = section.ok_or_else(|| {
        Failure::storage("the section in this journal can't be read", "it was written by another version")
    })?;
    let section = journal.header.settings.applied(section).ok_or_else(|| {
        Failure::storage("the steps of this run are not in its section", "it was written by another version")
    })?;
    Ok(Session::new(section, journal.header.settings.clone()))
}

/// The journal that a name means: a run in the folder, or else a file.
pub fn named(runs: &Path, name: &str) -> PathBuf {
    let run = runs.join(format!("{name}.journal"));
    if !run.exists() && Path::new(name).is_file() { name.into() } else { run }
}

/// The journal of the run named, or of the latest one.
pub fn find(which: &Which) -> Result<PathBuf, Failure> {
    match &which.run {
        Some(name) => Ok(named(&which.runs, name)),
        // Names begin with the time, so the last by name is the latest.
        None => journals(&which.runs)?.pop().ok_or_else(|| {
            Failure::storage(format!("{}: no runs here", which.runs.display()), "name a run, or its folder with --runs")
        }),
    }
}

/// Every journal in a folder of runs, the latest last.
pub fn journals(runs: &Path) -> Result<Vec<PathBuf>, Failure> {
    let folder = std::fs::read_dir(runs)
        .map_err(|e| Failure::storage(format!("{}: {e}", runs.display()), "name a run, or its folder with --runs"))?;
    let mut journals: Vec<PathBuf> =
        folder.flatten().map(|e| e.path()).filter(|p| p.extension().is_some_and(|x| x == "journal")).collect();
    journals.sort();
    Ok(journals)
}
