//! A pace plan: minutes a step that sum to less than the limit, from the section's plan and the person's own times.

use super::{History, percentile, three_point, timed};
use crate::time::Ms;

/// How much of a step's minutes is taken from the section's plan, in runs.
const SHARED: f64 = 3.0;

/// Minutes for one step.
#[derive(Clone, Debug, PartialEq)]
pub struct Pace {
    /// Planned from now on: its own times, drawn towards the section's plan where there are few. None where the section plans no minutes
    /// and it was never called.
    pub plan: Option<Ms>,
    /// The middle of its times in the last ten runs; none where it was not called in them.
    pub usual: Option<Ms>,
    /// The clock when it should begin, after the clock's start.
    pub from: Ms,
}

/// Minutes for each needed step, in order, that leave `margin` (0 to 1) of the limit free; steps of no limit keep what they
/// usually take. A step that is free to be left out is planned only where it was called in most of the last runs. All are whole seconds, as
/// they are shown: each step begins where those before it end, and their minutes sum to the total that is told.
pub fn pace_plan(history: &History, section: usize, margin: f64) -> Vec<Option<Pace>> {
    let about = &history.sections[section];
    let runs = history.of(section);
    let lately = &runs[runs.len().saturating_sub(10)..];
    // By step: the middle of its own times, and what is planned before all has to fit.
    let wanted: Vec<Option<(Option<f64>, Option<f64>)>> = (about.steps.iter().enumerate())
        .map(|(place, step)| {
            let took: Vec<f64> = lately.iter().filter_map(|r| timed(r.took[place])).collect();
            if step.free && took.len() * 2 <= lately.len() {
                return None;
            }
            let n = took.len() as f64;
            let usual = percentile(&took, 0.5);
            let plan = match (usual, step.plan.map(|p| p.0 as f64)) {
                (Some(usual), Some(plan)) => Some((usual * n + plan * SHARED) / (n + SHARED)),
                (usual, plan) => usual.or(plan),
            };
            Some((usual, plan))
        })
        .collect();
    let sum: f64 = wanted.iter().flatten().filter_map(|(_, plan)| *plan).sum();
    let room = about.limit.map_or(sum, |limit| limit.0 as f64 * (1.0 - margin));
    // Never stretched: time to spare stays at the end.
    let factor = if sum > room { room / sum } else { 1.0 };
    let mut from = 0.0;
    wanted
        .into_iter()
        .map(|step| {
            let (usual, plan) = step?;
            let whole = |span: f64| Ms(span as u64).rounded();
            let until = from + plan.unwrap_or(0.0) * factor;
            let takes = whole(until).saturating_sub(whole(from));
            let pace = Pace { plan: plan.map(|_| takes), usual: usual.map(|u| Ms(u as u64)), from: whole(from) };
            from = until;
            Some(pace)
        })
        .collect()
}

/// What the needed steps take in all, with its standard deviation, both in milliseconds: by three points of each, from its last ten runs
/// (steps follow one another, and are taken for independent). None before there are three runs.
pub fn expected(history: &History, section: usize) -> Option<(f64, f64)> {
    let runs = history.of(section);
    let lately = &runs[runs.len().saturating_sub(10)..];
    (lately.len() >= 3).then_some(())?;
    let (mut sum, mut variance) = (0.0, 0.0);
    for (place, _) in history.sections[section].steps.iter().enumerate().filter(|(_, s)| !s.free) {
        let took: Vec<f64> = lately.iter().filter_map(|r| timed(r.took[place])).collect();
        if let Some(middle) = percentile(&took, 0.5) {
            let (fastest, slowest) = took.iter().fold((middle, middle), |(a, b), t| (a.min(*t), b.max(*t)));
            let (mean, deviation) = three_point(fastest, middle, slowest);
            sum += mean;
            variance += deviation * deviation;
        }
    }
    Some((sum, variance.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::super::{About, History, NOT_CALLED, Run, StepAbout};
    use super::*;

    fn history(limit: u64, took: &[[u32; 3]]) -> History {
        let step = |id: &str, plan| StepAbout {
            id: id.into(),
            title: id.into(),
            critical: false,
            free: id == "c",
            plan: Some(Ms(plan)),
        };
        History {
            sections: vec![About {
                id: "x".into(),
                title: "X".into(),
                edition: "2026-01-01".into(),
                compress: 1,
                limit: Some(Ms(limit)),
                steps: vec![step("a", 60_000), step("b", 120_000), step("c", 10_000)],
                criteria: vec![],
            }],
            runs: (took.iter().enumerate())
                .map(|(k, took)| Run {
                    section: 0,
                    started: k as i64,
                    finished: true,
                    whole: true,
                    used: Ms(0),
                    critical: 0,
                    findings: 0,
                    hygiene: 0,
                    fade: crate::outcome::Fade::All,
                    guessed: None,
                    points: None,
                    took: took.to_vec(),
                    claims: vec![],
                    name: String::new(),
                })
                .collect(),
        }
    }

    #[test]
    fn a_plan_fits_the_limit_and_leans_on_the_section_while_there_are_few_runs() {
        let fresh = pace_plan(&history(300_000, &[]), 0, 0.1);
        assert_eq!(fresh[0].as_ref().unwrap().plan, Some(Ms(60_000)));
        assert_eq!(fresh[0].as_ref().unwrap().usual, None, "nobody's usual time is one that was never measured");
        assert_eq!(fresh[2], None, "what may be left out is not planned before it was called");
        let slow = pace_plan(&history(300_000, &[[200_000, 150_000, NOT_CALLED]; 8]), 0, 0.1);
        let sum: u64 = slow.iter().flatten().filter_map(|p| p.plan).map(|p| p.0).sum();
        assert_eq!(sum, 270_000);
        assert_eq!(slow[0].as_ref().unwrap().usual, Some(Ms(200_000)));
        // (8 · 200 + 3 · 60) / 11 seconds, of 303.6 in all, in the room of 270.
        assert_eq!(slow[0].as_ref().unwrap().plan, Some(Ms(144_000)));
        assert_eq!(Some(slow[1].as_ref().unwrap().from), slow[0].as_ref().unwrap().plan);
    }

    /// Three steps of 10.4 seconds are 31.2: told as 10, 11 and 10, which are 31 in all.
    #[test]
    fn what_is_told_of_each_step_sums_to_the_total() {
        let mut history = history(300_000, &[]);
        let steps = &mut history.sections[0].steps;
        steps.iter_mut().for_each(|step| (step.plan, step.free) = (Some(Ms(10_400)), false));
        let paces: Vec<Pace> = pace_plan(&history, 0, 0.1).into_iter().flatten().collect();
        let told = |of: fn(&Pace) -> Ms| paces.iter().map(|p| of(p).0 / 1000).collect::<Vec<_>>();
        assert_eq!(told(|p| p.plan.unwrap()), [10, 11, 10]);
        assert_eq!(told(|p| p.from), [0, 10, 21]);
        assert!(paces.iter().all(|p| p.plan.unwrap().0 % 1000 == 0));
    }

    #[test]
    fn a_step_without_minutes_has_no_plan_before_it_was_called() {
        let mut history = history(300_000, &[]);
        history.sections[0].steps[0].plan = None;
        let pace = pace_plan(&history, 0, 0.1).remove(0).unwrap();
        assert_eq!((pace.plan, pace.usual), (None, None));
        history.runs = self::history(300_000, &[[40_000, 60_000, NOT_CALLED]; 3]).runs;
        let pace = pace_plan(&history, 0, 0.1).remove(0).unwrap();
        assert_eq!((pace.plan, pace.usual), (Some(Ms(40_000)), Some(Ms(40_000))));
    }

    #[test]
    fn expected_times_are_of_three_points() {
        let few = [[60_000, 90_000, NOT_CALLED]; 2];
        assert_eq!(expected(&history(300_000, &few), 0), None);
        // 60, 66, 90 s by (o + 4 m + p) / 6 are 69 s; the second step always takes 90 s, the third is never called.
        let runs = [[60_000, 90_000, NOT_CALLED], [66_000, 90_000, NOT_CALLED], [90_000, 90_000, NOT_CALLED]];
        let (mean, deviation) = expected(&history(300_000, &runs), 0).unwrap();
        assert!((mean - 159_000.0).abs() < 1e-6 && (deviation - 5_000.0).abs() < 1e-6, "{mean} {deviation}");
    }
}
