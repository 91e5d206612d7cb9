//! Many people's runs of one section on one page, for their instructor.

mod sheet;

pub use sheet::{Agreement, agreement, sheet};

use crate::history::{About, Apart, History, Interval, NOT_CALLED, Readiness, wilson};
use crate::recap::head;
use crate::text::count;
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

/// People whose columns a phone has room for.
const FEW: usize = 5;

/// Runs of each person that the page looks at: their last ones.
pub const LATELY: usize = 10;

/// A criterion over all people: left out in so many of so many runs.
struct StepOmission {
    title: String,
    critical: bool,
    missed: Vec<Option<(usize, usize)>>,
    share: Interval,
}

fn criteria(about: &About, people: &[Person]) -> Vec<StepOmission> {
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
            StepOmission { title: step.title.clone(), critical: step.critical, missed, share }
        })
        .collect()
}

/// The page of a class: its people's runs of one section, edition and compression.
pub fn class_page(about: &About, people: &[Person]) -> String {
    let criteria = criteria(about, people);
    let whole = people.iter().filter_map(|p| Some(p.history.of(p.section?).len())).sum();
    let apart = people.iter().map(|p| Apart::of(&p.history, about)).fold(Apart::default(), Apart::and);
    let mut hardest: Vec<&StepOmission> = criteria.iter().filter(|c| c.share.mean > 0.0).collect();
    hardest.sort_by(|a, b| b.share.low.total_cmp(&a.share.low));
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let timed = about.limit.is_some() && about.compress == 1;
    let mut ready: Vec<&Person> = people.iter().collect();
    let chance = |p: &Person| p.ready.as_ref().map_or(-1.0, |r| r.good.low);
    ready.sort_by(|a, b| chance(b).total_cmp(&chance(a)));
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("Class: {}", about.title)))
            body {
                header {
                    h1 { (about.title) }
                    p.soft { "Edition " (about.edition) @if about.compress > 1 { " \u{b7} compressed " (about.compress) " times" } }
                    p { (count(people.len(), "person")) ", " (about.runs(whole)) ". Counted are whole runs of this edition and this clock; for the steps, the last " (LATELY) " of each." }
                    @if about.compress > 1 { p { strong { "The clock was compressed: these runs trained the order. What they took says nothing of the exam's time." } } }
                    @if let Some(apart) = apart.sentence(about) { p.soft { (apart) } }
                }
                main {
                    h2 { "Who is ready" }
                    div.scroll tabindex="0" role="region" aria-label="Readiness" {
                        table.people {
                            caption { span { "Chance that the next run has no critical finding" @if timed { " and is finished in time" } ", with a 90 % interval. Sorted by its lower end. The last column: the chance that it has no finding at all, critical or not." } }
                            thead { tr { th scope="col" { "Person" } th scope="col" { "Runs" } th scope="col" { "Chance" } th scope="col" { "Interval" } @if timed { th scope="col" { "No critical finding" } th scope="col" { "In time" } } th scope="col" { "No finding" } } }
                            tbody {
                                @for person in &ready {
                                    tr {
                                        th scope="row" { (person.name) }
                                        td { (person.section.map_or(0, |s| person.history.of(s).len())) }
                                        @match &person.ready {
                                            Some(r) => { td { (percent(r.good.mean)) } td { (format!("{:.0} to {}", r.good.low * 100.0, percent(r.good.high))) } @if timed { td { (percent(r.clean)) } td { (r.in_time.map_or_else(|| "-".into(), percent)) } } td { (percent(r.spotless.mean)) } }
                                            None => { td colspan=(if timed { "5" } else { "3" }) { "too few runs to say" } }
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
                        table.grid-of {
                            caption { span { "In how many of the last runs a step was not called. A dot is none." @if people.len() > FEW { span.sideways { " Scroll sideways for all " (people.len()) " people." } } } }
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
