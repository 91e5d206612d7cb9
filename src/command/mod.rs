//! The verbs, one file each, and what they share: where things lie, and how a failure is told.

pub mod archive;
pub mod callouts;
pub mod check;
pub mod class;
pub mod enrol;
pub mod forget;
pub mod history;
mod index;
pub mod microphone;
pub mod mock;
pub mod new;
pub mod observer;
pub mod page;
pub mod probe;
pub mod recap;
pub mod rehearse;
pub mod resume;
pub mod show;
mod stage;

use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Show a line. A run goes on when nobody reads it any more: its terminal was closed, say.
pub fn tell(line: &str) {
    let _ = writeln!(std::io::stdout(), "{line}");
}

/// Write a file whole or not at all, for its owner alone.
pub fn write_private(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut part = path.as_os_str().to_owned();
    part.push(".part");
    let mut options = std::fs::OpenOptions::new();
    let mut file = options.write(true).create(true).truncate(true).mode(0o600).open(&part)?;
    file.write_all(bytes)?;
    std::fs::rename(&part, path)
}

/// A failure as the person is told it: what, and what next.
#[derive(Debug)]
pub struct Failure {
    /// 1 authored file or settings, 2 usage, 3 device or recogniser, 4 storage.
    pub code: u8,
    /// What went wrong, and where.
    pub message: String,
    /// What to do next.
    pub hint: &'static str,
}

impl Failure {
    /// A failure with its exit code.
    pub fn new(code: u8, message: impl ToString, hint: &'static str) -> Failure {
        Failure { code, message: message.to_string(), hint }
    }

    /// Tell it on the terminal.
    pub fn report(&self) -> ExitCode {
        eprintln!("stepbell: {}", self.message);
        if !self.hint.is_empty() {
            eprintln!("  next: {}", self.hint);
        }
        ExitCode::from(self.code)
    }
}

/// The folder that set-up filled: `$STEPBELL_MODELS`, `models/fetched` here, or the one of the source tree this was built in.
pub fn models() -> PathBuf {
    let built = Path::new(env!("CARGO_MANIFEST_DIR")).join("models/fetched");
    let here = PathBuf::from("models/fetched");
    std::env::var_os("STEPBELL_MODELS").map(PathBuf::from).unwrap_or_else(|| if here.is_dir() { here } else { built })
}

/// Read a section file, drawn with `seed`, showing its problems; fails where it can't be used.
pub fn section(path: &Path, seed: u64) -> Result<(crate::section::Section, String), Failure> {
    let text = std::fs::read_to_string(path).map_err(|e| {
        Failure::new(
            1,
            format!("{}: {e}", path.display()),
            "name a section file, for example prompts/skin-care/basic-facial.toml",
        )
    })?;
    let (section, problems) = crate::authoring::read_seeded(&text, seed);
    check::show(path, &text, &problems);
    let section =
        section.ok_or_else(|| Failure::new(1, format!("{} can't be used", path.display()), "mend the errors above"))?;
    Ok((section, text))
}
