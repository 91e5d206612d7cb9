//! What can only be seen when all is put together.

use super::super::names::Names;
use super::super::schema::File;
use super::super::{conflict, usable};
use crate::problem::Problem;
use crate::section::{Order, Section};
use crate::time::Ms;
use toml::Spanned;

/// Report what is wrong with the section as a whole.
pub(super) fn check(file: &File, section: &Section, names: &Names, problems: &mut Vec<Problem>) {
    let span = |step: usize| names.drafts[step].keys.id.span();
    if let Some(mark) = file.pass_mark.as_ref().filter(|m| *m.as_ref() > 100) {
        problems.push(Problem::error(
            "S036",
            mark.span(),
            format!("a pass mark of {} percent can't be reached", mark.as_ref()),
        ));
    }
    let edition = file.edition.as_ref();
    // The parser takes more forms; this one alone sorts as it reads.
    let plain = edition.len() == 10 && edition.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    if !plain || edition.parse::<jiff::civil::Date>().is_err() {
        let problem = Problem::error("S037", file.edition.span(), format!("`{edition}` is no date"));
        problems.push(problem.help("write the edition as YYYY-MM-DD"));
    }
    for (later, step) in section.steps.iter().enumerate() {
        if let Some(other) = (0..later)
            .find(|&o| step.directly_after.is_some() && section.steps[o].directly_after == step.directly_after)
        {
            let message = format!("`{}` already comes directly after that step", section.steps[other].id);
            problems.push(Problem::error("S038", span(later), message));
        }
    }
    for (step, _) in section.steps.iter().enumerate().filter(|(_, s)| s.say.iter().any(|p| section.finish.contains(p)))
    {
        let problem = Problem::error("S039", span(step), "a callout of this step is also the finish signal");
        problems.push(problem.help("choose other words for one of them"));
    }
    for (keys, _) in
        file.callout.iter().zip(&section.events).filter(|(_, e)| e.say.iter().any(|p| section.finish.contains(p)))
    {
        let problem = Problem::error("S039", keys.id.span(), "this callout is also the finish signal");
        problems.push(problem.help("choose other words for one of them"));
    }
    for (place, step) in section.steps.iter().enumerate() {
        let timed = section.phases.get(step.phase).is_some_and(|p| p.clock.limit.is_some());
        if step.gate.is_some() && timed {
            let problem = Problem::warning("S040", span(place), "this step waits for a cue while the clock runs");
            problems.push(problem.help("cued parts are commonly untimed: give them a phase without `minutes`"));
        }
    }
    for keys in file.step.iter().filter(|s| s.critical) {
        let chosen = || section.choices.iter().flat_map(|c| &c.of).any(|s| section.steps[*s].base == *keys.id.as_ref());
        let (what, help) = match keys.optional {
            true => ("`optional`", "take `critical` or `optional` away"),
            false if chosen() => ("one of a choice", "take `critical` away, or the step out of the choice"),
            false => continue,
        };
        let message = format!("this step is `critical` and {what}: leaving it out is never told as critical");
        problems.push(Problem::warning("S043", keys.id.span(), message).help(help));
    }
    for (place, phase) in section.phases.iter().enumerate() {
        let Some(limit) = phase.clock.limit else { continue };
        let planned: Ms = section.steps.iter().filter(|s| s.phase == place && !s.optional).map(|s| s.target).sum();
        if planned > limit {
            let keys = file.phase.get(place).and_then(|p| p.minutes.as_ref()).or(file.clock.minutes.as_ref());
            let span = keys.map_or(0..0, Spanned::span);
            let message = format!("the steps' minutes add up to {planned}, more than the limit of {limit}");
            problems.push(Problem::warning("S013", span, message));
        }
    }
    if let Some(cycle) = Order::of(section).cycle() {
        let ids: Vec<&str> = cycle.iter().chain(cycle.first()).map(|&s| section.steps[s].id.as_str()).collect();
        let message = format!("these steps wait for each other: {}", ids.join(" before "));
        problems.push(Problem::error("S008", span(cycle[0]), message).help("take one `after` of these away"));
    } else if section.rules.len() > conflict::MAX_RULES {
        let message = format!("{} rules; at most {} can be used", section.rules.len(), conflict::MAX_RULES);
        let problem = Problem::error("S050", file.rule[conflict::MAX_RULES].id.span(), message);
        problems.push(problem.help("take rules away, or let one speak of a loop or of `any` where several are alike"));
    } else if usable(problems) {
        problems.extend(conflict::find(section, |rule| file.rule[rule].id.span()));
    }
}
