//! `recap JOURNAL`: the recap of a run from its journal alone.

use super::Failure;
use crate::{authoring, journal, recap, session::Session};
use std::path::Path;

/// Print the recap of the run whose journal this is.
pub fn run(path: &Path) -> Result<(), Failure> {
    let journal =
        journal::load(path).map_err(|e| Failure::new(4, e, "name the journal file that `rehearse` printed"))?;
    if journal.torn > 0 {
        println!("The last {} bytes were never finished, and are left out.", journal.torn);
    }
    let (section, _) = authoring::read(&journal.header.section);
    let section = section.ok_or_else(|| {
        Failure::new(4, "the section in this journal can't be read", "it was written by another version")
    })?;
    let mut session = Session::new(section.compressed(journal.header.compress), journal.header.mode);
    for record in &journal.records {
        session.handle(record.at, &record.event);
    }
    print!("{}", recap::text(session.section(), session.outcome()));
    Ok(())
}
