//! Many people's runs of one section on one page, for their instructor.

mod gradebook;
mod grid;
mod sheet;

pub use gradebook::gradebook;
pub use grid::led_to;
pub use sheet::{Agreement, agreement, sheet};

use crate::history::{About, Apart, History, Readiness, Run};
use crate::recap::head;
use crate::text::{count, percent};
use grid::{Asked, asked, lately};
use maud::{DOCTYPE, Markup, html};
use std::collections::BTreeMap;

/// One person's runs.
pub struct Person {
    /// As the instructor's folder names them, or as they may be told.
    pub name: String,
    /// Their runs.
    pub history: History,
    /// Which of its sections is meant; none where they have no run of it.
    pub section: Option<usize>,
    /// Their readiness; none with too few runs.
    pub ready: Option<Readiness>,
    /// The pages of their runs, by a run's name, as links from the page of the class.
    pub pages: BTreeMap<String, String>,
}

/// Things that are asked for which a phone has room.
const FEW: usize = 4;

/// Runs of each person that the page looks at: their last ones.
pub const LATELY: usize = 10;

/// A day, UTC, of seconds since 1970.
fn day(started: i64) -> String {
    jiff::Timestamp::from_second(started).map_or_else(|_| "-".into(), |t| t.strftime("%Y-%m-%d").to_string())
}

/// Critical findings in somebody's last runs, and the runs that had any.
fn critical(person: &Person) -> (u32, usize) {
    let runs = lately(person);
    (runs.iter().map(|r| r.critical).sum(), runs.iter().filter(|r| r.critical > 0).count())
}

/// Who needs help first: harm before all else, so those with a critical finding in their last runs; among them, and among the others,
/// those with the least chance of a good run, then those of whom nothing can be said yet, those with the most critical findings and the
/// fewest runs first.
pub fn by_need(people: &mut [Person]) {
    let key = |p: &Person| {
        let (critical, low) = (critical(p).0, p.ready.as_ref().map_or(0.0, |r| r.good.low));
        (critical == 0, p.ready.is_none(), low, std::cmp::Reverse(critical), lately(p).len())
    };
    people.sort_by(|a, b| {
        let (a_key, b_key) = (key(a), key(b));
        ((a_key.0, a_key.1).cmp(&(b_key.0, b_key.1)))
            .then(a_key.2.total_cmp(&b_key.2))
            .then((a_key.3, a_key.4).cmp(&(b_key.3, b_key.4)))
            .then(a.name.cmp(&b.name))
    });
}

/// Words that lead to the page of a run, where it has one. What is only there for the mouse is no stop of the Tab key: the person's own
/// name leads to the same page.
fn leading(person: &Person, run: Option<&&Run>, words: &str, about: &str, stop: bool) -> Markup {
    match run.and_then(|run| person.pages.get(&run.name)) {
        Some(page) => html! { a href=(page) aria-label=(about) tabindex=[(!stop).then_some("-1")] { (words) } },
        None => html! { (words) },
    }
}

/// The page of a class: its people's runs of one section, edition and compression, in the order given.
pub fn class_page(about: &About, people: &[Person]) -> String {
    let rows = asked(about, people);
    let whole = people.iter().filter_map(|p| Some(p.history.of(p.section?).len())).sum();
    let apart = people.iter().map(|p| Apart::of(&p.history, about)).fold(Apart::default(), Apart::and);
    let what = if about.criteria.is_empty() { "step" } else { "criterion" };
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("Class: {}", about.title)))
            body.wide {
                header {
                    h1 { (about.title) }
                    p.soft { "Edition " (about.edition) @if about.compress > 1 { " \u{b7} compressed " (about.compress) " times" } }
                    p { (count(people.len(), "person")) ", " (about.runs(whole)) ". Counted are whole runs of this edition and this clock; for each " (what) ", the last " (LATELY) " of each person." }
                    @if about.compress > 1 { p { strong { "The clock was compressed: these runs trained the order. What they took says nothing of the exam's time." } } }
                    @if let Some(apart) = apart.sentence(about) { p.soft { (apart) } }
                    nav aria-label="On this page" { a href="#need" { "Who needs help" } " \u{b7} " a href="#hardest" { "What is hardest" } " \u{b7} " a href="#grid" { "Person by " (what) } " \u{b7} " a href="#legend" { "What the numbers mean" } }
                }
                main {
                    (need(about, people, &rows))
                    (hardest(&rows))
                    (grid_of(people, &rows, what))
                    h2 id="legend" { "What the numbers mean" }
                    dl.legend { @for row in &rows { dt { (row.number) } dd { (row.title) @if row.critical { " (critical)" } } } }
                    p { "Counted is what was called; nobody saw it happen. An instructor who watches knows more than this page." }
                }
                footer {}
            }
        }
    };
    markup.into_string()
}

fn need(about: &About, people: &[Person], rows: &[Asked]) -> Markup {
    let timed = about.limit.is_some() && about.compress == 1;
    let worst = |place: usize| {
        let missed = rows.iter().filter_map(|row| Some((row, row.cells[place].as_ref().filter(|m| m.runs > 0)?)));
        missed.max_by_key(|(_, m)| m.runs * 1000 / m.of).map(|(row, m)| (row, m.runs, m.of))
    };
    html! {
        h2 id="need" { "Who needs help" }
        div.scroll tabindex="0" role="region" aria-label="Who needs help" {
            table.people {
                caption { span { "Chance that the next run has no critical finding" @if timed { " and is finished in time" } ", with a 90 % interval. Critical: findings that can fail the section, in the last " (LATELY) " runs. Who has any stands first, then who has the lowest lower end. A name leads to the last run." } }
                thead { tr { th scope="col" { "Person" } th scope="col" { "Critical" } th scope="col" { "Runs" } th scope="col" { "Last" } th scope="col" { "Chance" } th scope="col" { "Interval" } @if timed { th scope="col" { "No critical finding" } th scope="col" { "In time" } } th scope="col" { "No finding" } th.words scope="col" { "Left out most" } } }
                tbody {
                    @for (place, person) in people.iter().enumerate() {
                        @let runs = lately(person);
                        tr {
                            th scope="row" { (leading(person, runs.last(), &person.name, &format!("{}, last run", person.name), true)) }
                            (critical_of(person))
                            td { (person.section.map_or(0, |s| person.history.of(s).len())) }
                            td { (runs.last().map_or_else(|| "-".into(), |r| day(r.started))) }
                            @match &person.ready {
                                Some(r) => { td { (percent(r.good.mean)) } td { (format!("{:.0} to {}", r.good.low * 100.0, percent(r.good.high))) } @if timed { td { (percent(r.clean)) } td { (r.in_time.map_or_else(|| "-".into(), percent)) } } td { (percent(r.spotless.mean)) } }
                                None => { td colspan=(if timed { "5" } else { "3" }) { "too few runs to say" } }
                            }
                            td.words { @if let Some((row, k, of)) = worst(place) { (row.number) " " (row.title) ", " (k) "/" (of) } @else { "-" } }
                        }
                    }
                }
            }
        }
    }
}

/// Somebody's critical findings, and in how many of the last runs they were.
fn critical_of(person: &Person) -> Markup {
    match (critical(person), lately(person).len()) {
        (_, 0) => html! { td { "-" } },
        ((0, _), _) => html! { td { "0" } },
        ((found, runs), of) => html! { td.grave { (found) " in " (runs) "/" (of) } },
    }
}

fn hardest(rows: &[Asked]) -> Markup {
    // Of what no run tells nothing is said.
    let mut hardest: Vec<&Asked> = rows.iter().filter(|row| row.cells.iter().flatten().any(|m| m.runs > 0)).collect();
    hardest.sort_by(|a, b| b.share.low.total_cmp(&a.share.low));
    html! {
        h2 id="hardest" { "What is hardest" }
        @if hardest.is_empty() { p { "Nothing that is needed was left out." } }
        @else {
            ol { @for row in hardest.iter().take(8) { li {
                (row.title) @if row.critical { " (critical)" } ": left out in " (percent(row.share.mean)) " of runs (95 % interval " (percent(row.share.low)) " to " (percent(row.share.high)) ")"
            } } }
            p.soft { "Intervals after Wilson; they take runs as independent, which runs of one person are not." }
        }
    }
}

fn grid_of(people: &[Person], rows: &[Asked], what: &str) -> Markup {
    let told = |person: &Person, row: &Asked, k: usize, of: usize| {
        format!("{}, {} {}: left out in {k} of {of}", person.name, what, row.number)
    };
    html! {
        h2 id="grid" { "Person by " (what) }
        div.scroll tabindex="0" role="region" aria-label={ "Person by " (what) } {
            table.grid-of {
                caption { span { "In how many of the last runs it was left out, or spoken against. A dot is none; where nothing stands, no run tells of it. A number leads to the last such run." @if rows.len() > FEW { span.sideways { " Scroll sideways for all " (rows.len()) "." } } } }
                thead { tr { th scope="col" { "Person" } @for row in rows { th.up scope="col" title=(row.title) { (row.number) @if row.critical { span.grave { " !" span.unseen { " critical" } } } } } } }
                tbody { @for (place, person) in people.iter().enumerate() {
                    @let runs = lately(person);
                    tr {
                        th scope="row" { (person.name) }
                        @for row in rows { td { @match &row.cells[place] {
                            Some(m) if m.runs == 0 => (leading(person, runs.get(m.last), "\u{b7}", &told(person, row, 0, m.of), false)),
                            Some(m) => (leading(person, runs.get(m.last), &format!("{}/{}", m.runs, m.of), &told(person, row, m.runs, m.of), true)),
                            None => "",
                        } } }
                    }
                } }
            }
        }
    }
}
