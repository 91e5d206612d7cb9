//! The verbs, one file each, and what they share: where things lie, and how a section file is read.

pub mod archive;
mod archived;
pub mod callouts;
pub mod check;
pub mod class;
pub mod consent;
mod dataset;
pub mod desk;
pub mod device_list;
mod devices;
pub mod enrol;
mod folders;
pub mod forget;
pub mod help;
pub mod history;
mod index;
pub mod json;
pub mod microphone;
pub mod mock;
mod mouth;
pub mod new;
pub mod observer;
mod output;
pub mod page;
pub mod probe;
mod profile;
pub mod recap;
pub mod rehearse;
pub mod resume;
mod room;
pub mod runs;
mod runs_folder;
mod runtime;
pub mod sections;
pub mod settings;
pub mod show;
mod width;

use crate::authoring::{self, Exam};
use crate::platform;
use crate::problem::Problem;
use crate::section::Section;
use crate::terminal;
pub use crate::terminal::Failure;
pub use folders::models;
use folders::{cache, mend, prompts};
pub use runs_folder::Runs;
use std::path::{Path, PathBuf};

/// Most bytes that are read of a file that a person wrote: a section, an exam, a profile, ticks. The largest shipped one has 20 KB.
pub const SMALL: u64 = 1 << 20;

/// The text of a file that people write, or of the shipped section of that name.
fn authored(path: &Path, example: &str) -> Result<String, Failure> {
    platform::read_text(&sections::located(path)?, SMALL)
        .map_err(|e| Failure::authored(format!("{}: {}", path.display(), platform::why(&e)), format!("name {example}")))
}

/// A section, where it can be used, and every problem of its text.
fn read_section(text: &str, seed: u64) -> (Option<Section>, Vec<Problem>) {
    let (section, mut problems) = authoring::read_seeded(text, seed);
    let too_wide = section.as_ref().and_then(|s| width::too_wide(s, text));
    let section = section.filter(|_| too_wide.is_none());
    problems.extend(too_wide);
    (section, problems)
}

/// Read a section file, drawn with `seed`, showing its problems; fails where it can't be used.
pub fn section(path: &Path, seed: u64) -> Result<(Section, String), Failure> {
    let text = authored(path, "a section file, for example prompts/skin-care/basic-facial.toml")?;
    if authoring::is_exam(&text) {
        let what = format!("{} is a mock exam, not a section", path.display());
        let next = format!("`stepbell mock {}` goes through it, `check` checks it", path.display());
        return Err(Failure::authored(what, next));
    }
    let (section, problems) = read_section(&text, seed);
    terminal::show_problems(path, &text, &problems);
    let section = section
        .ok_or_else(|| Failure::authored(format!("{} can't be used", path.display()), "mend the errors above"))?;
    Ok((section, text))
}

/// Read an exam file, showing its problems, and give the folder that its sections are named from; fails where it can't be used.
fn exam(path: &Path) -> Result<(Exam, PathBuf), Failure> {
    let text = authored(path, "an exam file, for example prompts/mock-exam.toml")?;
    let (exam, problems) = authoring::exam(&text);
    if exam.is_none() && !authoring::is_exam(&text) {
        let what = format!("{} is no mock exam: it names no sections", path.display());
        let next =
            format!("`stepbell rehearse {}` rehearses a section; prompts/mock-exam.toml is an exam", path.display());
        return Err(Failure::authored(what, next));
    }
    terminal::show_problems(path, &text, &problems);
    let folder = sections::located(path)?.parent().unwrap_or(Path::new(".")).to_path_buf();
    exam.map(|exam| (exam, folder))
        .ok_or_else(|| Failure::authored(format!("{} can't be used", path.display()), "mend the errors above"))
}
