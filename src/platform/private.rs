//! Files and folders that are their owner's alone. Nothing here follows a link that somebody else may have planted.

use super::regular::{self, regular};
use super::system;
use std::fs::{DirBuilder, File, OpenOptions, TryLockError};
use std::io::{self, Error, ErrorKind};
use std::path::Path;

/// Where a file that is opened to be written takes what is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Writing {
    /// Always at its end.
    AtTheEnd,
    /// Where its writer says.
    Anywhere,
}

fn options(writing: Writing) -> OpenOptions {
    let mut options = OpenOptions::new();
    options.read(true);
    system::to_write(&mut options);
    match writing {
        Writing::AtTheEnd => options.append(true),
        Writing::Anywhere => options.write(true),
    };
    options
}

/// Make a file that isn't there yet. Only its owner can read it.
pub fn create(path: &Path, writing: Writing) -> io::Result<File> {
    regular::named(path)?;
    options(writing).create_new(true).open(path)
}

/// Open a regular file to read and write it; a link is refused.
pub fn open_to_write(path: &Path, writing: Writing) -> io::Result<File> {
    regular::named(path)?;
    regular(std::fs::symlink_metadata(path)?)?;
    let file = options(writing).open(path)?;
    regular(file.metadata()?)?;
    Ok(file)
}

/// All that an opened file holds from where it stands, of `most` bytes at most.
pub fn read_opened(file: &mut File, most: u64) -> io::Result<Vec<u8>> {
    regular::read_opened(file, most)
}

/// Take a file for this program alone; false where another one holds it. It is given back when the file is closed.
pub fn lock(file: &File) -> io::Result<bool> {
    match file.try_lock() {
        Ok(()) => Ok(true),
        Err(TryLockError::WouldBlock) => Ok(false),
        Err(TryLockError::Error(error)) => Err(error),
    }
}

/// Make a folder and those it lies in, where they are missing, for their owner alone. One that is there stays as it is.
pub fn folder(path: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    system::private(&mut builder);
    builder.recursive(true).create(path).map_err(|error| match std::fs::metadata(path) {
        Ok(about) if !about.is_dir() => Error::new(ErrorKind::NotADirectory, "is a file, not a folder"),
        _ => error,
    })
}

/// The same, but refused where it is somebody else's, or others can write there.
pub fn own_folder(path: &Path) -> io::Result<()> {
    folder(path)?;
    let about = std::fs::symlink_metadata(path)?;
    if about.is_dir() && system::is_own(&about) {
        return Ok(());
    }
    Err(Error::new(ErrorKind::PermissionDenied, "is a folder that others can write in"))
}

/// Whether others than its owner can write in a folder.
pub fn others_can_write(folder: &Path) -> bool {
    std::fs::metadata(folder).is_ok_and(|about| system::others_can_write(&about))
}

/// Bring a file's name to where a power cut can't take it: it lies in its folder.
pub fn sync_folder_of(path: &Path) -> io::Result<()> {
    system::sync_folder(parent(path))
}

/// The folder that a path lies in.
pub(super) fn parent(path: &Path) -> &Path {
    path.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."))
}
