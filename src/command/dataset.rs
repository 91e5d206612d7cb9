//! A folder of Parquet files that many runs are archived in: `TABLE/school=…/section=…/month=…/part-….parquet`, as Hive lays
//! tables out. It is appended to by new files alone; only what is forgotten rewrites one. A run is in it once its part of `runs` is.

use super::Failure;
use crate::history::{
    ARCHIVE_VERSION, Archived, GROUP, QUESTIONS, Rows, Writer, archive_schema, tables, texts, without,
};
use crate::platform::{self, Replacement, Writing};
use crate::text::percent_encoded;
use parquet::errors::ParquetError;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::path::{Path, PathBuf};

/// The table whose files say which parts are there.
const RUNS: &str = "runs";

/// A dataset that this program alone works on.
pub struct Dataset {
    root: PathBuf,
    _lock: File,
}

fn failure(path: &Path, e: &dyn std::fmt::Display) -> Failure {
    Failure::storage(format!("{}: {e}", path.display()), "name the folder of an archive that can be written")
}

impl Dataset {
    /// The dataset in a folder; none where there is none.
    pub fn existing(root: &Path) -> Result<Option<Dataset>, Failure> {
        let schema = root.join("schema.json");
        if !schema.exists() {
            return Ok(None);
        }
        let text = platform::read_text(&schema, super::SMALL).map_err(|e| failure(&schema, &e))?;
        let version =
            serde_json::from_str::<serde_json::Value>(&text).ok().and_then(|v| v["stepbell_archive"].as_u64());
        match version {
            Some(version) if version == u64::from(ARCHIVE_VERSION) => {}
            Some(version) => {
                let what = format!(
                    "{}: an archive of version {version}; this program knows {ARCHIVE_VERSION}",
                    root.display()
                );
                return Err(Failure::storage(what, "use the program that made it, or archive to another folder"));
            }
            None => {
                let what = format!("{}: says nothing of an archive's version", schema.display());
                return Err(Failure::storage(what, "archive to another folder, or bring that file back"));
            }
        }
        let path = root.join(".lock");
        let lock = match path.exists() {
            true => platform::open_to_write(&path, Writing::AtTheEnd),
            false => platform::create(&path, Writing::AtTheEnd),
        };
        let lock = lock.map_err(|e| failure(&path, &e))?;
        if !platform::lock(&lock).map_err(|e| failure(&path, &e))? {
            let what = format!("{}: another Stepbell works on this archive", root.display());
            return Err(Failure::storage(what, "wait until it is done, then try again"));
        }
        let dataset = Dataset { root: root.to_path_buf(), _lock: lock };
        dataset.clear()?;
        Ok(Some(dataset))
    }

    /// The dataset in a folder, begun where there is none, with what is known of its tables and questions to them.
    pub fn begin(root: &Path) -> Result<Dataset, Failure> {
        let questions = root.join("questions");
        platform::folder(&questions).map_err(|e| failure(&questions, &e))?;
        for (name, text) in QUESTIONS {
            let path = questions.join(name);
            platform::replace(&path, text.as_bytes()).map_err(|e| failure(&path, &e))?;
        }
        let schema = root.join("schema.json");
        if !schema.exists() {
            platform::replace(&schema, archive_schema().as_bytes()).map_err(|e| failure(&schema, &e))?;
        }
        Dataset::existing(root)?.ok_or_else(|| failure(&schema, &"is gone again"))
    }

    /// Every part of a table, in order.
    fn parts(&self, table: &str) -> Vec<PathBuf> {
        fn below(folder: &Path, depth: usize, found: &mut Vec<PathBuf>) {
            for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
                let Ok(kind) = entry.file_type() else { continue };
                let name = entry.file_name().to_string_lossy().into_owned();
                match depth {
                    0 if kind.is_file() && is_part(&name) => found.push(entry.path()),
                    0 => {}
                    _ if kind.is_dir() && name.contains('=') => below(&entry.path(), depth - 1, found),
                    _ => {}
                }
            }
        }
        let mut found = vec![];
        below(&self.root.join(table), 3, &mut found);
        found.sort();
        found
    }

    /// The same part in another table.
    fn beside(&self, part: &Path, table: &str) -> PathBuf {
        let below: PathBuf = part.strip_prefix(&self.root).unwrap_or(part).components().skip(1).collect();
        self.root.join(table).join(below)
    }

    /// Take away parts that were written for runs which never came in, as a power cut leaves them.
    fn clear(&self) -> Result<(), Failure> {
        for table in tables().iter().filter(|t| t.name != RUNS) {
            for part in self.parts(table.name).into_iter().filter(|part| !self.beside(part, RUNS).exists()) {
                std::fs::remove_file(&part).map_err(|e| failure(&part, &e))?;
            }
        }
        Ok(())
    }

    /// The texts of one column of the runs that are here.
    pub fn all(&self, column: &str) -> Result<BTreeSet<String>, Failure> {
        let mut found = BTreeSet::new();
        for part in self.parts(RUNS) {
            found.extend(column_of(&part, column)?);
        }
        Ok(found)
    }

    /// Take away every row whose `column` holds one of these texts, from whatever file holds it. Gives how many runs went.
    pub fn forget(&self, column: &str, gone: &BTreeSet<String>) -> Result<usize, Failure> {
        let is_gone = |key: &[u8]| std::str::from_utf8(key).is_ok_and(|key| gone.contains(key));
        let mut runs = 0;
        for part in self.parts(RUNS) {
            let there = column_of(&part, column)?;
            let going = there.iter().filter(|key| gone.contains(*key)).count();
            if going == 0 {
                continue;
            }
            runs += going;
            for table in tables() {
                let file = self.beside(&part, table.name);
                let kept = if going == there.len() { Ok(()) } else { rewrite(&file, column, is_gone) };
                kept.map_err(|e| failure(&file, &e))?;
                if going == there.len() && file.exists() {
                    std::fs::remove_file(&file).map_err(|e| failure(&file, &e))?;
                    // Only empty folders go.
                    file.ancestors().skip(1).take(3).all(|folder| std::fs::remove_dir(folder).is_ok());
                }
            }
        }
        Ok(runs)
    }

    /// Begin to add runs of a school.
    pub fn append<'a>(&'a self, school: &'a str) -> Appending<'a> {
        Appending { dataset: self, school, parts: BTreeMap::new() }
    }
}

fn is_part(name: &str) -> bool {
    let stem = name.strip_prefix("part-").and_then(|n| n.strip_suffix(".parquet"));
    stem.is_some_and(|s| s.len() == 16 && s.bytes().all(|b| b.is_ascii_hexdigit()))
}

fn column_of(part: &Path, column: &str) -> Result<Vec<String>, Failure> {
    let file = platform::open(part).map_err(|e| failure(part, &e))?;
    let texts = texts(file, column).map_err(|e| {
        Failure::storage(
            format!("{}: {e}", part.display()),
            "this file of the archive is damaged: bring it back, or move it away",
        )
    })?;
    Ok(texts.iter().map(|t| String::from_utf8_lossy(t.data()).into_owned()).collect())
}

fn rewrite(path: &Path, column: &str, gone: impl Fn(&[u8]) -> bool) -> Result<(), ParquetError> {
    let old = platform::open(path)?;
    let mut new = Replacement::begin(path)?;
    without(old, column, gone, new.file())?;
    Ok(new.finish()?)
}

/// A folder's name as Hive writes a value: what a file system or a URL could misread is written `%XX`.
fn hive(column: &str, value: &str) -> String {
    format!("{column}={}", percent_encoded(value, b"-_."))
}

/// Files of one part that are open: by table the file, and the table in it.
type Open = Vec<(Replacement, Writer<File>)>;

/// Rows of one part.
struct Part {
    rows: [Rows; 4],
    open: Option<Open>,
    first: String,
}

/// Runs on their way in. Dropped unfinished, none of them came in.
pub struct Appending<'a> {
    dataset: &'a Dataset,
    school: &'a str,
    parts: BTreeMap<(String, String), Part>,
}

impl Appending<'_> {
    /// Add a run that began in this month (`YYYY-MM`).
    pub fn add(&mut self, run: &Archived, month: &str) -> Result<(), Failure> {
        let key = (run.section.id.clone(), month.to_string());
        let empty = || tables().map(|t| Rows::of(&t.columns));
        let part = self.parts.entry(key.clone());
        let part = part.or_insert_with(|| Part { rows: empty(), open: None, first: run.run.to_string() });
        run.add_to(&mut part.rows);
        if part.rows.iter().any(|rows| rows.len() >= GROUP) {
            write(self.dataset, self.school, &key, part, false)?;
        }
        Ok(())
    }

    /// Bring all of it in, the runs last of all.
    pub fn finish(mut self) -> Result<(), Failure> {
        for (key, mut part) in std::mem::take(&mut self.parts) {
            write(self.dataset, self.school, &key, &mut part, true)?;
            for (replacement, writer) in part.open.into_iter().flatten() {
                let ended = writer.finish().map_err(|e| e.to_string());
                ended
                    .and_then(|()| replacement.finish().map_err(|e| e.to_string()))
                    .map_err(|e| failure(&self.dataset.root, &e))?;
            }
        }
        Ok(())
    }
}

/// Write the tables of a part that fill a row group; all of them at its end.
fn write(dataset: &Dataset, school: &str, key: &(String, String), part: &mut Part, end: bool) -> Result<(), Failure> {
    let failed = |e: &dyn std::fmt::Display| failure(&dataset.root, e);
    if part.open.is_none() {
        part.open = Some(open(dataset, school, key, &part.first).map_err(|e| failed(&e))?);
    }
    for ((rows, table), (_, writer)) in part.rows.iter_mut().zip(tables()).zip(part.open.iter_mut().flatten()) {
        if rows.len() >= GROUP || end && !rows.is_empty() {
            writer.group(std::mem::replace(rows, Rows::of(&table.columns))).map_err(|e| failed(&e))?;
        }
    }
    Ok(())
}

/// Open the files of a new part. Its name is made of its first run's, of which it tells nothing, and is no other part's.
fn open(
    dataset: &Dataset,
    school: &str,
    (section, month): &(String, String),
    first: &str,
) -> Result<Open, ParquetError> {
    let folder = PathBuf::from(hive("school", school)).join(hive("section", section)).join(hive("month", month));
    let name = |salt: u32| {
        let sum = Sha256::digest(format!("{school}/{section}/{month}/{first}/{salt}"));
        let digits: String = sum.iter().take(8).map(|b| format!("{b:02x}")).collect();
        format!("part-{digits}.parquet")
    };
    let free = |name: &String| !dataset.root.join(RUNS).join(&folder).join(name).exists();
    let name = (0..).map(name).find(free).unwrap_or_default();
    let version = ARCHIVE_VERSION.to_string();
    let about = [("stepbell.archive", version.as_str()), ("stepbell.program", env!("CARGO_PKG_VERSION"))];
    let begin = |table: &crate::history::Table| {
        let path = dataset.root.join(table.name).join(&folder).join(&name);
        path.parent().map_or(Ok(()), platform::folder)?;
        let mut replacement = Replacement::begin(&path)?;
        let writer = Writer::begin(table.name, &table.columns, &about, replacement.file().try_clone()?)?;
        Ok((replacement, writer))
    };
    tables().iter().map(begin).collect()
}
