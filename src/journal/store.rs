//! A journal on disk: each line written and synced, one writer at a time, readable by its owner alone.

use super::{
    DIGEST_EVERY, Entry, Flaw, Header, Journal, Record, hex, line, read::LARGEST, read::LONGEST_DAYS,
    read::LONGEST_LINE, read::checked, read::within,
};
use crate::platform::{self, Writing};
use crate::time::SampleIndex;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};

/// Why a journal can't be written or read.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// The file or its folder can't be opened, written or synced.
    #[error("{path}: {why}", path = path.display(), why = platform::why(source))]
    Storage {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// What is in it can't be used.
    #[error("{path}: {flaw}", path = path.display())]
    Flawed {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        flaw: Flaw,
    },
    /// Another program is writing it.
    #[error("{path}: another Stepbell is writing this run", path = path.display())]
    InUse {
        /// The file.
        path: PathBuf,
    },
    /// It was written by a program whose runs can't be gone on with.
    #[error("{path}: this run is of journal version {version}; it can be read, but not gone on with", path = path.display())]
    TooOld {
        /// The file.
        path: PathBuf,
        /// Its version.
        version: u32,
    },
}

/// Where a journal's bytes go; a file, or what a simulation puts in its place.
pub trait Disk {
    /// Put these bytes at the end. A failure may leave part of them there.
    fn append(&mut self, bytes: &[u8]) -> io::Result<()>;
    /// Bring all of it to where a power cut can't take it.
    fn sync(&mut self) -> io::Result<()>;
    /// Cut everything from this length on.
    fn cut(&mut self, length: u64) -> io::Result<()>;
}

impl Disk for File {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.write_all(bytes)
    }
    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }
    fn cut(&mut self, length: u64) -> io::Result<()> {
        self.set_len(length)
    }
}

/// The journal of the run going on. After a failure it takes nothing more: a sync that failed once can't be trusted when
/// it is tried again.
pub struct Writer {
    disk: Box<dyn Disk>,
    path: PathBuf,
    sum: u32,
    length: u64,
    since_digest: usize,
    failed: bool,
    at: SampleIndex,
}

impl Writer {
    /// Start a new journal; an existing file is refused. Only its owner can read it, and only this writer can write it.
    pub fn create(path: &Path, header: &Header) -> Result<Writer, JournalError> {
        let storage = |source| JournalError::Storage { path: path.to_path_buf(), source };
        let file = platform::create(path, Writing::AtTheEnd).map_err(storage)?;
        lock(&file, path)?;
        let writer = Writer::begin(Box::new(file), path, header)?;
        platform::sync_folder_of(path).map_err(storage)?;
        Ok(writer)
    }

    /// Start a new journal on an empty disk; `path` is for messages.
    pub fn begin(disk: Box<dyn Disk>, path: &Path, header: &Header) -> Result<Writer, JournalError> {
        let path = path.to_path_buf();
        let mut writer = Writer { disk, path, sum: 0, length: 0, since_digest: 0, failed: false, at: SampleIndex(0) };
        writer.write(header, None)?;
        Ok(writer)
    }

    /// Go on with a journal as it was read, on a disk that holds its right lines and nothing behind them.
    pub fn go_on(disk: Box<dyn Disk>, path: &Path, journal: &Journal) -> Writer {
        Writer {
            disk,
            path: path.to_path_buf(),
            sum: journal.sum,
            length: journal.length as u64,
            since_digest: journal.records.len() - journal.digests.last().map_or(0, |d| d.0),
            failed: false,
            at: SampleIndex(0),
        }
    }

    /// Open a journal to go on with it. A torn tail is moved to a file of its own beside it, named in the answer.
    pub fn resume(path: &Path) -> Result<(Journal, Writer, Option<PathBuf>), JournalError> {
        let storage = |source| JournalError::Storage { path: path.to_path_buf(), source };
        let mut file = hold(path)?;
        let bytes = platform::read_opened(&mut file, LARGEST).map_err(storage)?;
        let journal = super::read(&bytes).map_err(|flaw| JournalError::Flawed { path: path.to_path_buf(), flaw })?;
        if journal.header.stepbell < super::VERSION {
            return Err(JournalError::TooOld { path: path.to_path_buf(), version: journal.header.stepbell });
        }
        let mut aside = None;
        if journal.torn > 0 {
            let mut name = path.as_os_str().to_owned();
            name.push(format!(".torn-{}", journal.length));
            let name = PathBuf::from(name);
            platform::replace(&name, &bytes[journal.length..])
                .map_err(|source| JournalError::Storage { path: name.clone(), source })?;
            file.set_len(journal.length as u64).and_then(|()| file.sync_all()).map_err(storage)?;
            aside = Some(name);
        }
        let writer = Writer::go_on(Box::new(file), path, &journal);
        Ok((journal, writer, aside))
    }

    /// Append one record, and behind it a digest of the state it leaves, where one is given; both are on disk when this returns.
    pub fn append(&mut self, record: &Record, digest: Option<String>) -> Result<(), JournalError> {
        if !within(record.at) {
            let source = io::Error::other(format!("a run is {LONGEST_DAYS} days long at most"));
            return Err(JournalError::Storage { path: self.path.clone(), source });
        }
        self.at = record.at;
        self.since_digest = if digest.is_some() { 0 } else { self.since_digest + 1 };
        let digest = digest.map(|digest| Entry::Digest { at: record.at, digest });
        self.write(record, digest)
    }

    /// Place of the last event written.
    pub fn at(&self) -> SampleIndex {
        self.at
    }

    /// Whether a digest should follow the next record.
    pub fn digest_due(&self) -> bool {
        self.since_digest + 1 >= DIGEST_EVERY
    }

    fn write(&mut self, value: &impl serde::Serialize, behind: Option<Entry>) -> Result<(), JournalError> {
        let storage = |source| JournalError::Storage { path: self.path.clone(), source };
        if self.failed {
            return Err(storage(io::Error::other("it could not be written before, so nothing more is written")));
        }
        let (mut bytes, mut sum) = line(value, self.sum).map_err(|e| storage(e.into()))?;
        if let Some(behind) = behind {
            let (more, after) = line(&behind, sum).map_err(|e| storage(e.into()))?;
            bytes.extend(more);
            sum = after;
        }
        if let Err(error) = self.disk.append(&bytes).and_then(|()| self.disk.sync()) {
            self.failed = true;
            // Where this fails too, the torn tail is found and said when the journal is read.
            let _ = self.disk.cut(self.length);
            return Err(storage(error));
        }
        self.sum = sum;
        self.length += bytes.len() as u64;
        Ok(())
    }
}

/// Read a journal back. One that is being written can be read too.
pub fn load(path: &Path) -> Result<Journal, JournalError> {
    let storage = |source| JournalError::Storage { path: path.to_path_buf(), source };
    let bytes = platform::read(path, LARGEST).map_err(storage)?;
    super::read(&bytes).map_err(|flaw| JournalError::Flawed { path: path.to_path_buf(), flaw })
}

/// A run's id: the first 16 bytes, in hex, of SHA-256 over the JSON of its journal's first line. That line is written once and
/// stays, whatever is written behind it, and wherever the file goes.
pub fn id(path: &Path) -> Result<String, JournalError> {
    let storage = |source| JournalError::Storage { path: path.to_path_buf(), source };
    let mut first = vec![];
    let file = platform::open(path).map_err(storage)?;
    BufReader::new(file).take(LONGEST_LINE as u64).read_until(b'\n', &mut first).map_err(storage)?;
    let json = checked(&first, 0).map_err(|why| {
        let flaw = Flaw::NotAJournal(why);
        JournalError::Flawed { path: path.to_path_buf(), flaw }
    })?;
    Ok(hex(&Sha256::digest(json.0)[..16]))
}

/// Open a journal and take it for this program alone, as its writer does; it is given back when the file is closed. Whether what
/// is in it can be used is not looked at.
pub fn hold(path: &Path) -> Result<File, JournalError> {
    let opened = platform::open_to_write(path, Writing::AtTheEnd);
    let file = opened.map_err(|source| JournalError::Storage { path: path.to_path_buf(), source })?;
    lock(&file, path)?;
    Ok(file)
}

/// Whether an opened file begins as journals do: with a sum and a header, right or damaged. An empty one does, too: its run
/// ended before it began.
pub fn begins_as_one(file: &mut File) -> io::Result<bool> {
    let mut head = vec![];
    file.take(64).read_to_end(&mut head)?;
    let (sum, rest) = head.split_at(head.len().min(8));
    Ok(head.is_empty() || sum.iter().all(u8::is_ascii_hexdigit) && rest.starts_with(b" {\"stepbell\":"))
}

fn lock(file: &File, path: &Path) -> Result<(), JournalError> {
    match platform::lock(file) {
        Ok(true) => Ok(()),
        Ok(false) => Err(JournalError::InUse { path: path.to_path_buf() }),
        Err(source) => Err(JournalError::Storage { path: path.to_path_buf(), source }),
    }
}
