//! Files written whole or not at all: under a random name first, made for this alone, and renamed once all of it is on disk.

use super::private::{parent, sync_folder_of};
use super::regular::{named, regular};
use std::fs::File;
use std::io::{self, Error, ErrorKind, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Letters of a random name.
const RANDOM: usize = 12;

/// A file that will stand in the place of another one. Dropped unfinished, it is gone.
pub struct Replacement {
    part: NamedTempFile,
    path: PathBuf,
}

impl Replacement {
    /// Begin to write what is to lie at `path`, for its owner alone. What lies there already must be a regular file or a link,
    /// which is then replaced itself: what it points to is not touched.
    pub fn begin(path: &Path) -> io::Result<Replacement> {
        let name = path.file_name().ok_or_else(|| Error::new(ErrorKind::InvalidInput, "is no name of a file"))?;
        named(path)?;
        match std::fs::symlink_metadata(path) {
            // `/dev/stdout` is such a link: replaced, the system would lose it.
            Ok(about) if about.is_symlink() => match std::fs::read_link(path)? {
                to if to.starts_with("/proc") || to.starts_with("/dev") => {
                    return Err(Error::new(ErrorKind::InvalidInput, "is a link to a device, not a regular file"));
                }
                _ => {}
            },
            Ok(about) => {
                regular(about)?;
            }
            Err(error) if error.kind() == ErrorKind::NotFound => {}
            Err(error) => return Err(error),
        }
        let mut prefix = std::ffi::OsString::from(".");
        prefix.push(name);
        prefix.push(".");
        let part = tempfile::Builder::new().prefix(&prefix).suffix(PART).rand_bytes(RANDOM).tempfile_in(parent(path));
        let part = part.map_err(unnamed)?;
        Ok(Replacement { part, path: path.to_path_buf() })
    }

    /// The file to write to.
    pub fn file(&mut self) -> &mut File {
        self.part.as_file_mut()
    }

    /// Bring it to disk, and give it its name.
    pub fn finish(self) -> io::Result<()> {
        self.part.as_file().sync_all()?;
        self.part.persist(&self.path).map_err(|e| e.error)?;
        sync_folder_of(&self.path)
    }
}

/// tempfile names its random name in its errors; who calls here names the file that is meant.
fn unnamed(error: Error) -> Error {
    let text = error.to_string();
    Error::new(error.kind(), text.split(" at path ").next().unwrap_or_default())
}

/// Write a file whole or not at all, for its owner alone.
pub fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut new = Replacement::begin(path)?;
    new.file().write_all(bytes)?;
    new.finish()
}

/// End of the name of a file that is not finished yet.
const PART: &str = ".part";

/// Whether `name` is that of a [`Replacement`] of the file `of` that never came to its end, as a power cut leaves it.
pub fn is_part_of(name: &str, of: &str) -> bool {
    let random = name.strip_prefix('.').and_then(|n| n.strip_prefix(of)).and_then(|n| n.strip_prefix('.'));
    let random = random.and_then(|n| n.strip_suffix(PART));
    random.is_some_and(|r| r.len() == RANDOM && r.bytes().all(|b| b.is_ascii_alphanumeric()))
}
