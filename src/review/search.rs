//! The cheapest explanation of a run, found exactly by A* over sets of done steps and callouts explained, as long as few states
//! are looked at.

use super::alignment::{Alignment, Move};
use super::bound::Bound;
use crate::section::{Done, Order, Section};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// Done steps, callouts explained, and how many members of each choice were passed over for nothing.
type State = (Done, usize, Vec<u8>);

/// For each state reached: its least cost, its bound, and the state and move it was reached by.
type Reached = BTreeMap<State, (u32, u32, Option<(State, Move)>)>;

pub(super) struct Search<'a> {
    section: &'a Section,
    pub order: Order,
    whole: bool,
    /// For each callout of the run, the steps that it may announce.
    pub steps_of: Vec<Vec<usize>>,
    /// For each kind of callout: the places in the run, and the steps it may announce.
    kinds: Vec<(Vec<usize>, Vec<usize>)>,
    /// For each step, the last place in the run that may announce it.
    last_of: Vec<Option<usize>>,
    /// The choice of each step, by place.
    choice: Vec<Option<usize>>,
    chains: Bound,
    /// For each step, all that must come before it.
    far: Vec<Done>,
}

impl<'a> Search<'a> {
    /// For a run; `whole` says whether steps that are still to come are to be paid for.
    pub fn new(section: &'a Section, says: &[&str], whole: bool) -> Search<'a> {
        let announces = |say: &str| -> Vec<usize> {
            (0..section.steps.len()).filter(|&s| section.steps[s].say.iter().any(|p| p == say)).collect()
        };
        let mut by_say: BTreeMap<&str, (Vec<usize>, Vec<usize>)> = BTreeMap::new();
        for (place, say) in says.iter().enumerate() {
            by_say.entry(say).or_insert_with(|| (vec![], announces(say))).0.push(place);
        }
        let mut last_of = vec![None; section.steps.len()];
        for (places, steps) in by_say.values() {
            for &step in steps {
                last_of[step] = last_of[step].max(places.last().copied());
            }
        }
        let order = Order::of(section);
        let steps_of: Vec<Vec<usize>> = says.iter().map(|say| by_say[say].1.clone()).collect();
        let choice: Vec<Option<usize>> = (0..section.steps.len()).map(|s| section.choice_of(s)).collect();
        let price = |s: usize| u32::from(choice[s].is_none() && !section.steps[s].optional);
        let prices: Vec<u32> = (0..section.steps.len()).map(price).collect();
        Search {
            section,
            chains: Bound::new(&order, &steps_of, &prices, whole),
            far: order.all_before(),
            order,
            whole,
            steps_of,
            kinds: by_say.into_values().collect(),
            last_of,
            choice,
        }
    }

    /// What is still to be paid at least: callouts of a kind beyond the steps they may announce, and needed steps that
    /// no callout left announces. A step and a callout are never counted for the same move, so the sum is admissible.
    fn bound(&self, (done, at, _): &State) -> u32 {
        let extra: usize = self
            .kinds
            .iter()
            .map(|(places, steps)| {
                let left = places.len() - places.partition_point(|p| p < at);
                let open = steps.iter().filter(|&&s| !done.has(s)).count();
                left.saturating_sub(open)
            })
            .sum();
        let missing = |&s: &usize| {
            !done.has(s)
                && self.choice[s].is_none()
                && !self.section.steps[s].optional
                && self.last_of[s].is_none_or(|l| l < *at)
        };
        let skipped = if self.whole { (0..self.order.len()).filter(missing).count() } else { 0 };
        self.chains.at(done, *at).max((extra + skipped) as u32)
    }

    /// What passing `step` over costs, and the passed-over counts after it. Members of a choice are free as long as
    /// enough of the others are left.
    fn skip(&self, step: usize, passed: &[u8]) -> (u32, Vec<u8>) {
        let mut after = passed.to_vec();
        let Some(choice) = self.choice[step] else {
            return (u32::from(!self.section.steps[step].optional), after);
        };
        let of = &self.section.choices[choice];
        if usize::from(after[choice]) < of.of.len() - of.at_least {
            after[choice] += 1;
            return (0, after);
        }
        (1, after)
    }

    /// The cheapest explanation; none where more than `most` states would have to be looked at. Between equal ones, the one that
    /// explains a callout earlier, and by the step written first.
    pub fn run(&self, most: usize) -> Option<Alignment> {
        let mut best = Reached::new();
        let mut open = BinaryHeap::new();
        let start: State = (Done::default(), 0, vec![0; self.section.choices.len()]);
        let bound = self.bound(&start);
        open.push(Reverse((bound, Reverse(0usize), start.clone())));
        best.insert(start, (0, bound, None));
        while let Some(Reverse((estimate, _, state))) = open.pop() {
            if best.len() > most {
                return None;
            }
            let (cost, bound, _) = best[&state];
            if estimate > cost + bound {
                continue;
            }
            let (done, at, passed) = &state;
            if *at == self.steps_of.len() && (!self.whole || done.len() == self.order.len()) {
                let done = *done;
                return Some(Alignment { cost, moves: trail(&best, state), done, cheapest: true });
            }
            let mut reach = |next: State, step: Move, price: u32| {
                let total = cost + price;
                let known = best.get(&next);
                if known.is_none_or(|(known, ..)| total < *known) {
                    let bound = known.map_or_else(|| self.bound(&next), |(_, bound, _)| *bound);
                    open.push(Reverse((total + bound, Reverse(next.0.len() + next.1), next.clone())));
                    best.insert(next, (total, bound, Some((state.clone(), step))));
                }
            };
            if *at < self.steps_of.len() {
                for &step in self.steps_of[*at].iter().filter(|&&s| self.order.may_follow(done, s)) {
                    reach((done.with(step), at + 1, passed.clone()), Move::Called { step, event: *at }, 0);
                }
                reach((*done, at + 1, passed.clone()), Move::Extra(*at), 1);
            }
            // A step is passed over only when the callout at hand needs it out of the way: earlier gains nothing.
            let needed = |&s: &usize| match self.steps_of.get(*at) {
                Some(may) => self.order.due(done) == Some(s) || may.iter().any(|&m| !done.has(m) && self.far[m].has(s)),
                None => true,
            };
            for step in (0..self.order.len()).filter(needed).filter(|&s| self.order.may_follow(done, s)) {
                let (price, passed) = self.skip(step, passed);
                reach((done.with(step), *at, passed), Move::Skip(step), price);
            }
        }
        unreachable!("skipping every step and passing over every callout is always allowed")
    }
}

fn trail(best: &Reached, mut at: State) -> Vec<Move> {
    let mut moves = vec![];
    while let Some((before, step)) = &best[&at].2 {
        moves.push(*step);
        at = before.clone();
    }
    moves.reverse();
    moves
}
