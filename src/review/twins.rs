//! Units that may stand for each other: turns of a loop in any order, say, that are announced by the same words. Of explanations
//! that only swap them one is enough: the one that takes them in the order they are written. (Componentwise smaller and larger
//! moments of two twins keep every order that both keep, so nothing is lost.)

use crate::section::Done;

/// What of a unit counts: twins have it alike.
pub(super) type Sign = Vec<(Vec<usize>, bool, Option<usize>)>;

/// The order in `after`, with twins in a row.
pub(super) fn in_a_row(after: &mut [Done], signs: &[Sign]) {
    let mut settled = vec![false; after.len()];
    let mut rows: Vec<(usize, usize)> = vec![];
    for first in 0..after.len() {
        let mut family: Option<(Vec<usize>, Vec<usize>)> = None;
        for other in first + 1..after.len() {
            if settled[first] && family.is_none() {
                break;
            }
            let Some(pairs) = Twins { after, signs, settled: &settled }.grown(first, other) else { continue };
            let (ours, theirs): (Vec<usize>, Vec<usize>) = pairs.into_iter().unzip();
            let last = match &family {
                Some((side, last)) if *side == ours => last.clone(),
                Some(_) => continue,
                None => ours.clone(),
            };
            rows.extend(last.into_iter().zip(theirs.iter().copied()));
            ours.iter().chain(&theirs).for_each(|&u| settled[u] = true);
            // The first side stays open to further twins.
            ours.iter().for_each(|&u| settled[u] = false);
            family = Some((ours, theirs));
        }
        family.into_iter().flat_map(|(ours, _)| ours).for_each(|u| settled[u] = true);
    }
    rows.into_iter().for_each(|(a, b)| after[a] = after[a].with(b));
    crate::section::close(after);
}

struct Twins<'a> {
    after: &'a [Done],
    signs: &'a [Sign],
    settled: &'a [bool],
}

impl Twins<'_> {
    fn before(&self, a: usize, b: usize) -> bool {
        self.after[a].has(b)
    }

    fn tied(&self, a: usize, b: usize) -> bool {
        self.before(a, b) || self.before(b, a)
    }

    /// Whether `z` is to `x` what `w` is to `y`.
    fn alike(&self, (x, z): (usize, usize), (y, w): (usize, usize)) -> bool {
        self.before(x, z) == self.before(y, w) && self.before(z, x) == self.before(w, y)
    }

    /// Pairs to be swapped so that `a` and `b` can stand for each other, where that is possible.
    fn grown(&self, a: usize, b: usize) -> Option<Vec<(usize, usize)>> {
        let fits = |a: usize, b: usize| {
            !self.settled[a] && !self.settled[b] && self.signs[a] == self.signs[b] && !self.tied(a, b)
        };
        if !fits(a, b) {
            return None;
        }
        let n = self.after.len();
        let mut image: Vec<usize> = (0..n).collect();
        let mut pairs = vec![(a, b)];
        (image[a], image[b]) = (b, a);
        let mut at = 0;
        while at < pairs.len() {
            let (x, y) = pairs[at];
            at += 1;
            for z in 0..n {
                if image[z] != z || self.alike((x, z), (y, z)) {
                    continue;
                }
                let (near, far, ours) = if self.tied(x, z) { (x, y, true) } else { (y, x, false) };
                let partner = |&w: &usize| {
                    w != z && image[w] == w && fits(z, w) && self.alike((near, z), (far, w)) && !self.tied(near, w)
                };
                let w = (0..n).find(partner)?;
                (image[z], image[w]) = (w, z);
                pairs.push(if ours { (z, w) } else { (w, z) });
            }
        }
        let moved = || pairs.iter().flat_map(|&(x, y)| [x, y]);
        let same = moved().all(|u| (0..n).all(|v| self.alike((u, v), (image[u], image[v]))));
        let apart = pairs.iter().all(|&(x, _)| pairs.iter().all(|&(_, y)| !self.tied(x, y)));
        (same && apart).then_some(pairs)
    }
}
