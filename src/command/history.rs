//! `history`, `ready`, `plan`: what many runs tell.

use super::{Failure, index};
use crate::history::{
    Driver, History, Shape, TOO_FEW, expected, fading, fit, guesses, pace_plan, readiness, step_trends, wilson,
};
use crate::session::Fade;
use crate::terminal::outln;
use crate::time::{Ms, spoken};
use std::path::PathBuf;

/// Which runs.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// The section, by its name; the one rehearsed last where none is named
    #[arg(long, value_name = "ID")]
    section: Option<String>,
    /// Folder of the runs
    #[arg(long, default_value = "runs")]
    runs: PathBuf,
}

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
    let history = index::runs_in(&options.runs)?;
    let named = |about: &crate::history::About| options.section.as_ref().is_none_or(|id| about.id == *id);
    // Editions and compressed runs are kept apart: the one rehearsed last is meant.
    let latest = history.runs.iter().filter(|r| named(&history.sections[r.section as usize])).max_by_key(|r| r.started);
    let section = latest.map(|r| r.section as usize).ok_or_else(|| {
        let what = options.section.as_ref().map_or_else(|| "runs".into(), |id| format!("runs of \"{id}\""));
        Failure::storage(
            format!("{}: no {what} here", options.runs.display()),
            "name a section that was rehearsed, or the folder with --runs",
        )
    })?;
    Ok((history, section))
}

fn heading(history: &History, section: usize) -> String {
    let about = &history.sections[section];
    let compressed = if about.compress > 1 { format!(", compressed {} times", about.compress) } else { String::new() };
    let (whole, all) =
        (history.of(section).len(), history.runs.iter().filter(|r| r.section as usize == section).count());
    let cut =
        if all > whole { format!(", {} more that were stopped and don't count", all - whole) } else { String::new() };
    let runs = if whole == 1 { "1 run".to_string() } else { format!("{whole} runs") };
    format!("{} (edition {}{compressed}): {runs}{cut}", about.title, about.edition)
}

/// The names of the steps, three at most, that are left out most or run over most, in the runs of this section.
pub fn weakest(runs: &std::path::Path, section: &crate::section::Section) -> Result<Vec<String>, Failure> {
    let history = index::runs_in(runs)?;
    let known =
        history.sections.iter().position(|a| a.id == section.id && a.edition == section.edition && a.compress == 1);
    let few = || {
        Failure::authored(
            format!("{}: no whole runs of \"{}\" to learn from", runs.display(), section.id),
            "rehearse it whole first, or name steps with --drill",
        )
    };
    let place = known.filter(|place| !history.of(*place).is_empty()).ok_or_else(few)?;
    let steps = &history.sections[place].steps;
    // Left out counts most; running over its plan by half counts as being left out in every sixth run.
    let mut weak: Vec<(f64, &str)> = (steps.iter().zip(step_trends(&history, place)))
        .filter(|(step, _)| !step.free)
        .map(|(step, trend)| {
            let plan = step.plan.0 as f64;
            // Care takes its time: slowness of what is critical or for the hands is held against nobody.
            let care = step.critical || section.steps.iter().any(|s| s.id == step.id && s.hygiene);
            let over = trend.lately.filter(|_| plan > 0.0 && !care).map_or(0.0, |t| (t / plan - 1.0).clamp(0.0, 1.0));
            let weight = if step.critical { 2.0 } else { 1.0 };
            (trend.omission.mean * weight + over / 3.0, step.id.as_str())
        })
        .collect();
    weak.sort_by(|a, b| b.0.total_cmp(&a.0));
    Ok(weak.into_iter().take(3).map(|(_, id)| id.to_string()).collect())
}

/// What to call out next in this section, by the runs so far, and why in words.
pub fn faded(runs: &std::path::Path, section: &crate::section::Section) -> Result<(Fade, String), Failure> {
    // A folder that isn't there yet holds no runs.
    let history = if runs.is_dir() { index::runs_in(runs)? } else { History::default() };
    let (fade, good) = fading(&history, &section.id, &section.edition);
    let what = match fade {
        Fade::All => "call out everything",
        Fade::Hygiene => "call out hand hygiene and labels only",
        Fade::Silent => "call out nothing, and tell afterwards what you went through",
    };
    let why = match (fade, good) {
        (Fade::Silent, n) => format!("good silent runs in a row: {n}"),
        (_, n) => format!("good runs in a row: {n}; after three, less is called out"),
    };
    Ok((fade, format!("This time, {what} ({why}).")))
}

/// Print trends.
pub fn history(options: &Options) -> Result<(), Failure> {
    let (history, section) = open(options)?;
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
    if let Some((guessed, ratio)) = guesses(&history, section) {
        let percent = |share: f64| format!("{:.0} %", share * 100.0);
        let runs = if guessed == 1 { "one run".to_string() } else { format!("{guessed} runs, in the middle") };
        outln!(
            "Time guessed aloud in {runs}: {} of the real time (90 % interval {} to {}).",
            percent(ratio.mean),
            percent(ratio.low),
            percent(ratio.high)
        );
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
    outln!("\n  left out      95 % interval   middle  lately    plan  step");
    for (step, trend) in about.steps.iter().zip(step_trends(&history, section)) {
        let time = |t: Option<f64>| t.map_or_else(|| "-".into(), |t| Ms(t as u64).to_string());
        outln!(
            "  {:>3} of {:<4}  {:>4.0} to {:>3.0} %  {:>8}{:>8}{:>8}  {}{}",
            trend.missed,
            runs.len(),
            trend.omission.low * 100.0,
            trend.omission.high * 100.0,
            time(trend.middle),
            time(trend.lately),
            step.plan.to_string(),
            step.title,
            if step.critical { " (critical)" } else { "" }
        );
    }
    outln!("\nCounted is what was called; nobody saw it happen.");
    Ok(())
}

/// Print readiness.
pub fn ready(options: &Options) -> Result<(), Failure> {
    let (history, section) = open(options)?;
    outln!("{}", heading(&history, section));
    let about = &history.sections[section];
    // The seed is the number of runs: the same runs give the same words.
    let Some(ready) = readiness(&history, section, history.runs.len() as u64) else {
        let few = history.of(section).len();
        outln!("Too few runs to say: {few} came to their finish or limit, and it takes {TOO_FEW}.");
        return Ok(());
    };
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    outln!(
        "Chance that the next run has no critical finding and is finished in time: {} (90 % interval {:.0} to {:.0} %).",
        percent(ready.good.mean),
        ready.good.low * 100.0,
        ready.good.high * 100.0
    );
    outln!("  no critical finding: {}", percent(ready.clean));
    outln!("  finished in time: {}", if about.limit.is_some() { percent(ready.in_time) } else { "not timed".into() });
    if !ready.drivers.is_empty() {
        outln!("What holds it down:");
    }
    for driver in ready.drivers.iter().take(3) {
        match driver {
            Driver::Step(step, share) => {
                outln!("  {} is left out in about {} of runs", about.steps[*step].title, percent(*share))
            }
            Driver::OtherCritical(share) => {
                outln!("  another critical finding comes in about {} of runs", percent(*share))
            }
            Driver::Time(share) => outln!("  the limit comes first in about {} of runs", percent(*share)),
        }
    }
    outln!("It is made from what was called, and from runs alone at home: an exam room is another place.");
    Ok(())
}

/// Print a pace plan.
pub fn plan(options: &Planning) -> Result<(), Failure> {
    let (history, section) = open(&options.which)?;
    outln!("{}", heading(&history, section));
    let about = &history.sections[section];
    let plan = pace_plan(&history, section, f64::from(options.margin) / 100.0);
    outln!("\n    from   plan  usual  step");
    for (step, pace) in about.steps.iter().zip(&plan) {
        if let Some(pace) = pace {
            outln!(
                "  {:>6} {:>6} {:>6}  {}",
                pace.from.to_string(),
                pace.plan.to_string(),
                pace.usual.to_string(),
                step.title
            );
        }
    }
    let sum: Ms = plan.iter().flatten().map(|p| p.plan).sum();
    if let Some((mean, deviation)) = expected(&history, section) {
        outln!(
            "\nBy the fastest, the middle and the slowest of your last ten runs, the steps take {}, give or take {}.",
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
