//! How many orders a section allows, counted exactly where that can be done in bounded time.

use super::{Done, Order};
use num_bigint::BigUint;
use std::collections::BTreeMap;

impl Order {
    /// How many whole orders are allowed, all steps taken, exactly; none where more than `most` sets of done steps would
    /// have to be looked at. What stands side by side without ties, and what comes one after the other, is counted part by
    /// part (Möhring, *Computationally tractable classes of ordered sets*, 1989, from memory).
    pub fn count(&self, most: usize) -> Option<BigUint> {
        let mut count = Count { before: self.units().1, left: most };
        count.of(&(0..count.before.len()).collect::<Vec<_>>())
    }

    /// The units that move as one, each a step with those that come directly after it, in their order; and for each unit, all
    /// units before it.
    pub fn units(&self) -> (Vec<Vec<usize>>, Vec<Done>) {
        let far = self.all_before();
        let first = |s: usize| !self.chained.iter().any(|(_, next)| *next == s);
        let next = |&s: &usize| self.chained.iter().find(|(first, _)| *first == s).map(|(_, next)| *next);
        let units: Vec<Vec<usize>> = (0..self.len())
            .filter(|&s| first(s))
            .map(|s| std::iter::successors(Some(s), next).take(self.len()).collect())
            .collect();
        let mut home = vec![0; self.len()];
        units.iter().enumerate().for_each(|(place, steps)| steps.iter().for_each(|&s| home[s] = place));
        let mut before = vec![Done::default(); units.len()];
        for (step, far) in far.iter().enumerate() {
            for other in (0..self.len()).filter(|&b| far.has(b) && home[b] != home[step]) {
                before[home[step]] = before[home[step]].with(home[other]);
            }
        }
        close(&mut before);
        (units, before)
    }
}

/// Add to each set what comes before its members.
pub(crate) fn close(before: &mut [Done]) {
    loop {
        let mut changed = false;
        for step in 0..before.len() {
            let joined =
                (0..before.len()).filter(|&b| before[step].has(b)).fold(before[step], |s, b| s.union(&before[b]));
            changed |= joined != before[step];
            before[step] = joined;
        }
        if !changed {
            return;
        }
    }
}

struct Count {
    /// For each unit, all units before it.
    before: Vec<Done>,
    /// Sets that may still be looked at.
    left: usize,
}

impl Count {
    fn of(&mut self, units: &[usize]) -> Option<BigUint> {
        let tied = |a: usize, b: usize| self.before[a].has(b) || self.before[b].has(a);
        let apart = parts(units, &tied);
        if apart.len() > 1 {
            // Side by side: each part keeps its own order, and they are shuffled in any way.
            let (mut ways, mut total) = (BigUint::from(1u8), 0);
            for part in apart {
                ways *= self.of(&part)?;
                for k in 1..=part.len() {
                    total += 1;
                    ways = ways * BigUint::from(total as u32) / BigUint::from(k as u32);
                }
            }
            return Some(ways);
        }
        let after = parts(units, &|a, b| !tied(a, b));
        if after.len() > 1 {
            return after.iter().try_fold(BigUint::from(1u8), |ways, part| Some(ways * self.of(part)?));
        }
        self.layer_by_layer(units)
    }

    fn layer_by_layer(&mut self, units: &[usize]) -> Option<BigUint> {
        let ours = units.iter().fold(Done::default(), |set, &u| set.with(u));
        let waits: Vec<(usize, Done)> = units.iter().map(|&u| (u, self.before[u].both(&ours))).collect();
        let mut layer = BTreeMap::from([(Done::default(), BigUint::from(1u8))]);
        for _ in units {
            let mut next: BTreeMap<Done, BigUint> = BTreeMap::new();
            for (done, ways) in &layer {
                for (unit, _) in waits.iter().filter(|(u, w)| !done.has(*u) && done.contains(w)) {
                    *next.entry(done.with(*unit)).or_default() += ways;
                }
                if next.len() > self.left {
                    return None;
                }
            }
            self.left -= next.len();
            layer = next;
        }
        Some(layer.into_values().sum())
    }
}

/// `units` in parts that no `tie` joins, each in its order.
fn parts(units: &[usize], tie: &dyn Fn(usize, usize) -> bool) -> Vec<Vec<usize>> {
    let mut left = units.to_vec();
    let mut parts = vec![];
    while let Some(first) = left.pop() {
        let mut part = vec![first];
        let mut at = 0;
        while at < part.len() {
            let (near, rest) = left.into_iter().partition::<Vec<_>, _>(|&u| tie(part[at], u));
            part.extend(near);
            left = rest;
            at += 1;
        }
        part.sort_unstable();
        parts.push(part);
    }
    parts
}
