//! The cheapest explanation of a run by what its section allows. Costs follow alignment-based conformance checking (Carmona,
//! van Dongen, Solti & Weidlich, *Conformance Checking*, Springer 2018, ch. 7): 1 for a needed step skipped, 1 for a callout that no
//! step explains. Where a search state by state would take long, flows do it.

use super::alignment::{Alignment, Move};
use super::packing::pack;
use super::pieces::Pieces;
use super::search::Search;
use crate::section::{Done, Order, Section};

/// Most states that are searched one by one: some hundred KB, and a few milliseconds.
const MOST_STATES: usize = 1_000;

/// The cheapest explanation of the whole run.
pub fn align(section: &Section, says: &[&str]) -> Alignment {
    explain(section, says, true)
}

/// The cheapest explanation of a run that goes on: steps to come cost nothing.
pub fn align_so_far(section: &Section, says: &[&str]) -> Alignment {
    explain(section, says, false)
}

fn explain(section: &Section, says: &[&str], whole: bool) -> Alignment {
    let search = Search::new(section, says, whole);
    search.run(MOST_STATES).unwrap_or_else(|| by_pieces(section, &search, whole))
}

/// The cheapest explanation as the search finds it, at whatever length, and as the flows find it, whatever the size: for holding
/// one against the other. `whole` says whether steps to come are to be paid for.
pub fn align_both_ways(section: &Section, says: &[&str], whole: bool, most: usize) -> (Option<Alignment>, Alignment) {
    let search = Search::new(section, says, whole);
    (search.run(most), by_pieces(section, &search, whole))
}

/// The explanation that pieces put together.
pub(super) fn by_pieces(section: &Section, search: &Search, whole: bool) -> Alignment {
    let Search { order, steps_of, .. } = search;
    let pieces = Pieces::of(section, order, steps_of, whole);
    let packing = pack(&pieces);
    let mut assembly = Assembly { order, far: order.all_before(), done: Done::default(), moves: vec![] };
    let mut step_of = vec![None; steps_of.len()];
    for &(step, event) in packing.chosen.iter().flat_map(|&p| &pieces.all[p].calls) {
        step_of[event] = Some(step);
    }
    for (event, step) in step_of.into_iter().enumerate() {
        match step {
            Some(step) => assembly.called(step, event),
            None => assembly.moves.push(Move::Extra(event)),
        }
    }
    if whole {
        while let Some(step) = (0..order.len()).find(|&s| order.may_follow(&assembly.done, s)) {
            assembly.take(step, Move::Skip(step));
        }
    }
    Alignment { cost: packing.cost, moves: assembly.moves, done: assembly.done, cheapest: packing.cheapest }
}

/// An explanation being written down, move by move.
struct Assembly<'a> {
    order: &'a Order,
    far: Vec<Done>,
    done: Done,
    moves: Vec<Move>,
}

impl Assembly<'_> {
    fn take(&mut self, step: usize, by: Move) {
        self.moves.push(by);
        self.done = self.done.with(step);
    }

    /// `step` was called: what must come before it and was not called is passed over first.
    fn called(&mut self, step: usize, event: usize) {
        while !self.order.may_follow(&self.done, step) {
            let in_the_way = |&s: &usize| self.far[step].has(s) && self.order.may_follow(&self.done, s);
            let due = self.order.due(&self.done);
            let Some(skipped) = due.or_else(|| (0..self.order.len()).find(in_the_way)) else {
                unreachable!("pieces that the order allows leave nothing in the way that can't be passed over")
            };
            self.take(skipped, Move::Skip(skipped));
        }
        self.take(step, Move::Called { step, event });
    }
}
