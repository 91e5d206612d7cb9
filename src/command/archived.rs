//! Which runs of a folder were archived, and where to, so that what is forgotten here is forgotten there too: `.archived`, a line a
//! run, of its id, its journal's name and the archive's folder, with tabs between them.

use super::Failure;
use super::dataset::Dataset;
use crate::platform;
use crate::terminal::{self, outln};
use crate::text::count;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Most bytes of it that are read: a hundred bytes a run.
const LARGEST: u64 = 64 << 20;

/// A run that was archived.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Line {
    /// Its id.
    pub run: String,
    /// The name of its journal.
    pub journal: String,
    /// The archive's folder.
    pub root: PathBuf,
}

fn path(folder: &Path) -> PathBuf {
    folder.join(".archived")
}

/// The runs of a folder that were archived.
pub fn read(folder: &Path) -> Result<BTreeSet<Line>, Failure> {
    let path = path(folder);
    if !path.exists() {
        return Ok(BTreeSet::new());
    }
    let text = platform::read_text(&path, LARGEST).map_err(|e| {
        Failure::storage(format!("{}: {e}", path.display()), "mend that: it says which archives hold these runs")
    })?;
    let line = |line: &str| {
        let mut parts = line.splitn(3, '\t').map(str::to_string);
        Some(Line { run: parts.next()?, journal: parts.next()?, root: parts.next()?.into() })
    };
    Ok(text.lines().filter_map(line).collect())
}

/// Keep these lines, and no others.
pub fn keep(folder: &Path, lines: &BTreeSet<Line>) -> Result<(), Failure> {
    let path = path(folder);
    let text: String = lines.iter().map(|l| format!("{}\t{}\t{}\n", l.run, l.journal, l.root.display())).collect();
    let kept = if lines.is_empty() && path.exists() {
        std::fs::remove_file(&path)
    } else if lines.is_empty() {
        Ok(())
    } else {
        platform::replace(&path, text.as_bytes())
    };
    kept.map_err(|e| Failure::storage(format!("{}: {e}", path.display()), "make the folder of the runs writable"))
}

/// Take these runs of a folder out of the archives that hold them, and no longer say that they are there.
pub fn forget(folder: &Path, gone: impl Fn(&Line) -> bool) -> Result<(), Failure> {
    let (going, staying): (BTreeSet<Line>, BTreeSet<Line>) = read(folder)?.into_iter().partition(gone);
    let mut by_root: BTreeMap<PathBuf, BTreeSet<String>> = BTreeMap::new();
    for line in &going {
        by_root.entry(line.root.clone()).or_default().insert(line.run.clone());
    }
    for (root, runs) in &by_root {
        take_out(root, "run", runs)?;
    }
    if going.is_empty() { Ok(()) } else { keep(folder, &staying) }
}

/// Take rows out of one archive.
pub fn take_out(root: &Path, column: &str, gone: &BTreeSet<String>) -> Result<usize, Failure> {
    let dataset = Dataset::existing(root)?.ok_or_else(|| {
        Failure::storage(
            format!("{}: no archive is here, though runs were archived to it; nothing was deleted", root.display()),
            "bring it back (is its disk there?), or add --without-archives to forget them here alone",
        )
    })?;
    let runs = dataset.forget(column, gone)?;
    outln!("removed from the archive {}: {}", root.display(), count(runs, "run"));
    Ok(runs)
}

/// Say which archives go on holding runs that are forgotten here alone.
pub fn left_behind(folder: &Path, gone: impl Fn(&Line) -> bool) -> Result<(), Failure> {
    let (going, staying): (BTreeSet<Line>, BTreeSet<Line>) = read(folder)?.into_iter().partition(gone);
    for root in going.iter().map(|l| &l.root).collect::<BTreeSet<_>>() {
        let runs: Vec<&str> = going.iter().filter(|l| l.root == *root).map(|l| l.run.as_str()).collect();
        let told =
            format!("the archive {} still holds {}: {}", root.display(), count(runs.len(), "run"), runs.join(" "));
        terminal::warn(told, &format!("`forget --archive {} --run-id ID` takes each out of it", root.display()));
    }
    if going.is_empty() { Ok(()) } else { keep(folder, &staying) }
}
