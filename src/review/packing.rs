//! The set of pieces that leaves least to be paid. Without callouts that several unordered steps share and without choices it is
//! the heaviest set of unrelated elements of a partial order, which one flow finds. With them, each shared callout and each
//! choice gets a price (Lagrangian relaxation, Geoffrion 1974; steps after Polyak 1969), the flow gives a bound, and where
//! bound and best explanation differ, a piece is tried in and out (branch and bound).

use super::antichain::Network;
use super::pieces::Pieces;

/// What 1 of cost weighs, so that prices can be parts of it.
const ONE: i64 = 1 << 32;

/// What may be done for one run, in arcs looked at and pairs of pieces compared: some 0.3 s.
const MOST_WORK: u64 = 25_000_000;

/// How often prices are changed at the start, and for each piece tried.
const ROUNDS: (usize, usize) = (120, 24);

/// The best set of pieces that was found.
pub(super) struct Packing {
    pub chosen: Vec<usize>,
    pub cost: u32,
    /// Whether no other set costs less; otherwise the work was more than is done for one run.
    pub cheapest: bool,
}

/// The cheapest explanation of a run.
pub(super) fn pack(pieces: &Pieces) -> Packing {
    let mut packer = Packer { pieces, shared: shared(pieces), best: (pieces.most, 0, vec![]), work: 0 };
    let prices = Prices { callouts: vec![0; pieces.callouts], choices: vec![ONE; pieces.wanted.len()] };
    let start = Node { alive: (0..pieces.all.len()).collect(), taken: vec![], prices };
    let mut lowest = None;
    let mut open = vec![start];
    let mut cheapest = true;
    while let Some(mut node) = open.pop() {
        if packer.work > MOST_WORK {
            cheapest = lowest.is_some_and(|l| l >= packer.best.0);
            break;
        }
        let (bound, tried) = packer.bound(&mut node, if lowest.is_none() { ROUNDS.0 } else { ROUNDS.1 });
        lowest = lowest.or(Some(bound));
        if bound >= packer.best.0 {
            continue;
        }
        let Some(piece) = tried else { continue };
        let without = node.alive.iter().copied().filter(|&p| p != piece).collect();
        let room = |&p: &usize| !pieces.exclude(p, piece);
        let with = node.alive.iter().copied().filter(room).collect();
        let mut taken = node.taken.clone();
        taken.push(piece);
        open.push(Node { alive: without, taken: node.taken, prices: node.prices.clone() });
        open.push(Node { alive: with, taken, prices: node.prices });
    }
    let (cost, _, chosen) = packer.best;
    Packing { chosen, cost, cheapest: cheapest && pieces.complete }
}

/// For each callout, whether pieces share it that the flow does not keep apart.
fn shared(pieces: &Pieces) -> Vec<bool> {
    let mut shared = vec![false; pieces.callouts];
    for (event, shared) in shared.iter_mut().enumerate() {
        let covers = |p: &&super::pieces::Piece| p.span.0 <= event && event <= p.span.1;
        let mut here: Vec<&super::pieces::Piece> = pieces.all.iter().filter(covers).collect();
        // Pieces at one callout are in a row where each unit comes after the one before.
        here.sort_by_key(|p| (std::cmp::Reverse(pieces.after[p.unit].len()), p.unit));
        *shared = here.windows(2).any(|w| {
            let single = |p: &super::pieces::Piece| p.span.0 == p.span.1;
            w[0].unit != w[1].unit && !(pieces.after[w[0].unit].has(w[1].unit) && single(w[0]) && single(w[1]))
        });
    }
    shared
}

#[derive(Clone)]
struct Prices {
    /// For each callout, what it costs to explain it.
    callouts: Vec<i64>,
    /// For each choice, what a member of it is worth.
    choices: Vec<i64>,
}

struct Node {
    /// Pieces that may still be taken, in ascending order.
    alive: Vec<usize>,
    taken: Vec<usize>,
    prices: Prices,
}

struct Packer<'a> {
    pieces: &'a Pieces,
    shared: Vec<bool>,
    /// Cost, how late its callouts are explained, and the pieces.
    best: (u32, i64, Vec<usize>),
    work: u64,
}

impl Packer<'_> {
    /// What any explanation from here on costs at least, and a piece to try in and out where that is less than the best one.
    fn bound(&mut self, node: &mut Node, rounds: usize) -> (u32, Option<usize>) {
        let below = self.pieces.below(&node.alive);
        self.work += below.iter().map(|b| b.len() as u64 + 4).sum::<u64>();
        let mut network = Network::new(&below);
        let counts = self.counts(&node.taken);
        self.settle(node, &counts);
        let (mut lowest, mut best_prices, mut tried) = (0, node.prices.clone(), None);
        let (mut tightest, mut stride, mut since) = (i64::MAX, 16, 0);
        for _ in 0..rounds {
            let weights: Vec<i64> = node.alive.iter().map(|&p| self.weight(p, &node.prices).max(0)).collect();
            let before = network.work;
            let (heaviest, chosen) = network.heaviest(&weights);
            self.work += network.work - before;
            let relaxed: Vec<usize> = chosen.into_iter().filter(|&i| weights[i] > 0).map(|i| node.alive[i]).collect();
            let gain = heaviest + self.fixed(node, &counts);
            let bound = (i64::from(self.pieces.most) - gain.div_euclid(ONE)).max(0) as u32;
            self.repair(node, &relaxed);
            if gain < tightest {
                (tightest, since) = (gain, 0);
                best_prices = node.prices.clone();
                tried = self.doubtful(node, &relaxed, &counts);
                lowest = lowest.max(bound);
            } else {
                since += 1;
                if since == 4 {
                    (stride, since) = ((stride / 2).max(1), 0);
                }
            }
            if lowest >= self.best.0 || self.work > MOST_WORK {
                break;
            }
            let missed = gain - i64::from(self.pieces.most - self.best.0) * ONE;
            if !self.change(node, &relaxed, &counts, missed.max(0) / 16 * stride) {
                break;
            }
        }
        node.prices = best_prices;
        (lowest, tried.or_else(|| node.alive.first().copied()))
    }

    /// Take back the prices of callouts that nothing alive explains, and of choices that have all their members.
    fn settle(&self, node: &mut Node, counts: &[i64]) {
        let mut alive = vec![false; self.pieces.callouts + 1];
        for &p in &node.alive {
            let (from, until) = self.pieces.all[p].span;
            alive[from..=until].iter_mut().for_each(|a| *a = true);
        }
        for (price, _) in node.prices.callouts.iter_mut().zip(alive).filter(|(_, alive)| !alive) {
            *price = 0;
        }
        for (c, price) in node.prices.choices.iter_mut().enumerate() {
            if counts[c] >= i64::from(self.pieces.wanted[c]) {
                *price = 0;
            }
        }
    }

    /// What a piece is worth at these prices. Between equal ones an earlier callout, and the step written first, weigh a little more.
    fn weight(&self, p: usize, prices: &Prices) -> i64 {
        let piece = &self.pieces.all[p];
        let members: i64 = piece.counts.iter().map(|&(c, n)| prices.choices[c] * i64::from(n)).sum();
        let paid: i64 = prices.callouts[piece.span.0.min(prices.callouts.len())..]
            .iter()
            .take(piece.span.1 + 1 - piece.span.0)
            .sum();
        i64::from(piece.gain) * ONE + members + self.early(p) - paid
    }

    /// How early the callouts of a piece are explained, and how early its steps are written.
    fn early(&self, p: usize) -> i64 {
        let early = |&(step, event): &(usize, usize)| ((self.pieces.callouts - event) * 257 + 256 - step) as i64;
        self.pieces.all[p].calls.iter().map(early).sum()
    }

    /// Members of each choice in the pieces `taken`.
    fn counts(&self, taken: &[usize]) -> Vec<i64> {
        let mut counts = vec![0; self.pieces.wanted.len()];
        taken.iter().flat_map(|&p| &self.pieces.all[p].counts).for_each(|&(c, n)| counts[c] += i64::from(n));
        counts
    }

    /// What is gained whatever else is taken: by the pieces taken, and by the prices.
    fn fixed(&self, node: &Node, counts: &[i64]) -> i64 {
        let taken: i64 = node.taken.iter().map(|&p| i64::from(self.pieces.all[p].gain) * ONE + self.early(p)).sum();
        let choices: i64 = (node.prices.choices.iter().zip(counts).zip(&self.pieces.wanted))
            .map(|((price, count), &wanted)| price * count + (ONE - price) * i64::from(wanted))
            .sum();
        taken + choices + node.prices.callouts.iter().sum::<i64>()
    }

    /// Make an explanation of what the flow gave, and keep it if it is the best so far.
    fn repair(&mut self, node: &Node, relaxed: &[usize]) {
        let mut order = relaxed.to_vec();
        order.sort_by_key(|&p| (self.pieces.all[p].span.1, p));
        let mut rest: Vec<usize> = node.alive.clone();
        rest.sort_by_key(|&p| (std::cmp::Reverse(self.pieces.all[p].gain), self.pieces.all[p].span, p));
        let mut chosen = node.taken.clone();
        for p in order.into_iter().chain(rest) {
            self.work += chosen.len() as u64;
            if !chosen.iter().any(|&c| self.pieces.exclude(c, p)) {
                chosen.push(p);
            }
        }
        let cost = self.pieces.cost(&chosen);
        let early: i64 = chosen.iter().map(|&p| self.early(p)).sum();
        if (cost, -early) < (self.best.0, -self.best.1) || self.best.2.is_empty() {
            self.best = (cost, early, chosen);
        }
    }

    /// Move the prices against what the flow took too much of; false where it took nothing too much.
    fn change(&self, node: &mut Node, relaxed: &[usize], counts: &[i64], missed: i64) -> bool {
        let mut over = vec![0i64; self.pieces.callouts];
        for &p in relaxed.iter().filter(|&&p| self.pieces.all[p].span.0 < self.pieces.callouts) {
            let (from, until) = self.pieces.all[p].span;
            over[from..=until].iter_mut().for_each(|o| *o += 1);
        }
        for (event, over) in over.iter_mut().enumerate() {
            *over -= 1;
            if !self.shared[event] || (*over < 0 && node.prices.callouts[event] == 0) {
                *over = 0;
            }
        }
        let members = self.counts(relaxed);
        let too_many: Vec<i64> = (0..counts.len())
            .map(|c| members[c] + counts[c] - i64::from(self.pieces.wanted[c]))
            .zip(&node.prices.choices)
            .map(|(d, &price)| if (d > 0 && price == 0) || (d < 0 && price == ONE) { 0 } else { d })
            .collect();
        let square: i64 = over.iter().chain(&too_many).map(|d| d * d).sum();
        if square == 0 {
            return false;
        }
        let step = (missed / square).max(1);
        for (price, d) in node.prices.callouts.iter_mut().zip(&over) {
            *price = (*price + step * d).clamp(0, 600 * ONE);
        }
        for (price, d) in node.prices.choices.iter_mut().zip(&too_many) {
            *price = (*price - step * d).clamp(0, ONE);
        }
        true
    }

    /// A piece about which flow and explanation disagree: one that shares a callout with another, or a member of a choice.
    fn doubtful(&self, node: &Node, relaxed: &[usize], counts: &[i64]) -> Option<usize> {
        let clashes = |&p: &usize| relaxed.iter().filter(|&&q| q != p && self.pieces.exclude(p, q)).count();
        let worst = relaxed.iter().copied().max_by_key(|p| (clashes(p), std::cmp::Reverse(*p)));
        if let Some(worst) = worst.filter(|p| clashes(p) > 0) {
            return Some(worst);
        }
        let members = self.counts(relaxed);
        let apart = |c: usize| members[c] + counts[c] != i64::from(self.pieces.wanted[c]);
        let member = |&&p: &&usize| self.pieces.all[p].counts.iter().any(|&(c, _)| apart(c));
        relaxed.iter().find(member).or_else(|| node.alive.iter().find(member)).copied()
    }
}
