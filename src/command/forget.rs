//! `forget RUN`, `forget --all --yes`: delete what a run left behind.

use super::Failure;
use crate::journal::{JournalError, Writer};
use crate::terminal::outln;
use crate::text::count;
use std::path::{Path, PathBuf};

/// Which runs.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// The runs' names, or their journal files
    #[arg(required_unless_present_any = ["all", "profile"], conflicts_with = "all")]
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
    /// Folder of the runs
    #[arg(long, default_value = "runs")]
    runs: PathBuf,
}

/// Forget runs: journal, recording, page, tables, torn parts. Exports that were written elsewhere are not known here.
pub fn run(options: &Options) -> Result<(), Failure> {
    let journals = if options.all {
        super::recap::journals(&options.runs)?
    } else {
        options.names.iter().map(|name| super::recap::named(&options.runs, name)).collect()
    };
    for journal in &journals {
        let failure = |e: &dyn std::fmt::Display| Failure::storage(e, "name a run of the folder that --runs names");
        // A run that is being written now is not forgotten. A damaged one can be.
        if let Err(e @ (JournalError::InUse { .. } | JournalError::Storage { .. })) = Writer::resume(journal) {
            return Err(failure(&e));
        }
        // The index holds what the run came to; it is made again from the runs that stay.
        let index = journal.with_file_name(".index");
        if index.is_file() {
            std::fs::remove_file(&index).map_err(|e| failure(&format!("{}: {e}", index.display())))?;
        }
        for file in left_by(journal) {
            std::fs::remove_file(&file).map_err(|e| failure(&format!("{}: {e}", file.display())))?;
            outln!("deleted {}", file.display());
        }
    }
    if options.profile {
        let path = super::enrol::path(&options.runs);
        std::fs::remove_file(&path).map_err(|e| {
            Failure::storage(format!("{}: {e}", path.display()), "name the folder of your runs with --runs")
        })?;
        outln!("deleted {}", path.display());
    }
    outln!("{} forgotten. Copies and exports that lie elsewhere are not touched.", count(journals.len(), "run"));
    Ok(())
}

/// The journal and every file beside it whose name begins with the run's and a dot; the journal last, so that a failure
/// leaves the run to be forgotten again.
fn left_by(journal: &Path) -> Vec<PathBuf> {
    let stem = journal.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let folder = journal.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let ours = |path: &PathBuf| {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        path.is_file() && name.strip_prefix(&stem).is_some_and(|rest| rest.starts_with('.'))
    };
    let files = std::fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path());
    let mut files: Vec<PathBuf> = files.filter(ours).collect();
    files.sort_by_key(|f| (f == journal, f.clone()));
    files
}
