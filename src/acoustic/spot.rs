//! Was this phrase said here, or something else? A search for the phrase's phones in a stretch of the network's scores, between
//! filler (any speech) and silence, compared with the best that filler and silence alone can do: a log-likelihood ratio, as in keyword
//! spotting with a filler model (Rohlicek et al. 1989, Rose and Paul 1990, from memory), and how well each phone fits
//! its frames ("goodness of pronunciation", Witt and Young 2000, from memory).

use super::network::STEP;
use super::phones::{Phone, Phones, SILENCE, SPEECH};

/// Cost of each phone of filler beyond what the sequence costs, as in the graph.
const PHONE: f32 = 1.6;
/// Cost of beginning a word of filler after a silence, as in the graph.
const ENTRY: f32 = 1.0;
/// Cost of a silence between two words, or of none: both ln 2.
const PAUSE: f32 = std::f32::consts::LN_2;
/// What a phrase is given for being one: rather one found too many than one missed, since each is weighed afterwards.
const FAVOUR: f32 = 1.0;
const NEVER: f32 = -1e30;

/// What was measured of one phrase in one stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct Spotted {
    /// Log-likelihood ratio of the best path with the phrase against the best path without, natural log. Above 0 the phrase wins.
    pub ratio: f32,
    /// First frame of the phrase, and the one after its last, of 30 ms.
    pub frames: (usize, usize),
    /// How many phones it has.
    pub phones: usize,
    /// Mean over its phones of the mean log score of the frames against the best phone of each frame; 0 is the best.
    pub fit: f32,
    /// The same of the phone that fits worst.
    pub worst: f32,
    /// The share of the quarter second before and after that is more likely silence than speech, 0 to 1.
    pub quiet: (f32, f32),
}

/// Filler and silence: any phone after any other, at the costs of the graph.
struct Filler {
    /// The phones, silence first.
    live: Vec<Phone>,
    /// Row q, column p: the cost of q after p.
    costs: Vec<f32>,
    /// The cost of each phone after something that is no filler.
    enter: Vec<f32>,
}

impl Filler {
    fn new(phones: &Phones) -> Filler {
        let n = phones.names.len();
        let step = |p: Phone, q: Phone| match (p, q) {
            (SILENCE, q) => ENTRY + PHONE + phones.follow(None, q) as f32,
            (_, SILENCE) => PAUSE,
            (p, q) => PHONE + phones.follow(Some(p), q) as f32,
        };
        let live: Vec<Phone> = std::iter::once(SILENCE).chain(SPEECH..n).collect();
        let costs = live.iter().flat_map(|q| live.iter().map(|p| step(*p, *q))).collect();
        let enter = live
            .iter()
            .map(|q| if *q == SILENCE { 0.0 } else { ENTRY + PHONE + phones.follow(None, *q) as f32 })
            .collect();
        Filler { live, costs, enter }
    }

    /// The best way into state `q` from the others: its value and where from; `extra` comes in from outside the filler.
    fn way_into(&self, from: &[f32], q: usize, extra: f32) -> (f32, Option<usize>) {
        let row = &self.costs[q * self.live.len()..(q + 1) * self.live.len()];
        let mut best = (extra - self.enter[q], None);
        for (p, (value, cost)) in from.iter().zip(row).enumerate() {
            if p != q && value - cost > best.0 {
                best = (value - cost, Some(p));
            }
        }
        best
    }

    /// One frame on.
    fn advance(&self, from: &[f32], row: &[f32], extra: f32) -> Vec<f32> {
        (0..self.live.len())
            .map(|q| {
                let enter = self.way_into(from, q, extra).0 + row[2 * self.live[q]];
                enter.max(from[q] + row[2 * self.live[q] + 1])
            })
            .collect()
    }
}

/// A phrase found by [`search`]: which, its first frame, and the one after its last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hit {
    /// Index into the phrases.
    pub phrase: usize,
    /// First frame, of 30 ms.
    pub from: usize,
    /// The frame after the last.
    pub until: usize,
}

/// The best explanation of a stretch as whole phrases, filler and silence, in any number and order. `phrases` as for [`spot`]; those
/// with a word that has no way to be said are passed over. libvosk's grammar knows words, and lets any follow any; this one knows phrases.
pub fn search(scores: &[f32], outputs: usize, phones: &Phones, phrases: &[Vec<Vec<Vec<Phone>>>]) -> Vec<Hit> {
    if outputs != 2 * phones.names.len() {
        return vec![];
    }
    let filler = Filler::new(phones);
    let frames = scores.len() / outputs;
    let mut all: Vec<Place> = vec![];
    let mut ends: Vec<(usize, usize)> = vec![];
    for (phrase, words) in phrases.iter().enumerate() {
        if words.is_empty() || words.iter().any(|w| w.is_empty() || w.iter().any(Vec::is_empty)) {
            continue;
        }
        let base = all.len();
        let (places, last) = places(words);
        let moved = |(b, cost): (usize, f32)| (if b == START { START } else { b + base }, cost);
        all.extend(places.into_iter().map(|p| Place { before: p.before.into_iter().map(moved).collect(), ..p }));
        ends.extend(last.into_iter().map(|e| (e + base, phrase)));
    }
    let best = |v: &[f32]| v.iter().copied().enumerate().fold((NEVER, 0), |a, (i, x)| if x > a.0 { (x, i) } else { a });
    let mut outside = vec![NEVER; filler.live.len()];
    let mut inside = vec![NEVER; all.len()];
    // Where each state came from: a filler state q as q, a place k as filler.live.len() + k, the beginning as usize::MAX.
    let states = filler.live.len();
    let mut back: Vec<Vec<usize>> = vec![];
    for t in 0..frames {
        let row = &scores[t * outputs..(t + 1) * outputs];
        let around = if t == 0 { (0.0, usize::MAX) } else { best(&outside) };
        let ended =
            ends.iter().fold((NEVER, 0), |a, (e, _)| if inside[*e] > a.0 { (inside[*e], states + e) } else { a });
        let into = if around.0 >= ended.0 - PAUSE { around } else { (ended.0 - PAUSE, ended.1) };
        let mut from = Vec::with_capacity(states + all.len());
        let mut now = Vec::with_capacity(all.len());
        let mut next = Vec::with_capacity(states);
        let extra = if t == 0 { (0.0, usize::MAX) } else { ended };
        for q in 0..states {
            let (value, source) = filler.way_into(&outside, q, extra.0);
            let enter = (value + row[2 * filler.live[q]], source.unwrap_or(extra.1));
            let stay = (outside[q] + row[2 * filler.live[q] + 1], q);
            let (value, source) = if stay.0 > enter.0 { stay } else { enter };
            next.push(value);
            from.push(source);
        }
        for (k, place) in all.iter().enumerate() {
            let mut enter = (NEVER, usize::MAX);
            for (b, cost) in &place.before {
                let (value, source) = if *b == START { (into.0 + FAVOUR, into.1) } else { (inside[*b], states + b) };
                if value - cost > enter.0 {
                    enter = (value - cost, source);
                }
            }
            let enter = (enter.0 + row[2 * place.phone], enter.1);
            let stay = (inside[k] + row[2 * place.phone + 1], states + k);
            let (value, source) = if stay.0 > enter.0 { stay } else { enter };
            now.push(value);
            from.push(source);
        }
        (outside, inside) = (next, now);
        back.push(from);
    }
    if frames == 0 {
        return vec![];
    }
    let around = best(&outside);
    let ended = ends.iter().fold((NEVER, 0), |a, (e, _)| if inside[*e] > a.0 { (inside[*e], states + e) } else { a });
    let mut state = if around.0 >= ended.0 { around.1 } else { ended.1 };
    let phrase_of = |state: usize| ends.iter().find(|(e, _)| states + e == state).map(|(_, p)| *p);
    let first = |k: usize| all[k].before.iter().any(|(b, _)| *b == START);
    let mut hits: Vec<Hit> = vec![];
    let mut open: Option<(usize, usize)> = None;
    for t in (0..frames).rev() {
        if state >= states && open.is_none() {
            open = phrase_of(state).map(|p| (p, t + 1));
        }
        let came = back[t][state];
        // A phrase begins where its first place is entered from outside.
        if state >= states
            && came != state
            && first(state - states)
            && (came < states
                || came == usize::MAX
                || phrase_of(came).is_some()
                    && !all[state - states].before.iter().any(|(b, _)| *b != START && states + b == came))
        {
            hits.extend(open.take().map(|(phrase, until)| Hit { phrase, from: t, until }));
        }
        if came == usize::MAX {
            break;
        }
        state = came;
    }
    hits.reverse();
    hits
}

/// One state of the phrase: a phone, with the states that can come before (`START` is the stretch before the phrase).
struct Place {
    phone: Phone,
    before: Vec<(usize, f32)>,
}

const START: usize = usize::MAX;

/// The phrase as a small graph: each word's ways side by side, a silence allowed between words. Gives the places and which
/// of them can end it.
fn places(words: &[Vec<Vec<Phone>>]) -> (Vec<Place>, Vec<usize>) {
    let mut places: Vec<Place> = vec![];
    let mut ends: Vec<(usize, f32)> = vec![(START, 0.0)];
    for (k, ways) in words.iter().enumerate() {
        if k > 0 {
            places.push(Place { phone: SILENCE, before: ends.iter().map(|(e, _)| (*e, PAUSE)).collect() });
            ends.iter_mut().for_each(|(_, cost)| *cost = PAUSE);
            ends.push((places.len() - 1, 0.0));
        }
        let mut last = vec![];
        for way in ways {
            for (j, phone) in way.iter().enumerate() {
                let before = if j == 0 { ends.clone() } else { vec![(places.len() - 1, 0.0)] };
                places.push(Place { phone: *phone, before });
            }
            last.push((places.len() - 1, 0.0));
        }
        ends = last;
    }
    (places, ends.into_iter().map(|(e, _)| e).collect())
}

/// Look for the phrase, given as the ways to say each of its words, in rows of `outputs` scores.
pub fn spot(scores: &[f32], outputs: usize, phones: &Phones, words: &[Vec<Vec<Phone>>]) -> Option<Spotted> {
    let n = phones.names.len();
    if outputs != 2 * n || words.is_empty() || words.iter().any(|w| w.is_empty() || w.iter().any(Vec::is_empty)) {
        return None;
    }
    let frames = scores.len() / outputs;
    let (places, ends) = places(words);
    let row = |t: usize| &scores[t * outputs..(t + 1) * outputs];
    let filler = Filler::new(phones);
    let live = &filler.live;
    let best = |v: &[f32]| v.iter().copied().fold(NEVER, f32::max);
    let mut before = vec![NEVER; live.len()];
    let mut after = vec![NEVER; live.len()];
    let mut inside = vec![NEVER; places.len()];
    // Per frame and place: where it came from (a place, START, or itself), to walk back.
    let mut back: Vec<Vec<usize>> = vec![];
    // The frame at which the best way into `after`, and the whole, left the phrase.
    let mut ended = vec![(0usize, 0usize); live.len()];
    let mut gone: Option<(f32, usize, usize)> = None;
    for t in 0..frames {
        let scores = row(t);
        let outside = if t == 0 { 0.0 } else { best(&before) };
        let (mut now, mut from) = (vec![NEVER; places.len()], vec![0; places.len()]);
        for (k, place) in places.iter().enumerate() {
            let (mut value, mut source) = (NEVER, START);
            for (b, cost) in &place.before {
                let candidate = if *b == START { outside } else { inside[*b] } - cost;
                if candidate > value {
                    (value, source) = (candidate, *b);
                }
            }
            (now[k], from[k]) = (value + scores[2 * place.phone], source);
            let stay = inside[k] + scores[2 * place.phone + 1];
            if stay > now[k] {
                (now[k], from[k]) = (stay, k);
            }
        }
        // Into the filler behind the phrase, from the frame before.
        let leaving = ends.iter().map(|e| (inside[*e], *e)).fold((NEVER, 0), |a, b| if b.0 > a.0 { b } else { a });
        let fresh = filler.advance(&after, scores, leaving.0);
        let old = filler.advance(&after, scores, NEVER);
        ended = (0..live.len())
            .map(|q| {
                if fresh[q] > old[q] {
                    return (t, leaving.1);
                }
                let stay = after[q] + scores[2 * live[q] + 1];
                if stay >= old[q] {
                    return ended[q];
                }
                filler.way_into(&after, q, NEVER).1.map_or((t, leaving.1), |p| ended[p])
            })
            .collect();
        after = fresh;
        before = filler.advance(&before, scores, if t == 0 { 0.0 } else { NEVER });
        inside = now;
        back.push(from);
        if t + 1 == frames {
            let at_end = ends.iter().map(|e| (inside[*e], frames, *e));
            let behind = (0..live.len()).map(|q| (after[q], ended[q].0, ended[q].1));
            gone = at_end.chain(behind).filter(|c| c.0 > NEVER / 2.0).reduce(|a, b| if b.0 > a.0 { b } else { a });
        }
    }
    let (value, until, end) = gone?;
    // Walk back through the phrase.
    let (mut place, mut t, mut runs) = (end, until, vec![(end, until, until)]);
    while t > 0 {
        t -= 1;
        if let Some(run) = runs.last_mut() {
            run.1 = t;
        }
        match back[t][place] {
            START => break,
            same if same == place => {}
            other => {
                place = other;
                runs.push((other, t, t));
            }
        }
    }
    let start = t;
    let fits: Vec<f32> = runs
        .iter()
        .filter(|(place, from, until)| places[*place].phone != SILENCE && until > from)
        .map(|(place, from, until)| {
            let phone = places[*place].phone;
            let fit = |t: usize| {
                let row = row(t);
                let most = live.iter().map(|p| row[2 * p].max(row[2 * p + 1])).fold(NEVER, f32::max);
                row[2 * phone].max(row[2 * phone + 1]) - most
            };
            (*from..*until).map(fit).sum::<f32>() / (until - from) as f32
        })
        .collect();
    let quiet = |from: usize, until: usize| {
        if from >= until {
            return 1.0;
        }
        let silent = |t: &usize| {
            let row = row(*t);
            let speech = (SPEECH..n).map(|p| row[2 * p].max(row[2 * p + 1])).fold(NEVER, f32::max);
            row[0].max(row[1]) > speech
        };
        (from..until).filter(silent).count() as f32 / (until - from) as f32
    };
    let side = 250 / (10 * STEP);
    Some(Spotted {
        ratio: value - best(&before),
        frames: (start, until),
        phones: fits.len(),
        fit: fits.iter().sum::<f32>() / fits.len().max(1) as f32,
        worst: fits.iter().copied().fold(0.0, f32::min),
        quiet: (quiet(start.saturating_sub(side), start), quiet(until, (until + side).min(frames))),
    })
}
