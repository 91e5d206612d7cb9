//! The run's record on disk: one checked line a record, synced before its effect is heard. DEVELOPERS.md has it byte by byte.
//!
//! `SUM space JSON newline`. The first line is the header, each further one an event with its place or a digest of the
//! proctor's state, written together with the event in front of it. What one write may have left unfinished at the end, a wrong
//! line or a wrong line and a digest, is a torn tail: it is left out and said so. Any other wrong line is damage: it is refused
//! with its offset.

mod read;
mod store;

pub use read::{Flaw, read};
pub use store::{Disk, JournalError, Writer, begins_as_one, hold, id, load};

use crate::session::{Effect, Event, STATE, Session, Settings};
use crate::time::{RATE, SampleIndex};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// Format version that this program writes. It reads every version up to it.
pub const VERSION: u32 = 2;

/// A digest is written after this many events.
pub const DIGEST_EVERY: usize = 16;

/// First line of a journal. What version 1 didn't have is empty or 0 when read from it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Header {
    /// [`VERSION`].
    pub stepbell: u32,
    /// Version of the program that wrote it.
    #[serde(default)]
    pub program: String,
    /// Civil time at the start, RFC 3339.
    pub started: String,
    /// The section file's text, whole.
    pub section: String,
    /// SHA-256 of that text, in hex.
    #[serde(default)]
    pub section_sha256: String,
    /// Which recogniser's model listened.
    #[serde(default)]
    pub model: String,
    /// Samples a second of the axis that places are counted on.
    #[serde(default)]
    pub rate: u64,
    /// How the run is made.
    #[serde(flatten)]
    pub settings: Settings,
    /// [`STATE`] of the program that wrote it: digests of another one can't be compared.
    #[serde(default)]
    pub state: u32,
}

impl Header {
    /// A header of this version, for a run that starts at `started` (RFC 3339) with this section text.
    pub fn new(started: String, section: String, settings: impl Into<Settings>) -> Header {
        Header {
            stepbell: VERSION,
            program: env!("CARGO_PKG_VERSION").into(),
            started,
            section_sha256: hex(&Sha256::digest(&section)),
            section,
            model: String::new(),
            rate: RATE,
            settings: settings.into(),
            state: STATE,
        }
    }
}

/// An event, and when it was known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// Place on the session's axis.
    pub at: SampleIndex,
    /// What happened.
    pub event: Event,
}

/// What a line behind the header holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
enum Entry {
    Event(Record),
    Digest { at: SampleIndex, digest: String },
}

/// A journal as read back.
#[derive(Clone, Debug, PartialEq)]
pub struct Journal {
    /// First line.
    pub header: Header,
    /// Events in order.
    pub records: Vec<Record>,
    /// Digests of the proctor's state: how many events came before it, and the digest.
    pub digests: Vec<(usize, String)>,
    /// Bytes of whole, right lines.
    pub length: usize,
    /// Bytes of a torn last line behind them, which were left out.
    pub torn: usize,
    /// The sum over all JSON so far, which the next line goes on from.
    sum: u32,
}

impl Journal {
    /// Take `session` through every event, telling `each` the effects; gives how many events were taken in when a digest
    /// first differed. Digests of another [`STATE`] are passed over.
    pub fn replay(&self, session: &mut Session, mut each: impl FnMut(&Record, Vec<Effect>)) -> Option<usize> {
        let mut digests = self.digests.iter().filter(|_| self.header.state == STATE).peekable();
        let mut differs = None;
        for (place, record) in self.records.iter().enumerate() {
            let effects = session.handle(record.at, &record.event);
            each(record, effects);
            while let Some((_, digest)) = digests.next_if(|(events, _)| *events == place + 1) {
                if differs.is_none() && *digest != session.digest() {
                    differs = Some(place + 1);
                }
            }
        }
        differs
    }

    /// The last place that is on record.
    pub fn end(&self) -> SampleIndex {
        self.records.last().map_or(SampleIndex(0), |r| r.at)
    }
}

/// One line, newline included, and the sum behind it. `sum` is the one before; version 1 began anew with each line.
fn line(value: &impl Serialize, sum: u32) -> Result<(Vec<u8>, u32), serde_json::Error> {
    let json = serde_json::to_vec(value)?;
    let sum = added(sum, &json);
    let mut line = format!("{sum:08x} ").into_bytes();
    line.extend(json);
    line.push(b'\n');
    Ok((line, sum))
}

/// CRC-32 (ISO-HDLC, as in zip and PNG) of all that `sum` stands for, and `json` behind it.
fn added(sum: u32, json: &[u8]) -> u32 {
    let mut hasher = crc32fast::Hasher::new_with_initial(sum);
    hasher.update(json);
    hasher.finalize()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}
