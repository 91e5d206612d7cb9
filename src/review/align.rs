//! The cheapest explanation of a run by what its section allows, found exactly by A* over sets of done steps and
//! callouts explained. Costs follow alignment-based conformance checking (Carmona, van Dongen, Solti & Weidlich,
//! *Conformance Checking*, Springer 2018, ch. 7): 1 for a step skipped, 1 for a callout that no step explains.

use crate::section::{Done, Order, Section};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// One move of an explanation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Move {
    /// The callout numbered `event` announced `step`.
    Called {
        /// The step, by place.
        step: usize,
        /// The callout, by place in the run.
        event: usize,
    },
    /// A step passed over without a callout.
    Skip(usize),
    /// A callout, by place, that no step explains where it stands.
    Extra(usize),
}

/// An explanation and its cost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alignment {
    /// Steps skipped that were needed, and callouts unexplained.
    pub cost: u32,
    /// From first to last.
    pub moves: Vec<Move>,
}

type State = (Done, usize);

/// For each state reached: its least cost, and the state and move it was reached by.
type Reached = BTreeMap<State, (u32, Option<(State, Move)>)>;

/// The cheapest explanation of the callouts `says`. Between equal ones, the one that explains a callout earlier, and by
/// the step written first.
pub fn align(section: &Section, says: &[&str]) -> Alignment {
    let order = Order::of(section);
    let matches = |step: usize, event: usize| section.steps[step].say.iter().any(|p| p == says[event]);
    // Admissible: each callout left that no step not yet done can explain costs at least one.
    let bound = |(done, at): &State| {
        (*at..says.len()).filter(|&e| !(0..order.len()).any(|s| !done.has(s) && matches(s, e))).count() as u32
    };
    let mut best = Reached::new();
    let mut open = BinaryHeap::new();
    let start: State = (Done::default(), 0);
    best.insert(start, (0, None));
    open.push(Reverse((bound(&start), Reverse(0usize), start)));
    while let Some(Reverse((estimate, _, state))) = open.pop() {
        let (done, at) = state;
        let cost = best[&state].0;
        if estimate > cost + bound(&state) {
            continue;
        }
        if at == says.len() && done.len() == order.len() {
            return Alignment { cost, moves: trail(&best, state) };
        }
        let mut reach = |next: State, step: Move, price: u32| {
            let total = cost + price;
            if best.get(&next).is_none_or(|(known, _)| total < *known) {
                best.insert(next, (total, Some((state, step))));
                open.push(Reverse((total + bound(&next), Reverse(next.0.len() + next.1), next)));
            }
        };
        let ready: Vec<usize> = (0..order.len()).filter(|&s| order.may_follow(&done, s)).collect();
        if at < says.len() {
            for &step in ready.iter().filter(|&&s| matches(s, at)) {
                reach((done.with(step), at + 1), Move::Called { step, event: at }, 0);
            }
            reach((done, at + 1), Move::Extra(at), 1);
        }
        for &step in &ready {
            reach((done.with(step), at), Move::Skip(step), skip_price(section, step));
        }
    }
    unreachable!("skipping every step and passing over every callout is always allowed")
}

/// A step that may be left out is skipped for nothing. A member of a choice too: how many were taken is counted after.
fn skip_price(section: &Section, step: usize) -> u32 {
    u32::from(!section.steps[step].optional && section.choice_of(step).is_none())
}

fn trail(best: &Reached, mut at: State) -> Vec<Move> {
    let mut moves = vec![];
    while let Some((before, step)) = best[&at].1 {
        moves.push(step);
        at = before;
    }
    moves.reverse();
    moves
}
