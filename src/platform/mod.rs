//! The one place that knows the system: regular files within limits, files and folders that are their owner's alone, files that
//! are written whole or not at all, locks, links, the time the computer slept, where a person's data lie. It knows nothing of runs,
//! sound or sections. `unix` and `windows` have the same functions; what is alike everywhere lies beside them.

mod clock;
mod folder;
mod link;
mod private;
mod regular;
mod replace;
mod terminal;
#[cfg(unix)]
mod unix;
mod why;
#[cfg(windows)]
mod windows;

pub use clock::asleep;
pub use folder::{own_folders, program_folder, resolved};
pub use link::link;
pub use private::{
    Writing, create, folder, lock, open_to_write, others_can_write, own_folder, read_opened, sync_folder_of,
};
pub use regular::{metadata, open, read, read_text};
pub use replace::{Replacement, is_part_of, replace};
pub use terminal::{colours, quiet};
#[cfg(unix)]
use unix as system;
pub use why::why;
#[cfg(windows)]
use windows as system;

/// Begin the program anew where that makes the recogniser faster; call it before anything else is done.
pub fn begin_anew_with_fast_sums() {
    system::begin_anew_with_fast_sums();
}
