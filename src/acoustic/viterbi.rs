//! Was this phrase said here, or something else? Best paths of phrases in a stretch of the network's scores, between filler (any speech) and silence,
//! compared with the best that filler and silence alone can do: a log-likelihood ratio, as in keyword spotting with a filler
//! model (Rohlicek et al. 1989, Rose and Paul 1990, from memory).

use super::filler::{Filler, PAUSE};
use super::phones::SILENCE;
use super::phrase::{PhoneGraph, PhraseNetwork, Pronunciation, START, sayable};
use super::scores::{NEVER, Scores, best};

/// What a phrase is given for being one: rather one found too many than one missed, since each is weighed afterwards.
const FAVOUR: f32 = 1.0;

/// A phrase found by [`search`]: which, its first frame, and the one after its last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Match {
    /// Index into the phrases.
    pub phrase: usize,
    /// First frame, of 24 ms.
    pub from: usize,
    /// The frame after the last.
    pub until: usize,
    /// Index into the carriers, where one of them stands in front of the phrase and is a part of it.
    pub carrier: Option<usize>,
}

/// The best explanation of a stretch as whole phrases, filler and silence, in any number and order. libvosk's grammar knows words, and lets any
/// follow any; this one knows phrases.
pub fn search(scores: &Scores, filler: &Filler, network: &PhraseNetwork) -> Vec<Match> {
    let PhraseNetwork { places, ends, carriers } = network;
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
    let mut hits: Vec<Match> = vec![];
    let mut open: Option<(usize, usize)> = None;
    for (t, (from, into)) in back.iter().enumerate().rev() {
        if state >= states && open.is_none() {
            open = ends.iter().find(|(e, _)| states + e == state).map(|(_, phrase)| (*phrase, t + 1));
        }
        let first = state;
        state = from[state];
        if state == START {
            let carrier = first.checked_sub(states).and_then(|place| carriers.get(place).copied().flatten());
            hits.extend(open.take().map(|(phrase, until)| Match { phrase, from: t, until, carrier }));
            state = *into;
        }
        if t == 0 {
            break;
        }
    }
    hits.reverse();
    hits
}

/// How well a phrase fits some frames against the best without it: a log-likelihood ratio; as [`features_of`] has it, and nothing else.
pub fn llr(scores: &Scores, filler: &Filler, words: &[Vec<Pronunciation>]) -> Option<f32> {
    path::<false>(scores, filler, words, false).map(|p| p.llr)
}

/// The same where the phrase may break off behind any of its phones.
pub fn begun(scores: &Scores, filler: &Filler, words: &[Vec<Pronunciation>]) -> Option<f32> {
    path::<false>(scores, filler, words, true).map(|p| p.llr)
}

/// The best path of a phrase through some frames.
pub(super) struct Path {
    /// Log-likelihood ratio against the best path without the phrase.
    pub(super) llr: f32,
    pub(super) places: PhoneGraph,
    /// Place, first frame, and the one after its last, from the phrase's end to its beginning.
    pub(super) runs: Vec<(usize, usize, usize)>,
    /// First frame, and the one after the last.
    pub(super) frames: (usize, usize),
}

/// The best place of a phrase, given as the pronunciations of each of its words, in frames of scores, or of its beginning where it `breaks_off`. Without `WALK` only
/// its ratio is given, which takes less time.
pub(super) fn path<const WALK: bool>(
    scores: &Scores,
    filler: &Filler,
    words: &[Vec<Pronunciation>],
    breaks_off: bool,
) -> Option<Path> {
    sayable(words).then_some(())?;
    let (places, ends) = PhoneGraph::of(words);
    let ends = if breaks_off { (0..places.len()).collect() } else { ends };
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
    let llr = value - filler.over(&before).0;
    if !WALK {
        return Some(Path { llr, places, runs: vec![], frames: (0, 0) });
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
    Some(Path { llr, places, runs, frames: (t, until) })
}

/// The frames of each word of a phrase, at its best place: first, and the one after the last.
pub fn words_of(scores: &Scores, filler: &Filler, words: &[Vec<Pronunciation>]) -> Option<Vec<(usize, usize)>> {
    let path = path::<true>(scores, filler, words, false)?;
    let of = |word: usize| {
        let runs =
            path.runs.iter().filter(|(p, ..)| path.places.words[*p] == word && path.places.phones[*p] != SILENCE);
        runs.fold((usize::MAX, 0), |(a, b), (_, from, until)| (a.min(*from), b.max(*until)))
    };
    Some((0..words.len()).map(of).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::acoustic::features::features_of;
    use crate::acoustic::phones::{Phone, Phones};

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
        let phrase = [vec![vec![2, 3].into()], vec![vec![4, 2].into(), vec![3].into()]];
        let dear = Filler::with_words(&phones, [(&[2, 3, 4][..], 1e9), (&[4, 4][..], 1e9)]);
        assert_eq!(llr(&scores, &plain, &phrase), llr(&scores, &dear, &phrase));
        let cheap = Filler::with_words(&phones, [(&[2, 3, 4][..], 0.0), (&[4, 4][..], 0.0)]);
        assert!(llr(&scores, &cheap, &phrase) < llr(&scores, &plain, &phrase));
        // Where the phrase is makes no difference to how well it fits.
        for filler in [plain, dear, cheap] {
            assert_eq!(llr(&scores, &filler, &phrase), features_of(&scores, &filler, &phrase).map(|s| s.llr));
        }
    }

    #[test]
    fn a_phrase_that_breaks_off_fits_as_its_beginning_does() {
        let (filler, scores) = (Filler::new(&phones()), scores(12));
        let phrase = [vec![vec![2, 3].into()], vec![vec![4, 2].into()]];
        let beginnings = [
            vec![vec![vec![2].into()]],
            vec![vec![vec![2, 3].into()]],
            vec![vec![vec![2, 3].into()], vec![vec![4].into()]],
        ];
        let fits = beginnings.iter().map(|p| &p[..]).chain([&phrase[..]]).filter_map(|p| llr(&scores, &filler, p));
        // A pause behind the first word is a place of its own.
        let paused = begun(&scores, &filler, &phrase).unwrap();
        let best = fits.fold(NEVER, f32::max);
        assert!(paused >= best && paused < best + 1.0, "{paused} {best}");
    }

    #[test]
    fn a_phrase_behind_a_carrier_is_found_with_it() {
        let filler = Filler::new(&phones());
        // A frame each of silence, A, B, silence, C and silence, each far likelier than the rest.
        let said = [SILENCE, 2, 3, SILENCE, 4, SILENCE];
        let row = |phone: &Phone| (0..10).map(|k| if k / 2 == *phone { 0.0 } else { -20.0 }).collect::<Vec<f32>>();
        let scores = Scores { rows: said.iter().flat_map(row).collect(), level: vec![0.0; said.len()] };
        let (phrase, carrier) = (vec![vec![vec![4].into()]], vec![vec![vec![2].into()], vec![vec![3].into()]]);
        let found = |carried: bool| {
            search(
                &scores,
                &filler,
                &PhraseNetwork::new(std::slice::from_ref(&phrase), |_| carried, std::slice::from_ref(&carrier)),
            )
        };
        assert_eq!(found(true), [Match { phrase: 0, from: 1, until: 5, carrier: Some(0) }]);
        assert_eq!(found(false), [Match { phrase: 0, from: 4, until: 5, carrier: None }]);
    }
}
