//! Bytes to a journal. Any bytes are answered with a journal or a flaw.

use super::{Entry, Header, Journal, Record, VERSION, added, hex};
use crate::session::Event;
use crate::time::{RATE, SampleIndex};
use sha2::{Digest, Sha256};

/// Longest line read, in bytes: a section file's largest size, escaped, and room to spare.
pub(super) const LONGEST_LINE: usize = 8 << 20;

/// Largest journal read, in bytes: a day of events is a few.
pub(super) const LARGEST: u64 = 256 << 20;

/// Longest run: no place in a journal lies further behind its start.
pub(super) const LONGEST_DAYS: u64 = 7;

/// Longest time that nobody listened, and most samples lost.
const LONGEST_YEARS: u64 = 100;

/// Why bytes are no journal.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Flaw {
    /// There is no right first line.
    #[error("this is no journal: {0}")]
    NotAJournal(&'static str),
    /// A later program wrote it.
    #[error("this journal is of version {0}, and this program knows those up to {VERSION}")]
    Newer(u32),
    /// A line in the middle is damaged.
    #[error("the line at byte {offset} is damaged ({why}), and there are lines behind it")]
    Damaged {
        /// Where the damaged line begins.
        offset: usize,
        /// What is wrong with it.
        why: &'static str,
    },
}

/// Read a journal of any version so far.
pub fn read(bytes: &[u8]) -> Result<Journal, Flaw> {
    let mut lines = bytes.split_inclusive(|b| *b == b'\n');
    let first = lines.next().ok_or(Flaw::NotAJournal("it is empty, so the run ended before it began"))?;
    let (json, mut sum) = checked(first, 0).map_err(Flaw::NotAJournal)?;
    let header: Header = header(json)?;
    let chained = header.stepbell > 1;
    let mut offset = first.len();
    let (mut records, mut digests): (Vec<Record>, Vec<(usize, String)>) = (vec![], vec![]);
    for line in lines {
        let before = if chained { sum } else { 0 };
        let parsed = checked(line, before).and_then(|(json, sum)| {
            let line: Entry = serde_json::from_slice(json).map_err(|_| "it holds no event")?;
            let (Entry::Event(Record { at, .. }) | Entry::Digest { at, .. }) = &line;
            let last = records.last().map_or(SampleIndex(0), |r| r.at);
            match &line {
                _ if *at < last => Err("it lies before the line in front of it"),
                _ if !within(*at) => Err(TOO_FAR),
                Entry::Event(record) if !bounded(&record.event) => Err(TOO_FAR),
                _ => Ok((line, sum)),
            }
        });
        match parsed {
            Ok((Entry::Event(record), after)) => {
                records.push(record);
                sum = after;
            }
            Ok((Entry::Digest { digest, .. }, after)) => {
                digests.push((records.len(), digest));
                sum = after;
            }
            Err(_) if one_write(line, &bytes[offset..]) => {
                return Ok(Journal { header, records, digests, length: offset, torn: bytes.len() - offset, sum });
            }
            Err(why) => return Err(Flaw::Damaged { offset, why }),
        }
        offset += line.len();
    }
    Ok(Journal { header, records, digests, length: offset, torn: 0, sum })
}

const TOO_FAR: &str = "it has a place more than 7 days behind the start, or a time of more than 100 years";

/// Whether a place lies within the longest run.
pub(super) fn within(place: SampleIndex) -> bool {
    place.0 <= RATE * 86_400 * LONGEST_DAYS
}

/// Whether all numbers in an event are of a size that a run can have: what reckons with them needs no further look.
fn bounded(event: &Event) -> bool {
    let years = LONGEST_YEARS * 366 * 86_400;
    match event {
        Event::Heard(heard) => within(heard.start) && within(heard.end),
        Event::Masked(from, until) | Event::Spoke(from, until) => within(*from) && within(*until),
        Event::Searched(found) => found.iter().all(|(_, place)| within(*place)),
        Event::Overflowed(samples) => *samples <= years * RATE,
        Event::Away(_, length) => length.is_none_or(|ms| ms.0 <= years * 1000),
        Event::Opened
        | Event::SpeechStarted(_)
        | Event::SpeechEnded(_)
        | Event::TimerFired(_)
        | Event::MicrophoneEnded
        | Event::Interrupted
        | Event::Beat
        | Event::MicrophoneLost => true,
    }
}

/// Whether `rest`, which begins with `line`, may have been left by one write that was not finished: it is that line alone, or
/// that line and a digest.
fn one_write(line: &[u8], rest: &[u8]) -> bool {
    let behind = &rest[line.len()..];
    let whole = behind.iter().position(|b| *b == b'\n').is_none_or(|end| end + 1 == behind.len());
    behind.is_empty() || whole && behind.windows(10).any(|w| w == b"\"digest\":\"")
}

fn header(json: &[u8]) -> Result<Header, Flaw> {
    #[derive(serde::Deserialize)]
    struct Version {
        stepbell: u32,
    }
    let version: Version = serde_json::from_slice(json).map_err(|_| Flaw::NotAJournal("its header has no version"))?;
    match version.stepbell {
        0 => return Err(Flaw::NotAJournal("its version is 0")),
        1..=VERSION => {}
        newer => return Err(Flaw::Newer(newer)),
    }
    let header: Header = serde_json::from_slice(json)
        .map_err(|_| Flaw::NotAJournal("its header lacks something or has a wrong kind"))?;
    if header.stepbell > 1 && header.section_sha256 != hex(&Sha256::digest(&header.section)) {
        return Err(Flaw::NotAJournal("its section is not the one its header names"));
    }
    if header.stepbell > 1 && header.rate != RATE {
        return Err(Flaw::NotAJournal("its places are counted at another rate"));
    }
    Ok(header)
}

/// The JSON of one whole line, and the sum behind it.
pub(super) fn checked(line: &[u8], before: u32) -> Result<(&[u8], u32), &'static str> {
    if line.len() > LONGEST_LINE {
        return Err("it is too long");
    }
    let line = line.strip_suffix(b"\n").ok_or("it is not finished")?;
    let (sum, json) = line.split_at_checked(9).ok_or("it is too short")?;
    let digits = sum.strip_suffix(b" ").filter(|d| d.iter().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')));
    let digits = digits.ok_or("it does not begin with a sum")?;
    let sum = digits.iter().fold(0u32, |n, b| n << 4 | u32::from(if *b > b'9' { b - b'a' + 10 } else { b - b'0' }));
    if added(before, json) == sum { Ok((json, sum)) } else { Err("its sum is wrong") }
}
