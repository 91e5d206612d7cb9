//! `archive FOLDER`: many runs as Parquet files, for DuckDB, Polars and the like.

use super::{Failure, index};
use crate::history::{History, archive};
use crate::platform::{self, Replacement};
use crate::terminal::{Progress, outln};
use crate::text::count;
use std::path::{Path, PathBuf};

/// Which runs, and where to.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// A folder of runs, or one that holds a folder of runs for each person
    folder: PathBuf,
    /// The folder to write runs.parquet and steps.parquet to
    #[arg(long, default_value = "archive", value_name = "DIR")]
    to: PathBuf,
}

/// Write the tables.
pub fn run(options: &Options) -> Result<(), Failure> {
    let people = people(&options.folder)?;
    let failure = |path: &Path, e: &dyn std::fmt::Display| {
        Failure::storage(format!("{}: {e}", path.display()), "name a folder that can be written with --to")
    };
    platform::folder(&options.to).map_err(|e| failure(&options.to, &e))?;
    let open = |name: &str| {
        let path = options.to.join(name);
        Replacement::begin(&path).map_err(|e| failure(&path, &e))
    };
    let (mut into, mut steps) = (open("runs.parquet")?, open("steps.parquet")?);
    let named: Vec<(String, &History)> = people.iter().map(|(name, history)| (name.clone(), history)).collect();
    let runs = archive(&named, into.file(), steps.file()).map_err(|e| failure(&options.to, &e))?;
    into.finish().and_then(|()| steps.finish()).map_err(|e| failure(&options.to, &e))?;
    outln!("archive: {} of {}, {}", count(runs as usize, "run"), count(people.len(), "person"), options.to.display());
    Ok(())
}

/// The people whose runs lie in a folder: one, named after it, where it holds journals; otherwise one for each folder in it.
fn people(folder: &Path) -> Result<Vec<(String, History)>, Failure> {
    let name = |path: &Path| {
        let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
        whole.file_name().unwrap_or_default().to_string_lossy().into_owned()
    };
    let own = index::runs_in(folder)?;
    if !own.runs.is_empty() {
        return Ok(vec![(name(folder), own)]);
    }
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut folders: Vec<PathBuf> = entries.map(|e| e.path()).filter(|p| p.is_dir()).collect();
    folders.sort();
    let mut people = vec![];
    let mut progress = Progress::of("people read", folders.len());
    for folder in folders {
        let history = index::runs_in(&folder)?;
        if !history.runs.is_empty() {
            people.push((name(&folder), history));
        }
        progress.advance(1);
    }
    if people.is_empty() {
        return Err(Failure::storage(
            format!("{}: no runs here", folder.display()),
            "name a folder of runs, or one that holds a folder of runs for each person",
        ));
    }
    Ok(people)
}
