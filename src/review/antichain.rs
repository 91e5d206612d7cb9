//! The heaviest set of pairwise unrelated elements of a partial order, by a smallest cut (Dilworth 1950; by flow, Möhring,
//! *Algorithmic aspects of comparability graphs and interval graphs*, 1985, from memory; flow after Dinitz 1970).

use std::collections::VecDeque;

/// More than any flow.
const ENDLESS: i64 = i64::MAX / 4;

/// A flow network in which each element stands twice: what leaves it, and what comes to it.
pub(super) struct Network {
    /// Head of each arc, and what it can still carry; arcs come in pairs, forth and back.
    head: Vec<u32>,
    room: Vec<i64>,
    arcs: Vec<Vec<u32>>,
    level: Vec<u32>,
    /// Arcs looked at so far.
    pub work: u64,
}

const SOURCE: usize = 0;
const SINK: usize = 1;
const UNSEEN: u32 = u32::MAX;

/// The node that leaves `element`, and the one that comes to it.
fn nodes(element: usize) -> (usize, usize) {
    (2 + 2 * element, 3 + 2 * element)
}

impl Network {
    /// Of elements, each with those directly below it; what lies below those need not be named again.
    pub fn new(below: &[Vec<usize>]) -> Network {
        let nodes_in_all = 2 + 2 * below.len();
        let mut network =
            Network { head: vec![], room: vec![], arcs: vec![vec![]; nodes_in_all], level: vec![], work: 0 };
        // The arcs of source and sink stand first, so that each weight has its place.
        for element in 0..below.len() {
            network.join(SOURCE, nodes(element).0, 0);
            network.join(nodes(element).1, SINK, 0);
        }
        for (element, lower) in below.iter().enumerate() {
            network.join(nodes(element).1, nodes(element).0, ENDLESS);
            lower.iter().for_each(|&b| network.join(nodes(element).0, nodes(b).1, ENDLESS));
        }
        network
    }

    fn join(&mut self, from: usize, to: usize, room: i64) {
        for (from, to, room) in [(from, to, room), (to, from, 0)] {
            self.arcs[from].push(self.head.len() as u32);
            self.head.push(to as u32);
            self.room.push(room);
        }
    }

    /// The greatest sum of `weights` (none below 0) over elements of which no two are related, and such elements.
    pub fn heaviest(&mut self, weights: &[i64]) -> (i64, Vec<usize>) {
        for arc in (0..self.room.len()).step_by(2) {
            let room = weights.get(arc / 4).copied().unwrap_or(ENDLESS);
            (self.room[arc], self.room[arc + 1]) = (room, 0);
        }
        let mut flow = 0;
        while self.reaches_sink() {
            let mut next = vec![0; self.arcs.len()];
            loop {
                let more = self.push(&mut next);
                if more == 0 {
                    break;
                }
                flow += more;
            }
        }
        let cut = |node: usize| self.level[node] == UNSEEN;
        let apart = |e: &usize| !cut(nodes(*e).0) && cut(nodes(*e).1);
        (weights.iter().sum::<i64>() - flow, (0..weights.len()).filter(apart).collect())
    }

    /// Number the nodes by their distance from the source; whether the sink has one.
    fn reaches_sink(&mut self) -> bool {
        self.level = vec![UNSEEN; self.arcs.len()];
        self.level[SOURCE] = 0;
        let mut open = VecDeque::from([SOURCE]);
        while let Some(node) = open.pop_front() {
            self.work += self.arcs[node].len() as u64;
            for &arc in &self.arcs[node] {
                let to = self.head[arc as usize] as usize;
                if self.room[arc as usize] > 0 && self.level[to] == UNSEEN {
                    self.level[to] = self.level[node] + 1;
                    open.push_back(to);
                }
            }
        }
        self.level[SINK] != UNSEEN
    }

    /// Send what fits along one shortest way; 0 where there is none left. `next` is the first arc of each node worth a look.
    fn push(&mut self, next: &mut [usize]) -> i64 {
        let mut way: Vec<u32> = vec![];
        let mut node = SOURCE;
        while node != SINK {
            self.work += 1;
            let Some(&arc) = self.arcs[node].get(next[node]) else {
                // A dead end: back by one arc, which is of no more use.
                let Some(last) = way.pop() else { return 0 };
                node = self.head[last as usize ^ 1] as usize;
                next[node] += 1;
                continue;
            };
            let to = self.head[arc as usize] as usize;
            if self.room[arc as usize] > 0 && self.level[to] == self.level[node] + 1 {
                way.push(arc);
                node = to;
            } else {
                next[node] += 1;
            }
        }
        let fits = way.iter().map(|&a| self.room[a as usize]).min().unwrap_or(0);
        for &arc in &way {
            self.room[arc as usize] -= fits;
            self.room[arc as usize ^ 1] += fits;
        }
        fits
    }
}
