//! The run's record on disk: one checked line a record, synced before its effect is heard.
//!
//! `CRC32 space JSON newline`, the sum in eight hex digits over the JSON's bytes. The first line is the header, each
//! further one an event with its place. A last line without its newline, or with a wrong sum, is a torn tail: it is cut
//! and said so. A wrong line with lines behind it is damage: it is refused with its offset.

mod store;

pub use store::{JournalError, Writer, load};

use crate::session::{Event, Mode};
use crate::time::SampleIndex;
use serde::{Deserialize, Serialize};

/// Format version that this program writes.
pub const VERSION: u32 = 1;

/// First line of a journal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Header {
    /// [`VERSION`].
    pub stepbell: u32,
    /// Civil time at the start, RFC 3339.
    pub started: String,
    /// The section file's text, whole.
    pub section: String,
    /// How far the clock is compressed; 1 is real time.
    pub compress: u32,
    /// Coach or exam.
    pub mode: Mode,
    /// What the proctor's draws were made with.
    #[serde(default)]
    pub seed: u64,
}

/// An event, and when it was known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// Place on the session's axis.
    pub at: SampleIndex,
    /// What happened.
    pub event: Event,
}

/// A journal as read back.
#[derive(Clone, Debug, PartialEq)]
pub struct Journal {
    /// First line.
    pub header: Header,
    /// Events in order.
    pub records: Vec<Record>,
    /// Bytes of a torn last line that were left out.
    pub torn: usize,
}

/// One line, newline included.
fn line(value: &impl Serialize) -> Result<Vec<u8>, serde_json::Error> {
    let json = serde_json::to_vec(value)?;
    let mut line = format!("{:08x} ", crc32fast::hash(&json)).into_bytes();
    line.extend(json);
    line.push(b'\n');
    Ok(line)
}

/// The JSON of one line without its newline, where the sum is right.
fn checked(line: &[u8]) -> Option<&[u8]> {
    let (sum, json) = line.split_at_checked(9)?;
    let sum = u32::from_str_radix(std::str::from_utf8(&sum[..8]).ok()?, 16).ok()?;
    (crc32fast::hash(json) == sum).then_some(json)
}
