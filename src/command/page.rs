//! `page [RUN]`, `export [RUN]`: a run as an HTML page, and as data.

use super::Failure;
use super::recap::Which;
use crate::journal::Header;
use crate::recap::{self, Lived};
use crate::session::Session;
use std::io::Write;
use std::path::{Path, PathBuf};

/// What to export as.
#[derive(clap::ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Everything, after the schema that `schema --run` prints
    Json,
    /// Steps, findings and callouts, a row each (RFC 4180)
    Csv,
    /// Chapters for the recording (WebVTT)
    Vtt,
}

/// Which page.
#[derive(clap::Args, Debug)]
pub struct Page {
    #[command(flatten)]
    which: Which,
    /// The file to write; beside the journal where none is named
    #[arg(long, value_name = "HTML")]
    out: Option<PathBuf>,
}

/// Which data.
#[derive(clap::Args, Debug)]
pub struct Export {
    #[command(flatten)]
    which: Which,
    /// As what
    #[arg(long, value_enum)]
    format: Format,
    /// The file to write; the terminal where none is named
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Write the page of a run.
pub fn page(options: &Page) -> Result<(), Failure> {
    let path = super::recap::find(&options.which)?;
    let (journal, session) = super::recap::lived(&path)?;
    let out = options.out.clone().unwrap_or_else(|| path.with_extension("html"));
    write_page(&path, &journal.header, &session, &out)
}

/// Write the page of a run that has just ended, beside its journal.
pub fn of_run(path: &Path, header: &Header, session: &Session) -> Result<(), Failure> {
    write_page(path, header, session, &path.with_extension("html"))
}

fn write_page(path: &Path, header: &Header, session: &Session, out: &Path) -> Result<(), Failure> {
    let wav = path.with_extension("wav");
    // The page can only name the recording where both lie in one folder.
    let together = wav.is_file() && out.parent() == wav.parent();
    let audio = wav.file_name().filter(|_| together).map(|n| n.to_string_lossy().into_owned());
    let run = of(header, session);
    if together {
        write(&path.with_extension("vtt"), &recap::webvtt(&run))?;
    }
    write(out, &recap::page(&run, audio.as_deref()))?;
    println!("page: {}", out.display());
    Ok(())
}

/// Write a run as data.
pub fn export(options: &Export) -> Result<(), Failure> {
    let (journal, session) = super::recap::lived(&super::recap::find(&options.which)?)?;
    let run = of(&journal.header, &session);
    let text = match options.format {
        Format::Json => recap::json(&run),
        Format::Csv => recap::csv(&run),
        Format::Vtt => recap::webvtt(&run),
    };
    match &options.out {
        Some(out) => write(out, &text),
        None => std::io::stdout().write_all(text.as_bytes()).map_err(|e| Failure::new(4, e, "name a file with --out")),
    }
}

fn of<'a>(header: &'a Header, session: &'a Session) -> Lived<'a> {
    Lived {
        section: session.section(),
        outcome: session.outcome(),
        review: recap::reviewed(session.section(), session.outcome()),
        started: &header.started,
        mode: header.mode,
        compress: header.compress,
        seed: header.seed,
    }
}

/// A page half written would stand for a run: whole or not at all.
pub fn write(path: &Path, text: &str) -> Result<(), Failure> {
    super::write_private(path, text.as_bytes())
        .map_err(|e| Failure::new(4, format!("{}: {e}", path.display()), "name a file that can be written with --out"))
}
