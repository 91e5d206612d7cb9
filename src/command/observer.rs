//! `sheet FILE`, `agree RUN --ticks CSV`: somebody who watches beside the tool.

use super::Failure;
use super::recap::Which;
use crate::class::{agreement, sheet};
use crate::recap;
use crate::terminal::outln;
use crate::text::{count, harmless};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Which section.
#[derive(clap::Args, Debug)]
pub struct Sheet {
    /// The section file
    file: PathBuf,
    /// The page to write
    #[arg(long, default_value = "sheet.html", value_name = "HTML")]
    out: PathBuf,
}

/// Which run and whose ticks.
#[derive(clap::Args, Debug)]
pub struct Agree {
    #[command(flatten)]
    which: Which,
    /// A CSV file with the columns `step` (its name in the section file) and `seen` (yes or no)
    #[arg(long, value_name = "CSV")]
    ticks: PathBuf,
}

/// Write an observer's sheet.
pub fn sheet_of(options: &Sheet) -> Result<(), Failure> {
    let (section, _) = super::section(&options.file, 0)?;
    super::page::write(&options.out, &harmless(&sheet(&section)))?;
    outln!("sheet: {}", options.out.display());
    Ok(())
}

/// Print how far the tool and an observer agree.
pub fn agree(options: &Agree) -> Result<(), Failure> {
    let (_, session) = super::recap::lived(&super::recap::find(&options.which)?)?;
    let section = session.section();
    let ticks = ticks(&options.ticks)?;
    let review = recap::reviewed(section, session.outcome());
    let mut compared = vec![];
    for (place, step) in section.steps.iter().enumerate() {
        if let Some(seen) = ticks.get(&step.id) {
            compared.push((place, review.steps.iter().any(|t| t.step == place), *seen));
        }
    }
    let strangers: Vec<&str> =
        ticks.keys().filter(|id| section.steps.iter().all(|s| s.id != **id)).map(String::as_str).collect();
    if !strangers.is_empty() || compared.is_empty() {
        let what = if compared.is_empty() {
            "none of its steps is in the run's section".into()
        } else {
            format!("not in the run's section: {}", strangers.join(", "))
        };
        return Err(Failure::authored(
            format!("{}: {what}", options.ticks.display()),
            "use the steps' names as the observer's sheet has them",
        ));
    }
    let called: Vec<bool> = compared.iter().map(|c| c.1).collect();
    let seen: Vec<bool> = compared.iter().map(|c| c.2).collect();
    let found = agreement(&called, &seen);
    let [both, only_called, only_seen, neither] = found.counts;
    outln!(
        "{} compared: {both} called and seen, {only_called} only called, {only_seen} only seen, {neither} neither.",
        count(compared.len(), "step")
    );
    match found.kappa {
        Some(kappa) => outln!("Cohen's kappa: {kappa:.2} (1 is full agreement, 0 what chance gives)."),
        None => outln!("Cohen's kappa can't be told: every step has the same tick from both."),
    }
    for (k, called) in &found.differ {
        let title = &section.steps[compared[*k].0].title;
        outln!("  {title}: {}", if *called { "called, but not seen" } else { "seen, but not called" });
    }
    Ok(())
}

fn ticks(path: &Path) -> Result<BTreeMap<String, bool>, Failure> {
    let failure = |what: &dyn std::fmt::Display| {
        Failure::authored(
            format!("{}: {what}", path.display()),
            "give a CSV file with the columns step and seen (yes or no)",
        )
    };
    let mut reader = csv::Reader::from_path(path).map_err(|e| failure(&e))?;
    let columns = reader.headers().map_err(|e| failure(&e))?.clone();
    let column = |name: &str| {
        columns.iter().position(|c| c.trim() == name).ok_or_else(|| failure(&format!("there is no column {name}")))
    };
    let (step, seen) = (column("step")?, column("seen")?);
    let mut ticks = BTreeMap::new();
    for (k, row) in reader.records().enumerate() {
        let row = row.map_err(|e| failure(&e))?;
        let seen = match row[seen].trim().to_lowercase().as_str() {
            "yes" | "y" | "1" | "x" => true,
            "no" | "n" | "0" | "" => false,
            other => return Err(failure(&format!("line {}: \"{other}\" is neither yes nor no", k + 2))),
        };
        if ticks.insert(row[step].trim().to_string(), seen).is_some() {
            return Err(failure(&format!("line {}: {} is there twice", k + 2, &row[step])));
        }
    }
    Ok(ticks)
}
