//! What an explanation must still cost at least: the section is cut into chains of steps, each chain is explained by itself
//! (exactly, by dynamic programming over its steps and the callouts left), and the costs are added up. Leaving out the
//! order between chains can only make it cheaper, and no step and no callout is paid for twice, so the sum is admissible.

use crate::section::{Done, Order};

/// Chains and their tables.
pub(super) struct Bound {
    chains: Vec<Chain>,
    /// For each place in the run, the callouts from there on that no step may be announced by.
    strangers: Vec<u32>,
}

struct Chain {
    members: Done,
    /// Least cost by steps done and place in the run: `done * (callouts + 1) + place`.
    cost: Vec<u32>,
}

impl Bound {
    /// For a run whose callouts may announce `steps_of`; `price` is what skipping each step costs at least, and `whole`
    /// whether steps that are still to come are to be paid for.
    pub fn new(order: &Order, steps_of: &[Vec<usize>], price: &[u32], whole: bool) -> Bound {
        let chains = chains(order);
        let mut home = vec![0; order.len()];
        for (number, chain) in chains.iter().enumerate() {
            chain.iter().for_each(|&step| home[step] = number);
        }
        let mut strangers = vec![0; steps_of.len() + 1];
        for place in (0..steps_of.len()).rev() {
            strangers[place] = strangers[place + 1] + u32::from(steps_of[place].is_empty());
        }
        let table = |(number, chain): (usize, &Vec<usize>)| {
            let width = steps_of.len() + 1;
            let mut cost = vec![0; (chain.len() + 1) * width];
            for done in (0..=chain.len()).rev() {
                for place in (0..width).rev() {
                    let at = |done: usize, place: usize| cost[done * width + place];
                    let skip = (done < chain.len()).then(|| at(done + 1, place) + price[chain[done]]);
                    let best = if place == steps_of.len() {
                        // A run that goes on pays nothing for what is to come.
                        if whole { skip.unwrap_or(0) } else { 0 }
                    } else {
                        let may = &steps_of[place];
                        // Only a callout that belongs to this chain alone is paid for here.
                        let ours = !may.is_empty() && may.iter().all(|&s| home[s] == number);
                        let passed = at(done, place + 1) + u32::from(ours);
                        let called =
                            (done < chain.len() && may.contains(&chain[done])).then(|| at(done + 1, place + 1));
                        [Some(passed), called, skip].into_iter().flatten().min().unwrap_or(0)
                    };
                    cost[done * width + place] = best;
                }
            }
            Chain { members: chain.iter().fold(Done::default(), |set, &s| set.with(s)), cost }
        };
        Bound { chains: chains.iter().enumerate().map(table).collect(), strangers }
    }

    /// The least cost from here on.
    pub fn at(&self, done: &Done, place: usize) -> u32 {
        let width = self.strangers.len();
        self.strangers[place]
            + self.chains.iter().map(|c| c.cost[done.in_both(&c.members) * width + place]).sum::<u32>()
    }
}

/// The fewest chains that hold every step once (Dilworth 1950; by a largest matching, Fulkerson 1956), each in order.
fn chains(order: &Order) -> Vec<Vec<usize>> {
    let n = order.len();
    let far = order.all_before();
    // `next[a]` is the step after `a` in its chain, `last[b]` the one before `b`.
    let (mut next, mut last) = (vec![None; n], vec![None; n]);
    for a in 0..n {
        extend(a, &far, &mut vec![false; n], &mut next, &mut last);
    }
    let starts = (0..n).filter(|&s| last[s].is_none());
    starts.map(|s| std::iter::successors(Some(s), |&s| next[s]).collect()).collect()
}

/// Find `a` a step to follow it, moving others on where that makes room (Kuhn 1955).
fn extend(
    a: usize,
    far: &[Done],
    tried: &mut Vec<bool>,
    next: &mut Vec<Option<usize>>,
    last: &mut Vec<Option<usize>>,
) -> bool {
    for b in 0..far.len() {
        if !far[b].has(a) || std::mem::replace(&mut tried[b], true) {
            continue;
        }
        if last[b].is_none_or(|other| extend(other, far, tried, next, last)) {
            next[a] = Some(b);
            last[b] = Some(a);
            return true;
        }
    }
    false
}
