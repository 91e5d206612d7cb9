//! `class FOLDER`: many people's runs, a folder each, as one page.

use super::{Failure, index};
use crate::class::{Person, class_page};
use crate::history::readiness;
use crate::terminal::outln;
use crate::text::harmless;
use std::path::PathBuf;

/// Which class.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// A folder that holds a folder of runs for each person
    folder: PathBuf,
    /// The section, by its name; the one rehearsed most where none is named
    #[arg(long, value_name = "ID")]
    section: Option<String>,
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
    for folder in folders {
        let name = folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
        people.push(Person { name, history: index::runs_in(&folder)?, section: None, ready: None });
    }
    // The section, edition and compression that most runs are of.
    let mut counts: Vec<(usize, &crate::history::About)> = vec![];
    for run in people.iter().flat_map(|p| p.history.runs.iter().map(|r| &p.history.sections[r.section as usize])) {
        if options.section.as_ref().is_some_and(|id| run.id != *id) {
            continue;
        }
        match counts.iter_mut().find(|(_, about)| *about == run) {
            Some((count, _)) => *count += 1,
            None => counts.push((1, run)),
        }
    }
    let about = counts.into_iter().max_by_key(|(count, _)| *count).map(|(_, about)| about.clone());
    let about = about.ok_or_else(|| failure(&format!("{}: no runs here", options.folder.display())))?;
    for person in &mut people {
        person.section = person.history.sections.iter().position(|a| *a == about);
        person.ready = person.section.and_then(|s| readiness(&person.history, s, person.history.runs.len() as u64));
    }
    let title = format!("{}, edition {}", about.title, about.edition);
    super::page::write(&options.out, &harmless(&class_page(&title, &people)))?;
    outln!("class: {} people, {}", people.len(), options.out.display());
    Ok(())
}
