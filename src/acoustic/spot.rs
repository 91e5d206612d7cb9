//! Was this phrase said here, or something else? A search for the phrase's phones in a stretch of the network's scores, between
//! filler (any speech) and silence, compared with the best that filler and silence alone can do: a log-likelihood ratio, as in keyword
//! spotting with a filler model (Rohlicek et al. 1989, Rose and Paul 1990, from memory), and how well each phone fits
//! its frames ("goodness of pronunciation", Witt and Young 2000, from memory).

use super::network::STEP;
use super::phones::{Phone, Phones, SILENCE};
use std::collections::BTreeMap;

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
    /// Mean fit over the frames of the word that fits worst.
    pub word: f32,
    /// How many phones last one frame only.
    pub short: usize,
    /// As `ratio`, against common words too.
    pub rival: f32,
    /// How much louder the phrase is than the quarter second before and after it, in dB.
    pub louder: (f32, f32),
    /// As `quiet`, of what lies beyond that, as far as it is there.
    pub still: (f32, f32),
    /// How much louder the phrase is than the quietest tenth of the stretch, in dB.
    pub above: f32,
    /// By how much its share of all that its frames could be is more than that of the likeliest other phrase, natural log.
    pub margin: f32,
    /// The share of the second before the half second before it that is more likely speech than silence, 0 to 1.
    pub talk: f32,
    /// The share of the time from 0.4 to 0.8 s after it that is more likely speech than silence, as far as it is there, 0 to 1.
    pub after: f32,
    /// How much sound there is behind it, up to 0.8 s, in seconds.
    pub seen: f32,
}

/// What the network makes of a stretch of sound, a frame for each 30 ms.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scores {
    /// Log scores, two for each phone, frame after frame.
    pub rows: Vec<f32>,
    /// The level of each frame: the mean over the mel bins, in dB.
    pub level: Vec<f32>,
}

impl Scores {
    /// Those of some frames.
    pub fn part(&self, from: usize, until: usize) -> Scores {
        let width = self.rows.len() / self.level.len().max(1);
        Scores { rows: self.rows[from * width..until * width].to_vec(), level: self.level[from..until].to_vec() }
    }

    /// How many frames.
    pub fn frames(&self) -> usize {
        self.level.len()
    }

    /// How much louder some frames are than the quarter second before and after them, and than the quietest tenth of all.
    fn louder(&self, from: usize, until: usize) -> ((f32, f32), f32) {
        let middle = |mut part: Vec<f32>, share: usize| {
            part.sort_by(f32::total_cmp);
            part.get(part.len() * share / 10).copied()
        };
        let side = 250 / (10 * STEP);
        let Some(inside) = middle(self.level[from..until].to_vec(), 7) else { return ((0.0, 0.0), 0.0) };
        // The frame beside the phrase holds some of it.
        let before = middle(self.level[from.saturating_sub(side)..from.saturating_sub(1)].to_vec(), 5);
        let after = middle(self.level[(until + 1).min(self.frames())..(until + side).min(self.frames())].to_vec(), 5);
        let over = |around: Option<f32>| around.map_or(20.0, |level| inside - level);
        ((over(before), over(after)), over(middle(self.level.clone(), 1)))
    }
}

/// Filler and silence: any phone after any other, at the costs of the graph; and common words, where it has some.
pub struct Filler {
    /// The phones, silence first.
    live: Vec<Phone>,
    /// Row q, column p: the cost of q after p.
    costs: Vec<f32>,
    /// The cost of each phone after something that is no filler.
    enter: Vec<f32>,
    /// Scores of a frame: two for each phone, enter and stay.
    width: usize,
    /// Common words as a tree of phones: each node's phone and the node before it, none for a word's first.
    nodes: Vec<(Phone, Option<usize>)>,
    /// The nodes that end a word, and what that word costs.
    ends: Vec<(usize, f32)>,
}

impl Filler {
    /// The same with common words in it, each given by the ways to say it and its cost.
    pub fn with_words<'a>(phones: &Phones, words: impl IntoIterator<Item = (&'a [Phone], f32)>) -> Filler {
        let mut filler = Filler::new(phones);
        let mut at: BTreeMap<(Option<usize>, Phone), usize> = BTreeMap::new();
        let mut ends: BTreeMap<usize, f32> = BTreeMap::new();
        for (way, cost) in words {
            let mut node = None;
            for phone in way {
                let next = *at.entry((node, *phone)).or_insert(filler.nodes.len());
                if next == filler.nodes.len() {
                    filler.nodes.push((*phone, node));
                }
                node = Some(next);
            }
            if let Some(node) = node {
                let end = ends.entry(node).or_insert(cost);
                *end = end.min(cost);
            }
        }
        filler.ends = ends.into_iter().collect();
        filler
    }

    /// The phones of speech.
    pub fn speech(&self) -> &[Phone] {
        &self.live[1..]
    }

    /// Whether a frame is more likely silence than speech.
    fn silent(&self, row: &[f32]) -> bool {
        fitting(row, SILENCE) > best(self.speech().iter().map(|p| fitting(row, *p))).0
    }

    /// The share of some frames that is more likely silence than speech; `None` of none.
    fn quiet(&self, rows: &[&[f32]]) -> Option<f32> {
        (!rows.is_empty()).then(|| rows.iter().filter(|row| self.silent(row)).count() as f32 / rows.len() as f32)
    }

    /// The share of some frames that is more likely speech than silence; 0 of none.
    pub fn talk(&self, scores: &Scores) -> f32 {
        self.quiet(&self.rows(&scores.rows).collect::<Vec<_>>()).map_or(0.0, |quiet| 1.0 - quiet)
    }

    /// How many states there are.
    fn states(&self) -> usize {
        self.live.len() + self.nodes.len()
    }

    /// The best state to leave it from, and its value there.
    fn over(&self, values: &[f32]) -> (f32, usize) {
        let phones = best(values[..self.live.len()].iter().copied());
        let word = self.word_over(values);
        if word.0 > phones.0 { word } else { phones }
    }

    /// The best end of a word.
    fn word_over(&self, values: &[f32]) -> (f32, usize) {
        self.ends.iter().fold((NEVER, 0), |best, (node, cost)| {
            let state = self.live.len() + node;
            let value = values[state] - cost;
            if value > best.0 { (value, state) } else { best }
        })
    }

    /// At the costs that the model's folder names.
    pub fn new(phones: &Phones) -> Filler {
        let n = phones.names.len();
        let (entry, each, scale) = phones.filler;
        let begin = |q: Phone| (entry + each + scale * phones.follow(None, q)) as f32;
        let step = |p: Phone, q: Phone| match (p, q) {
            (SILENCE, q) => begin(q),
            (_, SILENCE) => PAUSE,
            (p, q) => (each + scale * phones.follow(Some(p), q)) as f32,
        };
        let live = phones.live();
        let costs = live.iter().flat_map(|q| live.iter().map(|p| step(*p, *q))).collect();
        let enter = live.iter().map(|q| if *q == SILENCE { 0.0 } else { begin(*q) }).collect();
        Filler { live, costs, enter, width: 2 * n, nodes: vec![], ends: vec![] }
    }

    /// One frame on: each state's value, and the state it came from, none where it came in from outside the filler at `extra`.
    fn advance(&self, from: &[f32], row: &[f32], extra: f32) -> (Vec<f32>, Vec<Option<usize>>) {
        let states = self.live.len();
        let word = self.word_over(from);
        // Into a phone of the filler: from outside, or from a word.
        let outside = if word.0 > extra { (word.0, Some(word.1)) } else { (extra, None) };
        // Into a word: from outside, from silence, or from another word or phone without a pause.
        let into = {
            let mut into = (outside.0 - if outside.1.is_some() { PAUSE } else { 0.0 }, outside.1);
            if extra > into.0 {
                into = (extra, None);
            }
            if from[0] > into.0 {
                into = (from[0], Some(0));
            }
            let phone = best(from[1..states].iter().copied());
            if phone.0 - PAUSE > into.0 { (phone.0 - PAUSE, Some(phone.1 + 1)) } else { into }
        };
        let words = self.nodes.iter().enumerate().map(|(k, (phone, before))| {
            let enter = before.map_or(into, |b| (from[states + b], Some(states + b)));
            let enter = (enter.0 + row[2 * phone], enter.1);
            let stay = from[states + k] + row[2 * phone + 1];
            if stay > enter.0 { (stay, Some(states + k)) } else { enter }
        });
        (0..states)
            .map(|q| {
                let mut enter = (outside.0 - self.enter[q], outside.1);
                for (p, (value, cost)) in from.iter().zip(&self.costs[q * states..]).enumerate() {
                    if p != q && value - cost > enter.0 {
                        enter = (value - cost, Some(p));
                    }
                }
                let enter = (enter.0 + row[2 * self.live[q]], enter.1);
                let stay = from[q] + row[2 * self.live[q] + 1];
                if stay > enter.0 { (stay, Some(q)) } else { enter }
            })
            .chain(words)
            .unzip()
    }

    fn rows<'a>(&self, scores: &'a [f32]) -> std::slice::ChunksExact<'a, f32> {
        scores.chunks_exact(self.width)
    }
}

/// The greatest of some values, and which it is.
pub(super) fn best(values: impl IntoIterator<Item = f32>) -> (f32, usize) {
    values.into_iter().enumerate().fold((NEVER, 0), |a, (i, x)| if x > a.0 { (x, i) } else { a })
}

/// How well a phone fits a frame, whether it begins there or goes on.
fn fitting(row: &[f32], phone: Phone) -> f32 {
    row[2 * phone].max(row[2 * phone + 1])
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
pub fn search(scores: &Scores, filler: &Filler, phrases: &[Vec<Vec<Vec<Phone>>>]) -> Vec<Hit> {
    let mut all: Vec<Place> = vec![];
    let mut ends: Vec<(usize, usize)> = vec![];
    for (phrase, words) in phrases.iter().enumerate().filter(|(_, words)| sayable(words)) {
        let base = all.len();
        let (places, last) = places(words);
        let moved = |(b, cost): (usize, f32)| (if b == START { START } else { b + base }, cost);
        all.extend(places.into_iter().map(|p| Place { before: p.before.into_iter().map(moved).collect(), ..p }));
        ends.extend(last.into_iter().map(|e| (e + base, phrase)));
    }
    // A state is one of the filler's, or the place of a phrase behind them.
    let states = filler.live.len();
    let mut outside = vec![NEVER; states];
    let mut inside = vec![NEVER; all.len()];
    let last = |inside: &[f32]| {
        let (value, k) = best(ends.iter().map(|(e, _)| inside[*e]));
        (value, ends.get(k).map_or(0, |(e, _)| states + e))
    };
    // Per frame: where each state came from, START for a phrase that begins there, and what such a phrase came from.
    let mut back: Vec<(Vec<usize>, usize)> = vec![];
    for row in filler.rows(&scores.rows) {
        let ended = last(&inside);
        let (around, extra) =
            if back.is_empty() { ((0.0, START), 0.0) } else { (best(outside.iter().copied()), ended.0) };
        let into = if around.0 >= ended.0 - PAUSE { around } else { (ended.0 - PAUSE, ended.1) };
        let (next, sources) = filler.advance(&outside, row, extra);
        let (now, from) = advance(&all, &inside, row, into.0 + FAVOUR);
        let sources = sources.into_iter().map(|s| s.unwrap_or(ended.1));
        let from = from.into_iter().map(|p| if p == START { START } else { states + p });
        back.push((sources.chain(from).collect(), into.1));
        (outside, inside) = (next, now);
    }
    let (around, ended) = (best(outside.iter().copied()), last(&inside));
    let mut state = if around.0 >= ended.0 { around.1 } else { ended.1 };
    let mut hits: Vec<Hit> = vec![];
    let mut open: Option<(usize, usize)> = None;
    for (t, (from, into)) in back.iter().enumerate().rev() {
        if state >= states && open.is_none() {
            open = ends.iter().find(|(e, _)| states + e == state).map(|(_, phrase)| (*phrase, t + 1));
        }
        state = from[state];
        if state == START {
            hits.extend(open.take().map(|(phrase, until)| Hit { phrase, from: t, until }));
            state = *into;
        }
        if t == 0 {
            break;
        }
    }
    hits.reverse();
    hits
}

/// Whether every word has a way to be said.
pub(super) fn sayable(words: &[Vec<Vec<Phone>>]) -> bool {
    !words.is_empty() && words.iter().all(|w| !w.is_empty() && w.iter().all(|way| !way.is_empty()))
}

/// How well a phrase fits some frames against the best without it: a log-likelihood ratio; as [`spot`] has it, and nothing else.
pub fn ratio(scores: &Scores, filler: &Filler, words: &[Vec<Vec<Phone>>]) -> Option<f32> {
    path(scores, filler, words).map(|p| p.ratio)
}

/// One state of the phrase: a phone, with the states that can come before (`START` is the stretch before the phrase).
pub(super) struct Place {
    pub(super) phone: Phone,
    word: usize,
    pub(super) before: Vec<(usize, f32)>,
}

pub(super) const START: usize = usize::MAX;

/// One frame on: each place's value, and the place it came from, START where the phrase begins at it, from `outside`.
fn advance(places: &[Place], inside: &[f32], row: &[f32], outside: f32) -> (Vec<f32>, Vec<usize>) {
    let one = |(k, place): (usize, &Place)| {
        let mut enter = (NEVER, START);
        for (b, cost) in &place.before {
            let value = if *b == START { outside } else { inside[*b] } - cost;
            if value > enter.0 {
                enter = (value, *b);
            }
        }
        let enter = (enter.0 + row[2 * place.phone], enter.1);
        let stay = inside[k] + row[2 * place.phone + 1];
        if stay > enter.0 { (stay, k) } else { enter }
    };
    places.iter().enumerate().map(one).unzip()
}

/// The phrase as a small graph: each word's ways side by side, a silence allowed between words. Gives the places and which
/// of them can end it.
pub(super) fn places(words: &[Vec<Vec<Phone>>]) -> (Vec<Place>, Vec<usize>) {
    let mut places: Vec<Place> = vec![];
    let mut ends: Vec<(usize, f32)> = vec![(START, 0.0)];
    for (k, ways) in words.iter().enumerate() {
        if k > 0 {
            places.push(Place { phone: SILENCE, word: k, before: ends.iter().map(|(e, _)| (*e, PAUSE)).collect() });
            ends.iter_mut().for_each(|(_, cost)| *cost = PAUSE);
            ends.push((places.len() - 1, 0.0));
        }
        let mut last = vec![];
        for way in ways {
            for (j, phone) in way.iter().enumerate() {
                let before = if j == 0 { ends.clone() } else { vec![(places.len() - 1, 0.0)] };
                places.push(Place { phone: *phone, word: k, before });
            }
            last.push((places.len() - 1, 0.0));
        }
        ends = last;
    }
    (places, ends.into_iter().map(|(e, _)| e).collect())
}

/// The best path of a phrase through some frames.
struct Path {
    /// Log-likelihood ratio against the best path without the phrase.
    ratio: f32,
    places: Vec<Place>,
    /// Place, first frame, and the one after its last, from the phrase's end to its beginning.
    runs: Vec<(usize, usize, usize)>,
    /// First frame, and the one after the last.
    frames: (usize, usize),
}

/// The best place of a phrase, given as the ways to say each of its words, in frames of scores.
fn path(scores: &Scores, filler: &Filler, words: &[Vec<Vec<Phone>>]) -> Option<Path> {
    sayable(words).then_some(())?;
    let rows: Vec<&[f32]> = filler.rows(&scores.rows).collect();
    let (places, ends) = places(words);
    let mut before = vec![NEVER; filler.states()];
    let mut after = vec![NEVER; filler.states()];
    let mut inside = vec![NEVER; places.len()];
    let last = |inside: &[f32]| {
        let (value, k) = best(ends.iter().map(|e| inside[*e]));
        (value, ends[k])
    };
    // Per frame and place: where it came from, to walk back.
    let mut back: Vec<Vec<usize>> = vec![];
    // The frame at which the best way into each state of `after` left the phrase, and from which place.
    let mut left = vec![(0, 0); filler.states()];
    for (t, row) in rows.iter().enumerate() {
        let begin = if t == 0 { 0.0 } else { NEVER };
        let outside = if t == 0 { 0.0 } else { filler.over(&before).0 };
        let ended = last(&inside);
        let (now, from) = advance(&places, &inside, row, outside);
        let (next, sources) = filler.advance(&after, row, ended.0);
        left = sources.into_iter().map(|s| s.map_or((t, ended.1), |p| left[p])).collect();
        before = filler.advance(&before, row, begin).0;
        (after, inside) = (next, now);
        back.push(from);
    }
    let (at_end, behind) = (last(&inside), filler.over(&after));
    let (value, (until, end)) =
        if behind.0 > at_end.0 { (behind.0, left[behind.1]) } else { (at_end.0, (rows.len(), at_end.1)) };
    (value > NEVER / 2.0).then_some(())?;
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
    Some(Path { ratio: value - filler.over(&before).0, places, runs, frames: (t, until) })
}

/// The frames of each word of a phrase, at its best place: first, and the one after the last.
pub fn words_of(scores: &Scores, filler: &Filler, words: &[Vec<Vec<Phone>>]) -> Option<Vec<(usize, usize)>> {
    let path = path(scores, filler, words)?;
    let of = |word: usize| {
        let runs = path.runs.iter().filter(|(p, ..)| path.places[*p].word == word && path.places[*p].phone != SILENCE);
        runs.fold((usize::MAX, 0), |(a, b), (_, from, until)| (a.min(*from), b.max(*until)))
    };
    Some((0..words.len()).map(of).collect())
}

/// Look for the phrase, given as the ways to say each of its words, in frames of scores.
pub fn spot(scores: &Scores, filler: &Filler, words: &[Vec<Vec<Phone>>]) -> Option<Spotted> {
    let Path { ratio, places, runs, frames: (start, until) } = path(scores, filler, words)?;
    let rows: Vec<&[f32]> = filler.rows(&scores.rows).collect();
    let live = &filler.live;
    let said = |(place, from, until): &&(usize, usize, usize)| places[*place].phone != SILENCE && until > from;
    let short = runs.iter().filter(said).filter(|(_, from, until)| until - from == 1).count();
    let mut fits: Vec<f32> = vec![];
    let mut by_word: BTreeMap<usize, (f32, usize)> = BTreeMap::new();
    for (place, from, until) in runs.iter().filter(said) {
        let fit = |row: &&[f32]| fitting(row, places[*place].phone) - best(live.iter().map(|p| fitting(row, *p))).0;
        let (sum, frames) = (rows[*from..*until].iter().map(fit).sum::<f32>(), until - from);
        fits.push(sum / frames as f32);
        let word = by_word.entry(places[*place].word).or_default();
        *word = (word.0 + sum, word.1 + frames);
    }
    let word = by_word.values().map(|(sum, n)| sum / *n as f32).fold(0.0, f32::min);
    let quiet = |rows: &[&[f32]]| filler.quiet(rows).unwrap_or(1.0);
    let side = 250 / (10 * STEP);
    let (louder, above) = scores.louder(start, until);
    Some(Spotted {
        ratio,
        frames: (start, until),
        phones: fits.len(),
        fit: fits.iter().sum::<f32>() / fits.len().max(1) as f32,
        worst: fits.iter().copied().fold(0.0, f32::min),
        quiet: (quiet(&rows[start.saturating_sub(side)..start]), quiet(&rows[until..(until + side).min(rows.len())])),
        still: (
            quiet(&rows[start.saturating_sub(2 * side)..start.saturating_sub(side)]),
            quiet(&rows[(until + side).min(rows.len())..(until + 2 * side).min(rows.len())]),
        ),
        word,
        short,
        rival: 0.0,
        louder,
        above,
        margin: 0.0,
        talk: 0.0,
        after: 0.0,
        seen: 0.0,
    })
}
