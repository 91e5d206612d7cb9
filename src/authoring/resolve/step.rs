//! Steps, and what each waits for.

use super::super::names::{Draft, Names};
use super::super::schema::File;
use super::phrases;
use crate::problem::Problem;
use crate::section::Step;
use crate::time::Ms;

pub(super) fn steps(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<Step> {
    let mut steps: Vec<Step> = names.drafts.iter().map(|draft| step(file, names, draft, problems)).collect();
    // A phase begins when the one before it is over, and an ordered loop's turn when the last turn is.
    for later in 0..steps.len() {
        for earlier in 0..steps.len() {
            let next_turn = match (names.drafts[earlier].turn, names.drafts[later].turn) {
                (Some((a, m)), Some((b, n))) => a == b && m + 1 == n && file.loops[a].ordered,
                _ => false,
            };
            if (next_turn || steps[earlier].phase < steps[later].phase) && !steps[later].after.contains(&earlier) {
                steps[later].after.push(earlier);
            }
        }
    }
    steps
}

fn step(file: &File, names: &Names, draft: &Draft, problems: &mut Vec<Problem>) -> Step {
    let keys = draft.keys;
    let item = draft.turn.map(|(of, turn)| file.loops[of].over[turn].as_str());
    if !(0.0..=600.0).contains(&keys.minutes) {
        problems.push(Problem::error(
            "S010",
            keys.id.span(),
            format!("{} minutes can't be planned for a step", keys.minutes),
        ));
    }
    let seconds = keys.at_least_seconds.unwrap_or(0.0);
    if !(0.0..=36_000.0).contains(&seconds) {
        problems.push(Problem::error("S034", keys.id.span(), format!("{seconds} seconds can't be waited for")));
    }
    let directly_after = keys.directly_after.as_ref().and_then(|name| {
        let found = names.steps(name, draft.turn, problems);
        if found.len() > 1 {
            let message =
                format!("`{}` stands for {} steps, and only one can come directly before", name.as_ref(), found.len());
            problems.push(Problem::error("S029", name.span(), message));
        }
        found.first().copied()
    });
    let phase = match &keys.phase {
        None => None,
        Some(name) => {
            let found = file.phase.iter().position(|p| p.id.as_ref() == name.as_ref());
            if found.is_none() {
                problems.push(Problem::error("S006", name.span(), format!("no phase is called `{}`", name.as_ref())));
            }
            found
        }
    };
    if phase.is_none() && keys.phase.is_none() && !file.phase.is_empty() {
        problems.push(Problem::error("S030", keys.id.span(), "this step belongs to no phase").help("add `phase = …`"));
    }
    if keys.say.is_empty() {
        problems.push(
            Problem::warning(
                "S031",
                keys.id.span(),
                "this step has no callout, so it will always be reported as not called",
            )
            .help("add `say = [\"…\"]`, or make it `optional = true`"),
        );
    }
    Step {
        id: draft.id.clone(),
        base: keys.id.as_ref().clone(),
        turn_of: draft.turn.map(|(of, _)| file.loops[of].id.as_ref().clone()),
        title: names.fill(keys.title.as_ref(), item, keys.title.span(), problems),
        phase: phase.unwrap_or(0),
        gate: keys.gate.clone(),
        points: keys.points,
        hint: keys.hint.clone(),
        say: phrases(&keys.say, names, item, problems),
        target: Ms::from_minutes(keys.minutes.clamp(0.0, 600.0)),
        after: keys.after.iter().flat_map(|n| names.steps(n, draft.turn, problems)).collect(),
        directly_after,
        optional: keys.optional,
        critical: keys.critical,
        hygiene: keys.hygiene,
        labels: keys.labels,
        caution: keys.caution.clone(),
        at_least: keys.at_least_seconds.map(|s| Ms((s.clamp(0.0, 36_000.0) * 1000.0) as u64)),
        published: keys.published.clone(),
        critical_published: keys.critical_published.clone(),
    }
}
