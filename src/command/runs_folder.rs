//! Where runs lie: `--runs`, `$STEPBELL_RUNS`, or the usual folder. None that holds runs is lost from view without a word.

use super::folders;
use crate::platform;
use crate::terminal;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Which folder of runs.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct Runs {
    /// Folder of the runs; else $STEPBELL_RUNS, `runs` where one stands in a source tree, or one among your data
    #[arg(long, value_name = "DIR")]
    runs: Option<PathBuf>,
}

impl Runs {
    /// The folder that is meant.
    pub fn folder(&self) -> PathBuf {
        let named = || std::env::var_os("STEPBELL_RUNS").filter(|v| !v.is_empty()).map(PathBuf::from);
        self.runs.clone().or_else(named).unwrap_or_else(usual)
    }
}

/// The folder where none is named. Where another one that could be meant holds runs, one line says so, once.
fn usual() -> PathBuf {
    static USUAL: OnceLock<PathBuf> = OnceLock::new();
    let chosen = || {
        let here = PathBuf::from("runs");
        let Some(own) = platform::own_folders().map(|(data, _)| data.join("runs")) else { return here };
        let (used, other) = if folders::in_source_tree() { (here, own) } else { (own, here) };
        if holds_runs(&other) {
            let (used, other) = (used.display(), other.display());
            terminal::note(&format!("stepbell: runs are those in {used}; for those in {other} add --runs {other}"));
        }
        used
    };
    USUAL.get_or_init(chosen).clone()
}

fn holds_runs(folder: &Path) -> bool {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    entries.map(|e| e.path()).any(|path| path.extension().is_some_and(|x| x == "journal"))
}
