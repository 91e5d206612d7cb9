//! `class FOLDER`: many people's runs, a folder each, as one page, and as a table for a gradebook.

use super::consent::{self, Share};
use super::output::{self, Content};
use super::{Failure, index, page, runs};
use crate::class::{Person, by_need, class_page, gradebook, led_to};
use crate::history::{About, History, readiness};
use crate::platform;
use crate::terminal::{self, Progress, outln};
use crate::text::{count, harmless, percent_encoded};
use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

/// Which class.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// A folder that holds a folder of runs for each person
    folder: PathBuf,
    /// The section, by its name; the one that most whole runs are of where none is named
    #[arg(long, value_name = "ID")]
    section: Option<String>,
    /// The runs on a clock compressed so many times (1: not at all); those that most whole runs are of where it is not given
    #[arg(long, value_name = "TIMES")]
    compress: Option<u32>,
    /// The page to write
    #[arg(long, default_value = "class.html", value_name = "HTML")]
    out: PathBuf,
    /// A table for a gradebook to write besides, a row a person (RFC 4180)
    #[arg(long, value_name = "CSV")]
    csv: Option<PathBuf>,
    /// Nobody's name: aliases instead, and no links, which hold names
    #[arg(long)]
    no_names: bool,
}

/// Write the page of a class.
pub fn run(options: &Options) -> Result<(), Failure> {
    output::free(&options.out, Content::Page, "--out")?;
    if let Some(csv) = &options.csv {
        output::free(csv, Content::Gradebook, "--csv")?;
        output::apart(csv, &options.out, "where the page is written", "--csv")?;
    }
    let hint = "name a folder that holds a folder of runs for each person";
    let failure = |e: &dyn std::fmt::Display| Failure::storage(e, hint);
    let folders = runs::people(&options.folder)
        .map_err(|e| failure(&format!("{}: {}", options.folder.display(), platform::why(&e))))?;
    let mut people: Vec<(PathBuf, Person)> = vec![];
    let mut progress = Progress::of("people read", folders.len());
    for (place, folder) in folders.into_iter().enumerate() {
        let own = folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let agreed = consent::read(&folder)?;
        if agreed.as_ref().is_some_and(|c| c.share == Share::None) {
            terminal::note(&format!("stepbell: {own} shares nothing, and is left out"));
            continue;
        }
        let alias = || agreed.map_or_else(|| format!("person {}", place + 1), |c| c.alias);
        let name = if options.no_names { alias() } else { own };
        let history = index::runs_in(&folder)?;
        people.push((folder, Person { name, history, section: None, ready: None, pages: BTreeMap::new() }));
        progress.advance(1);
    }
    drop(progress);
    let about = most(people.iter().map(|(_, p)| &p.history), |about| {
        options.section.as_ref().is_none_or(|id| about.id == *id)
            && options.compress.is_none_or(|c| about.compress == c)
    });
    let about = about.ok_or_else(|| failure(&format!("{}: no such runs here", options.folder.display())))?;
    weigh(&about, &mut people);
    let (folders, mut people): (Vec<PathBuf>, Vec<Person>) = people.into_iter().unzip();
    if !options.no_names {
        let led = led_to(&about, &people);
        for ((person, folder), names) in people.iter_mut().zip(&folders).zip(&led) {
            person.pages = pages(folder, names, &options.out);
        }
    }
    by_need(&mut people);
    page::write(&options.out, &harmless(&class_page(&about, &people)))?;
    if let Some(csv) = &options.csv {
        page::write(csv, &gradebook(&about, &people)).map_err(|failure| failure.or("the page itself is written"))?;
    }
    let runs = about.runs(people.iter().filter_map(|p| Some(p.history.of(p.section?).len())).sum());
    outln!("class: {}, {runs}, {}", count(people.len(), "person"), options.out.display());
    Ok(())
}

/// Find out how ready everybody is, on every core.
fn weigh(about: &About, people: &mut [(PathBuf, Person)]) {
    let progress = std::sync::Mutex::new(Progress::of("people weighed", people.len()));
    let cores = std::thread::available_parallelism().map_or(1, |n| n.get());
    let part = people.len().div_ceil(cores).max(1);
    std::thread::scope(|scope| {
        for part in people.chunks_mut(part) {
            scope.spawn(|| {
                for (_, person) in part {
                    person.section = person.history.sections.iter().position(|a| a.same(about));
                    let ready = |s: usize| readiness(&person.history, s, person.history.seed(s));
                    person.ready = person.section.and_then(ready);
                    if let Ok(mut progress) = progress.lock() {
                        progress.advance(1);
                    }
                }
            });
        }
    });
}

/// Links to the pages of these runs. A page that isn't there yet is written beside its journal, as the run's end does it; where that
/// fails there is no link.
fn pages(folder: &Path, names: &[String], from: &Path) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    for name in names {
        let (journal, page) = (folder.join(format!("{name}.journal")), folder.join(format!("{name}.html")));
        let write = || {
            let (read, session) = runs::lived(&journal)?;
            page::of_run(&journal, &read.header, &session)
        };
        if !page.exists()
            && let Err(failure) = write()
        {
            terminal::warn(format_args!("no page of {name}: {}", failure.message), "");
            continue;
        }
        found.insert(name.clone(), link(&page, from));
    }
    found
}

/// A file as a link from a page that is to lie at `from`: relative, so that both can be moved together.
fn link(file: &Path, from: &Path) -> String {
    let parts = |path: &Path| -> Vec<String> {
        let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
        let kept = whole.components().filter(|c| !matches!(c, Component::CurDir));
        kept.map(|c| c.as_os_str().to_string_lossy().into_owned()).collect()
    };
    let (to, mut from) = (parts(file), parts(from));
    from.pop();
    let shared = to.iter().zip(&from).take_while(|(a, b)| a == b).count();
    let written = |part: &String| percent_encoded(part, b"-_.~");
    let up = std::iter::repeat_n("..".to_string(), from.len() - shared);
    up.chain(to[shared..].iter().map(written)).collect::<Vec<_>>().join("/")
}

/// The section, edition and compression that most whole runs are of; where none is whole, that of most runs.
fn most<'a>(histories: impl Iterator<Item = &'a History>, wanted: impl Fn(&About) -> bool) -> Option<About> {
    let mut counts: Vec<((usize, usize), &About)> = vec![];
    let runs = histories.flat_map(|h| h.runs.iter().map(|r| (r.whole, &h.sections[r.section as usize])));
    for (whole, about) in runs.filter(|(_, about)| wanted(about)) {
        let place = counts.iter().position(|(_, known)| known.same(about)).unwrap_or_else(|| {
            counts.push(((0, 0), about));
            counts.len() - 1
        });
        counts[place].0.0 += usize::from(whole);
        counts[place].0.1 += 1;
    }
    counts.into_iter().max_by_key(|(count, _)| *count).map(|(_, about)| about.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_leads_from_where_the_page_lies() {
        let link = |to: &str, from: &str| super::link(Path::new(to), Path::new(from));
        assert_eq!(link("/a/class/ann/x.html", "/a/class/page.html"), "ann/x.html");
        assert_eq!(link("/a/class/ann b/x#1.html", "/a/out/page.html"), "../class/ann%20b/x%231.html");
    }
}
