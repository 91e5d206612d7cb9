//! The acoustic model's own arithmetic: the wide ear, pronunciations and the search for one phrase. It weighs what libvosk
//! found, and looks again for what was not found.

pub mod accent;
pub mod ear;
pub mod enrol;
pub mod evidence;
pub mod features;
pub mod filler;
pub mod g2p;
pub mod graph;
pub mod phones;
pub mod phrase;
mod posterior;
pub mod scores;
pub mod sweep;
pub mod verifier;
pub mod viterbi;

/// Largest file of a model that is read, in bytes.
pub const LARGEST_FILE: u64 = 2 << 30;
