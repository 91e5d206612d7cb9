//! The rules that a schema can't hold, and the section that is left when none is broken.

use super::names::{Draft, Names};
use super::schema::{ClockKeys, File, SupplyKind};
use super::{conflict, usable};
use crate::problem::Problem;
use crate::section::{
    Choice, Clock, Invariant, MAX_STEPS, NamedCallout, Order, Phase, Reading, Rule, Section, Step, Supply,
};
use crate::time::Ms;
use crate::words::plain;
use toml::Spanned;

/// Most words in one callout: nobody calls out more.
const MAX_WORDS: usize = 12;

/// The section of a file, its parameters drawn with `seed`, and every problem.
pub(super) fn resolve(file: &File, seed: u64) -> (Option<Section>, Vec<Problem>) {
    let mut problems = vec![];
    let names = Names::of(file, seed, &mut problems);
    if file.step.is_empty() {
        problems.push(
            Problem::error("S004", 0..0, "the section has no steps")
                .help("add a `[[step]]` with `id`, `title` and `say`"),
        );
    }
    if names.drafts.len() > MAX_STEPS {
        let message = format!("{} steps, loops unrolled; at most {MAX_STEPS} can be used", names.drafts.len());
        problems.push(Problem::error("S023", 0..0, message).help("split the section in two files"));
        return (None, problems);
    }
    let section = Section {
        id: file.id.clone(),
        title: file.title.clone(),
        trade: file.trade.clone(),
        board: file.board.clone(),
        edition: file.edition.as_ref().clone(),
        source: file.source.clone(),
        cautions: file.cautions.clone(),
        reading: reading(file, &names, &mut problems),
        phases: phases(file, &names, &mut problems),
        finish: phrases(&file.finish, &names, None, &mut problems),
        steps: steps(file, &names, &mut problems),
        choices: choices(file, &names, &mut problems),
        events: file
            .callout
            .iter()
            .map(|c| NamedCallout { id: c.id.as_ref().clone(), say: phrases(&c.say, &names, None, &mut problems) })
            .collect(),
        rules: rules(file, &names, &mut problems),
        invariants: file
            .invariant
            .iter()
            .map(|i| Invariant {
                id: i.id.as_ref().clone(),
                title: i.title.clone(),
                broken_by: i.broken_by.iter().map(|n| names.operand(n, &mut problems)).collect(),
                mended_by: i.mended_by.iter().map(|n| names.operand(n, &mut problems)).collect(),
                at_end: i.at_end,
            })
            .collect(),
        supplies: file
            .supply
            .iter()
            .map(|s| Supply { name: s.name.clone(), single_use: s.kind == SupplyKind::Single, label: s.label.clone() })
            .collect(),
        pass_mark: file.pass_mark.as_ref().map(|m| *m.as_ref()),
        drawn: names.drawn.clone(),
        sounds: sounds(file, &mut problems),
    };
    check_whole(file, &section, &names, &mut problems);
    let usable = usable(&problems);
    (usable.then_some(section), problems)
}

/// How words are said, in the phones of CMUdict (ARPAbet without stress).
fn sounds(file: &File, problems: &mut Vec<Problem>) -> Vec<(String, String)> {
    let mut known = vec![];
    for entry in &file.word {
        let word = plain(entry.word.as_ref());
        if word.is_empty() || word.contains(' ') {
            let problem = Problem::error("S042", entry.word.span(), "this should be one word in letters");
            problems.push(problem.help("write one `[[word]]` for each word of a callout"));
        }
        let sounds = entry.sounds.as_ref().to_uppercase();
        match sounds.split_whitespace().find(|p| !PHONES.contains(p)) {
            None if !sounds.trim().is_empty() => known.push((word, sounds)),
            bad => {
                let message = format!("\"{}\" is no sound", bad.unwrap_or_default());
                let help = format!("write sounds such as \"S T IY M\"; there are {}", PHONES.join(" "));
                problems.push(Problem::error("S042", entry.sounds.span(), message).help(help));
            }
        }
    }
    known
}

/// The phones of CMUdict.
const PHONES: [&str; 39] = [
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH", "IH", "IY", "JH", "K",
    "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH",
];

fn reading(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Reading {
    let keys = &file.reading;
    if !(1..=5).contains(&keys.times) {
        problems.push(Problem::error(
            "S012",
            0..0,
            format!("the reading is read {} times; 1 to 5 are possible", keys.times),
        ));
    }
    if keys.sentences.is_empty() {
        problems.push(
            Problem::error("S024", 0..0, "the reading has no sentences")
                .help("write what the proctor reads in `sentences`"),
        );
    }
    let mut sentences: Vec<String> =
        keys.sentences.iter().map(|s| names.fill(s.as_ref(), None, s.span(), problems)).collect();
    for extra in &keys.extra {
        let condition = extra.when.as_ref().split_once('=').map(|(name, value)| (name.trim(), value.trim()));
        let possible = condition.is_some_and(|(name, value)| {
            file.parameter.iter().any(|p| p.id.as_ref() == name && p.one_of.iter().any(|v| v == value))
        });
        if !possible {
            let problem = Problem::error("S025", extra.when.span(), "this condition can never hold");
            problems.push(problem.help("write `parameter=value`, with a value of that parameter's `one_of`"));
        }
        let holds = condition.is_some_and(|(name, value)| names.drawn.iter().any(|(n, v)| n == name && v == value));
        let say = names.fill(extra.say.as_ref(), None, extra.say.span(), problems);
        sentences.extend(holds.then_some(say));
    }
    Reading {
        sentences,
        times: keys.times,
        again: keys.again.clone(),
        begin: names.fill(&keys.begin, None, 0..0, problems),
    }
}

fn phases(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<Phase> {
    let whole =
        clock(&file.clock.minutes, &file.clock.warning_minutes_left, &file.clock.warning, &file.clock.stop, problems);
    if file.phase.is_empty() {
        let begin = file.reading.begin.clone();
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
            let stop = if p.stop.is_empty() { &file.clock.stop } else { &p.stop };
            let begin = if place == 0 { &file.reading.begin } else { &p.begin };
            if begin.is_empty() {
                let problem = Problem::error("S027", p.id.span(), "this phase has no start words");
                problems.push(problem.help("add `begin`, what the proctor says to start it"));
            }
            Phase {
                id: p.id.as_ref().clone(),
                title: p.title.clone(),
                begin: names.fill(begin, None, p.id.span(), problems),
                clock: clock(&p.minutes, &p.warning_minutes_left, &p.warning, stop, problems),
            }
        })
        .collect();
    phases
}

fn clock(
    minutes: &Option<Spanned<f64>>,
    left: &Option<Spanned<f64>>,
    warning: &str,
    stop: &str,
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
        warning: warning.into(),
        stop: stop.into(),
    }
}

fn steps(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<Step> {
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
    }
}

fn choices(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<Choice> {
    let mut taken: Vec<usize> = vec![];
    let mut choices = vec![];
    for keys in &file.choice {
        let of: Vec<usize> = keys.of.iter().flat_map(|n| names.steps(n, None, problems)).collect();
        let at_least = *keys.at_least.as_ref();
        if at_least > of.len() {
            let message = format!("{at_least} of {} steps can't be taken", of.len());
            problems.push(Problem::error("S007", keys.at_least.span(), message));
        }
        if of.iter().any(|s| taken.contains(s)) {
            let problem =
                Problem::error("S032", keys.at_least.span(), "a step of this choice is in another choice already");
            problems.push(problem.help("put each step in one choice at most"));
        }
        taken.extend(&of);
        choices.push(Choice { title: keys.title.clone(), of, at_least });
    }
    choices
}

fn rules(file: &File, names: &Names, problems: &mut Vec<Problem>) -> Vec<Rule> {
    file.rule
        .iter()
        .map(|keys| {
            if keys.template.binary() != keys.then.is_some() {
                let message = if keys.then.is_some() {
                    "this template speaks of one callout, so `then` has no place"
                } else {
                    "this template speaks of two callouts, and `then` is missing"
                };
                problems.push(Problem::error("S033", keys.id.span(), message));
            }
            let seconds = keys.at_least_seconds.unwrap_or(0.0);
            if !(0.0..=36_000.0).contains(&seconds) {
                problems.push(Problem::error("S034", keys.id.span(), format!("{seconds} seconds can't be waited for")));
            }
            Rule {
                id: keys.id.as_ref().clone(),
                template: keys.template,
                first: names.operand(&keys.first, problems),
                then: keys.then.as_ref().map(|n| names.operand(n, problems)),
                count: keys.count,
                at_least: keys.at_least_seconds.map(|s| Ms((s.clamp(0.0, 36_000.0) * 1000.0) as u64)),
                severity: keys.severity,
                message: keys.message.clone(),
            }
        })
        .collect()
}

/// Callouts in the form the recogniser hears; one that has no letters, or too many words, is a problem.
fn phrases(say: &[Spanned<String>], names: &Names, item: Option<&str>, problems: &mut Vec<Problem>) -> Vec<String> {
    say.iter()
        .filter_map(|phrase| {
            let heard = plain(&names.fill(phrase.as_ref(), item, phrase.span(), problems));
            if heard.is_empty() {
                problems.push(
                    Problem::error("S009", phrase.span(), "this callout has no letters in it")
                        .help("write the words as they are spoken, in English letters"),
                );
            }
            if heard.split(' ').count() > MAX_WORDS {
                let message = format!(
                    "this callout has {} words; at most {MAX_WORDS} can be heard as one",
                    heard.split(' ').count()
                );
                problems.push(Problem::error("S035", phrase.span(), message));
            }
            (!heard.is_empty()).then_some(heard)
        })
        .collect()
}

/// What can only be seen when all is put together.
fn check_whole(file: &File, section: &Section, names: &Names, problems: &mut Vec<Problem>) {
    let span = |step: usize| names.drafts[step].keys.id.span();
    if let Some(mark) = file.pass_mark.as_ref().filter(|m| *m.as_ref() > 100) {
        problems.push(Problem::error(
            "S036",
            mark.span(),
            format!("a pass mark of {} percent can't be reached", mark.as_ref()),
        ));
    }
    let edition = file.edition.as_ref();
    let date: Vec<&str> = edition.split('-').collect();
    let digits = |s: &str, n: usize| s.len() == n && s.bytes().all(|b| b.is_ascii_digit());
    if !matches!(date[..], [y, m, d] if digits(y, 4) && digits(m, 2) && digits(d, 2)) {
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
    for (place, step) in section.steps.iter().enumerate() {
        let timed = section.phases.get(step.phase).is_some_and(|p| p.clock.limit.is_some());
        if step.gate.is_some() && timed {
            let problem = Problem::warning("S040", span(place), "this step waits for a cue while the clock runs");
            problems.push(problem.help("cued parts are commonly untimed: give them a phase without `minutes`"));
        }
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
    } else if usable(problems) {
        problems.extend(conflict::find(section, |rule| file.rule[rule].id.span()));
    }
}

/// Where each callout stands in the text, as it is heard, for problems found later (an unknown word, say).
pub fn callout_spans(text: &str) -> Vec<(String, std::ops::Range<usize>)> {
    let Ok(file) = toml::from_str::<File>(text) else { return vec![] };
    let mut ignored = vec![];
    let names = Names::of(&file, 0, &mut ignored);
    let mut spans = vec![];
    for draft in &names.drafts {
        let item = draft.turn.map(|(of, turn)| file.loops[of].over[turn].as_str());
        for phrase in &draft.keys.say {
            spans.push((plain(&names.fill(phrase.as_ref(), item, phrase.span(), &mut ignored)), phrase.span()));
        }
    }
    let others = file.finish.iter().chain(file.callout.iter().flat_map(|c| &c.say));
    spans.extend(others.map(|p| (plain(p.as_ref()), p.span())));
    spans
}
