//! `page [RUN]`, `export [RUN]`: a run as an HTML page, and as data.

use super::Failure;
use super::output::{self, Content};
use super::runs::RunArgument;
use crate::journal::Header;
use crate::platform;
use crate::recap::{self, RunView};
use crate::session::Session;
use crate::terminal::{self, outln};
use crate::text::{harmless, harmless_json};
use std::io::ErrorKind;
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
    run: RunArgument,
    /// The file to write; beside the journal where none is named
    #[arg(long, value_name = "HTML")]
    out: Option<PathBuf>,
}

/// Which data.
#[derive(clap::Args, Debug)]
pub struct Export {
    #[command(flatten)]
    run: RunArgument,
    /// As what
    #[arg(long, value_enum)]
    format: Format,
    /// The file to write; the terminal where none is named
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// Write the page of a run.
pub fn page(options: &Page) -> Result<(), Failure> {
    let path = super::runs::find(&options.run)?;
    let (journal, session) = super::runs::lived(&path)?;
    let out = match &options.out {
        None => path.with_extension("html"),
        Some(out) => {
            output::free(out, Content::Page, "--out")?;
            output::apart(out, &path.with_extension("vtt"), "where the chapters of this run lie", "--out")?;
            out.clone()
        }
    };
    write_page(&path, &journal.header, &session, &out)?;
    outln!("page: {}", out.display());
    Ok(())
}

/// Write the page of a run that has just ended, beside its journal; gives where.
pub fn of_run(path: &Path, header: &Header, session: &Session) -> Result<PathBuf, Failure> {
    let out = path.with_extension("html");
    let written = write_page(path, header, session, &out).map_err(|failure| Failure {
        hints: vec![
            "the run itself is kept in its journal; free some space, then `stepbell page` writes its page".into(),
        ],
        ..failure
    });
    written.map(|()| out)
}

fn write_page(path: &Path, header: &Header, session: &Session, out: &Path) -> Result<(), Failure> {
    let wav = path.with_extension("wav");
    // The page can only name the recording where both lie in one folder.
    let together = wav.is_file() && out.parent() == wav.parent();
    let audio = wav.file_name().filter(|_| together).map(|n| n.to_string_lossy().into_owned());
    let run = of(header, session);
    if together {
        write(&path.with_extension("vtt"), &harmless(&recap::webvtt(&run)))?;
    }
    write(out, &harmless(&recap::page(&run, audio.as_deref())))
}

/// Write a run as data.
pub fn export(options: &Export) -> Result<(), Failure> {
    let (journal, session) = super::runs::lived(&super::runs::find(&options.run)?)?;
    let run = of(&journal.header, &session);
    let (content, text) = match options.format {
        Format::Json => (Content::Json, harmless_json(&recap::json(&run)).into_owned()),
        Format::Csv => (Content::Table, recap::csv(&run)),
        Format::Vtt => (Content::Chapters, harmless(&recap::webvtt(&run)).into_owned()),
    };
    match &options.out {
        Some(out) => {
            output::free(out, content, "--out")?;
            write(out, &text)
        }
        None => {
            terminal::data(text.as_bytes());
            Ok(())
        }
    }
}

/// Print the JSON Schema of section files, or that of an exported run.
pub fn schema(run: bool) {
    outln!("{}", if run { recap::SCHEMA } else { crate::authoring::SCHEMA });
}

fn of<'a>(header: &'a Header, session: &'a Session) -> RunView<'a> {
    RunView {
        section: session.section(),
        outcome: session.outcome(),
        review: recap::reviewed(session.section(), session.outcome()),
        started: &header.started,
        mode: header.settings.mode,
        compress: header.settings.compress,
        seed: header.settings.seed,
    }
}

/// A page half written would stand for a run: whole or not at all.
pub fn write(path: &Path, text: &str) -> Result<(), Failure> {
    platform::replace(path, text.as_bytes()).map_err(|e| {
        let hint = match e.kind() {
            ErrorKind::StorageFull => "free some space, or name a file on another disk with --out",
            _ => "name a file that can be written with --out",
        };
        Failure::storage(format!("{}: {}", path.display(), platform::why(&e)), hint)
    })
}
