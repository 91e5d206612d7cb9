//! Files and folders that are their owner's alone. Nothing here follows a link that somebody else may have planted.

use super::regular::{self, regular};
use rustix::fs::OFlags;
use std::fs::{DirBuilder, File, OpenOptions, TryLockError};
use std::io::{self, Error, ErrorKind};
use std::os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt};
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
    options.read(true).mode(0o600).custom_flags((OFlags::NOFOLLOW | OFlags::NONBLOCK).bits() as i32);
    match writing {
        Writing::AtTheEnd => options.append(true),
        Writing::Anywhere => options.write(true),
    };
    options
}

/// Make a file that isn't there yet. Only its owner can read it.
pub fn create(path: &Path, writing: Writing) -> io::Result<File> {
    options(writing).create_new(true).open(path)
}

/// Open a regular file to read and write it; a link is refused.
pub fn open_to_write(path: &Path, writing: Writing) -> io::Result<File> {
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
    DirBuilder::new().recursive(true).mode(0o700).create(path).map_err(|error| match std::fs::metadata(path) {
        Ok(about) if !about.is_dir() => Error::new(ErrorKind::NotADirectory, "is a file, not a folder"),
        _ => error,
    })
}

/// The same, but refused where it is somebody else's, or others can write there.
pub fn own_folder(path: &Path) -> io::Result<()> {
    folder(path)?;
    let about = std::fs::symlink_metadata(path)?;
    if about.is_dir() && about.uid() == rustix::process::geteuid().as_raw() && about.mode() & 0o022 == 0 {
        return Ok(());
    }
    Err(Error::new(ErrorKind::PermissionDenied, "is a folder that others can write in"))
}

/// Whether others than its owner can write in a folder.
pub fn others_can_write(folder: &Path) -> bool {
    std::fs::metadata(folder).is_ok_and(|about| about.mode() & 0o022 != 0)
}

/// Bring a file's name to where a power cut can't take it: it lies in its folder.
pub fn sync_folder_of(path: &Path) -> io::Result<()> {
    File::open(parent(path))?.sync_all()
}

/// The folder that a path lies in.
pub(super) fn parent(path: &Path) -> &Path {
    path.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."))
}
