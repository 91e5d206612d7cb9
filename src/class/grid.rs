//! How often each of many people left out what is asked of a section: the criteria of its board's sheet where it has one, else its
//! needed steps.

use super::{LATELY, Person};
use crate::history::{About, CLAIMED, Interval, NOT_CALLED, PERHAPS, Run, wilson};
use crate::review::Claim;

/// What is asked, over all people.
pub(super) struct Asked {
    /// Its number on the sheet, or its place among the steps.
    pub number: String,
    /// What it is.
    pub title: String,
    /// Leaving it out can fail the section; known of steps alone.
    pub critical: bool,
    /// By person; none where no run of theirs tells of it.
    pub cells: Vec<Option<Missed>>,
    /// Of all runs, those in which it was left out.
    pub share: Interval,
}

/// How one person does in one thing that is asked.
pub(super) struct Missed {
    /// Runs in which it was left out, or spoken against.
    pub runs: usize,
    /// Runs that tell of it.
    pub of: usize,
    /// Place of the last run in which it was left out; else of the last that tells of it.
    pub last: usize,
}

/// The last runs of a person that count, oldest first.
pub(super) fn lately(person: &Person) -> Vec<&Run> {
    let runs = person.section.map(|s| person.history.of(s)).unwrap_or_default();
    runs[runs.len().saturating_sub(LATELY)..].to_vec()
}

/// All that is asked of a section, in its order.
pub(super) fn asked(about: &About, people: &[Person]) -> Vec<Asked> {
    let runs: Vec<Vec<&Run>> = people.iter().map(lately).collect();
    if about.criteria.is_empty() {
        let steps = about.steps.iter().enumerate().filter(|(_, step)| !step.free);
        // What was not heard for sure says neither that it was called nor that it was left out.
        let missed = |place: usize| {
            move |run: &Run| match run.took[place] {
                PERHAPS | CLAIMED => None,
                took => Some(took == NOT_CALLED),
            }
        };
        let row = |(place, step): (usize, &crate::history::StepAbout)| {
            row(format!("{}", place + 1), step.title.clone(), step.critical, &runs, missed(place))
        };
        return steps.map(row).collect();
    }
    let missed = |place: usize| {
        move |run: &Run| match run.claims[place] {
            Claim::Claimed => Some(false),
            Claim::NotClaimed | Claim::Contradicted => Some(true),
            Claim::NotReached | Claim::CantBeHeard => None,
        }
    };
    let criteria = about.criteria.iter().enumerate();
    criteria.map(|(place, (number, text))| row(number.clone(), text.clone(), false, &runs, missed(place))).collect()
}

fn row(
    number: String,
    title: String,
    critical: bool,
    runs: &[Vec<&Run>],
    missed: impl Fn(&Run) -> Option<bool>,
) -> Asked {
    let cell = |runs: &Vec<&Run>| {
        let told: Vec<(usize, bool)> = runs.iter().enumerate().filter_map(|(k, r)| Some((k, missed(r)?))).collect();
        let (last, _) = told.iter().rev().find(|(_, missed)| *missed).or(told.last())?;
        Some(Missed { runs: told.iter().filter(|(_, missed)| *missed).count(), of: told.len(), last: *last })
    };
    let cells: Vec<Option<Missed>> = runs.iter().map(cell).collect();
    let sum = |of: fn(&Missed) -> usize| cells.iter().flatten().map(of).sum::<usize>() as f64;
    let share = wilson(sum(|m| m.runs), sum(|m| m.of), 0.95);
    Asked { number, title, critical, cells, share }
}

/// The runs of a person that the page leads to, by their names: the last one, and the last in which each thing was left out.
pub fn led_to(about: &About, people: &[Person]) -> Vec<Vec<String>> {
    let rows = asked(about, people);
    let of = |(place, person): (usize, &Person)| {
        let runs = lately(person);
        let cells = rows.iter().filter_map(|row| Some(row.cells[place].as_ref()?.last));
        let mut places: Vec<usize> = cells.chain(runs.len().checked_sub(1)).collect();
        places.sort_unstable();
        places.dedup();
        places.into_iter().map(|place| runs[place].name.clone()).collect()
    };
    people.iter().enumerate().map(of).collect()
}
