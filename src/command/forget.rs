//! `forget RUN`, `forget --all --yes`: delete what a run left behind, and nothing else.

use super::archived::{self, Line};
use super::dataset::Dataset;
use super::{Failure, Runs};
use crate::journal::{self, JournalError};
use crate::platform;
use crate::terminal::{self, outln};
use crate::text::count;
use std::collections::BTreeSet;
use std::fs::File;
use std::io::ErrorKind;
use std::path::{Component, Path, PathBuf};

/// Which runs.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// The runs' names, or their journal files in the folder of the runs
    #[arg(required_unless_present_any = ["all", "profile", "archive"], conflicts_with = "all")]
    names: Vec<String>,
    /// Every run in the folder
    #[arg(long, requires = "yes")]
    all: bool,
    /// Yes, really all of them
    #[arg(long)]
    yes: bool,
    /// What `enrol` learned of your voice
    #[arg(long)]
    profile: bool,
    /// In this archive alone: what --person or --run-id names
    #[arg(long, value_name = "DIR", conflicts_with_all = ["names", "all", "profile"])]
    archive: Option<PathBuf>,
    /// All of a person, as the archive calls them
    #[arg(long, value_name = "NAME", requires = "archive")]
    person: Vec<String>,
    /// A run, by its id in the archive
    #[arg(long, value_name = "ID", requires = "archive")]
    run_id: Vec<String>,
    /// Here alone, though archives hold the runs as well
    #[arg(long)]
    without_archives: bool,
    /// Where they lie.
    #[command(flatten)]
    runs: Runs,
}

/// Why a file is not forgotten.
enum Stays {
    /// It is no run, for this reason.
    Foreign(String),
    /// It is one, but can't be taken.
    Failed(Failure),
}

impl Stays {
    /// The same where the run was meant by name.
    fn failure(self, journal: &Path, hint: &str) -> Failure {
        match self {
            Stays::Foreign(why) => Failure::storage(format!("{}: it {why}", journal.display()), hint),
            Stays::Failed(failure) => failure,
        }
    }
}

/// Forget runs: journal, recording, page, chapters, torn parts, and what archives hold of them. Exports that were written elsewhere
/// are not known here.
pub fn run(options: &Options) -> Result<(), Failure> {
    if let Some(root) = &options.archive {
        return in_archive(root, options);
    }
    let (runs, mut failed) = if options.all { all(&options.runs.folder())? } else { (named(options)?, vec![]) };
    let names: BTreeSet<_> = runs.iter().filter_map(|journal| journal.file_name()?.to_str()).collect();
    let gone = |line: &Line| names.contains(line.journal.as_str());
    match options.without_archives {
        true => archived::left_behind(&options.runs.folder(), gone)?,
        false => archived::forget(&options.runs.folder(), gone)?,
    }
    let mut forgotten = 0;
    for journal in &runs {
        match taken(journal) {
            Ok(()) => forgotten += 1,
            Err(failure) => failed.push(failure),
        }
    }
    if options.profile {
        profile(&options.runs.folder())?;
    }
    if options.all || !options.names.is_empty() {
        outln!("{} forgotten. Copies and exports that lie elsewhere are not touched.", count(forgotten, "run"));
    }
    // One disk that can't be written keeps all of them for one reason: it is told once.
    if failed.len() > 1 {
        terminal::note(&format!("stepbell: {} can't be forgotten now; of the first:", count(failed.len(), "run")));
    }
    failed.into_iter().next().map_or(Ok(()), Err)
}

/// Take out of an archive what is named by person and by run.
fn in_archive(root: &Path, options: &Options) -> Result<(), Failure> {
    let wanted = [("person", &options.person), ("run", &options.run_id)];
    if wanted.iter().all(|(_, names)| names.is_empty()) {
        return Err(Failure::usage("--archive: of whom, or which run?", "--person NAME, or --run-id ID"));
    }
    let Some(dataset) = Dataset::existing(root)? else {
        let what = format!("{}: no archive is here; nothing was deleted", root.display());
        return Err(Failure::storage(what, "name the folder that `archive --to` wrote to"));
    };
    let mut wanted: Vec<(&str, BTreeSet<String>)> =
        wanted.into_iter().map(|(column, names)| (column, names.iter().cloned().collect())).collect();
    wanted.retain(|(_, names)| !names.is_empty());
    for (column, names) in &wanted {
        let there = dataset.all(column)?;
        if let Some(none) = names.iter().find(|name| !there.contains(*name)) {
            let what = format!("{}: no {column} \"{none}\" is in it; nothing was deleted", root.display());
            return Err(Failure::storage(what, "a name or an alias as the archive has it, or an id of its column run"));
        }
    }
    for (column, names) in &wanted {
        let runs = dataset.forget(column, names)?;
        outln!("removed from the archive {}: {}", root.display(), count(runs, "run"));
    }
    Ok(())
}

/// Every run of the folder that can be forgotten now, and why others can't. What is no run is told and stays.
fn all(folder: &Path) -> Result<(Vec<PathBuf>, Vec<Failure>), Failure> {
    let (mut runs, mut failed) = (vec![], vec![]);
    for journal in super::runs::journals(folder)? {
        match held(&journal) {
            Ok(_) => runs.push(journal),
            Err(Stays::Foreign(why)) => terminal::note(&format!("stepbell: {} stays: it {why}", journal.display())),
            Err(Stays::Failed(failure)) => failed.push(failure),
        }
    }
    Ok((runs, failed))
}

/// The runs that were named, all of them looked at before anything is deleted.
fn named(options: &Options) -> Result<Vec<PathBuf>, Failure> {
    let hint = "name runs as they lie in the folder of the runs, which --runs names; nothing was deleted";
    let mut runs: Vec<PathBuf> = vec![];
    for name in &options.names {
        let none = || Failure::storage(format!("{}: no run \"{name}\" here", options.runs.folder().display()), hint);
        let journal = in_folder(&options.runs.folder(), name).ok_or_else(none)?;
        if runs.contains(&journal) {
            continue;
        }
        held(&journal).map_err(|kept| kept.failure(&journal, hint))?;
        runs.push(journal);
    }
    Ok(runs)
}

/// The journal in the folder of the runs that a name means: a run's name, the journal's name, or a path to it. Never one that
/// lies elsewhere.
fn in_folder(runs: &Path, name: &str) -> Option<PathBuf> {
    let path = Path::new(name);
    let there = |name: &str| Some(runs.join(name)).filter(|journal| journal.symlink_metadata().is_ok());
    let is_journal = path.extension().is_some_and(|x| x == "journal");
    if let [Component::Normal(_)] = path.components().collect::<Vec<_>>()[..] {
        return there(&format!("{name}.journal")).or_else(|| there(name).filter(|_| is_journal));
    }
    let same = path.parent()?.canonicalize().ok()? == runs.canonicalize().ok()?;
    there(path.file_name()?.to_str()?).filter(|_| is_journal && same)
}

/// Take a journal's lock, and see that it is one. A damaged one, too, can be forgotten. Nobody writes it while this is held.
fn held(journal: &Path) -> Result<File, Stays> {
    let unread = |e| unread(journal, &e);
    let mut lock = journal::hold(journal).map_err(|error| match error {
        JournalError::Storage { source, .. } => unread(source),
        error => {
            Stays::Failed(Failure::storage(error, "wait until the run has ended, or end it with Ctrl-C in its window"))
        }
    })?;
    let begins = journal::begins_as_one(&mut lock).map_err(unread)?;
    if begins || is_run_name(&journal.file_stem().unwrap_or_default().to_string_lossy()) {
        return Ok(lock);
    }
    Err(Stays::Foreign("is no journal of a run".into()))
}

/// What lies there is no file, or it can't be looked at: only the first says that it is no run.
fn unread(journal: &Path, error: &std::io::Error) -> Stays {
    match error.kind() {
        ErrorKind::IsADirectory | ErrorKind::InvalidInput => Stays::Foreign(error.to_string()),
        _ => Stays::Failed(Failure::storage(format!("{}: {error}", journal.display()), MEND)),
    }
}

/// Hold a run and delete it. One after the other: a system lets a program open some hundred files, and a folder may hold more runs.
fn taken(journal: &Path) -> Result<(), Failure> {
    let _lock = held(journal).map_err(|kept| kept.failure(journal, MEND))?;
    forget(journal).map_err(|(path, e)| Failure::storage(format!("{}: {e}", path.display()), MEND))
}

/// What to do where a run could not be forgotten.
const MEND: &str = "mend that, then forget the run again: its journal is still there";

/// Whether `rehearse` gives such names: time, a hyphen, the section. A journal whose first line is gone is known by that alone.
fn is_run_name(stem: &str) -> bool {
    let shape = "0000-00-00T00-00-00.000-";
    let like = |(a, b): (char, char)| if b == '0' { a.is_ascii_digit() } else { a == b };
    stem.len() > shape.len() && stem.chars().zip(shape.chars()).all(like)
}

/// Delete a run; the journal last, so that a failure leaves the run to be forgotten again.
fn forget(journal: &Path) -> Result<(), (PathBuf, std::io::Error)> {
    let delete = |file: &Path| std::fs::remove_file(file).map_err(|e| (file.to_path_buf(), e));
    let (files, indexes) = left_by(journal);
    // The index holds what the run came to; it is made again from the runs that stay.
    indexes.iter().try_for_each(|index| delete(index))?;
    for file in files.iter().map(PathBuf::as_path).chain([journal]) {
        delete(file)?;
        outln!("deleted {}", file.display());
    }
    platform::sync_folder_of(journal).map_err(|e| (journal.to_path_buf(), e))
}

/// What a run leaves beside its journal, by exact names; and the folder's index. A link among them is deleted as a link.
fn left_by(journal: &Path) -> (Vec<PathBuf>, Vec<PathBuf>) {
    let text = |part: Option<&std::ffi::OsStr>| part.unwrap_or_default().to_string_lossy().into_owned();
    let (stem, name) = (text(journal.file_stem()), text(journal.file_name()));
    let beside = [".html", ".vtt", ".wav"].map(|suffix| format!("{stem}{suffix}"));
    // Programs before this one left `.part` behind where they were cut off.
    let old = [".html.part", ".vtt.part"].map(|suffix| format!("{stem}{suffix}"));
    let is_torn = |file: &str| {
        let digits = file.strip_prefix(&name).and_then(|rest| rest.strip_prefix(".torn-"));
        digits.is_some_and(|d| !d.is_empty() && d.bytes().all(|b| b.is_ascii_digit()))
    };
    let is_part = |file: &str| beside.iter().chain([&name]).any(|whole| platform::is_part_of(file, whole));
    let ours = |file: &str| beside.iter().chain(&old).any(|n| n == file) || is_torn(file) || is_part(file);
    let index = |file: &str| [".index", ".index.part"].contains(&file) || platform::is_part_of(file, ".index");
    let folder = journal.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let files = entries.filter(|e| e.file_type().is_ok_and(|t| !t.is_dir()));
    let (mut left, mut indexes) = (vec![], vec![]);
    for file in files {
        let name = file.file_name().to_string_lossy().into_owned();
        match () {
            () if ours(&name) => left.push(file.path()),
            () if index(&name) => indexes.push(file.path()),
            () => {}
        }
    }
    left.sort();
    (left, indexes)
}

/// Delete what `enrol` learned, after a look whether it is that: other programs, too, call their files so.
fn profile(runs: &Path) -> Result<(), Failure> {
    let path = super::profile::path(runs);
    let failure = |e: &dyn std::fmt::Display, hint| Failure::storage(format!("{}: {e}", path.display()), hint);
    let text = platform::read_text(&path, super::SMALL)
        .map_err(|e| failure(&e, "name the folder of your runs with --runs"))?;
    let table: toml::Table = text.parse().unwrap_or_default();
    // A damaged one begins as `enrol` begins it: it holds what was learned of a voice, so it can be deleted too.
    let damaged = table.is_empty() && text.starts_with("version = ");
    if !damaged && !["version", "model"].iter().all(|key| table.contains_key(*key)) {
        return Err(failure(&"this is no profile that `enrol` made", "delete it by hand if you know what it is"));
    }
    std::fs::remove_file(&path).map_err(|e| failure(&e, "name the folder of your runs with --runs"))?;
    outln!("deleted {}", path.display());
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Too many open files, no right, a disk that fails: nothing of that says that it is no run, so it is a failure.
    #[test]
    fn what_cant_be_looked_at_is_not_taken_for_a_stranger() {
        for error in [24, 13, 5].map(std::io::Error::from_raw_os_error) {
            assert!(matches!(unread(Path::new("x.journal"), &error), Stays::Failed(_)), "{error}");
        }
        for kind in [ErrorKind::IsADirectory, ErrorKind::InvalidInput] {
            assert!(matches!(unread(Path::new("x.journal"), &kind.into()), Stays::Foreign(_)), "{kind}");
        }
    }

    #[test]
    fn a_run_is_known_by_its_name() {
        assert!(is_run_name("2026-11-28T10-00-00.123-basic_facial"));
        for other in ["notes", "2026-11-28", "2026-11-28T10-00-00.123-", "2026-11-28 10:00:00.123-basic"] {
            assert!(!is_run_name(other), "{other}");
        }
    }
}
