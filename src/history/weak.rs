//! What a person is weakest in, by their runs: what to drill next.

use super::{History, step_trends};
use crate::section::Section;

/// Most steps drilled at once.
const MOST: usize = 3;

/// What the runs show somebody to be weakest in.
#[derive(Clone, Debug, PartialEq)]
pub struct Weakest {
    /// Steps by name, the weakest first, three at most; empty where none was left out or ran over its plan.
    pub steps: Vec<String>,
    /// The runs that say so, in words.
    pub runs: String,
}

/// The steps left out most, or over their plan most, in the runs of this section and edition that count; none without a whole run. A
/// compressed clock leaves no time for the work, so there only what was left out says something.
pub fn weakest(history: &History, section: &Section) -> Option<Weakest> {
    let place = history.meant(|a| a.id == section.id && a.edition == section.edition)?;
    let about = &history.sections[place];
    let runs = history.of(place).len();
    (runs > 0).then_some(())?;
    // Left out counts most; running over its plan by half counts as being left out in every sixth run.
    let mut weak: Vec<(f64, &str)> = (about.steps.iter().zip(step_trends(history, place)))
        .filter(|(step, _)| !step.free && section.steps.iter().any(|s| s.id == step.id))
        .filter_map(|(step, trend)| {
            let care = section.steps.iter().position(|s| s.id == step.id).is_some_and(|s| section.is_care(s));
            let pace = step.plan.zip(trend.lately).filter(|_| about.compress == 1 && !care);
            let over = pace.map_or(0.0, |(plan, took)| (took / plan.0 as f64 - 1.0).clamp(0.0, 1.0));
            let weight = if step.critical { 2.0 } else { 1.0 };
            let shown = trend.missed > 0 || over > 0.0;
            shown.then_some((trend.omission.mean * weight + over / 3.0, step.id.as_str()))
        })
        .collect();
    weak.sort_by(|a, b| b.0.total_cmp(&a.0));
    let steps = weak.into_iter().take(MOST).map(|(_, id)| id.to_string()).collect();
    Some(Weakest { steps, runs: about.runs(runs) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::{About, NOT_CALLED, Run, StepAbout};

    /// The basic facial's runs, whose steps take these many milliseconds by name and ten seconds else.
    fn runs(section: &Section, compress: u32, count: usize, took: &[(&str, u32)]) -> History {
        let step = |s: &crate::section::Step| StepAbout {
            id: s.id.clone(),
            title: s.title.clone(),
            critical: s.critical,
            free: s.optional,
            plan: s.plan(),
        };
        let about = About {
            id: section.id.clone(),
            title: section.title.clone(),
            edition: section.edition.clone(),
            compress,
            limit: None,
            steps: section.steps.iter().map(step).collect(),
            criteria: vec![],
        };
        let of = |id: &str| took.iter().find(|t| t.0 == id).map_or(10_000, |t| t.1);
        let run = |k: usize| Run {
            started: k as i64,
            took: section.steps.iter().map(|s| of(&s.id)).collect(),
            ..Run::usual()
        };
        History { sections: vec![about], runs: (0..count).map(run).collect() }
    }

    #[test]
    fn only_what_went_wrong_is_weak_and_compressed_runs_count() {
        let text = include_str!("../../prompts/skin-care/basic-facial.toml");
        let section = crate::authoring::read(text).0.unwrap();
        let ids: Vec<&str> = section.steps.iter().filter(|s| !s.optional).map(|s| s.id.as_str()).collect();
        let weak = |compress, took: &[(&str, u32)]| weakest(&runs(&section, compress, 9, took), &section).unwrap();
        assert_eq!(weak(1, &[]), Weakest { steps: vec![], runs: "9 whole runs".into() });
        assert_eq!(weak(1, &[(ids[4], 3_600_000), (ids[5], NOT_CALLED)]).steps, [ids[5], ids[4]]);
        let compressed = weak(10, &[(ids[4], 3_600_000), (ids[5], NOT_CALLED)]);
        assert_eq!(
            compressed,
            Weakest { steps: vec![ids[5].into()], runs: "9 whole runs, compressed 10 times".into() }
        );
        assert_eq!(weakest(&runs(&section, 1, 0, &[]), &section), None);
    }
}
