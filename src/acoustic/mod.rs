//! The acoustic model's own arithmetic: features, network, pronunciations and the search for one phrase. It weighs what libvosk
//! found, and looks again for what was not found.

pub mod enrol;
pub mod evidence;
pub mod features;
pub mod graph;
pub mod judge;
pub mod letters;
pub mod network;
pub mod phones;
mod share;
pub mod spot;

/// Largest file of a model that is read, in bytes.
pub const LARGEST_FILE: u64 = 2 << 30;
