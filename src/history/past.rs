//! What earlier runs came to, for a run that is about to begin.

use super::{History, Run, readiness, weakest};
use crate::outcome::{Former, Past};
use crate::section::Section;
use crate::time::Ms;

/// The whole runs so far of a section as it is rehearsed now, on a clock compressed so many times; none where there are none.
pub fn past(history: &History, section: &Section, compress: u32) -> Option<Past> {
    let same =
        |about: &super::About| about.id == section.id && about.edition == section.edition && about.compress == compress;
    let place = history.meant(same)?;
    let runs = history.of(place);
    let former =
        |run: &Run| Former { used: run.used, finished: run.finished, findings: run.findings, critical: run.critical };
    let best = runs.iter().min_by_key(|r| (r.critical, r.findings, !r.finished, r.used))?;
    let ready = readiness(history, place, history.seed(place));
    let percent = |share: f64| (share * 100.0).round().clamp(0.0, 100.0) as u8;
    let weak = weakest(history, section).map(|w| w.steps).unwrap_or_default();
    let trends = super::step_trends(history, place);
    let steps = history.sections[place].steps.iter().zip(trends);
    let usual = steps.filter_map(|(step, trend)| Some((step.id.clone(), Ms(trend.lately? as u64)))).collect();
    let title = |id: &String| section.steps.iter().find(|s| s.id == *id).map(|s| s.title.clone());
    Some(Past {
        runs: runs.len() as u32,
        last: former(runs.last()?),
        best: former(best),
        ready: ready.map(|r| (percent(r.good.mean), percent(r.good.low), percent(r.good.high))),
        weak: weak.iter().filter_map(title).collect(),
        usual,
    })
}
