//! The order that a section allows, as a partial order over its steps.

use super::count::close;
use super::{MAX_STEPS, Section};

/// A set of steps that are done with, called or passed over.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Done([u64; MAX_STEPS / 64]);

impl Done {
    /// Whether `step` is in the set.
    pub fn has(&self, step: usize) -> bool {
        self.0[step / 64] >> (step % 64) & 1 == 1
    }

    /// The set with `step` in it.
    #[must_use]
    pub fn with(mut self, step: usize) -> Done {
        self.0[step / 64] |= 1 << (step % 64);
        self
    }

    /// How many steps are in it.
    pub fn len(&self) -> usize {
        self.0.iter().map(|w| w.count_ones() as usize).sum()
    }

    /// Whether it is empty.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// How many steps are in both.
    pub fn in_both(&self, other: &Done) -> usize {
        self.0.iter().zip(&other.0).map(|(a, b)| (a & b).count_ones() as usize).sum()
    }

    /// All that is in either.
    #[must_use]
    pub fn union(&self, other: &Done) -> Done {
        let mut joined = *self;
        joined.0.iter_mut().zip(&other.0).for_each(|(a, b)| *a |= b);
        joined
    }

    /// What is in both.
    #[must_use]
    pub fn both(&self, other: &Done) -> Done {
        let mut shared = *self;
        shared.0.iter_mut().zip(&other.0).for_each(|(a, b)| *a &= b);
        shared
    }

    pub(super) fn contains(&self, other: &Done) -> bool {
        self.0.iter().zip(&other.0).all(|(a, b)| a & b == *b)
    }
}

/// Which steps wait for which.
#[derive(Clone, Debug)]
pub struct Order {
    before: Vec<Done>,
    /// Pairs of a step and the one that must come directly after it.
    pub(super) chained: Vec<(usize, usize)>,
}

impl Order {
    /// The order of `section`: `after` and `directly_after` alike.
    pub fn of(section: &Section) -> Order {
        let mut before: Vec<Done> = section
            .steps
            .iter()
            .map(|s| s.after.iter().chain(&s.directly_after).fold(Done::default(), |set, &b| set.with(b)))
            .collect();
        let chained =
            section.steps.iter().enumerate().filter_map(|(step, s)| Some((s.directly_after?, step))).collect();
        // What a step waits for, the step directly before it must wait for too: nothing can come between them.
        for _ in 0..before.len() {
            let mut changed = false;
            for (step, keys) in section.steps.iter().enumerate() {
                let Some(first) = keys.directly_after else { continue };
                let more = (0..before.len()).filter(|&b| b != first && before[step].has(b));
                let joined = more.fold(before[first], Done::with);
                changed |= joined != before[first];
                before[first] = joined;
            }
            if !changed {
                break;
            }
        }
        Order { before, chained }
    }

    /// Number of steps.
    pub fn len(&self) -> usize {
        self.before.len()
    }

    /// Whether there are no steps.
    pub fn is_empty(&self) -> bool {
        self.before.is_empty()
    }

    /// Whether `step` may come next once `done` is done with.
    pub fn may_follow(&self, done: &Done, step: usize) -> bool {
        !done.has(step) && done.contains(&self.before[step]) && self.due(done).is_none_or(|due| due == step)
    }

    /// The step that must come directly after one just done, where there is one.
    pub fn due(&self, done: &Done) -> Option<usize> {
        self.chained.iter().find(|(first, next)| done.has(*first) && !done.has(*next)).map(|(_, next)| *next)
    }

    /// A cycle of steps each waiting for the one before it, where there is one.
    pub fn cycle(&self) -> Option<Vec<usize>> {
        let mut done = Done::default();
        while let Some(next) = (0..self.len()).find(|&s| self.may_follow(&done, s)) {
            done = done.with(next);
        }
        let mut at = (0..self.len()).find(|&s| !done.has(s))?;
        let mut path = vec![];
        // Every step left waits for another step left, so walking back must meet itself.
        while !path.contains(&at) {
            path.push(at);
            at = (0..self.len()).find(|&b| self.before[at].has(b) && !done.has(b))?;
        }
        let from = path.iter().position(|&s| s == at)?;
        let mut cycle = path.split_off(from);
        cycle.reverse();
        Some(cycle)
    }

    /// For each step, all that must come before it, however far.
    pub fn all_before(&self) -> Vec<Done> {
        let mut far = self.before.clone();
        close(&mut far);
        far
    }

    /// Pairs of a step and one that must come after it, without those that follow from others: what a drawing shows.
    pub fn covers(&self) -> Vec<(usize, usize)> {
        let after = |a: usize, b: usize| self.before[b].has(a);
        let far = self.all_before();
        let pairs = (0..self.len()).flat_map(|b| (0..self.len()).map(move |a| (a, b)));
        pairs.filter(|&(a, b)| after(a, b) && !(0..self.len()).any(|m| far[b].has(m) && far[m].has(a))).collect()
    }
}
