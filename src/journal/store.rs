//! Writing a journal line by line with a sync after each, and reading it back.

use super::{Header, Journal, Record, VERSION, checked, line};
use serde::de::DeserializeOwned;
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

/// Why a journal can't be written or read.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// The file or its folder can't be opened, written or synced.
    #[error("{path}: {source}", path = path.display())]
    Storage {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A line in the middle is damaged.
    #[error("{path}: the record at byte {offset} is damaged, and records follow it", path = path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Where the damaged line begins.
        offset: usize,
    },
    /// The first line is missing or of another version.
    #[error("{path}: this is no journal of version {VERSION}", path = path.display())]
    NotAJournal {
        /// The file.
        path: PathBuf,
    },
}

/// The journal of the run going on.
#[derive(Debug)]
pub struct Writer {
    file: File,
    path: PathBuf,
}

impl Writer {
    /// Start a new journal; an existing file is refused. Only its owner can read it.
    pub fn create(path: &Path, header: &Header) -> Result<Writer, JournalError> {
        let storage = |source| JournalError::Storage { path: path.to_path_buf(), source };
        let file = OpenOptions::new().append(true).create_new(true).mode(0o600).open(path).map_err(storage)?;
        let mut writer = Writer { file, path: path.to_path_buf() };
        writer.write(header)?;
        // The file's name lies in its folder: sync that too, or a power cut can lose the whole file.
        if let Some(folder) = path.parent() {
            File::open(folder).and_then(|f| f.sync_all()).map_err(storage)?;
        }
        Ok(writer)
    }

    /// Append one record; it is on disk when this returns.
    pub fn append(&mut self, record: &Record) -> Result<(), JournalError> {
        self.write(record)
    }

    fn write(&mut self, value: &impl serde::Serialize) -> Result<(), JournalError> {
        let storage = |source| JournalError::Storage { path: self.path.clone(), source };
        let bytes = line(value).map_err(|e| storage(e.into()))?;
        self.file.write_all(&bytes).and_then(|()| self.file.sync_data()).map_err(storage)
    }
}

/// Read a journal back.
pub fn load(path: &Path) -> Result<Journal, JournalError> {
    let bytes = std::fs::read(path).map_err(|source| JournalError::Storage { path: path.to_path_buf(), source })?;
    let not_a_journal = || JournalError::NotAJournal { path: path.to_path_buf() };
    let mut lines = bytes.split_inclusive(|b| *b == b'\n');
    let mut offset = 0;
    let first = lines.next().ok_or_else(not_a_journal)?;
    let header: Header = parse(first).ok_or_else(not_a_journal)?;
    if header.stepbell != VERSION {
        return Err(not_a_journal());
    }
    offset += first.len();
    let mut records: Vec<Record> = vec![];
    for line in lines {
        match parse(line) {
            Some(record) => records.push(record),
            None if offset + line.len() == bytes.len() => return Ok(Journal { header, records, torn: line.len() }),
            None => return Err(JournalError::Damaged { path: path.to_path_buf(), offset }),
        }
        offset += line.len();
    }
    Ok(Journal { header, records, torn: 0 })
}

fn parse<T: DeserializeOwned>(line: &[u8]) -> Option<T> {
    serde_json::from_slice(checked(line.strip_suffix(b"\n")?)?).ok()
}
