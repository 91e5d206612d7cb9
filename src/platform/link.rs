//! One file or folder under a second name.

use std::io;
use std::path::Path;

/// Make `name` stand for `original`, a file or a folder.
pub fn link(original: &Path, name: &Path) -> io::Result<()> {
    std::os::unix::fs::symlink(std::path::absolute(original)?, name)
}
