//! What an explanation can be put together from: each piece is a step that a callout announces, or a few that come directly
//! after each other. Which pieces exclude each other is all that the order of a section says of a run.

use super::twins::{Sign, in_a_row};
use crate::section::{Done, Order, Section};

/// Most pieces that are weighed against each other.
const MOST_PIECES: usize = 6000;

/// A part of an explanation.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    /// The unit of steps it belongs to.
    pub unit: usize,
    /// Its first and last callout by place, between which nothing else can stand. Both are the number of callouts where
    /// the unit is still to come.
    pub span: (usize, usize),
    /// Steps and the callouts that announce them.
    pub calls: Vec<(usize, usize)>,
    /// Callouts explained, and needed steps that need not be skipped.
    pub gain: u32,
    /// For each choice that has a part in it: members that are not passed over.
    pub counts: Vec<(usize, u32)>,
}

impl Piece {
    /// Whether the other of its kind is never worse: it takes no more room, and gains no less.
    fn yields_to(&self, other: &Piece) -> bool {
        let count = |p: &Piece, c: usize| p.counts.iter().find(|(of, _)| *of == c).map_or(0, |(_, n)| *n);
        other.span.0 >= self.span.0
            && other.span.1 <= self.span.1
            && other.gain >= self.gain
            && self.counts.iter().all(|&(c, n)| count(other, c) >= n)
    }
}

/// A run to be explained.
pub(super) struct Pieces {
    pub all: Vec<Piece>,
    /// For each unit, the units that come after it.
    pub after: Vec<Done>,
    /// Callouts of the run.
    pub callouts: usize,
    /// What it costs to take no piece: callouts, needed steps and members of choices.
    pub most: u32,
    /// For each choice, how many members are worth something.
    pub wanted: Vec<u32>,
    /// Pieces by unit, each with its place in the run, in the order of the run.
    pub of_unit: Vec<Vec<usize>>,
    /// Whether all are here: of a run with very many callouts some are left out.
    pub complete: bool,
}

impl Pieces {
    /// Of a run whose callouts may announce `steps_of`; `whole` says whether steps still to come are skipped.
    pub fn of(section: &Section, order: &Order, steps_of: &[Vec<usize>], whole: bool) -> Pieces {
        let (units, before) = order.units();
        let mut after = vec![Done::default(); units.len()];
        for (unit, before) in before.iter().enumerate() {
            (0..units.len()).filter(|&b| before.has(b)).for_each(|b| after[b] = after[b].with(unit));
        }
        let mut callouts = vec![vec![]; order.len()];
        for (event, steps) in steps_of.iter().enumerate() {
            steps.iter().for_each(|&s| callouts[s].push(event));
        }
        let maker = Maker { section, callouts, end: steps_of.len(), whole };
        in_a_row(&mut after, &units.iter().map(|steps| maker.sign(steps)).collect::<Vec<_>>());
        let mut all: Vec<Piece> = vec![];
        let mut complete = true;
        for (unit, steps) in units.iter().enumerate() {
            let (pieces, all_of_them) = maker.pieces(unit, steps, MOST_PIECES.saturating_sub(all.len()));
            all.extend(pieces);
            complete &= all_of_them;
        }
        let needed = (0..order.len()).filter(|&s| maker.needed(s)).count();
        let wanted: Vec<u32> = section.choices.iter().map(wanted).collect();
        let most = (steps_of.len() + needed) as u32 + wanted.iter().sum::<u32>();
        let mut of_unit = vec![vec![]; units.len()];
        all.iter().enumerate().for_each(|(place, p)| of_unit[p.unit].push(place));
        of_unit.iter_mut().for_each(|places: &mut Vec<usize>| places.sort_by_key(|&p| (all[p].span, p)));
        Pieces { all, after, callouts: steps_of.len(), most, wanted, of_unit, complete }
    }

    /// Whether no explanation can hold both.
    pub fn exclude(&self, p: usize, q: usize) -> bool {
        let (p, q) = (&self.all[p], &self.all[q]);
        let to_come = |piece: &Piece| piece.span.0 == self.callouts;
        let wrong = |first: &Piece, then: &Piece| {
            self.after[first.unit].has(then.unit) && first.span.1 >= then.span.0 && !to_come(then)
        };
        let overlap = p.span.0 <= q.span.1 && q.span.0 <= p.span.1 && !(to_come(p) && to_come(q));
        p.unit == q.unit || overlap || wrong(p, q) || wrong(q, p)
    }

    /// For each of the pieces `alive`, those directly below it: another of its unit that begins no later, and those of units after
    /// it that begin no later. By place in `alive`, which is in ascending order.
    pub fn below(&self, alive: &[usize]) -> Vec<Vec<usize>> {
        let mut place = vec![usize::MAX; self.all.len()];
        alive.iter().enumerate().for_each(|(at, &p)| place[p] = at);
        let living: Vec<Vec<usize>> = self
            .of_unit
            .iter()
            .map(|pieces| pieces.iter().copied().filter(|&p| place[p] != usize::MAX).collect())
            .collect();
        let mut below = vec![vec![]; alive.len()];
        for pieces in &living {
            for (rank, &p) in pieces.iter().enumerate() {
                let piece = &self.all[p];
                let others = (0..living.len()).filter(|&u| self.after[piece.unit].has(u));
                let highest = others.filter_map(|u| {
                    let known = |&q: &usize| self.all[q].span.0 <= piece.span.0 && self.all[q].span.0 < self.callouts;
                    let earlier = living[u].partition_point(known);
                    earlier.checked_sub(1).map(|i| place[living[u][i]])
                });
                let own = rank.checked_sub(1).map(|i| place[pieces[i]]);
                below[place[p]] = own.into_iter().chain(highest).collect();
            }
        }
        below
    }

    /// The cost of the explanation that holds the pieces `chosen`.
    pub fn cost(&self, chosen: &[usize]) -> u32 {
        let gain: u32 = chosen.iter().map(|&p| self.all[p].gain).sum();
        let mut counts = vec![0; self.wanted.len()];
        chosen.iter().flat_map(|&p| &self.all[p].counts).for_each(|&(c, n)| counts[c] += n);
        let chosen: u32 = counts.iter().zip(&self.wanted).map(|(&n, &k)| n.min(k)).sum();
        self.most - gain - chosen
    }
}

/// How many members of a choice are worth something: one listed twice is passed over once.
fn wanted(choice: &crate::section::Choice) -> u32 {
    let mut members = choice.of.clone();
    members.sort_unstable();
    members.dedup();
    choice.at_least.saturating_sub(choice.of.len() - members.len()) as u32
}

struct Maker<'a> {
    section: &'a Section,
    /// For each step, the callouts that may announce it.
    callouts: Vec<Vec<usize>>,
    end: usize,
    whole: bool,
}

impl Maker<'_> {
    fn needed(&self, step: usize) -> bool {
        self.section.choice_of(step).is_none() && !self.section.steps[step].optional
    }

    fn sign(&self, steps: &[usize]) -> Sign {
        steps.iter().map(|&s| (self.callouts[s].clone(), self.needed(s), self.section.choice_of(s))).collect()
    }

    /// `piece` with one more step called at `event`, or not passed over.
    fn with(&self, piece: &Piece, step: usize, event: Option<usize>) -> Piece {
        let mut more = piece.clone();
        more.calls.extend(event.map(|e| (step, e)));
        more.span.1 = event.unwrap_or(self.end.saturating_sub(1));
        more.gain += u32::from(event.is_some()) + u32::from(self.needed(step));
        if let Some(choice) = self.section.choice_of(step) {
            match more.counts.iter_mut().find(|(c, _)| *c == choice) {
                Some((_, n)) => *n += 1,
                None => more.counts.push((choice, 1)),
            }
        }
        more
    }

    /// All that can become of the steps of one unit, without what is never better, and whether that is all: it is at most `most`.
    fn pieces(&self, unit: usize, steps: &[usize], most: usize) -> (Vec<Piece>, bool) {
        let empty = |from| Piece { unit, span: (from, from), calls: vec![], gain: 0, counts: vec![] };
        let mut complete = true;
        let mut found: Vec<Piece> = vec![];
        // What the pieces are so far, whatever step is called last.
        let mut open: Vec<Piece> = vec![];
        for (rank, &step) in steps.iter().enumerate() {
            let mut grown: Vec<Piece> =
                self.callouts[step].iter().map(|&e| self.with(&empty(e), step, Some(e))).collect();
            for piece in &open {
                let later = self.callouts[step].iter().filter(|&&e| e > piece.span.1);
                grown.extend(later.map(|&e| self.with(piece, step, Some(e))));
            }
            complete &= grown.len() <= most;
            grown.truncate(most);
            let grown = best(grown);
            // The run may go on within the unit: the rest of it is still to come, and nothing else comes between.
            let rest = &steps[rank + 1..];
            if !self.whole && !rest.is_empty() {
                found.extend(grown.iter().map(|p| rest.iter().fold(p.clone(), |p, &s| self.with(&p, s, None))));
            }
            open.extend(grown);
        }
        found.extend(open);
        let mut found = if steps.len() > 1 { best(found) } else { found };
        complete &= found.len() <= most;
        found.truncate(most);
        if !self.whole {
            let waiting = steps.iter().fold(empty(self.end), |p, &s| self.with(&p, s, None));
            found.push(Piece { span: (self.end, self.end), ..waiting });
        }
        (found, complete)
    }
}

/// Without those that are never better than another.
fn best(pieces: Vec<Piece>) -> Vec<Piece> {
    let mut kept: Vec<Piece> = vec![];
    for piece in pieces {
        if !kept.iter().any(|k| piece.yields_to(k)) {
            kept.retain(|k| !k.yields_to(&piece));
            kept.push(piece);
        }
    }
    kept
}
