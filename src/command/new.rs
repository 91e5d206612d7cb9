//! `new FILE`: a commented section file to start from.

use super::Failure;
use crate::platform;
use crate::terminal::outln;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;

/// What a new file holds: a small section that passes `check`.
pub const STARTER: &str = include_str!("../authoring/starter.toml");

/// Write the starter; a file that exists is left alone.
pub fn run(file: &Path) -> Result<(), Failure> {
    let failure = |e: std::io::Error| {
        Failure::storage(format!("{}: {}", file.display(), platform::why(&e)), "name a file that does not exist yet")
    };
    let mut out = OpenOptions::new().write(true).create_new(true).open(file).map_err(failure)?;
    if let Err(error) = out.write_all(STARTER.as_bytes()) {
        // Half a file would be in the way of the next try. Where it can't be deleted, the message names it.
        let _ = std::fs::remove_file(file);
        let full = format!("{}: {}", file.display(), platform::why(&error));
        return Err(Failure::storage(full, "free some space, or name a file on another disk"));
    }
    outln!("written: {}; now change it, and run `stepbell check {}`", file.display(), file.display());
    Ok(())
}
