//! Many people's runs of one section on one page, for their instructor.

mod sheet;

pub use sheet::{Agreement, agreement, sheet};

use crate::history::{History, Interval, NOT_CALLED, Readiness, wilson};
use crate::recap::head;
use maud::{DOCTYPE, html};

/// One person's runs.
pub struct Person {
    /// As the instructor's folder names them.
    pub name: String,
    /// Their runs.
    pub history: History,
    /// Which of its sections is meant; none where they have no run of it.
    pub section: Option<usize>,
    /// Their readiness; none with too few runs.
    pub ready: Option<Readiness>,
}

/// Runs of each person that the page looks at: their last ones.
pub const LATELY: usize = 10;

/// A criterion over all people: left out in so many of so many runs.
struct Criterion {
    title: String,
    critical: bool,
    missed: Vec<Option<(usize, usize)>>,
    share: Interval,
}

fn criteria(people: &[Person]) -> Vec<Criterion> {
    let about = people.iter().find_map(|p| Some(&p.history.sections[p.section?]));
    let Some(about) = about else { return vec![] };
    (about.steps.iter().enumerate())
        .filter(|(_, step)| !step.free)
        .map(|(place, step)| {
            let missed: Vec<Option<(usize, usize)>> = people
                .iter()
                .map(|person| {
                    let runs = person.history.of(person.section?);
                    let runs = &runs[runs.len().saturating_sub(LATELY)..];
                    let missed = runs.iter().filter(|r| r.took[place] == NOT_CALLED).count();
                    (!runs.is_empty()).then_some((missed, runs.len()))
                })
                .collect();
            let sum = |of: fn(&(usize, usize)) -> usize| missed.iter().flatten().map(of).sum::<usize>() as f64;
            let share = wilson(sum(|m| m.0), sum(|m| m.1), 0.95);
            Criterion { title: step.title.clone(), critical: step.critical, missed, share }
        })
        .collect()
}

/// The page of a class.
pub fn class_page(title: &str, people: &[Person]) -> String {
    let criteria = criteria(people);
    let mut hardest: Vec<&Criterion> = criteria.iter().filter(|c| c.share.mean > 0.0).collect();
    hardest.sort_by(|a, b| b.share.low.total_cmp(&a.share.low));
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let mut ready: Vec<&Person> = people.iter().collect();
    let chance = |p: &Person| p.ready.as_ref().map_or(-1.0, |r| r.good.low);
    ready.sort_by(|a, b| chance(b).total_cmp(&chance(a)));
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("Class: {title}")))
            body {
                header {
                    h1 { (title) }
                    p.soft { (people.len()) " people; of each the last " (LATELY) " whole runs" }
                }
                main {
                    h2 { "Who is ready" }
                    div.scroll tabindex="0" role="region" aria-label="Readiness" {
                        table {
                            caption { span { "Chance that the next run has no critical finding and is finished in time, with a 90 % interval. Sorted by its lower end." } }
                            thead { tr { th scope="col" { "Person" } th scope="col" { "Runs" } th scope="col" { "Chance" } th scope="col" { "Interval" } th scope="col" { "No critical finding" } th scope="col" { "In time" } } }
                            tbody {
                                @for person in &ready {
                                    tr {
                                        th scope="row" { (person.name) }
                                        td { (person.section.map_or(0, |s| person.history.of(s).len())) }
                                        @match &person.ready {
                                            Some(r) => { td { (percent(r.good.mean)) } td { (percent(r.good.low)) " to " (percent(r.good.high)) } td { (percent(r.clean)) } td { (percent(r.in_time)) } }
                                            None => { td colspan="4" { "too few runs to say" } }
                                        }
                                    }
                                }
                            }
                        }
                    }
                    h2 { "Hardest steps" }
                    @if hardest.is_empty() { p { "No needed step was left out." } }
                    @else {
                        ol { @for c in hardest.iter().take(8) { li {
                            (c.title) @if c.critical { " (critical)" } ": left out in " (percent(c.share.mean)) " of runs (95 % interval " (percent(c.share.low)) " to " (percent(c.share.high)) ")"
                        } } }
                        p.soft { "Intervals after Wilson; they take runs as independent, which runs of one person are not." }
                    }
                    h2 { "Criterion by person" }
                    div.scroll tabindex="0" role="region" aria-label="Criterion by person" {
                        table {
                            caption { span { "In how many of the last runs a step was not called. A dot is none." } }
                            thead { tr { th scope="col" { "Step" } @for person in people { th scope="col" { (person.name) } } } }
                            tbody { @for c in &criteria { tr {
                                th scope="row" { (c.title) @if c.critical { " (critical)" } }
                                @for missed in &c.missed { td { @match missed { Some((0, _)) => "\u{b7}", Some((k, of)) => (format!("{k}/{of}")), None => "" } } }
                            } } }
                        }
                    }
                    p { "Counted is what was called; nobody saw it happen. An instructor who watches knows more than this page." }
                }
                footer {}
            }
        }
    };
    markup.into_string()
}
