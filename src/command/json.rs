//! What `--json` prints: answers for other programs, after `answers.schema.json`. Times are seconds, shares from 0 to 1.

use crate::history::{
    About, ExamReadiness, History, Interval, Limiter, Readiness, TOO_FEW, expected, fit, guesses, pace_plan, readiness,
    step_trends, wilson,
};
use crate::problem::{Level, Problem};
use crate::section::Section;
use crate::terminal::{self, outln};
use crate::text::harmless_json;
use crate::time::Ms;
use serde_json::{Value, json};

/// The JSON Schema of all that `--json` prints.
pub const SCHEMA: &str = include_str!("answers.schema.json");

/// Print the schema.
pub fn schema() {
    outln!("{SCHEMA}");
}

/// Print the answer of a verb, which names itself and its version first of all.
pub fn print(verb: &str, mut answer: Value) {
    answer["stepbell"] = json!(verb);
    answer["version"] = json!(1);
    round(&mut answer);
    let text = serde_json::to_string_pretty(&answer).expect("an answer is plain");
    terminal::data(format!("{}\n", harmless_json(&text)).as_bytes());
}

/// Millionths are enough; the digits behind them differ from one mathematical library to the next.
fn round(value: &mut Value) {
    match value {
        Value::Number(number) => {
            if let Some(exact) = number.as_f64().filter(|_| number.is_f64()) {
                *value = json!((exact * 1e6).round() / 1e6);
            }
        }
        Value::Array(values) => values.iter_mut().for_each(round),
        Value::Object(values) => values.values_mut().for_each(round),
        _ => {}
    }
}

/// A problem of a text. Lines and columns are counted from 1, columns in characters.
pub fn problem(text: &str, problem: &Problem) -> Value {
    let before = text.get(..problem.span.start).unwrap_or(text);
    let line = before.rsplit('\n').next().unwrap_or_default();
    json!({
        "code": problem.code,
        "severity": if problem.level == Level::Error { "error" } else { "warning" },
        "message": problem.message,
        "line": before.matches('\n').count() + 1,
        "column": line.chars().count() + 1,
        "help": problem.help
    })
}

fn section(about: &About) -> Value {
    json!({
        "id": about.id, "title": about.title, "edition": about.edition, "compress": about.compress,
        "limit_s": about.limit.map(Ms::seconds)
    })
}

fn interval(i: &Interval) -> Value {
    json!({ "mean": i.mean, "low": i.low, "high": i.high })
}

/// Trends over the whole runs of a section.
pub fn history(history: &History, place: usize) -> Value {
    let about = &history.sections[place];
    let runs = history.of(place);
    let n = runs.len();
    let share = |hits: usize| {
        let i = wilson(hits as f64, n as f64, 0.95);
        (n > 0).then(|| json!({ "runs": hits, "low": i.low, "high": i.high }))
    };
    let times: Vec<f64> = runs.iter().map(|r| r.used.seconds().max(0.1)).collect();
    let trends = if n > 0 { step_trends(history, place) } else { vec![] };
    let steps = about.steps.iter().zip(trends).map(|(step, trend)| {
        json!({
            "id": step.id, "title": step.title, "critical": step.critical, "needed": !step.free, "left_out": trend.missed,
            "perhaps_called": trend.unsure[0], "claimed_afterwards": trend.unsure[1],
            "left_out_low": trend.omission.low, "left_out_high": trend.omission.high,
            "middle_s": trend.middle.map(|t| t / 1000.0), "lately_s": trend.lately.map(|t| t / 1000.0),
            "plan_s": step.plan.map(Ms::seconds)
        })
    });
    json!({
        "section": section(about),
        "runs": n,
        "finished_in_time": share(runs.iter().filter(|r| r.finished).count()),
        "without_critical_finding": share(runs.iter().filter(|r| r.critical == 0).count()),
        "hygiene_per_run": (n > 0).then(|| runs.iter().map(|r| f64::from(r.hygiene)).sum::<f64>() / n as f64),
        "guesses": guesses(history, place).map(|(runs, middle, sure)| {
            let ratio = json!({ "mean": middle, "low": sure.as_ref().map(|i| i.low), "high": sure.as_ref().map(|i| i.high) });
            json!({ "runs": runs, "ratio": ratio })
        }),
        "next_s": fit(&times).map(|curve| curve.at(n as f64 + 1.0)),
        "steps": steps.collect::<Vec<_>>()
    })
}

/// Readiness; nulls where there are too few runs.
pub fn ready(history: &History, place: usize) -> Value {
    let about = &history.sections[place];
    let ready = readiness(history, place, history.seed(place));
    let id = |step: usize| about.steps[step].id.as_str();
    let limiter = |limiter: &Limiter| match *limiter {
        Limiter::Step(step, share) => json!({ "kind": "step", "step": id(step), "share": share }),
        Limiter::OtherCritical(share) => json!({ "kind": "other_critical", "step": null, "share": share }),
        Limiter::Time(share) => json!({ "kind": "time", "step": null, "share": share }),
    };
    let missed = ready.iter().flat_map(|r| &r.missed);
    let unsure = ready.iter().flat_map(|r| &r.unsure);
    json!({
        "section": section(about),
        "runs": history.of(place).len(),
        "runs_needed": TOO_FEW,
        "good": ready.as_ref().map(|r| interval(&r.good)),
        "no_critical_finding": ready.as_ref().map(|r| r.clean),
        "finished_in_time": ready.as_ref().and_then(|r| r.in_time),
        "no_finding": ready.as_ref().map(|r| interval(&r.spotless)),
        "limiters": ready.iter().flat_map(|r| &r.limiters).map(limiter).collect::<Vec<_>>(),
        "left_out": missed.map(|(step, runs)| json!({ "step": id(*step), "runs": runs })).collect::<Vec<_>>(),
        "not_heard_for_sure": unsure.map(|(step, [perhaps, claimed])| {
            json!({ "step": id(*step), "perhaps_called": perhaps, "claimed_afterwards": claimed })
        }).collect::<Vec<_>>(),
        "runs_with_other_findings": ready.as_ref().map(|r| r.others)
    })
}

/// A section of an exam; where it was rehearsed, how far the clock of its runs was compressed and how many whole ones there are.
type ExamPart<'a> = (&'a Section, Option<(u32, usize)>);

/// Readiness for a whole exam: its name, title and mark, and its sections.
pub fn ready_exam((id, title, mark): (&str, &str, Option<u8>), sections: &[ExamPart], ready: &ExamReadiness) -> Value {
    let part = |((section, runs), part): (&ExamPart, &Option<Readiness>)| {
        json!({
            "id": section.id, "title": section.title, "compress": runs.map(|r| r.0), "runs": runs.map_or(0, |r| r.1),
            "good": part.as_ref().map(|p| interval(&p.good))
        })
    };
    json!({
        "exam": id,
        "title": title,
        "runs_needed": TOO_FEW,
        "sections": sections.iter().zip(&ready.parts).map(part).collect::<Vec<_>>(),
        "good": ready.good.as_ref().map(interval),
        "mark_percent": mark,
        "mark_reached": ready.marked.map(|m| m.reached),
        "mark_out_of_reach": ready.marked.map(|m| m.missed)
    })
}

/// The pace plan, with so many percent of the limit to spare.
pub fn plan(history: &History, place: usize, margin: u32) -> Value {
    let about = &history.sections[place];
    let paces = pace_plan(history, place, f64::from(margin) / 100.0);
    let planned: Ms = paces.iter().flatten().filter_map(|p| p.plan).sum();
    let steps = about.steps.iter().zip(&paces).filter_map(|(step, pace)| {
        let pace = pace.as_ref()?;
        Some(json!({
            "id": step.id, "title": step.title, "from_s": pace.from.seconds(),
            "plan_s": pace.plan.map(Ms::seconds), "usual_s": pace.usual.map(Ms::seconds)
        }))
    });
    json!({
        "section": section(about),
        "runs": history.of(place).len(),
        "margin_percent": margin,
        "steps": steps.collect::<Vec<_>>(),
        "planned_s": planned.seconds(),
        "expected": expected(history, place)
            .map(|(mean, deviation)| json!({ "mean_s": mean / 1000.0, "deviation_s": deviation / 1000.0 }))
    })
}
