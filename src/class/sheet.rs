//! A sheet for somebody who watches, and how far their ticks and the tool's agree.

use crate::history::kappa;
use crate::recap::head;
use crate::section::Section;
use maud::{DOCTYPE, html};

/// A printable sheet: a row a step, to be ticked by somebody who watches without hearing the tool.
pub fn sheet(section: &Section) -> String {
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("Observer's sheet: {}", section.title)))
            body {
                header {
                    h1 { (section.title) }
                    p.soft { "Observer's sheet · " (section.board) " · edition " (section.edition) }
                    p { "Candidate: ______________________  Observer: ______________________  Date: ____________" }
                }
                main {
                    table.ticks {
                        caption { "Tick what you saw. Don't look at the tool's screen; its ticks and yours are compared afterwards." }
                        thead { tr { th scope="col" { "Step" } th scope="col" { "Name in the file" } th scope="col" { "Seen" } th scope="col" { "In its place" } th scope="col" { "Remarks" } } }
                        tbody { @for step in &section.steps { tr {
                            th scope="row" { (step.title) @if step.critical { " (critical)" } @if step.optional { " (may be left out)" } }
                            td { (step.id) } td { "\u{2610}" } td { "\u{2610}" } td.blank {}
                        } } }
                    }
                    @if section.criteria.iter().any(|c| section.unheard(c)) {
                        h2 { "What the tool can't hear" }
                        table {
                            caption { "Nothing that is called out can tell of these: only somebody who watches can." }
                            thead { tr { th scope="col" { "Criterion" } th scope="col" { "Number" } th scope="col" { "Seen" } th scope="col" { "Remarks" } } }
                            tbody { @for c in section.criteria.iter().filter(|c| section.unheard(c)) { tr {
                                th scope="row" { (c.text) } td { (c.id) } td { "\u{2610}" } td { "______________" }
                            } } }
                        }
                    }
                    @if !section.cautions.is_empty() { h2 { "Cautions" } ul { @for caution in &section.cautions { li { (caution) } } } }
                    p { "To compare: a CSV file with the columns step (its name, or a criterion's number), seen and in_place (yes or no) and remarks, then " code { "stepbell agree RUN --ticks FILE" } "." }
                }
                footer { p.soft { (section.source) } }
            }
        }
    };
    markup.into_string()
}

/// The tool's ticks beside an observer's.
#[derive(Clone, Debug, PartialEq)]
pub struct Agreement {
    /// Called and seen, only called, only seen, neither.
    pub counts: [usize; 4],
    /// Cohen's kappa; none where chance alone makes them agree in everything.
    pub kappa: Option<f64>,
    /// Steps in which they differ: place, and whether it was called.
    pub differ: Vec<(usize, bool)>,
}

/// Compare, step by step.
pub fn agreement(called: &[bool], seen: &[bool]) -> Agreement {
    let mut counts = [0; 4];
    for (called, seen) in called.iter().zip(seen) {
        counts[usize::from(!called) * 2 + usize::from(!seen)] += 1;
    }
    let [both, only_called, only_seen, neither] = counts;
    let differ = called.iter().zip(seen).enumerate().filter(|(_, (c, s))| c != s).map(|(k, (c, _))| (k, *c)).collect();
    let kappa = kappa(both as f64, only_called as f64, only_seen as f64, neither as f64);
    Agreement { counts, kappa, differ }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agreement_counts_as_cohen_did() {
        // Cohen 1960's formula on the table 20, 5, 10, 15: .40.
        let pairs = [(true, true, 20), (true, false, 5), (false, true, 10), (false, false, 15)];
        let of = |pick: fn(&(bool, bool, usize)) -> bool| -> Vec<bool> {
            pairs.iter().flat_map(|p| std::iter::repeat_n(pick(p), p.2)).collect()
        };
        let found = agreement(&of(|p| p.0), &of(|p| p.1));
        assert_eq!(found.counts, [20, 5, 10, 15]);
        assert!((found.kappa.unwrap() - 0.40).abs() < 1e-12);
        assert_eq!(found.differ.len(), 15);
    }
}
