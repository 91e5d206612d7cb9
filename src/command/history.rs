//! `history`, `ready`, `plan`: what many runs tell.

use super::{Failure, Runs, index, json as answer};
use crate::history::{
    About, Apart, Faded, History, Interval, Limiter, Pace, Readiness, Shape, TOO_FEW, Weakest, exam_readiness,
    expected, fading, fit, guesses, pace_plan, readiness, step_trends, weakest, wilson,
};
use crate::outcome::Past;
use crate::section::Section;
use crate::terminal::{outln, table};
use crate::text::percent;
use crate::time::{Ms, spoken};
use std::path::{Path, PathBuf};

/// Which runs: those of one section, one edition and one compression count together.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// The section, by its name; the one rehearsed last where none is named
    #[arg(long, value_name = "ID")]
    section: Option<String>,
    /// The runs on a clock compressed so many times (1: not at all); those of the whole run rehearsed last where it is not given
    #[arg(long, value_name = "TIMES")]
    compress: Option<u32>,
    /// Where they lie.
    #[command(flatten)]
    runs: Runs,
    /// Print it as JSON, after the schema that `schema --json` prints
    #[arg(long)]
    json: bool,
}

/// Ready for what.
#[derive(clap::Args, Debug)]
pub struct Standing {
    #[command(flatten)]
    which: Options,
    /// A whole exam: this file's sections in a row, and its mark over all points
    #[arg(long, value_name = "FILE", conflicts_with = "section")]
    exam: Option<PathBuf>,
}

/// Most left-out steps told of one kind.
const MOST_HELD: usize = 4;

/// What to plan.
#[derive(clap::Args, Debug)]
pub struct Planning {
    #[command(flatten)]
    which: Options,
    /// Percent of the limit to keep free
    #[arg(long, default_value_t = 8, value_parser = clap::value_parser!(u32).range(0..=60))]
    margin: u32,
}

/// The runs, and which of their sections is meant.
fn open(options: &Options) -> Result<(History, usize), Failure> {
    let history = index::runs_in(&options.runs.folder())?;
    let named = |about: &About| {
        options.section.as_ref().is_none_or(|id| about.id == *id)
            && options.compress.is_none_or(|c| about.compress == c)
    };
    let section = history.meant(named).ok_or_else(|| {
        let what = options.section.as_ref().map_or_else(|| "runs".into(), |id| format!("runs of \"{id}\""));
        let clock = options.compress.map_or_else(String::new, |c| format!(" compressed {c} times"));
        Failure::storage(
            format!("{}: no {what}{clock} here", options.runs.folder().display()),
            "name a section that was rehearsed, or the folder with --runs",
        )
    })?;
    Ok((history, section))
}

/// Which runs count, and what is kept apart.
fn heading(history: &History, section: usize) -> String {
    let about = &history.sections[section];
    let runs = about.runs(history.of(section).len());
    let apart = Apart::of(history, about).sentence(about).map_or_else(String::new, |apart| format!("\n{apart}"));
    format!("{} (edition {}): {runs}.{apart}", about.title, about.edition)
}

/// What the runs in a folder show somebody to be weakest in.
pub fn weak(runs: &Path, section: &Section) -> Result<Weakest, Failure> {
    let hint = "rehearse it whole first, or name steps with --drill";
    let none = |what: String| Failure::authored(format!("{}: {what}", runs.display()), hint);
    let weakest = weakest(&index::runs_in(runs)?, section)
        .ok_or_else(|| none(format!("no whole runs of \"{}\", edition {}", section.id, section.edition)))?;
    if weakest.steps.is_empty() {
        return Err(none(format!("in {} no step was left out or ran over its plan", weakest.runs)));
    }
    Ok(weakest)
}

/// What to call out next in this section, by the runs in a folder.
pub fn faded(runs: &Path, section: &Section) -> Result<Faded, Failure> {
    // A folder that isn't there yet holds no runs.
    let history = if runs.is_dir() { index::runs_in(runs)? } else { History::default() };
    Ok(fading(&history, &section.id, &section.edition))
}

/// What the runs in a folder came to, for one that is about to begin.
pub fn past(runs: &Path, section: &Section, compress: u32) -> Option<Past> {
    let history = runs.is_dir().then(|| index::runs_in(runs).ok()).flatten()?;
    crate::history::past(&history, section, compress)
}

/// Print trends.
pub fn history(options: &Options) -> Result<(), Failure> {
    let (history, section) = open(options)?;
    if options.json {
        answer::print("history", answer::history(&history, section));
        return Ok(());
    }
    outln!("{}", heading(&history, section));
    let about = &history.sections[section];
    let runs = history.of(section);
    if runs.is_empty() {
        outln!("No run came to its finish or its limit yet.");
        return Ok(());
    }
    let n = runs.len() as f64;
    let share = |hits: usize| {
        let i = wilson(hits as f64, n, 0.95);
        format!("{hits} of {} ({:.0} to {:.0} %)", runs.len(), i.low * 100.0, i.high * 100.0)
    };
    outln!(
        "Finished in time: {}. No critical finding: {}.",
        share(runs.iter().filter(|r| r.finished).count()),
        share(runs.iter().filter(|r| r.critical == 0).count())
    );
    let hygiene: u32 = runs.iter().map(|r| r.hygiene).sum();
    outln!("Hand hygiene called {:.1} times a run.", f64::from(hygiene) / n);
    if let Some((guessed, ratio, sure)) = guesses(&history, section) {
        let runs = if guessed == 1 { "one run".to_string() } else { format!("{guessed} runs, in the middle") };
        let sure = sure.map_or_else(
            || "too few for an interval".into(),
            |i| format!("90 % interval {} to {}", percent(i.low), percent(i.high)),
        );
        outln!("Time guessed aloud in {runs}: {} of the real time ({sure}).", percent(ratio));
    }
    let times: Vec<f64> = runs.iter().map(|r| r.used.seconds().max(0.1)).collect();
    if let Some(curve) = fit(&times) {
        let law = match curve.shape {
            Shape::Level => "stays about level".to_string(),
            Shape::Power => format!(
                "{} with practice, as a power of the number of runs (exponent {:+.2})",
                if curve.rate > 0.0 { "falls" } else { "rises" },
                -curve.rate
            ),
            Shape::Exponential => format!(
                "{} by {:.1} % a run",
                if curve.rate > 0.0 { "falls" } else { "rises" },
                (curve.rate.exp() - 1.0).abs() * 100.0
            ),
        };
        let expected = Ms((curve.at(n + 1.0) * 1000.0) as u64);
        outln!("The whole time {law}; expected next: {}.", spoken(expected));
    }
    let time = |t: Option<f64>| t.map_or_else(|| "-".into(), |t| Ms(t as u64).to_string());
    let mut rows = vec![["left out", "95 % interval", "middle", "lately", "plan", "step"].map(String::from).to_vec()];
    rows.extend(about.steps.iter().zip(step_trends(&history, section)).map(|(step, trend)| {
        // Nobody leaves out what need not be called.
        let needed = |told: String| if step.free { "-".into() } else { told };
        vec![
            needed(format!("{} of {}", trend.missed, runs.len())),
            needed(format!("{:.0} to {:.0} %", trend.omission.low * 100.0, trend.omission.high * 100.0)),
            time(trend.middle),
            time(trend.lately),
            step.plan.map_or_else(|| "-".into(), |plan| plan.to_string()),
            format!("{}{}", step.title, if step.critical { " (critical)" } else { "" }),
        ]
    }));
    outln!("\n{}", table(&rows));
    if about.steps.iter().any(|step| step.free) {
        outln!("\nA dash for left out: it may be, or is one of a choice.");
    }
    let unsure = about.steps.iter().zip(step_trends(&history, section)).filter(|(_, trend)| trend.unsure != [0, 0]);
    let unsure: Vec<String> =
        unsure.map(|(step, trend)| format!("  {} {}", step.title, not_sure(trend.unsure, runs.len()))).collect();
    if !unsure.is_empty() {
        outln!("\nNot heard for sure, and not counted as left out:\n{}", unsure.join("\n"));
    }
    outln!("\nCounted is what was called; nobody saw it happen.");
    Ok(())
}

/// Print readiness.
pub fn ready(standing: &Standing) -> Result<(), Failure> {
    if let Some(file) = &standing.exam {
        return exam_ready(file, &standing.which);
    }
    let options = &standing.which;
    let (history, section) = open(options)?;
    if options.json {
        answer::print("ready", answer::ready(&history, section));
        return Ok(());
    }
    outln!("{}", heading(&history, section));
    let about = &history.sections[section];
    let Some(ready) = readiness(&history, section, history.seed(section)) else {
        let few = history.of(section).len();
        outln!("Too few runs to say: {few} came to their finish or limit, and it takes {TOO_FEW}.");
        return Ok(());
    };
    let and = if ready.in_time.is_some() { " and is finished in time" } else { "" };
    outln!("Chance that the next run has no critical finding{and}: {}.", chance(&ready.good));
    if let Some(in_time) = ready.in_time {
        outln!("  no critical finding: {}", percent(ready.clean));
        outln!("  finished in time: {}", percent(in_time));
    }
    outln!("Chance that it has no finding at all, critical or not: {}.", chance(&ready.spotless));
    match (about.limit, about.compress) {
        (None, _) => outln!("The section is not timed."),
        (_, 2..) => outln!("Whether it is finished in time can't be told from runs on a compressed clock."),
        _ => {}
    }
    outln!("What holds it down, in these {} runs:", ready.runs);
    holds_down(about, &ready).iter().for_each(|line| outln!("  {line}"));
    outln!("It is made from what was called, and from runs alone at home: an exam room is another place.");
    Ok(())
}

fn chance(i: &Interval) -> String {
    format!("{} (90 % interval {:.0} to {:.0} %)", percent(i.mean), i.low * 100.0, i.high * 100.0)
}

/// Print readiness for a whole exam, by its sections' runs.
fn exam_ready(file: &Path, options: &Options) -> Result<(), Failure> {
    let (exam, folder) = super::exam(file)?;
    let history = index::runs_in(&options.runs.folder())?;
    let sections: Vec<Section> = exam
        .sections
        .iter()
        .map(|part| super::section(&folder.join(part.file.as_ref()), 0).map(|(s, _)| s))
        .collect::<Result<_, _>>()?;
    let meant = |section: &Section| {
        history.meant(|about| {
            about.id == section.id
                && about.edition == section.edition
                && options.compress.is_none_or(|c| about.compress == c)
        })
    };
    let places: Vec<Option<usize>> = sections.iter().map(meant).collect();
    let mark = exam.pass_mark.as_ref().map(|m| *m.as_ref());
    let ready = exam_readiness(&history, &places, mark);
    if options.json {
        let runs = |place: usize| (history.sections[place].compress, history.of(place).len());
        let parts: Vec<_> = sections.iter().zip(&places).map(|(s, p)| (s, p.map(runs))).collect();
        answer::print("ready-exam", answer::ready_exam((&exam.id, &exam.title, mark), &parts, &ready));
        return Ok(());
    }
    outln!("{}", exam.title);
    for ((section, place), part) in sections.iter().zip(&places).zip(&ready.parts) {
        let about = place.map(|place| &history.sections[place]);
        let runs = place.zip(about).map_or_else(|| "no whole run".into(), |(p, a)| a.runs(history.of(p).len()));
        let told = match part {
            Some(part) => format!("{}, by {runs}", chance(&part.good)),
            None => format!("too few runs to say: {runs}, and it takes {TOO_FEW}"),
        };
        outln!("  {}: {told}.", section.title);
        if let Some(apart) = about.and_then(|about| Apart::of(&history, about).sentence(about)) {
            outln!("    {apart}");
        }
    }
    if places.iter().flatten().any(|place| history.sections[*place].compress > 1) {
        outln!("Whether a section is finished in time can't be told from runs on a compressed clock.");
    }
    match &ready.good {
        Some(good) => outln!("Chance that every section goes well in a row, each for itself: {}.", chance(good)),
        None => outln!("Of the whole exam nothing can be said yet."),
    }
    match (mark, &ready.marked) {
        (Some(mark), Some(marked)) => outln!(
            "The mark of {mark} % of all points: reached by what was called in {} of such exams; out of reach, whatever an observer saw, in {}.",
            percent(marked.reached),
            percent(marked.missed)
        ),
        (Some(mark), None) => outln!("The mark of {mark} % is told once every section has runs with points."),
        (None, _) => {}
    }
    outln!("It is made from what was called, and from runs alone at home: an exam room is another place.");
    Ok(())
}

/// In how many runs a step was perhaps called, and in how many claimed afterwards.
fn not_sure([perhaps, claimed]: [usize; 2], runs: usize) -> String {
    let told = [(perhaps, "perhaps called"), (claimed, "claimed afterwards")];
    let told = told.iter().filter(|(n, _)| *n > 0).map(|(n, how)| format!("was {how} in {n} of {runs}"));
    told.collect::<Vec<_>>().join(", and ")
}

/// What went wrong in the runs so far, the critical first: nothing that never happened.
fn holds_down(about: &About, ready: &Readiness) -> Vec<String> {
    let missed = |critical: bool| {
        ready.missed.iter().filter(move |(step, _)| about.steps[*step].critical == critical).take(MOST_HELD).map(
            move |(step, times)| {
                let grave = if critical { "critical: " } else { "" };
                format!("{grave}{} was left out in {times} of {}", about.steps[*step].title, ready.runs)
            },
        )
    };
    let mut lines: Vec<String> = missed(true).collect();
    for limiter in &ready.limiters {
        match limiter {
            Limiter::Step(..) => {}
            Limiter::OtherCritical(share) => {
                lines.push(format!("critical: something else, in about {:.0} % of runs", share * 100.0))
            }
            Limiter::Time(share) => {
                lines.push(format!("the limit comes first in about {:.0} % of runs", share * 100.0))
            }
        }
    }
    lines.extend(missed(false));
    let unsure = ready.unsure.iter().take(MOST_HELD);
    lines.extend(unsure.map(|(step, n)| format!("{} {}", about.steps[*step].title, not_sure(*n, ready.runs))));
    if ready.others > 0 {
        lines.push(format!("something that is no left-out step was found in {} of {}", ready.others, ready.runs));
    }
    if lines.is_empty() {
        lines.push("nothing but that they are few".into());
    }
    lines
}

/// Print a pace plan.
pub fn plan(options: &Planning) -> Result<(), Failure> {
    let (history, section) = open(&options.which)?;
    if options.which.json {
        answer::print("plan", answer::plan(&history, section, options.margin));
        return Ok(());
    }
    outln!("{}", heading(&history, section));
    let about = &history.sections[section];
    let plan = pace_plan(&history, section, f64::from(options.margin) / 100.0);
    let time = |t: Option<Ms>| t.map_or_else(|| "-".into(), |t| t.to_string());
    let mut rows = vec![["from", "plan", "usual", "step"].map(String::from).to_vec()];
    let line = |step: &str, pace: &Pace| vec![pace.from.to_string(), time(pace.plan), time(pace.usual), step.into()];
    rows.extend(about.steps.iter().zip(&plan).filter_map(|(step, pace)| Some(line(&step.title, pace.as_ref()?))));
    outln!("\n{}", table(&rows));
    let sum: Ms = plan.iter().flatten().filter_map(|p| p.plan).sum();
    outln!("\nUsual is the middle of your last ten runs; a dash: not called in them, or no minutes to plan with.");
    if about.compress > 1 {
        outln!("All times are of the clock compressed {} times.", about.compress);
    }
    if let Some((mean, deviation)) = expected(&history, section) {
        outln!(
            "\nBy the fastest, the middle and the slowest of your last ten runs, the needed steps take {}, give or take {}.",
            spoken(Ms(mean as u64)),
            spoken(Ms(deviation as u64))
        );
    }
    match about.limit {
        Some(limit) => outln!(
            "\nIn all {}, with {} of {} to spare.",
            spoken(sum),
            spoken(limit.saturating_sub(sum)),
            spoken(limit)
        ),
        None => outln!("\nIn all {}; this section is not timed.", spoken(sum)),
    }
    Ok(())
}
