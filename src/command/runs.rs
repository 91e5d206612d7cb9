//! The folder of the runs: making it, finding a run in it, and taking a session through one.

use super::{Failure, Runs};
use crate::journal::{self, Journal};
use crate::session::Session;
use crate::text::count;
use crate::{authoring, platform, terminal};
use std::path::{Path, PathBuf};

/// Which run is meant.
#[derive(clap::Args, Debug)]
pub struct RunArgument {
    /// The run's name, or its journal file; the latest run where none is named
    run: Option<String>,
    /// Where they lie.
    #[command(flatten)]
    runs: Runs,
}

/// Make the folder of the runs. Runs are private: who rehearses what, and how well, is nobody else's business on a shared machine.
pub fn make(runs: &Path) -> Result<(), Failure> {
    platform::folder(runs).map_err(|e| {
        if e.kind() == std::io::ErrorKind::NotADirectory {
            return none(runs);
        }
        let what = format!("{}: {}", runs.display(), platform::why(&e));
        Failure::storage(what, "choose a folder that can be written with --runs")
    })?;
    if platform::others_can_write(runs) {
        let what = "others can write in this folder, and so put files of theirs among your runs";
        let next = format!("`chmod go-w {}`, or choose a folder of your own with --runs", runs.display());
        terminal::warn(format_args!("{}: {what}", runs.display()), &next);
    }
    Ok(())
}

/// What is named as the folder of the runs is none.
pub fn none(runs: &Path) -> Failure {
    Failure::storage(format!("{}: is a file, not a folder", runs.display()), "name a folder for your runs with --runs")
}

/// Say from where on a run is understood differently.
pub(super) fn differs(first: Option<usize>) {
    if let Some(event) = first {
        terminal::note(&format!(
            "From event {event} on this program understands the run differently than it was lived; the recap may differ."
        ));
    }
}

/// A journal, and a fresh session for its events.
pub(super) fn open(path: &Path) -> Result<(Journal, Session), Failure> {
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
pub fn find(argument: &RunArgument) -> Result<PathBuf, Failure> {
    match &argument.run {
        Some(name) => Ok(named(&argument.runs.folder(), name)),
        // Names begin with the time, so the last by name is the latest.
        None => journals(&argument.runs.folder())?.pop().ok_or_else(|| {
            Failure::storage(
                format!("{}: no runs here", argument.runs.folder().display()),
                "name a run, or its folder with --runs",
            )
        }),
    }
}

/// Every journal in a folder of runs, the latest last.
pub fn journals(runs: &Path) -> Result<Vec<PathBuf>, Failure> {
    let folder = std::fs::read_dir(runs).map_err(|e| match e.kind() {
        std::io::ErrorKind::NotFound => Failure::storage(
            format!("{}: there is no such folder, and so no runs", runs.display()),
            "rehearse once, and it is made; or name the folder of your runs with --runs",
        ),
        _ => {
            let what = format!("{}: {}", runs.display(), platform::why(&e));
            Failure::storage(what, "name a run, or its folder with --runs")
        }
    })?;
    let mut journals: Vec<PathBuf> =
        folder.flatten().map(|e| e.path()).filter(|p| p.extension().is_some_and(|x| x == "journal")).collect();
    journals.sort();
    Ok(journals)
}

/// The folders in a folder, in order: one for each person's runs.
pub fn people(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    let entries = std::fs::read_dir(folder)?;
    let mut folders: Vec<PathBuf> = entries.flatten().map(|e| e.path()).filter(|p| p.is_dir()).collect();
    folders.sort();
    Ok(folders)
}
