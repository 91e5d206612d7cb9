//! Was this phrase said here, or something else? A search for the phrase's phones in a stretch of the network's scores, between
//! filler (any speech) and silence, compared with the best that filler and silence alone can do: a log-likelihood ratio, as in keyword
//! spotting with a filler model (Rohlicek et al. 1989, Rose and Paul 1990, from memory), and how well each phone fits
//! its frames ("goodness of pronunciation", Witt and Young 2000, from memory).

use super::ear::HOP;
use super::phones::{Phone, Phones, SILENCE};
use std::collections::BTreeMap;

/// Cost of a silence between two words, or of none: both ln 2.
const PAUSE: f32 = std::f32::consts::LN_2;
/// What a phrase is given for being one: rather one found too many than one missed, since each is weighed afterwards.
const FAVOUR: f32 = 1.0;
pub(super) const NEVER: f32 = -1e30;
/// Cost of a phone of the filler, besides its chance: rather a phrase too many is found. The wide ear's scores want more than libvosk's network, whose
/// folder says 1.6 (0.6, 1.6 and 3 were tried on the development set).
const EACH: f64 = 3.0;
/// Frames of the quarter second before and after a phrase.
const SIDE: usize = 4_000 / HOP;
/// What stands for the node before a word's first.
const FIRST: u32 = u32::MAX;

/// What was measured of one phrase in one stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct Spotted {
    /// Log-likelihood ratio of the best path with the phrase against the best path without, natural log. Above 0 the phrase wins.
    pub ratio: f32,
    /// First frame of the phrase, and the one after its last, of 24 ms.
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
    /// Its share of all that its frames could be, natural log: at most 0.
    pub own: f32,
    /// By how much that is more than the share of the likeliest other phrase, natural log.
    pub margin: f32,
    /// The share of the second before the half second before it that is more likely speech than silence, 0 to 1.
    pub talk: f32,
    /// The share of the time from 0.4 to 0.8 s after it that is more likely speech than silence, as far as it is there, 0 to 1.
    pub after: f32,
    /// How much sound there is behind it, up to 0.8 s, in seconds.
    pub seen: f32,
}

/// What the network makes of a stretch of sound, a frame for each 24 ms.
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
        let Some(inside) = middle(self.level[from..until].to_vec(), 7) else { return ((0.0, 0.0), 0.0) };
        // The frame beside the phrase holds some of it.
        let before = middle(self.level[from.saturating_sub(SIDE)..from.saturating_sub(1)].to_vec(), 5);
        let after = middle(self.level[(until + 1).min(self.frames())..(until + SIDE).min(self.frames())].to_vec(), 5);
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
    /// Common words as a tree of phones: each node's phone and the node before it, [`FIRST`] for a word's first. Small, since there are many.
    nodes: Vec<(u16, u32)>,
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
                    filler.nodes.push((*phone as u16, node.map_or(FIRST, |n| n as u32)));
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
    pub(super) fn states(&self) -> usize {
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

    /// At the chances that the model's folder names.
    pub fn new(phones: &Phones) -> Filler {
        let n = phones.names.len();
        let (entry, _, scale) = phones.filler;
        let begin = |q: Phone| (entry + EACH + scale * phones.follow(None, q)) as f32;
        let step = |p: Phone, q: Phone| match (p, q) {
            (SILENCE, q) => begin(q),
            (_, SILENCE) => PAUSE,
            (p, q) => (EACH + scale * phones.follow(Some(p), q)) as f32,
        };
        let live = phones.live();
        let costs = live.iter().flat_map(|q| live.iter().map(|p| step(*p, *q))).collect();
        let enter = live.iter().map(|q| if *q == SILENCE { 0.0 } else { begin(*q) }).collect();
        Filler { live, costs, enter, width: 2 * n, nodes: vec![], ends: vec![] }
    }

    /// One frame on, from the values `from` to the values `to`. Each state and the one it came from is told to `came`, none where it came in from
    /// outside the filler at `extra`.
    pub(super) fn advance(
        &self,
        from: &[f32],
        row: &[f32],
        extra: f32,
        to: &mut [f32],
        mut came: impl FnMut(usize, Option<usize>),
    ) {
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
        for (q, phone) in self.live.iter().enumerate() {
            let mut enter = (outside.0 - self.enter[q], outside.1);
            for (p, (value, cost)) in from.iter().zip(&self.costs[q * states..(q + 1) * states]).enumerate() {
                if p != q && value - cost > enter.0 {
                    enter = (value - cost, Some(p));
                }
            }
            let (value, stay) = (enter.0 + row[2 * phone], from[q] + row[2 * phone + 1]);
            to[q] = value.max(stay);
            came(q, if stay > value { Some(q) } else { enter.1 });
        }
        for (k, (phone, before)) in self.nodes.iter().enumerate() {
            let (phone, before) = (usize::from(*phone), states + *before as usize);
            let enter = if before < from.len() { (from[before], Some(before)) } else { into };
            let (value, stay) = (enter.0 + row[2 * phone], from[states + k] + row[2 * phone + 1]);
            to[states + k] = value.max(stay);
            came(states + k, if stay > value { Some(states + k) } else { enter.1 });
        }
    }

    pub(super) fn rows<'a>(&self, scores: &'a [f32]) -> std::slice::ChunksExact<'a, f32> {
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
    /// First frame, of 24 ms.
    pub from: usize,
    /// The frame after the last.
    pub until: usize,
    /// Index into the carriers, where one of them stands in front of the phrase and is a part of it.
    pub carrier: Option<usize>,
}

/// Phrases laid out for [`search`].
pub struct Layout {
    pub(super) places: Places,
    /// The places that can end a phrase, and which it is.
    pub(super) ends: Vec<(usize, usize)>,
    /// By place, up to the last carrier's: which carrier it is in, none for the pause behind them.
    carriers: Vec<Option<usize>>,
}

impl Layout {
    /// `phrases` as for [`spot`]; those that are `carried` may stand behind one of some carriers, given likewise. What has a word without a way to be
    /// said is passed over.
    pub fn new(
        phrases: &[Vec<Vec<Vec<Phone>>>],
        carried: impl Fn(usize) -> bool,
        carriers: &[Vec<Vec<Vec<Phone>>>],
    ) -> Layout {
        let mut layout = Layout { places: Places::default(), ends: vec![], carriers: vec![] };
        let alone = vec![(START, 0.0)];
        let mut behind: Vec<(usize, f32)> = vec![];
        for (carrier, words) in carriers.iter().enumerate().filter(|(_, words)| sayable(words)) {
            behind.extend(layout.places.add(words, alone.clone()).into_iter().map(|end| (end, PAUSE)));
            layout.carriers.resize(layout.places.len(), Some(carrier));
        }
        if !behind.is_empty() {
            let pause = layout.places.push(SILENCE, 0, &behind);
            layout.carriers.push(None);
            behind.push((pause, 0.0));
        }
        for (phrase, words) in phrases.iter().enumerate().filter(|(_, words)| sayable(words)) {
            let before = [&alone[..], if carried(phrase) { &behind } else { &[] }].concat();
            layout.ends.extend(layout.places.add(words, before).into_iter().map(|end| (end, phrase)));
        }
        layout
    }
}

/// The best explanation of a stretch as whole phrases, filler and silence, in any number and order. libvosk's grammar knows words, and lets any
/// follow any; this one knows phrases.
pub fn search(scores: &Scores, filler: &Filler, layout: &Layout) -> Vec<Hit> {
    let Layout { places, ends, carriers } = layout;
    // A state is one of the filler's, or the place of a phrase behind them.
    let states = filler.live.len();
    let (mut outside, mut outside_next) = (vec![NEVER; states], vec![NEVER; states]);
    let (mut inside, mut inside_next) = (vec![NEVER; places.len()], vec![NEVER; places.len()]);
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
        let mut sources = vec![START; states + places.len()];
        filler.advance(&outside, row, extra, &mut outside_next, |q, from| sources[q] = from.unwrap_or(ended.1));
        places.advance(&inside, row, into.0 + FAVOUR, &mut inside_next, |k, from| {
            sources[states + k] = if from == START { START } else { states + from }
        });
        back.push((sources, into.1));
        std::mem::swap(&mut outside, &mut outside_next);
        std::mem::swap(&mut inside, &mut inside_next);
    }
    let (around, ended) = (best(outside.iter().copied()), last(&inside));
    let mut state = if around.0 >= ended.0 { around.1 } else { ended.1 };
    let mut hits: Vec<Hit> = vec![];
    let mut open: Option<(usize, usize)> = None;
    for (t, (from, into)) in back.iter().enumerate().rev() {
        if state >= states && open.is_none() {
            open = ends.iter().find(|(e, _)| states + e == state).map(|(_, phrase)| (*phrase, t + 1));
        }
        let first = state;
        state = from[state];
        if state == START {
            let carrier = first.checked_sub(states).and_then(|place| carriers.get(place).copied().flatten());
            hits.extend(open.take().map(|(phrase, until)| Hit { phrase, from: t, until, carrier }));
            state = *into;
        }
        if t == 0 {
            break;
        }
    }
    hits.reverse();
    hits
}

/// Whether every word has a way to be said. One in the middle may be left out: one of its ways is empty.
pub(super) fn sayable(words: &[Vec<Vec<Phone>>]) -> bool {
    let ([first, .., last] | [first @ last]) = words else { return false };
    words.iter().all(|w| !w.is_empty()) && [first, last].iter().all(|w| w.iter().all(|way| !way.is_empty()))
}

/// How well a phrase fits some frames against the best without it: a log-likelihood ratio; as [`spot`] has it, and nothing else.
pub fn ratio(scores: &Scores, filler: &Filler, words: &[Vec<Vec<Phone>>]) -> Option<f32> {
    path::<false>(scores, filler, words).map(|p| p.ratio)
}

pub(super) const START: usize = usize::MAX;

/// Phrases as small graphs: each word's ways side by side, a silence allowed between words. A place is a phone of one.
#[derive(Default)]
pub(super) struct Places {
    phones: Vec<Phone>,
    /// By place: which word of its phrase it is in.
    words: Vec<usize>,
    /// By place: where what can come before it begins in `before`.
    first: Vec<usize>,
    /// Places, and what it costs to come from there; [`START`] is the stretch before the phrase.
    before: Vec<(usize, f32)>,
}

impl Places {
    /// One phrase, and the places that can end it.
    pub(super) fn of(words: &[Vec<Vec<Phone>>]) -> (Places, Vec<usize>) {
        let mut places = Places::default();
        let ends = places.add(words, vec![(START, 0.0)]);
        (places, ends)
    }

    /// Add a phrase behind these places; gives the places that can end it.
    fn add(&mut self, words: &[Vec<Vec<Phone>>], before: Vec<(usize, f32)>) -> Vec<usize> {
        let mut ends = before;
        for (word, ways) in words.iter().enumerate() {
            if word > 0 {
                ends.iter_mut().for_each(|(_, cost)| *cost = PAUSE);
                let pause = self.push(SILENCE, word, &ends);
                ends.push((pause, 0.0));
            }
            let mut last = vec![];
            for way in ways {
                let mut before = ends.clone();
                for phone in way {
                    before = vec![(self.push(*phone, word, &before), 0.0)];
                }
                last.extend(before);
            }
            ends = last;
        }
        ends.into_iter().map(|(e, _)| e).collect()
    }

    fn push(&mut self, phone: Phone, word: usize, before: &[(usize, f32)]) -> usize {
        self.first.push(self.before.len());
        self.before.extend(before);
        self.phones.push(phone);
        self.words.push(word);
        self.phones.len() - 1
    }

    pub(super) fn len(&self) -> usize {
        self.phones.len()
    }

    /// Each place's phone, and what can come before it.
    pub(super) fn iter(&self) -> impl Iterator<Item = (Phone, &[(usize, f32)])> {
        let until = self.first.iter().skip(1).copied().chain([self.before.len()]);
        self.phones.iter().zip(self.first.iter().zip(until)).map(|(phone, (a, b))| (*phone, &self.before[*a..b]))
    }

    /// One frame on, from the values `inside` to the values `to`. Each place and the one it came from is told to `came`, START where the phrase
    /// begins at it, from `outside`.
    pub(super) fn advance(
        &self,
        inside: &[f32],
        row: &[f32],
        outside: f32,
        to: &mut [f32],
        mut came: impl FnMut(usize, usize),
    ) {
        for (k, (phone, before)) in self.iter().enumerate() {
            let mut enter = (NEVER, START);
            for (b, cost) in before {
                let value = if *b == START { outside } else { inside[*b] } - cost;
                if value > enter.0 {
                    enter = (value, *b);
                }
            }
            let (value, stay) = (enter.0 + row[2 * phone], inside[k] + row[2 * phone + 1]);
            to[k] = value.max(stay);
            came(k, if stay > value { k } else { enter.1 });
        }
    }
}

/// The best path of a phrase through some frames.
struct Path {
    /// Log-likelihood ratio against the best path without the phrase.
    ratio: f32,
    places: Places,
    /// Place, first frame, and the one after its last, from the phrase's end to its beginning.
    runs: Vec<(usize, usize, usize)>,
    /// First frame, and the one after the last.
    frames: (usize, usize),
}

/// The best place of a phrase, given as the ways to say each of its words, in frames of scores. Without `WALK` only its ratio is told, which takes
/// less time.
fn path<const WALK: bool>(scores: &Scores, filler: &Filler, words: &[Vec<Vec<Phone>>]) -> Option<Path> {
    sayable(words).then_some(())?;
    let (places, ends) = Places::of(words);
    let new = |n: usize| (vec![NEVER; n], vec![NEVER; n]);
    let (mut before, mut before_next) = new(filler.states());
    let (mut after, mut after_next) = new(filler.states());
    let (mut inside, mut inside_next) = new(places.len());
    let last = |inside: &[f32]| {
        let (value, k) = best(ends.iter().map(|e| inside[*e]));
        (value, ends[k])
    };
    // Per frame and place: where it came from, to walk back.
    let mut back: Vec<Vec<usize>> = vec![];
    // The frame at which the best way into each state of `after` left the phrase, and from which place.
    let mut left = vec![(0, 0); filler.states()];
    for (t, row) in filler.rows(&scores.rows).enumerate() {
        let begin = if t == 0 { 0.0 } else { NEVER };
        let outside = if t == 0 { 0.0 } else { filler.over(&before).0 };
        let ended = last(&inside);
        if WALK {
            let mut from = vec![START; places.len()];
            places.advance(&inside, row, outside, &mut inside_next, |k, place| from[k] = place);
            let mut leaving = left.clone();
            filler.advance(&after, row, ended.0, &mut after_next, |q, p| {
                leaving[q] = p.map_or((t, ended.1), |p| left[p])
            });
            left = leaving;
            back.push(from);
        } else {
            places.advance(&inside, row, outside, &mut inside_next, |_, _| ());
            filler.advance(&after, row, ended.0, &mut after_next, |_, _| ());
        }
        filler.advance(&before, row, begin, &mut before_next, |_, _| ());
        std::mem::swap(&mut before, &mut before_next);
        std::mem::swap(&mut after, &mut after_next);
        std::mem::swap(&mut inside, &mut inside_next);
    }
    let (at_end, behind) = (last(&inside), filler.over(&after));
    let (value, (until, end)) =
        if behind.0 > at_end.0 { (behind.0, left[behind.1]) } else { (at_end.0, (scores.frames(), at_end.1)) };
    (value > NEVER / 2.0).then_some(())?;
    let ratio = value - filler.over(&before).0;
    if !WALK {
        return Some(Path { ratio, places, runs: vec![], frames: (0, 0) });
    }
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
    Some(Path { ratio, places, runs, frames: (t, until) })
}

/// The frames of each word of a phrase, at its best place: first, and the one after the last.
pub fn words_of(scores: &Scores, filler: &Filler, words: &[Vec<Vec<Phone>>]) -> Option<Vec<(usize, usize)>> {
    let path = path::<true>(scores, filler, words)?;
    let of = |word: usize| {
        let runs =
            path.runs.iter().filter(|(p, ..)| path.places.words[*p] == word && path.places.phones[*p] != SILENCE);
        runs.fold((usize::MAX, 0), |(a, b), (_, from, until)| (a.min(*from), b.max(*until)))
    };
    Some((0..words.len()).map(of).collect())
}

/// Look for the phrase, given as the ways to say each of its words, in frames of scores.
pub fn spot(scores: &Scores, filler: &Filler, words: &[Vec<Vec<Phone>>]) -> Option<Spotted> {
    let Path { ratio, places, runs, frames: (start, until) } = path::<true>(scores, filler, words)?;
    let rows: Vec<&[f32]> = filler.rows(&scores.rows).collect();
    let live = &filler.live;
    let said = |(place, from, until): &&(usize, usize, usize)| places.phones[*place] != SILENCE && until > from;
    let short = runs.iter().filter(said).filter(|(_, from, until)| until - from == 1).count();
    let mut fits: Vec<f32> = vec![];
    let mut by_word: BTreeMap<usize, (f32, usize)> = BTreeMap::new();
    for (place, from, until) in runs.iter().filter(said) {
        let fit = |row: &&[f32]| fitting(row, places.phones[*place]) - best(live.iter().map(|p| fitting(row, *p))).0;
        let (sum, frames) = (rows[*from..*until].iter().map(fit).sum::<f32>(), until - from);
        fits.push(sum / frames as f32);
        let word = by_word.entry(places.words[*place]).or_default();
        *word = (word.0 + sum, word.1 + frames);
    }
    let word = by_word.values().map(|(sum, n)| sum / *n as f32).fold(0.0, f32::min);
    let quiet = |rows: &[&[f32]]| filler.quiet(rows).unwrap_or(1.0);
    let (louder, above) = scores.louder(start, until);
    Some(Spotted {
        ratio,
        frames: (start, until),
        phones: fits.len(),
        fit: fits.iter().sum::<f32>() / fits.len().max(1) as f32,
        worst: fits.iter().copied().fold(0.0, f32::min),
        quiet: (quiet(&rows[start.saturating_sub(SIDE)..start]), quiet(&rows[until..(until + SIDE).min(rows.len())])),
        still: (
            quiet(&rows[start.saturating_sub(2 * SIDE)..start.saturating_sub(SIDE)]),
            quiet(&rows[(until + SIDE).min(rows.len())..(until + 2 * SIDE).min(rows.len())]),
        ),
        word,
        short,
        rival: 0.0,
        louder,
        above,
        own: 0.0,
        margin: 0.0,
        talk: 0.0,
        after: 0.0,
        seen: 0.0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Silence, noise and three phones of speech.
    fn phones() -> Phones {
        let follows = ["A", "B", "C"].iter().flat_map(|p| ["A", "B", "C"].map(|q| format!("{p} {q} 1.1\n")));
        let filler = format!("# 1 1 1\n^ A 0.4\n^ B 1.1\n^ C 1.9\n{}", follows.collect::<String>());
        Phones::parse("SIL 0\nSPN 1\nA 2\nB 3\nC 4\n", "", &filler).unwrap()
    }

    /// Frames of scores with no pattern in them.
    fn scores(frames: usize) -> Scores {
        let rows = (0..frames * 10).map(|k| -(((k * k * 37 + k * 11) % 23) as f32) / 4.0);
        Scores { rows: rows.collect(), level: vec![0.0; frames] }
    }

    #[test]
    fn words_that_nobody_can_afford_to_end_are_worth_nothing() {
        let phones = phones();
        let (plain, scores) = (Filler::new(&phones), scores(12));
        let phrase = [vec![vec![2, 3]], vec![vec![4, 2], vec![3]]];
        let dear = Filler::with_words(&phones, [(&[2, 3, 4][..], 1e9), (&[4, 4][..], 1e9)]);
        assert_eq!(ratio(&scores, &plain, &phrase), ratio(&scores, &dear, &phrase));
        let cheap = Filler::with_words(&phones, [(&[2, 3, 4][..], 0.0), (&[4, 4][..], 0.0)]);
        assert!(ratio(&scores, &cheap, &phrase) < ratio(&scores, &plain, &phrase));
        // Where the phrase is makes no difference to how well it fits.
        for filler in [plain, dear, cheap] {
            assert_eq!(ratio(&scores, &filler, &phrase), spot(&scores, &filler, &phrase).map(|s| s.ratio));
        }
    }

    #[test]
    fn a_phrase_behind_a_carrier_is_found_with_it() {
        let filler = Filler::new(&phones());
        // A frame each of silence, A, B, silence, C and silence, each far likelier than the rest.
        let said = [SILENCE, 2, 3, SILENCE, 4, SILENCE];
        let row = |phone: &Phone| (0..10).map(|k| if k / 2 == *phone { 0.0 } else { -20.0 }).collect::<Vec<f32>>();
        let scores = Scores { rows: said.iter().flat_map(row).collect(), level: vec![0.0; said.len()] };
        let (phrase, carrier) = (vec![vec![vec![4]]], vec![vec![vec![2]], vec![vec![3]]]);
        let found = |carried: bool| {
            search(
                &scores,
                &filler,
                &Layout::new(std::slice::from_ref(&phrase), |_| carried, std::slice::from_ref(&carrier)),
            )
        };
        assert_eq!(found(true), [Hit { phrase: 0, from: 1, until: 5, carrier: Some(0) }]);
        assert_eq!(found(false), [Hit { phrase: 0, from: 4, until: 5, carrier: None }]);
    }
}
