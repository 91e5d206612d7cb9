//! The acoustic model's own arithmetic: the wide ear, pronunciations and the search for one phrase. It weighs what libvosk
//! found, and looks again for what was not found.

pub mod ear;
pub mod enrol;
pub mod evidence;
pub mod graph;
pub mod judge;
pub mod letters;
pub mod phones;
mod share;
pub mod spot;
pub mod sweep;

/// Largest file of a model that is read, in bytes.
pub const LARGEST_FILE: u64 = 2 << 30;
