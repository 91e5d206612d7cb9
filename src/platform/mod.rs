//! The one place that knows the system: regular files within limits, files and folders that are their owner's alone, files that
//! are written whole or not at all, locks, links, the time the computer slept. It knows nothing of runs, sound or sections.

mod clock;
mod link;
mod private;
mod regular;
mod replace;

pub use clock::asleep;
pub use link::link;
pub use private::{
    Writing, create, folder, lock, open_to_write, others_can_write, own_folder, read_opened, sync_folder_of,
};
pub use regular::{metadata, open, read, read_text};
pub use replace::{Replacement, is_part_of, replace};
