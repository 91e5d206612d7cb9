//! `archive FOLDER`: many runs into a folder of Parquet files, for DuckDB, Apache Spark and the like. What would go in is shown first;
//! who has not agreed to it is left out.

use super::archived::{self, Line};
use super::consent::{self, Share};
use super::dataset::Dataset;
use super::index::{self, Replayed};
use super::{Failure, runs};
use crate::history::Archived;
use crate::journal;
use crate::terminal::{self, Progress, out, outln, table};
use crate::text::count;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Which runs, and where to.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// A folder of runs, or one that holds a folder of runs for each person
    folder: PathBuf,
    /// The archive's folder; runs that are in it already are passed over
    #[arg(long, default_value = "archive", value_name = "DIR")]
    to: PathBuf,
    /// The school's name in the archive
    #[arg(long, default_value = "own", value_name = "NAME")]
    school: String,
    /// The class, or its instructor
    #[arg(long, value_name = "NAME")]
    class: Option<String>,
    /// Nobody's name: each person's alias instead
    #[arg(long)]
    no_names: bool,
    /// Yes, write what was shown
    #[arg(long)]
    yes: bool,
}

/// Runs looked at in one go.
const BATCH: usize = 512;

/// A person, and the runs of theirs that are new to the archive.
struct Person {
    folder: PathBuf,
    /// Name or alias, as it will be told; or why nothing of theirs is.
    told: Result<String, String>,
    fresh: Vec<(String, PathBuf)>,
    known: usize,
}

/// Show what would be archived; with `--yes`, archive it.
pub fn run(options: &Options) -> Result<(), Failure> {
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"-_.".contains(&b);
    if options.school.is_empty() || options.school.len() > 64 || !options.school.bytes().all(plain) {
        let what = format!("--school {:?}: this becomes a folder's name", options.school);
        return Err(Failure::usage(what, "up to 64 of a to z, A to Z, 0 to 9, hyphen, underscore and full stop"));
    }
    let dataset = if options.yes { Some(Dataset::begin(&options.to)?) } else { Dataset::existing(&options.to)? };
    let mut seen = dataset.as_ref().map_or(Ok(BTreeSet::new()), |d| d.all("run"))?;
    let mut people = vec![];
    for folder in folders(&options.folder)? {
        let person = person(folder, options, &mut seen)?;
        // A folder without runs is nobody's.
        people.extend(person.filter(|p| p.told.is_err() || p.known + p.fresh.len() > 0));
    }
    if people.is_empty() {
        return Err(Failure::storage(
            format!("{}: no runs here", options.folder.display()),
            "name a folder of runs, or one that holds a folder of runs for each person",
        ));
    }
    match dataset.filter(|_| options.yes) {
        Some(dataset) => write(&dataset, &people, options),
        None => {
            show(&people, options);
            Ok(())
        }
    }
}

/// The folders of runs that are meant: this one, where it holds journals, otherwise those in it.
fn folders(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    if !runs::journals(folder)?.is_empty() {
        return Ok(vec![folder.to_path_buf()]);
    }
    Ok(runs::people(folder).unwrap_or_default())
}

/// The person whose runs lie in a folder, and which of them are new; `seen` are the runs that are known.
fn person(folder: PathBuf, options: &Options, seen: &mut BTreeSet<String>) -> Result<Option<Person>, Failure> {
    let journals = runs::journals(&folder)?;
    if journals.is_empty() {
        return Ok(None);
    }
    let whole = std::path::absolute(&folder).unwrap_or_else(|_| folder.clone());
    let name = whole.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let own = folder == options.folder;
    let told = match consent::read(&folder)? {
        Some(consent) if consent.share == Share::None => Err(format!("{name}: shares nothing")),
        Some(consent) if options.no_names || consent.share == Share::Nameless => Ok(consent.alias),
        Some(_) => Ok(name),
        None if own && !options.no_names => Ok(name),
        None => Err(format!("{name}: was not asked; `stepbell consent` there")),
    };
    let (mut fresh, mut known) = (vec![], 0);
    for journal in journals.into_iter().filter(|_| told.is_ok()) {
        match journal::id(&journal) {
            Ok(id) if seen.insert(id.clone()) => fresh.push((id, journal)),
            Ok(_) => known += 1,
            Err(e) => terminal::warn(format_args!("left out: {e}"), ""),
        }
    }
    Ok(Some(Person { folder, told, fresh, known }))
}

/// Say what would go in, and write nothing.
fn show(people: &[Person], options: &Options) {
    let mut rows = vec![["as", "new", "there", "from"].map(String::from).to_vec()];
    for p in people {
        if let Ok(told) = &p.told {
            rows.push(vec![
                told.clone(),
                p.fresh.len().to_string(),
                p.known.to_string(),
                p.folder.display().to_string(),
            ]);
        }
    }
    match rows.len() {
        1 => outln!("To {}, nothing would go.", options.to.display()),
        _ => outln!("To {}, as school {}, would go:\n\n{}", options.to.display(), options.school, table(&rows)),
    }
    for why in people.iter().filter_map(|p| p.told.as_ref().err()) {
        outln!("left out: {why}");
    }
    out!("\n{}", consent::shared());
    let example = people.iter().find_map(|p| Some((p.told.as_ref().ok()?, p.fresh.last()?)));
    if let Some((told, (id, journal))) = example
        && let Some(run) = index::lived(&[journal]).pop().flatten()
    {
        outln!("\nOne of them, as its row in runs:");
        for (name, value) in as_archived(&run, id, told, options).shown() {
            outln!("  {name}: {value}");
        }
    }
    outln!("\narchive: nothing was written; add --yes to write it.");
}

fn as_archived<'a>(run: &'a Replayed, id: &'a str, person: &'a str, options: &'a Options) -> Archived<'a> {
    let settings = &run.settings;
    Archived {
        run: id,
        person,
        class: options.class.as_deref(),
        started: run.started.as_millisecond(),
        section: run.session.section(),
        outcome: run.session.outcome(),
        review: &run.review,
        mode: settings.mode,
        compress: settings.compress,
        fade: settings.fade,
        kinds: (!settings.drill.is_empty(), settings.unreported, settings.drops),
        past: settings.past.as_ref(),
    }
}

fn write(dataset: &Dataset, people: &[Person], options: &Options) -> Result<(), Failure> {
    let root = std::path::absolute(&options.to).unwrap_or_else(|_| options.to.clone());
    let mut appending = dataset.append(&options.school);
    let (mut written, mut open, mut by) = (0, 0, 0);
    let mut progress = Progress::of("runs archived", people.iter().map(|p| p.fresh.len()).sum());
    let mut notes: BTreeMap<&Path, BTreeSet<Line>> = BTreeMap::new();
    for person in people {
        let Ok(told) = &person.told else { continue };
        let before = written;
        for batch in person.fresh.chunks(BATCH) {
            let journals: Vec<&PathBuf> = batch.iter().map(|(_, journal)| journal).collect();
            for ((id, journal), run) in batch.iter().zip(index::lived(&journals)) {
                let Some(run) = run else { continue };
                // A run that may go on may come to something else.
                if !run.session.told_all() {
                    open += 1;
                    continue;
                }
                appending.add(&as_archived(&run, id, told, options), &run.started.strftime("%Y-%m").to_string())?;
                let journal = journal.file_name().unwrap_or_default().to_string_lossy().into_owned();
                let line = Line { run: id.clone(), journal, root: root.clone() };
                notes.entry(&person.folder).or_default().insert(line);
                written += 1;
            }
            progress.advance(batch.len());
        }
        by += usize::from(written > before);
    }
    drop(progress);
    // First where they go, then there: what is forgotten meanwhile is looked for.
    for (folder, mut lines) in notes {
        lines.extend(archived::read(folder)?);
        archived::keep(folder, &lines)?;
    }
    appending.finish()?;
    for why in people.iter().filter_map(|p| p.told.as_ref().err()) {
        outln!("left out: {why}");
    }
    if open > 0 {
        outln!("left out: {} still open; `resume` goes on, `resume --close` ends the latest", count(open, "run"));
    }
    let known: usize = people.iter().map(|p| p.known).sum();
    let there = if known > 0 { format!("; {} there before", count(known, "run")) } else { String::new() };
    outln!("archive: {} of {}, {}{there}", count(written, "run"), count(by, "person"), options.to.display());
    Ok(())
}
