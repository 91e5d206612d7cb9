//! Reading: regular files only, and never more than a limit. A pipe would be waited for without end, a device has no end.

use super::system;
use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, Error, ErrorKind, Read};
use std::path::Path;

/// What is known of a regular file; anything else is refused.
pub fn metadata(path: &Path) -> io::Result<Metadata> {
    named(path)?;
    std::fs::metadata(path).and_then(regular)
}

/// Open a regular file to read it; anything else is refused at once.
///
/// Looked at before and after: opening alone can already do something to a device, and what lies there can be changed between.
pub fn open(path: &Path) -> io::Result<File> {
    metadata(path)?;
    let mut options = OpenOptions::new();
    system::to_read(&mut options);
    let file = options.read(true).open(path)?;
    regular(file.metadata()?)?;
    Ok(file)
}

/// All of a regular file, of `most` bytes at most.
pub fn read(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    read_opened(&mut open(path)?, most)
}

/// All of a regular file that holds UTF-8, of `most` bytes at most.
pub fn read_text(path: &Path, most: u64) -> io::Result<String> {
    let text = String::from_utf8(read(path, most)?);
    text.map_err(|e| {
        let place = e.utf8_error().valid_up_to();
        Error::new(ErrorKind::InvalidData, format!("is no text in UTF-8 (from byte {place} on)"))
    })
}

/// The rest of an opened regular file, of `most` bytes at most; what is too large is not read at all.
pub(super) fn read_opened(file: &mut File, most: u64) -> io::Result<Vec<u8>> {
    let too_large = || {
        let limit = if most >= 1 << 20 { format!("{} MiB", most >> 20) } else { format!("{} KiB", most >> 10) };
        Error::new(ErrorKind::FileTooLarge, format!("is larger than {limit}, the most that is read"))
    };
    let length = file.metadata()?.len();
    if length > most {
        return Err(too_large());
    }
    let mut bytes = Vec::with_capacity(length as usize);
    // It may grow while it is read.
    file.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most { Err(too_large()) } else { Ok(bytes) }
}

/// Refuse a name that means a device.
pub(super) fn named(path: &Path) -> io::Result<()> {
    if system::is_device_name(path) {
        return Err(Error::new(ErrorKind::InvalidInput, "is a device, not a regular file"));
    }
    Ok(())
}

/// Refuse what is no regular file, in words.
pub(super) fn regular(about: Metadata) -> io::Result<Metadata> {
    let kind = about.file_type();
    let what = match () {
        () if kind.is_file() => return Ok(about),
        () if kind.is_dir() => return Err(Error::new(ErrorKind::IsADirectory, "is a folder, not a file")),
        () if kind.is_symlink() => "a link",
        () => system::special(kind),
    };
    Err(Error::new(ErrorKind::InvalidInput, format!("is {what}, not a regular file")))
}
