//! Where this program lies, and where the system wants a person's data to lie.

use super::system;
use etcetera::base_strategy::{BaseStrategy, choose_native_strategy};
use std::io;
use std::path::{Path, PathBuf};

/// The folder that this program lies in, links resolved.
pub fn program_folder() -> Option<PathBuf> {
    let program = std::env::current_exe().and_then(|program| resolved(&program)).ok()?;
    program.parent().map(PathBuf::from)
}

/// A path from the root on, without links and detours where the system can take them out.
pub fn resolved(path: &Path) -> io::Result<PathBuf> {
    system::resolved(path)
}

/// This person's folders for this program: data, and what can be made again. None where no home is known.
///
/// Linux: `~/.local/share/stepbell`, `~/.cache/stepbell`, or as `XDG_DATA_HOME` and `XDG_CACHE_HOME` say. macOS: `~/Library/Application
/// Support/stepbell`, `~/Library/Caches/stepbell`. Windows: `%LOCALAPPDATA%\Stepbell`, and `cache` in it.
pub fn own_folders() -> Option<(PathBuf, PathBuf)> {
    let system = choose_native_strategy().ok()?;
    Some(system::folder_of(system.data_dir(), system.cache_dir()))
}
