//! The index of a folder of runs: what each journal came to, so that thousands need not be replayed each time. The journals are
//! the truth; the index can be deleted, and is made again.

use super::{Failure, runs};
use crate::history::{History, Run};
use crate::journal;
use crate::platform;
use crate::review::Review;
use crate::session::{Session, Settings};
use crate::terminal::{self, Progress};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

/// Raised whenever what is kept, or how it is reckoned, changes.
const VERSION: u32 = 7;

/// Largest index that is read: 100,000 runs take some 40 MB.
const LARGEST: u64 = 256 << 20;

/// What a journal was when it was read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Indexed {
    length: u64,
    modified: u64,
    /// Which run it came to; none for one that can't be read.
    run: Option<u32>,
}

#[derive(Debug, Default, Serialize, Deserialize)]
struct Index {
    version: u32,
    seen: BTreeMap<String, Indexed>,
    history: History,
}

/// Every run in a folder, old ones from its index.
pub fn runs_in(folder: &Path) -> Result<History, Failure> {
    let path = folder.join(".index");
    // An index that is missing, damaged or of another version is made anew.
    let old = platform::read(&path, LARGEST).ok().and_then(|bytes| postcard::from_bytes::<Index>(&bytes).ok());
    let old = old.filter(|i| i.version == VERSION && sound(i)).unwrap_or_default();
    let mut new = Index { version: VERSION, ..Index::default() };
    new.history.sections.clone_from(&old.history.sections);
    let mut fresh = 0;
    let journals = runs::journals(folder)?;
    let mut progress = Progress::of("runs read", journals.len());
    for batch in journals.chunks(BATCH) {
        let name = |journal: &PathBuf| journal.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let found: Vec<(&PathBuf, (u64, u64))> = batch.iter().filter_map(|j| Some((j, state(j)?))).collect();
        let known = |(journal, now): &(&PathBuf, (u64, u64))| {
            old.seen.get(&name(journal)).filter(|seen| (seen.length, seen.modified) == *now)
        };
        let unknown: Vec<&PathBuf> = found.iter().filter(|f| known(f).is_none()).map(|(j, _)| *j).collect();
        fresh += unknown.len();
        let mut lived = lived(&unknown).into_iter();
        for about in &found {
            let (journal, (length, modified)) = *about;
            let run = match known(about) {
                Some(seen) => seen.run.map(|run| new.history.runs.push(old.history.runs[run as usize].clone())),
                None => lived
                    .next()
                    .flatten()
                    .map(|lived| lived.join(&mut new.history, name(journal).trim_end_matches(".journal"))),
            };
            let run = run.map(|()| new.history.runs.len() as u32 - 1);
            new.seen.insert(name(journal), Indexed { length, modified, run });
        }
        progress.advance(batch.len());
    }
    if fresh > 0 || new.seen.len() != old.seen.len() {
        // Where it can't be kept, it is made again the next time.
        let _ = keep(&path, &new);
    }
    Ok(new.history)
}

/// Whether every number in an index names something in it.
fn sound(index: &Index) -> bool {
    let History { sections, runs } = &index.history;
    let fits = |run: &Run| {
        sections
            .get(run.section as usize)
            .is_some_and(|s| s.steps.len() == run.took.len() && s.criteria.len() == run.claims.len())
    };
    runs.iter().all(fits) && index.seen.values().filter_map(|s| s.run).all(|run| (run as usize) < runs.len())
}

fn state(path: &Path) -> Option<(u64, u64)> {
    let about = std::fs::metadata(path).ok()?;
    let modified = about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?.as_millis() as u64;
    Some((about.len(), modified))
}

/// Journals looked at in one go: enough for every core, and few enough to hold.
const BATCH: usize = 512;

/// A run as its journal has it.
pub(super) struct Replayed {
    pub session: Session,
    pub settings: Settings,
    pub review: Review,
    pub started: jiff::Timestamp,
}

impl Replayed {
    fn join(self, history: &mut History, name: &str) {
        let how = (self.settings.compress, self.settings.fade);
        let began = (self.started.as_second(), name);
        history.add(self.session.section(), how, self.session.outcome(), &self.review, began);
    }
}

/// The runs of these journals, in order, on every core.
pub(super) fn lived(journals: &[&PathBuf]) -> Vec<Option<Replayed>> {
    let cores = std::thread::available_parallelism().map_or(1, |n| n.get());
    std::thread::scope(|scope| {
        let read = |part: &[&PathBuf]| part.iter().map(|j| read(j)).collect::<Vec<_>>();
        let parts = journals.chunks(journals.len().div_ceil(cores).max(1));
        let threads: Vec<_> = parts.map(|part| scope.spawn(move || read(part))).collect();
        threads.into_iter().flat_map(|t| t.join().unwrap_or_else(|e| std::panic::resume_unwind(e))).collect()
    })
}

/// Read a journal; one that can't be read is told and left out.
fn read(path: &Path) -> Option<Replayed> {
    let told = |why: &dyn std::fmt::Display| terminal::warn(format_args!("left out: {why}"), "");
    let journal = journal::load(path).map_err(|e| told(&e)).ok()?;
    let mut session = runs::session(&journal).map_err(|e| told(&format!("{}: {}", path.display(), e.message))).ok()?;
    journal.replay(&mut session, |_, _| {});
    let started: jiff::Timestamp =
        journal.header.started.parse().map_err(|e| told(&format!("{}: {e}", path.display()))).ok()?;
    let review = crate::recap::reviewed(session.section(), session.outcome());
    Some(Replayed { session, settings: journal.header.settings, review, started })
}

fn keep(path: &Path, index: &Index) -> std::io::Result<()> {
    platform::replace(path, &postcard::to_allocvec(index).map_err(std::io::Error::other)?)
}
