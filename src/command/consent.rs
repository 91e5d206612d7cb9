//! `consent`: what of a folder's runs may go into a school's archive. It stands beside the runs, and goes with them.

use super::{Failure, Runs, archived, runs};
use crate::history::tables;
use crate::platform;
use crate::terminal::{out, outln};
use serde::{Deserialize, Serialize};
use std::hash::{BuildHasher, RandomState};
use std::path::{Path, PathBuf};

/// What a person agreed to.
#[derive(clap::ValueEnum, Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Share {
    /// The runs, under the person's name
    Named,
    /// The runs, under an alias drawn by chance
    Nameless,
    /// Nothing; what was archived before is taken out again
    None,
}

/// A person's agreement, as `consent.toml` has it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Consent {
    version: u32,
    /// To what.
    pub share: Share,
    /// Since when, UTC.
    since: String,
    /// What the person is called where no name is told.
    pub alias: String,
}

/// What to agree to.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// What may be shared; what is agreed now is shown where nothing is said
    #[arg(value_enum)]
    share: Option<Share>,
    /// Where the runs lie.
    #[command(flatten)]
    runs: Runs,
}

fn path(folder: &Path) -> PathBuf {
    folder.join("consent.toml")
}

/// What the person whose runs lie here agreed to; none where they were never asked.
pub fn read(folder: &Path) -> Result<Option<Consent>, Failure> {
    let path = path(folder);
    if !path.exists() {
        return Ok(None);
    }
    let bad = |e: &dyn std::fmt::Display| {
        Failure::authored(
            format!("{}: {e}", path.display()),
            "`stepbell consent named`, `nameless` or `none` writes it anew",
        )
    };
    let text = platform::read_text(&path, super::SMALL).map_err(|e| bad(&e))?;
    let consent: Consent = toml::from_str(&text).map_err(|e| bad(&e.message()))?;
    if consent.version != 1 || consent.alias.is_empty() {
        return Err(bad(&"is of another version"));
    }
    Ok(Some(consent))
}

/// Agree, or show what was agreed.
pub fn run(options: &Options) -> Result<(), Failure> {
    let folder = options.runs.folder();
    // Where the old one can't be read, a new one is written all the same.
    let old = match options.share {
        Some(_) => read(&folder).unwrap_or(None),
        None => read(&folder)?,
    };
    let Some(share) = options.share else {
        match old {
            None => outln!("consent: nobody was asked yet, so a class's archive leaves these runs out."),
            Some(consent) => outln!("consent: {} since {}", told(&consent), consent.since),
        }
        out!("\n{}", shared());
        return Ok(());
    };
    runs::make(&folder)?;
    let alias = old.map_or_else(drawn, |old| old.alias);
    let since = jiff::Timestamp::now().strftime("%Y-%m-%d").to_string();
    let consent = Consent { version: 1, share, since, alias };
    let path = path(&folder);
    let failure = |e: &dyn std::fmt::Display| {
        Failure::storage(format!("{}: {e}", path.display()), "name a folder that can be written with --runs")
    };
    let text = toml::to_string(&consent).map_err(|e| failure(&e))?;
    let head = "# What of the runs in this folder may go into a school's archive. `stepbell consent` changes it.\n";
    platform::replace(&path, format!("{head}{text}").as_bytes()).map_err(|e| failure(&e))?;
    outln!("consent: {}, in {}", told(&consent), path.display());
    if share == Share::None {
        // From now on nothing goes in; what is in comes out.
        return archived::forget(&folder, |_| true);
    }
    out!("\n{}", shared());
    Ok(())
}

fn told(consent: &Consent) -> String {
    match consent.share {
        Share::Named => "runs may be shared under your name".into(),
        Share::Nameless => format!("runs may be shared as {}, without your name", consent.alias),
        Share::None => "nothing may be shared".into(),
    }
}

/// A name drawn by chance. The system's own chance is in the keys of a hasher.
fn drawn() -> String {
    format!("learner-{:012x}", RandomState::new().hash_one(0) >> 16)
}

/// What goes into an archive, in words.
pub fn shared() -> String {
    let mut told = "What an archive holds of a run:\n".to_string();
    for table in tables().iter().rev() {
        let names: Vec<&str> = table.columns.iter().map(|c| c.name).collect();
        told += &format!("  {} ({}): {}\n", table.name, table.what, names.join(", "));
    }
    told + "Not in it: sound, words that are no callout, questions, what `enrol` learned of a voice.\n\
            Without a name it is not without a trace: whoever knows when you rehearsed can find your runs by their times.\n"
}
