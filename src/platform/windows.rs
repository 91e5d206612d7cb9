//! Windows. Who may read a file follows from the folder it lies in, and the folders of a user are that user's alone.

use std::fs::{DirBuilder, FileType, Metadata, OpenOptions};
use std::io;
use std::os::windows::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// `FILE_FLAG_OPEN_REPARSE_POINT`: a link is opened itself, not what it points to.
const OPEN_LINK_ITSELF: u32 = 0x0020_0000;

/// A link is not followed.
pub(super) fn to_write(options: &mut OpenOptions) {
    options.custom_flags(OPEN_LINK_ITSELF);
}

/// As it is.
pub(super) fn to_read(_: &mut OpenOptions) {}

/// A folder has the rights of the one it lies in.
pub(super) fn private(_: &mut DirBuilder) {}

/// Not known without asking for access lists, which std can't.
pub(super) fn is_own(_: &Metadata) -> bool {
    true
}

/// Not known without asking for access lists, which std can't.
pub(super) fn others_can_write(_: &Metadata) -> bool {
    false
}

/// What lies there, that is neither file nor folder nor link.
pub(super) fn special(_: FileType) -> &'static str {
    "a device"
}

/// Whether a name alone means a device, wherever it lies: `NUL`, `COM1.wav`, `\\.\pipe\x`
/// (<https://learn.microsoft.com/windows/win32/fileio/naming-a-file>).
pub(super) fn is_device_name(path: &Path) -> bool {
    if path.as_os_str().to_string_lossy().starts_with(r"\\.\") {
        return true;
    }
    let name = path.file_name().map(|n| n.to_string_lossy().to_ascii_uppercase()).unwrap_or_default();
    let stem = name.split('.').next().unwrap_or_default().trim_end();
    let numbered =
        |kind: &str| stem.strip_prefix(kind).is_some_and(|n| n.len() == 1 && n != "0" && n.parse::<u8>().is_ok());
    ["CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$"].contains(&stem) || numbered("COM") || numbered("LPT")
}

/// A folder can't be synced here: NTFS keeps a journal of names itself.
pub(super) fn sync_folder(_: &Path) -> io::Result<()> {
    Ok(())
}

/// Make `name` stand for `original`, a file or a folder. Links need a right that users don't have: files get a second name where they
/// lie on the same drive, and are copied otherwise.
pub(super) fn link(original: &Path, name: &Path) -> io::Result<()> {
    if !original.is_dir() {
        return std::fs::hard_link(original, name).or_else(|_| std::fs::copy(original, name).map(drop));
    }
    std::fs::create_dir(name)?;
    for entry in std::fs::read_dir(original)? {
        let entry = entry?;
        link(&entry.path(), &name.join(entry.file_name()))?;
    }
    Ok(())
}

/// Std knows no clock that stands still while the computer sleeps. The microphone gives nothing then, and is told to have been away.
pub(super) fn asleep() -> Duration {
    Duration::ZERO
}

/// A path without detours, links left in: the system's own way of taking them out gives `\\?\C:\…`, in which libvosk's slashes mean nothing.
pub(super) fn resolved(path: &Path) -> io::Result<PathBuf> {
    std::path::absolute(path)
}

/// Folders of the person for this program. Both lie where nothing is sent to other computers with the user's profile.
pub(super) fn folder_of(_: PathBuf, local: PathBuf) -> (PathBuf, PathBuf) {
    (local.join("Stepbell"), local.join("Stepbell").join("cache"))
}

/// Nothing writes to the terminal here.
pub(super) fn quiet() {}

/// Have the console understand colours; one too old for that shows none.
pub(super) fn colours() {
    let _ = anstyle_query::windows::enable_ansi_colors();
}

/// A program can't be begun anew in its own place here.
pub(super) fn begin_anew_with_fast_sums() {}
