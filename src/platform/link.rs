//! One file or folder under a second name.

use super::system;
use std::io;
use std::path::Path;

/// Make `name` stand for `original`, a file or a folder.
pub fn link(original: &Path, name: &Path) -> io::Result<()> {
    system::link(&std::path::absolute(original)?, name)
}
