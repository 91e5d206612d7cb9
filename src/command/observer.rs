//! `sheet FILE`, `agree RUN --ticks CSV`: somebody who watches beside the tool.

use super::Failure;
use super::output::{self, Content};
use super::runs::RunArgument;
use crate::class::{agreement, sheet};
use crate::outcome::Outcome;
use crate::platform;
use crate::recap;
use crate::review::{Claim, Finding, Review, score, sheet as sheet_of_run};
use crate::section::Section;
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
    run: RunArgument,
    /// A CSV file with the columns `step` (its name in the section file, or a criterion's number) and `seen` (yes or no), and
    /// `in_place` (yes or no) and `remarks` where they were filled in
    #[arg(long, value_name = "CSV")]
    ticks: PathBuf,
}

/// Write an observer's sheet.
pub fn sheet_of(options: &Sheet) -> Result<(), Failure> {
    output::free(&options.out, Content::Page, "--out")?;
    let (section, _) = super::section(&options.file, 0)?;
    super::page::write(&options.out, &harmless(&sheet(&section)))?;
    outln!("sheet: {}", options.out.display());
    Ok(())
}

/// What an observer ticked of a step or a criterion.
struct Tick {
    seen: bool,
    /// Whether it was in its place; none where they didn't say.
    in_place: Option<bool>,
    remarks: String,
}

/// Print how far the tool and an observer agree.
pub fn agree(options: &Agree) -> Result<(), Failure> {
    let (_, session) = super::runs::lived(&super::runs::find(&options.run)?)?;
    let (section, outcome) = (session.section(), session.outcome());
    let ticks = ticks(&options.ticks)?;
    known(section, &ticks, &options.ticks)?;
    let review = recap::reviewed(section, outcome);
    let called = |place: usize| review.steps.iter().any(|t| t.step == place);
    let misplaced =
        |place: usize| review.findings.iter().any(|f| matches!(f, Finding::OutOfOrder { step, .. } if *step == place));
    let of_step: Vec<(usize, &Tick)> =
        section.steps.iter().enumerate().filter_map(|(place, s)| Some((place, ticks.get(&s.id)?))).collect();
    let title = |place: usize| section.steps[place].title.as_str();
    if !of_step.is_empty() {
        let rows: Vec<(usize, bool, bool)> = of_step.iter().map(|(p, t)| (*p, called(*p), t.seen)).collect();
        compared("", ("called", "seen"), &rows, title);
    }
    // Only what both say was called and seen can be in its place or not.
    let placed: Vec<(usize, bool, bool)> = of_step
        .iter()
        .filter(|(p, t)| called(*p) && t.seen)
        .filter_map(|(p, t)| Some((*p, !misplaced(*p), t.in_place?)))
        .collect();
    if !placed.is_empty() {
        compared(" for their place", ("called in its place", "seen in its place"), &placed, title);
    }
    criteria(section, outcome, &review, &ticks);
    for (place, tick) in of_step.iter().filter(|(_, t)| !t.remarks.is_empty()) {
        outln!("  {}, remark: {}", title(*place), tick.remarks);
    }
    Ok(())
}

/// Steps compared in one column, with Cohen's kappa and what differs.
fn compared<'a>(
    what: &str,
    (ours, theirs): (&str, &str),
    rows: &[(usize, bool, bool)],
    title: impl Fn(usize) -> &'a str,
) {
    let (called, seen): (Vec<bool>, Vec<bool>) = rows.iter().map(|r| (r.1, r.2)).unzip();
    let found = agreement(&called, &seen);
    let [both, only_called, only_seen, neither] = found.counts;
    outln!(
        "{} compared{what}: {both} {ours} and seen, {only_called} only {ours}, {only_seen} only {theirs}, {neither} neither.",
        count(rows.len(), "step")
    );
    match found.kappa {
        Some(kappa) => outln!("Cohen's kappa: {kappa:.2} (1 is full agreement, 0 what chance gives)."),
        None => outln!("Cohen's kappa can't be told: every step has the same tick from both."),
    }
    for (k, called) in &found.differ {
        let (yes, no) = if *called { (ours, theirs) } else { (theirs, ours) };
        outln!("  {}: {yes}, but not {no}", title(rows[*k].0));
    }
}

/// The criteria that were ticked: beside the tool's claim, or as the answer to what it can't hear.
fn criteria(section: &Section, outcome: &Outcome, review: &Review, ticks: &BTreeMap<String, Tick>) {
    let claims = sheet_of_run(section, &outcome.called, review);
    let (mut ticked, mut answered) = (0, 0);
    let mut points = 0;
    for (criterion, claim) in section.criteria.iter().zip(claims) {
        let Some(tick) = ticks.get(&criterion.id) else { continue };
        ticked += 1;
        let seen = if tick.seen { "seen" } else { "not seen" };
        if claim == Claim::CantBeHeard {
            answered += 1;
            points += if tick.seen { u64::from(criterion.points) } else { 0 };
            outln!("  {} {}: {seen} by the observer", criterion.id, criterion.text);
        } else if (claim == Claim::Claimed) != tick.seen {
            outln!("  {} {}: {}, but {seen}", criterion.id, criterion.text, claim.in_words());
        }
        if !tick.remarks.is_empty() {
            outln!("  {}, remark: {}", criterion.id, tick.remarks);
        }
    }
    if ticked > 0 {
        outln!("{ticked} criteria compared, {answered} of them can't be heard.");
    }
    if let Some(score) = score(section, &outcome.called, review).filter(|s| s.unheard > 0) {
        outln!("With what the observer saw: {} of {} points.", score.got + points, score.of);
    }
}

/// Every tick has to be of something in the run's section.
fn known(section: &Section, ticks: &BTreeMap<String, Tick>, file: &Path) -> Result<(), Failure> {
    let ours = |id: &String| section.steps.iter().any(|s| s.id == *id) || section.criteria.iter().any(|c| c.id == *id);
    let strangers: Vec<&str> = ticks.keys().filter(|id| !ours(id)).map(String::as_str).collect();
    if strangers.is_empty() && !ticks.is_empty() {
        return Ok(());
    }
    let what = if ticks.is_empty() {
        "none of its steps is in the run's section".into()
    } else {
        format!("not in the run's section: {}", strangers.join(", "))
    };
    let next = "use the steps' names and the criteria's numbers as the observer's sheet has them";
    Err(Failure::authored(format!("{}: {what}", file.display()), next))
}

fn ticks(path: &Path) -> Result<BTreeMap<String, Tick>, Failure> {
    let failure = |what: &dyn std::fmt::Display| {
        Failure::authored(
            format!("{}: {what}", path.display()),
            "give a CSV file with the columns step and seen (yes or no), and in_place and remarks where they were filled in",
        )
    };
    let text = platform::read_text(path, super::SMALL).map_err(|e| failure(&platform::why(&e)))?;
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let columns = reader.headers().map_err(|e| failure(&e))?.clone();
    let column = |name: &str| columns.iter().position(|c| c.trim() == name);
    let needed = |name: &str| column(name).ok_or_else(|| failure(&format!("there is no column {name}")));
    let (step, seen) = (needed("step")?, needed("seen")?);
    let (in_place, remarks) = (column("in_place"), column("remarks"));
    let mut ticks = BTreeMap::new();
    for (k, row) in reader.records().enumerate() {
        let row = row.map_err(|e| failure(&e))?;
        let tick = |text: &str| match text.trim().to_lowercase().as_str() {
            "yes" | "y" | "1" | "x" => Ok(true),
            "no" | "n" | "0" | "" => Ok(false),
            other => Err(failure(&format!("line {}: \"{other}\" is neither yes nor no", k + 2))),
        };
        let placed = in_place.map(|c| &row[c]).filter(|text| !text.trim().is_empty()).map(tick).transpose()?;
        let remarks = remarks.map_or("", |c| row[c].trim()).to_string();
        let tick = Tick { seen: tick(&row[seen])?, in_place: placed, remarks };
        if ticks.insert(row[step].trim().to_string(), tick).is_some() {
            return Err(failure(&format!("line {}: {} is there twice", k + 2, &row[step])));
        }
    }
    Ok(ticks)
}
