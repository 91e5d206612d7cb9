//! `sections`: the sections that are shipped, and which one a bare name means.

use super::{Failure, authored};
use crate::authoring;
use crate::section::Section;
use crate::terminal::{outln, table};
use crate::text::count;
use crate::time::Ms;
use std::path::{Path, PathBuf};

/// Every authored file in the folder and the folders in it, by name.
pub(super) fn files() -> Vec<PathBuf> {
    let inside = |folder: &Path| -> Vec<PathBuf> {
        std::fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path()).collect()
    };
    let entries = inside(&super::prompts());
    let deeper = entries.iter().filter(|p| p.is_dir()).flat_map(|p| inside(p)).collect::<Vec<_>>();
    let mut files: Vec<PathBuf> = entries.into_iter().chain(deeper).collect();
    files.retain(|p| p.extension().is_some_and(|e| e == "toml") && p.is_file());
    files.sort();
    files
}

/// The bare name of a file.
pub(super) fn name(file: &Path) -> &str {
    file.file_stem().and_then(|s| s.to_str()).unwrap_or_default()
}

/// The file that is meant: a path as it is, and a bare name that is no file here the shipped one of that name.
pub(super) fn located(path: &Path) -> Result<PathBuf, Failure> {
    let bare = path.components().count() == 1 && path.extension().is_none() && !path.exists();
    let Some(wanted) = path.to_str().filter(|_| bare) else { return Ok(path.to_path_buf()) };
    let files = files();
    if let Some(file) = files.iter().find(|f| name(f) == wanted) {
        return Ok(file.clone());
    }
    let hint = match authoring::nearest(wanted, files.iter().map(|f| name(f))) {
        Some(near) => format!("did you mean {near}? `stepbell sections` lists what is there"),
        None => "`stepbell sections` lists what is there; or name a file".into(),
    };
    Err(Failure::authored(format!("{wanted}: there is no such file here, and no shipped section of that name"), hint))
}

/// List the shipped sections: name, minutes, trade and title.
pub fn run() -> Result<(), Failure> {
    let files = files();
    let mut rows = vec![];
    for file in &files {
        let text = authored(file, "a folder with sections")?;
        let row = match authoring::read(&text).0 {
            Some(section) => [name(file).into(), minutes(&section), section.trade.clone(), section.title.clone()],
            None => match authoring::exam(&text).0 {
                Some(exam) => [name(file).into(), String::new(), count(exam.sections.len(), "section"), exam.title],
                None => continue,
            },
        };
        rows.push(row.to_vec());
    }
    if rows.is_empty() {
        return Err(Failure::storage(
            format!("{}: no sections here", super::prompts().display()),
            "name a section by its file",
        ));
    }
    outln!("{}", table(&rows));
    outln!(
        "\nRehearse one by its name: stepbell rehearse {}. Files of your own are named by their path.",
        name(&files[0])
    );
    Ok(())
}

/// The limits of a section's phases, added up.
fn minutes(section: &Section) -> String {
    let limits: Vec<Ms> = section.phases.iter().filter_map(|p| p.clock.limit).collect();
    if limits.is_empty() { "untimed".into() } else { limits.iter().copied().sum::<Ms>().to_string() }
}
