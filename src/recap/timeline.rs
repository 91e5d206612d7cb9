//! The steps of a run on their timeline, and the same as a table. A title is never cut: it wraps in front of its bar, or above it on a phone.

use super::{RunView, only_hygiene, since};
use crate::review::Finding;
use crate::time::Ms;
use maud::{Markup, html};

/// A step as both show it.
struct Row<'a> {
    step: &'a crate::section::Step,
    /// Whether it is care, which is never too slow.
    care: bool,
    how: How,
}

/// How a step went.
enum How {
    /// When it was called after the clock's start, and how long it took, where that is known.
    Called(Ms, Option<Ms>),
    /// Not heard, but perhaps called then.
    Perhaps(Ms),
    /// Not heard, but claimed afterwards.
    Claimed,
    NotCalled,
}

/// Steps as they were called, and those that were not behind the last one that the section has in front of them.
fn rows<'a>(run: &'a RunView) -> Vec<Row<'a>> {
    let known = !only_hygiene(run.section);
    let mut rows: Vec<(usize, How)> = run
        .review
        .steps
        .iter()
        .map(|t| (t.step, How::Called(since(run.outcome, t.at), known.then_some(t.took))))
        .collect();
    let mut missing: Vec<(usize, How)> = run
        .review
        .findings
        .iter()
        .filter_map(|finding| match finding {
            Finding::NotCalled { step } => Some((*step, How::NotCalled)),
            Finding::ClaimedAfterwards { step, .. } => Some((*step, How::Claimed)),
            Finding::Perhaps { step, at } => Some((*step, How::Perhaps(since(run.outcome, *at)))),
            _ => None,
        })
        .collect();
    missing.sort_by_key(|(step, _)| *step);
    for (step, how) in missing {
        let place = rows.iter().rposition(|(before, _)| *before < step).map_or(0, |place| place + 1);
        rows.insert(place, (step, how));
    }
    let row = |(step, how)| Row { step: &run.section.steps[step], care: run.section.is_care(step), how };
    rows.into_iter().map(row).collect()
}

/// The table: what was called, and what was not.
pub(super) fn table(run: &RunView) -> Markup {
    html! {
        table {
            caption { "Steps as they were called, and those that were not. "
                @if only_hygiene(run.section) { "Only hands and labels were listened for, so how long they took isn't known." }
                @else { "A step lasts from its first callout to the next of another step, a mishap or the end of its phase; a dash: the section plans no minutes, or it is care, which may take longer." } }
            thead { tr { th scope="col" { "Step" } th scope="col" { "Called" } th scope="col" { "Took" } th scope="col" { "Plan" } th scope="col" { "Over or under" } } }
            tbody {
                @for Row { step, care, how } in rows(run) {
                    tr {
                        th scope="row" { (step.title) @if step.critical { " (critical)" } }
                        @match how {
                            How::Called(at, took) => {
                                td { (at) } td { (took.map_or_else(|| "\u{2013}".into(), |t| t.to_string())) }
                                td { (step.plan().map_or_else(|| "\u{2013}".into(), |p| p.to_string())) }
                                @let fair = took.zip(step.plan()).filter(|(took, plan)| !care || took <= plan);
                                td { (fair.map_or_else(|| "\u{2013}".into(), |(took, plan)| against(took, plan))) }
                            }
                            How::Perhaps(at) => td.grave colspan="4" { "not heard for sure; perhaps at " (at) },
                            How::Claimed => td.grave colspan="4" { "not heard; claimed afterwards" },
                            How::NotCalled => td.grave colspan="4" { "not called" },
                        }
                    }
                }
            }
        }
    }
}

/// The difference of two times as they are shown, so that the row adds up.
fn against(took: Ms, plan: Ms) -> String {
    let (took, plan) = (took.rounded(), plan.rounded());
    if took >= plan {
        format!("+{}", took.saturating_sub(plan))
    } else {
        format!("\u{2212}{}", plan.saturating_sub(took))
    }
}

/// The axis: from the clock's start to its end, in percent of the width.
struct Axis {
    end: f64,
    /// Where each phase's warning and limit lay, pauses left out.
    marks: Vec<(Ms, &'static str)>,
    /// A line each so many seconds.
    pace: f64,
}

impl Axis {
    fn of(run: &RunView) -> Axis {
        let last = run.review.steps.iter().map(|t| since(run.outcome, t.at) + t.took).max().unwrap_or(Ms(0));
        let begun = run.outcome.phases.iter().zip(&run.section.phases);
        let marks: Vec<(Ms, &str)> = begun
            .flat_map(|((from, _), part)| {
                let limit = part.clock.limit.map(|limit| since(run.outcome, *from) + limit);
                let warning = limit.zip(part.clock.warning_left).map(|(limit, left)| limit.saturating_sub(left));
                [warning.map(|at| (at, "warning")), limit.map(|at| (at, "limit"))]
            })
            .flatten()
            .collect();
        let end = marks.iter().map(|m| m.0).fold(last, Ms::max).seconds().max(1.0);
        // About six lines of a round number of seconds.
        let paces = [5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0];
        let pace = paces.into_iter().find(|p| end / p <= 7.0).unwrap_or(3600.0);
        Axis { end, marks, pace }
    }

    fn x(&self, at: Ms) -> f64 {
        (at.seconds() / self.end * 100.0).min(100.0)
    }

    fn lines(&self) -> impl Iterator<Item = Ms> {
        let pace = self.pace;
        (0..=(self.end / pace) as usize).map(move |k| Ms((k as f64 * pace * 1000.0) as u64))
    }
}

/// Places along the axis, so that the picture is as wide as the reader's page.
fn percent(x: f64) -> String {
    format!("{x:.2}%")
}

/// Words on the axis stay inside it.
fn anchor(x: f64) -> &'static str {
    match x {
        ..4.0 => "start",
        96.0.. => "end",
        _ => "middle",
    }
}

/// A row a step: how long it took, with the plan as an upright stroke; the warning and the limit run through all rows.
pub(super) fn timeline(run: &RunView) -> Markup {
    let axis = Axis::of(run);
    html! {
        div.chart role="img" aria-labelledby="timeline-name timeline-words" {
            span.unseen id="timeline-name" { "Timeline of the steps." }
            span.unseen id="timeline-words" { "Each step's bar runs from its callout for as long as it took; an upright stroke shows the plan. The table below holds the same numbers." }
            span.gap {} div.track.words { svg {
                @for (at, name) in &axis.marks {
                    text x=(percent(axis.x(*at))) y=(if *name == "limit" { 12 } else { 26 }) text-anchor=(anchor(axis.x(*at))) { (name) }
                }
            } }
            @for row in rows(run) { (bar(&axis, &row)) }
            span.gap {} div.track.words { svg {
                @for at in axis.lines() { text x=(percent(axis.x(at))) y="14" text-anchor=(anchor(axis.x(at))) { (at) } }
            } }
        }
        p.soft { "Bars: from a callout, as long as the step took. Upright strokes: the plan, where the section has one. Brick bars took more than twice the plan; care (what is critical, for the hands, or protects somebody) is never too slow." }
    }
}

fn bar(axis: &Axis, Row { step, care, how }: &Row) -> Markup {
    let between = |from: f64, to: f64| (percent(from), percent(to));
    html! {
        span.name { (step.title) }
        div.track { svg {
            @for at in axis.lines() { line.grid x1=(percent(axis.x(at))) x2=(percent(axis.x(at))) y1="0" y2="100%" {} }
            @for (at, _) in &axis.marks { line.mark x1=(percent(axis.x(*at))) x2=(percent(axis.x(*at))) y1="0" y2="100%" {} }
            @match how {
                How::Called(at, took) => {
                    // So much of the width can be seen, however short the step was.
                    @let (from, to) = between(axis.x(*at), axis.x(*at + took.unwrap_or(Ms(0))).max(axis.x(*at) + 0.3));
                    @let late = took.zip(step.plan()).is_some_and(|(took, plan)| took > plan + plan);
                    line.bar.late[late && !care] x1=(from) x2=(to) y1="50%" y2="50%" {
                        title { (step.title) ": " (at) @if let Some(took) = took { ", took " (took) @if let Some(plan) = step.plan() { ", plan " (plan) } } }
                    }
                    @if let Some(plan) = step.plan().filter(|_| took.is_some()) {
                        @let x = percent(axis.x(*at + plan));
                        // The edge parts the stroke from a bar under it.
                        line.edge x1=(x) x2=(x) y1="10%" y2="90%" {}
                        line.plan x1=(x) x2=(x) y1="10%" y2="90%" {}
                    }
                }
                How::Perhaps(at) => { @let x = axis.x(*at); text.missed x=(percent(x)) y="50%" dy=".35em" text-anchor=(if x > 50.0 { "end" } else { "start" }) { "perhaps called" } }
                How::Claimed => { text.missed x="0.5%" y="50%" dy=".35em" { "claimed afterwards" } }
                How::NotCalled => { text.missed x="0.5%" y="50%" dy=".35em" { "not called" } }
            }
        } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_adds_up_as_it_is_shown() {
        let row = |took, plan| (Ms(took).to_string(), Ms(plan).to_string(), against(Ms(took), Ms(plan)));
        let (minus, plus) = ("\u{2212}0:03".to_string(), "+0:01".to_string());
        assert_eq!(row(8_400, 10_800), ("0:08".into(), "0:11".into(), minus));
        assert_eq!(row(11_500, 11_400), ("0:12".into(), "0:11".into(), plus));
    }
}
