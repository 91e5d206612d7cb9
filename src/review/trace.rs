//! What each callout of a run stands for: a step, the same step once more, or nothing that the section has.

use super::{Alignment, Called, Facts, Finding, Move, align};
use crate::section::Section;
use crate::time::{Ms, SampleIndex};

/// Callouts, told apart.
pub struct Trace {
    /// Steps that were called, with the places of their callouts among all: the first, and the last of those that only repeat it.
    pub steps: Vec<(usize, usize, usize)>,
    /// Steps passed over.
    pub skipped: Vec<usize>,
    /// Callouts, by place among all, that only repeat the one before.
    pub repeats: Vec<usize>,
    /// Callouts, by place among all, that answer a mishap, or renew what was taken away, and stand for no step.
    pub spare: Vec<usize>,
    /// For each callout of all: the step that it is told as, in its order or out of it, or repeats.
    pub stands: Vec<Option<usize>>,
    /// Whether no other explanation costs less.
    pub cheapest: bool,
    /// Steps out of order, and callouts that the section has no more steps for.
    pub findings: Vec<Finding>,
}

fn announces(section: &Section, step: usize, say: &str) -> bool {
    section.steps[step].say.iter().any(|p| p == say)
}

fn for_a_step(section: &Section, say: &str) -> bool {
    (0..section.steps.len()).any(|step| announces(section, step, say))
}

/// Whether a callout came in another phase than all of its steps have.
fn stray(section: &Section, facts: &Facts, called: &Called) -> bool {
    let phase = facts.phases.iter().rposition(|(from, _)| *from <= called.at);
    let at_home = |step| announces(section, step, &called.say) && Some(section.steps[step].phase) == phase;
    phase.is_some() && !(0..section.steps.len()).any(at_home)
}

/// The cheapest explanation, and the places of the callouts explained. What answers a mishap, as hands washed do for a dropped item, was
/// called all the same: where it is also a step that the section has there, it counts for both; where it isn't, it stands for none.
fn explained(section: &Section, facts: &Facts, answers: &[usize]) -> (Alignment, Vec<usize>) {
    let called = &facts.called;
    let aligned = |places: &[usize]| {
        let says: Vec<&str> = places.iter().map(|&i| called[i].say.as_str()).collect();
        align(section, &says)
    };
    let all = (0..called.len()).filter(|&i| for_a_step(section, &called[i].say));
    let mut places: Vec<usize> = all.filter(|i| !answers.contains(i)).collect();
    let mut best = aligned(&places);
    for &answer in answers {
        let missing = |m: &Move| matches!(*m, Move::Skip(s) if announces(section, s, &called[answer].say));
        if !best.moves.iter().any(missing) {
            continue;
        }
        let mut more = places.clone();
        more.insert(more.partition_point(|&p| p < answer), answer);
        let tried = aligned(&more);
        // A callout that no step explains would cost one more; one that a step which may be left out explains costs nothing.
        if tried.cost <= best.cost {
            (best, places) = (tried, more);
        }
    }
    // Between two that cost the same, the one to blame is the callout outside its own phase.
    let strays: Vec<usize> = places.iter().copied().filter(|&p| stray(section, facts, &called[p])).collect();
    let believed = |alignment: &Alignment| {
        let of_stray = |m: &&Move| matches!(**m, Move::Called { event, .. } if strays.contains(&places[event]));
        alignment.moves.iter().filter(of_stray).count()
    };
    for &place in &strays {
        if best.cost == 0 {
            break;
        }
        let others: Vec<usize> = places.iter().copied().filter(|&p| p != place).collect();
        let tried = without(aligned(&others), others.partition_point(|&p| p < place));
        if tried.cost <= best.cost && believed(&tried) < believed(&best) {
            best = tried;
        }
    }
    (best, places)
}

/// An explanation of the other callouts as one of all: the callout at `left_out` is one too many.
fn without(mut alignment: Alignment, left_out: usize) -> Alignment {
    for step_move in &mut alignment.moves {
        if let Move::Called { event, .. } | Move::Extra(event) = step_move {
            *event += usize::from(*event >= left_out);
        }
    }
    alignment.moves.push(Move::Extra(left_out));
    alignment.cost += 1;
    alignment
}

/// Tell the callouts of a run apart; `answers` are those, by place, that answer a mishap.
pub fn trace(section: &Section, facts: &Facts, answers: &[usize]) -> Trace {
    let called = &facts.called;
    let (alignment, places) = explained(section, facts, answers);
    let mut stands: Vec<Option<usize>> = vec![None; places.len()];
    let mut skipped = vec![];
    for step_move in &alignment.moves {
        match *step_move {
            Move::Called { step, event } => stands[event] = Some(step),
            Move::Skip(step) => skipped.push(step),
            Move::Extra(_) => {}
        }
    }
    let hands = |event: usize| section.is_hygiene(&called[places[event]].say);
    let says = |event: usize, step: usize| announces(section, step, &called[places[event]].say);
    let alike = |a: usize, b: usize| (0..section.steps.len()).any(|step| says(a, step) && says(b, step));
    // The nearest callout on one side that stands for a step, where that is this one's too. Hands washed meanwhile, and other
    // repeats, don't come between.
    let beside = |event: usize, side: Vec<usize>| {
        let nearest = side.into_iter().find(|&e| stands[e].is_some() || !(hands(e) || alike(e, event)));
        nearest.and_then(|e| stands[e]).filter(|&step| says(event, step))
    };
    let again: Vec<Option<usize>> = (0..places.len())
        .map(|e| match stands[e] {
            Some(_) => None,
            None => beside(e, (0..e).rev().collect()).or_else(|| beside(e, (e + 1..places.len()).collect())),
        })
        .collect();
    let spare = answers.iter().copied().filter(|answer| !places.contains(answer)).collect();
    let cheapest = alignment.cheapest;
    let mut explained = vec![None; called.len()];
    places.iter().zip(stands.iter().zip(&again)).for_each(|(&place, (step, again))| explained[place] = step.or(*again));
    let mut found =
        Trace { steps: vec![], skipped, repeats: vec![], spare, stands: explained, cheapest, findings: vec![] };
    for (event, &place) in places.iter().enumerate() {
        let Called { say, at } = &called[place];
        if let Some(step) = stands[event] {
            found.steps.push((step, place, place));
        } else if again[event].is_some() {
            found.repeats.push(place);
        } else if let Some(i) = found.skipped.iter().position(|&s| announces(section, s, say)) {
            let step = found.skipped.remove(i);
            found.stands[place] = Some(step);
            found.steps.push((step, place, place));
            found.findings.push(Finding::OutOfOrder { step, at: *at });
        } else if renews(section, called, place) {
            found.spare.push(place);
        } else if !section.is_hygiene(say) {
            found.findings.push(Finding::Extra { say: say.clone(), at: *at });
        }
    }
    for (event, step) in again.iter().enumerate().filter_map(|(e, step)| Some((e, (*step)?))) {
        let place = places[event];
        if let Some((_, first, last)) = found.steps.iter_mut().find(|(s, ..)| *s == step) {
            (*first, *last) = (place.min(*first), place.max(*last));
        }
    }
    found
}

/// Whether a callout was asked for once more: between it and another one of its name its protection was taken away, or what it mends
/// was broken.
fn renews(section: &Section, called: &[Called], place: usize) -> bool {
    let asked = |name: &String, by: &[String]| {
        let named = |i: &usize| section.means(name, &called[*i].say);
        let between = |from: usize, to: usize| {
            called[from + 1..to].iter().any(|c| by.iter().any(|undone| section.means(undone, &c.say)))
        };
        let (last, next) = ((0..place).rfind(named), (place + 1..called.len()).find(named));
        named(&place) && (last.is_some_and(|l| between(l, place)) || next.is_some_and(|n| between(place, n)))
    };
    section.safety.iter().any(|pair| asked(&pair.first, &pair.undone_by))
        || section.invariants.iter().any(|i| i.mended_by.iter().any(|name| asked(name, &i.broken_by)))
}

/// Where another step begins: at the first callout behind the one at `last` that announces one, or at the end.
pub fn ends(section: &Section, called: &[Called], last: usize, end: SampleIndex) -> SampleIndex {
    let own = called[last].at;
    let others = called[last + 1..].iter().filter(|c| c.at > own && for_a_step(section, &c.say));
    others.map(|c| c.at).chain([end]).filter(|at| *at > own).min().unwrap_or(own)
}

/// How long a step lasted that was called at each of `calls`, pauses left out, and where it ended: with its phase at the latest,
/// and before `end`, where another step begins. From a mishap to its next callout it is left out: what answers a mishap is no part of it.
pub fn lasted(facts: &Facts, calls: &[SampleIndex], mishaps: &[SampleIndex], end: SampleIndex) -> (Ms, SampleIndex) {
    let behind = |from: SampleIndex| mishaps.iter().copied().filter(move |at| *at > from).min();
    let mut from = calls[0];
    let phase = facts.phases.iter().filter_map(|(_, end)| *end).filter(|end| *end > from).min();
    let end = phase.map_or(end, |phase| end.min(phase));
    let mut took = Ms(0);
    loop {
        let until = behind(from).map_or(end, |mishap| end.min(mishap));
        took = took + facts.pauses.clock(from, until);
        match calls.iter().find(|at| (until..end).contains(at)) {
            Some(again) => from = *again,
            None => return (took, until),
        }
    }
}
