//! Where `--out`, `--csv`, `--svg` and `--render` may write: a new file, or one in the place of its older self. Anything else that lies
//! there is somebody's work, and stays.

use super::Failure;
use crate::platform;
use std::fmt::Display;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// What is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Content {
    /// Of a run, a class or for an observer.
    Page,
    /// The order of a section.
    Drawing,
    /// A run as JSON.
    Json,
    /// A run as a table.
    Table,
    /// A class as a table.
    Gradebook,
    /// Chapters of a recording.
    Chapters,
    /// What was spoken.
    Sound,
}

/// Bytes looked at: enough for each beginning, laid out by whatever program.
const HEAD: u64 = 64;

impl Content {
    /// What it is called, and how it begins where white space is left out: JSON may be laid out in several manners.
    fn known(self) -> (&'static str, &'static str) {
        match self {
            Content::Page => ("an HTML page", "<!DOCTYPEhtml"),
            Content::Drawing => ("an SVG drawing", "<svg"),
            Content::Json => ("a run as JSON", "{\"stepbell_run\""),
            Content::Table => ("a run as a table", "run,section"),
            Content::Gradebook => ("a gradebook", "person,runs"),
            Content::Chapters => ("chapters in WebVTT", "WEBVTT"),
            Content::Sound => ("a WAV file", "RIFF"),
        }
    }

    fn begins(self, head: &[u8]) -> bool {
        let text = String::from_utf8_lossy(head);
        let text: String = text.trim_start_matches('\u{feff}').split_whitespace().collect();
        text.starts_with(self.known().1)
    }
}

/// Refuse to write `content` at `path`, which `option` names, where that would take away something else than an older one of its kind.
pub fn free(path: &Path, content: Content, option: &str) -> Result<(), Failure> {
    let kind = content.known().0;
    let ending = |x: &str| path.extension().is_some_and(|own| own.eq_ignore_ascii_case(x));
    if ending("journal") || ending("toml") {
        return Err(refused(path, &format!("{kind} is not written under the name of a journal or a section"), option));
    }
    // A link is replaced itself: what it points to stays. What can't be looked at, the writer tells of.
    if path.symlink_metadata().map_or(true, |about| about.is_symlink()) {
        return Ok(());
    }
    let head = head(path).map_err(|e| refused(path, &platform::why(&e), option))?;
    if !head.is_empty() && !content.begins(&head) {
        return Err(refused(path, &format!("is there and is not {kind}, so it stays as it is"), option));
    }
    if content == Content::Sound && path.with_extension("journal").exists() {
        return Err(refused(path, &"is the recording of a run, so it stays as it is", option));
    }
    Ok(())
}

/// Refuse to write where `other` lies, or will lie: an input, or another output.
pub fn apart(path: &Path, other: &Path, what: &str, option: &str) -> Result<(), Failure> {
    // What isn't there yet has no resolved path.
    let place =
        |path: &Path| -> io::Result<PathBuf> { platform::resolved(path).or_else(|_| std::path::absolute(path)) };
    match (place(path), place(other)) {
        (Ok(one), Ok(two)) if one == two => Err(refused(path, &format!("is {what}, and can't be both"), option)),
        _ => Ok(()),
    }
}

fn head(path: &Path) -> io::Result<Vec<u8>> {
    let mut head = vec![];
    platform::open(path)?.take(HEAD).read_to_end(&mut head)?;
    Ok(head)
}

fn refused(path: &Path, why: &dyn Display, option: &str) -> Failure {
    Failure::storage(format!("{}: {why}", path.display()), format!("name another file with {option}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_is_known_by_its_beginning() {
        assert!(Content::Page.begins(b"<!DOCTYPE html><html lang=\"en\">"));
        assert!(Content::Json.begins(b"{\n  \"stepbell_run\": 1,") && Content::Json.begins(b"{\"stepbell_run\":1"));
        // As a spreadsheet writes it.
        assert!(Content::Gradebook.begins("\u{feff}person,runs,last_run\r\n".as_bytes()));
        assert!(Content::Sound.begins(b"RIFF\xff\x00\x00\x00WAVEfmt "));
        for other in [&b"id = \"x\"\n"[..], b"0badf00d {\"stepbell\":2", b"step,seen\n", b"{\"name\":1}", b"# notes"] {
            for content in [Content::Page, Content::Drawing, Content::Json, Content::Table, Content::Gradebook] {
                assert!(!content.begins(other), "{content:?}");
            }
        }
    }
}
