//! A person's profile, which `enrol` makes and every run listens with.

use super::Failure;
use crate::listen::{Profile, VERSION};
use crate::platform;
use crate::terminal::outln;
use std::path::{Path, PathBuf};

/// Where a person's profile lies.
pub fn path(runs: &Path) -> PathBuf {
    runs.join("profile.toml")
}

/// The profile in a folder of runs, if there is one; told and left aside where it was made with another model.
pub fn read(runs: &Path, model: &str) -> Result<Profile, Failure> {
    let path = path(runs);
    let failure = |e: &dyn std::fmt::Display| {
        Failure::storage(format!("{}: {e}", path.display()), "mend it, or delete it and enrol again")
    };
    let text = match platform::read_text(&path, super::SMALL) {
        Ok(text) => text,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Profile::default()),
        Err(e) if e.kind() == std::io::ErrorKind::NotADirectory => return Err(super::runs::none(runs)),
        Err(e) => return Err(failure(&e)),
    };
    let profile: Profile = toml::from_str(&text).map_err(|e| failure(&e))?;
    if profile.version != VERSION {
        return Err(failure(&format!("is of version {}, this program reads {VERSION}", profile.version)));
    }
    if profile.model != model {
        outln!("{} was made with another model and is left aside: enrol again.", path.display());
        return Ok(Profile::default());
    }
    Ok(profile)
}
