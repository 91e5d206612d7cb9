//! The clocks of the whole and of its phases.

use super::super::names::Names;
use super::super::schema::{ClockKeys, File};
use crate::problem::Problem;
use crate::section::{Clock, Phase};
use crate::time::Ms;
use toml::Spanned;

pub(super) fn phases(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<Phase> {
    let mut filled = |text: &Spanned<String>| names.filled(text, None, problems);
    let warning = file.clock.warning.as_ref().map(&mut filled).unwrap_or_default();
    let stop = filled(&file.clock.stop);
    let whole = clock(&file.clock.minutes, &file.clock.warning_minutes_left, warning, stop.clone(), problems);
    if file.phase.is_empty() {
        // What is wrong with it is told where the reading is.
        let begin = names.fill(&file.reading.begin, None, 0..0, &mut vec![]);
        return vec![Phase { id: file.id.clone(), title: file.title.clone(), begin, clock: whole }];
    }
    if let ClockKeys { minutes: Some(minutes), .. } = &file.clock {
        let problem =
            Problem::error("S026", minutes.span(), "the section has phases, so each phase has its own minutes");
        problems.push(problem.help("move `minutes` to the phases"));
    }
    let phases: Vec<Phase> = file
        .phase
        .iter()
        .enumerate()
        .map(|(place, p)| {
            let mut filled = |text: &Option<Spanned<String>>| {
                text.as_ref().map(|t| names.filled(t, None, problems)).unwrap_or_default()
            };
            let (warning, own) = (filled(&p.warning), filled(&p.stop));
            let stop = if own.is_empty() { stop.clone() } else { own };
            let begin = if place == 0 { &file.reading.begin } else { &p.begin };
            if place == 0 && !p.begin.is_empty() {
                let problem = Problem::warning("S073", p.id.span(), "the `begin` of the first phase is never spoken");
                problems.push(problem.help("what the proctor says to start it is the `begin` of [reading]"));
            }
            if begin.is_empty() {
                let problem = Problem::error("S027", p.id.span(), "this phase has no start words");
                problems.push(problem.help("add `begin`, what the proctor says to start it"));
            }
            Phase {
                id: p.id.as_ref().clone(),
                title: p.title.clone(),
                begin: names.fill(begin, None, p.id.span(), problems),
                clock: clock(&p.minutes, &p.warning_minutes_left, warning, stop, problems),
            }
        })
        .collect();
    phases
}

fn clock(
    minutes: &Option<Spanned<f64>>,
    left: &Option<Spanned<f64>>,
    warning: String,
    stop: String,
    problems: &mut Vec<Problem>,
) -> Clock {
    let limit = minutes.as_ref().map(|m| *m.as_ref());
    if let Some(minutes) = minutes
        && !(0.1..=600.0).contains(minutes.as_ref())
    {
        let message = format!("a limit of {} minutes is outside 0.1 to 600", minutes.as_ref());
        problems.push(Problem::error("S010", minutes.span(), message));
    }
    if let Some(left) = left {
        if !(*left.as_ref() > 0.0 && *left.as_ref() < limit.unwrap_or(0.0)) {
            let message = format!("a warning with {} minutes left can't be given here", left.as_ref());
            let help = "it says how many minutes are left, not how many are gone, and needs `minutes` beside it";
            problems.push(Problem::error("S011", left.span(), message).help(help));
        }
        if warning.is_empty() {
            problems.push(Problem::error("S028", left.span(), "the warning has no words").help("add `warning`"));
        }
    }
    Clock {
        limit: limit.map(Ms::from_minutes),
        warning_left: left.as_ref().map(|w| Ms::from_minutes(*w.as_ref())),
        warning,
        stop,
    }
}
