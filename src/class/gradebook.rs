//! A class as a table for a gradebook: a row a person, in the order of the alphabet, after RFC 4180.

use super::grid::{asked, lately};
use super::{Person, critical};
use crate::history::About;
use crate::recap::cell;

/// The gradebook of a class. Chances and shares are percent, from 0 to 100; a cell that nothing tells of is empty.
/// Critical findings are those of the last runs, as on the page.
pub fn gradebook(about: &About, people: &[Person]) -> String {
    let rows = asked(about, people);
    let mut order: Vec<usize> = (0..people.len()).collect();
    order.sort_by(|&a, &b| people[a].name.cmp(&people[b].name));
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(vec![]);
    let mut put = |cells: Vec<String>| {
        // Written to memory, and every row has as many cells: neither can fail.
        let _ = writer.write_record(cells.iter().map(|c| cell(c)));
    };
    let fixed = [
        "person",
        "runs",
        "critical_findings",
        "critical_runs",
        "last_run",
        "in_time_pct",
        "chance_pct",
        "chance_low_pct",
        "chance_high_pct",
        "no_finding_pct",
    ];
    let asked_of = rows.iter().map(|row| format!("{} {}", row.number, row.title));
    put(fixed.into_iter().map(String::from).chain(asked_of).collect());
    let percent = |share: f64| format!("{:.0}", share * 100.0);
    for place in order {
        let person = &people[place];
        let runs = lately(person);
        let all = person.section.map_or(0, |s| person.history.of(s).len());
        let in_time = runs.iter().filter(|r| r.finished).count() as f64 / runs.len().max(1) as f64;
        let ready = |of: fn(&crate::history::Readiness) -> f64| {
            person.ready.as_ref().map_or_else(String::new, |r| percent(of(r)))
        };
        let (findings, critical_runs) = critical(person);
        let known = |cell: String| if runs.is_empty() { String::new() } else { cell };
        let mut cells = vec![
            person.name.clone(),
            all.to_string(),
            known(findings.to_string()),
            known(critical_runs.to_string()),
            runs.last().map_or_else(String::new, |r| super::day(r.started)),
            known(percent(in_time)),
            ready(|r| r.good.mean),
            ready(|r| r.good.low),
            ready(|r| r.good.high),
            ready(|r| r.spotless.mean),
        ];
        cells.extend(rows.iter().map(|row| match &row.cells[place] {
            Some(missed) => percent(1.0 - missed.runs as f64 / missed.of as f64),
            None => String::new(),
        }));
        put(cells);
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}
