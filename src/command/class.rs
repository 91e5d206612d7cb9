//! `class FOLDER`: many people's runs, a folder each, as one page.

use super::{Failure, index};
use crate::class::{Person, class_page};
use crate::history::{About, readiness};
use crate::terminal::{Progress, outln};
use crate::text::{count, harmless};
use std::path::PathBuf;

/// Which class.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// A folder that holds a folder of runs for each person
    folder: PathBuf,
    /// The section, by its name; the one that most whole runs are of where none is named
    #[arg(long, value_name = "ID")]
    section: Option<String>,
    /// The runs on a clock compressed so many times (1: not at all); those that most whole runs are of where it is not given
    #[arg(long, value_name = "TIMES")]
    compress: Option<u32>,
    /// The page to write
    #[arg(long, default_value = "class.html", value_name = "HTML")]
    out: PathBuf,
}

/// Write the page of a class.
pub fn run(options: &Options) -> Result<(), Failure> {
    let hint = "name a folder that holds a folder of runs for each person";
    let failure = |e: &dyn std::fmt::Display| Failure::storage(e, hint);
    let entries =
        std::fs::read_dir(&options.folder).map_err(|e| failure(&format!("{}: {e}", options.folder.display())))?;
    let mut folders: Vec<PathBuf> = entries.flatten().map(|e| e.path()).filter(|p| p.is_dir()).collect();
    folders.sort();
    let mut people = vec![];
    let mut progress = Progress::of("people read", folders.len());
    for folder in folders {
        let name = folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
        people.push(Person { name, history: index::runs_in(&folder)?, section: None, ready: None });
        progress.advance(1);
    }
    drop(progress);
    let about = most(&people, |about| {
        options.section.as_ref().is_none_or(|id| about.id == *id)
            && options.compress.is_none_or(|c| about.compress == c)
    });
    let about = about.ok_or_else(|| failure(&format!("{}: no such runs here", options.folder.display())))?;
    let mut progress = Progress::of("people weighed", people.len());
    for person in &mut people {
        person.section = person.history.sections.iter().position(|a| a.same(&about));
        person.ready = person.section.and_then(|s| readiness(&person.history, s, person.history.runs.len() as u64));
        progress.advance(1);
    }
    drop(progress);
    super::page::write(&options.out, &harmless(&class_page(&about, &people)))?;
    let runs = about.runs(people.iter().filter_map(|p| Some(p.history.of(p.section?).len())).sum());
    outln!("class: {}, {runs}, {}", count(people.len(), "person"), options.out.display());
    Ok(())
}

/// The section, edition and compression that most whole runs are of; where none is whole, that of most runs.
fn most(people: &[Person], wanted: impl Fn(&About) -> bool) -> Option<About> {
    let mut counts: Vec<((usize, usize), &About)> = vec![];
    let runs =
        people.iter().flat_map(|p| p.history.runs.iter().map(|r| (r.whole, &p.history.sections[r.section as usize])));
    for (whole, about) in runs.filter(|(_, about)| wanted(about)) {
        let place = counts.iter().position(|(_, known)| known.same(about)).unwrap_or_else(|| {
            counts.push(((0, 0), about));
            counts.len() - 1
        });
        counts[place].0.0 += usize::from(whole);
        counts[place].0.1 += 1;
    }
    counts.into_iter().max_by_key(|(count, _)| *count).map(|(_, about)| about.clone())
}
