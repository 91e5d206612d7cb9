//! A quick look through a long stretch of scores for many phrases at once: each is held against the filler at every frame, in one pass, so the time it
//! takes grows with the stretch and with the phrases and with nothing else. What is found is still to be weighed.

use super::filler::Filler;
use super::phrase::{PhraseNetwork, START};
use super::scores::{NEVER, Scores, best};

/// A phrase that ends in some place with less than this against the filler (natural log) is nothing to be weighed.
const HOPELESS: f32 = -12.0;

/// Where a phrase fits better than just before and behind: which, how well against the filler (natural log), its first frame, and the one after its last.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Likely {
    /// Index into the phrases.
    pub phrase: usize,
    /// Log-likelihood ratio against the filler.
    pub llr: f32,
    /// First frame, and the one after the last.
    pub frames: (usize, usize),
}

/// All places of all phrases; of those of one phrase that overlap the likeliest.
pub fn sweep(scores: &Scores, filler: &Filler, network: &PhraseNetwork) -> Vec<Likely> {
    let PhraseNetwork { places, ends, .. } = network;
    let states = filler.states();
    let (mut outside, mut outside_next) = (vec![NEVER; states], vec![NEVER; states]);
    let (mut inside, mut inside_next) = (vec![NEVER; places.len()], vec![NEVER; places.len()]);
    // By place: the frame at which its best path began.
    let (mut begun, mut begun_next) = (vec![0; places.len()], vec![0; places.len()]);
    let mut found: Vec<Likely> = vec![];
    // By phrase: its last one found.
    let mut last = vec![usize::MAX; ends.iter().map(|(_, phrase)| phrase + 1).max().unwrap_or(0)];
    for (t, row) in filler.rows(&scores.rows).enumerate() {
        let into = if t == 0 { 0.0 } else { best(outside.iter().copied()).0 };
        places.advance(&inside, row, into, &mut inside_next, |k, from| {
            begun_next[k] = if from == START { t } else { begun[from] };
        });
        filler.advance(&outside, row, if t == 0 { 0.0 } else { NEVER }, &mut outside_next, |_, _| ());
        std::mem::swap(&mut outside, &mut outside_next);
        std::mem::swap(&mut inside, &mut inside_next);
        std::mem::swap(&mut begun, &mut begun_next);
        let without = best(outside.iter().copied()).0;
        for (end, phrase) in ends {
            let here = Likely { phrase: *phrase, llr: inside[*end] - without, frames: (begun[*end], t + 1) };
            if here.llr < HOPELESS {
                continue;
            }
            match found.get_mut(last[*phrase]) {
                Some(before) if here.frames.0 < before.frames.1 => {
                    // Of equally likely ones the longest: the last phone goes on for as long as it is heard.
                    if here.llr >= before.llr {
                        *before = here;
                    }
                }
                _ => {
                    last[*phrase] = found.len();
                    found.push(here);
                }
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::acoustic::phones::{Phones, SILENCE};

    #[test]
    fn every_place_of_a_phrase_is_found_and_none_where_it_is_not() {
        let follows = ["A", "B", "C"].iter().flat_map(|p| ["A", "B", "C"].map(|q| format!("{p} {q} 1.1\n")));
        let filler = format!("# 1 1 1\n^ A 0.4\n^ B 1.1\n^ C 1.9\n{}", follows.collect::<String>());
        let phones = Phones::parse("SIL 0\nSPN 1\nA 2\nB 3\nC 4\n", "", &filler).unwrap();
        // Two frames each of these, each far likelier than the rest.
        let said = [SILENCE, 2, 3, SILENCE, 4, SILENCE, 2, 3, 4, SILENCE];
        let row = |phone: &usize| (0..10).map(|k| if k / 2 == *phone { 0.0 } else { -20.0 }).collect::<Vec<f32>>();
        let rows = said.iter().flat_map(|p| [row(p), row(p)].concat()).collect();
        let scores = Scores { rows, level: vec![0.0; 2 * said.len()] };
        let phrases = [vec![2, 3], vec![4], vec![3, 2]].map(|pronunciation| vec![vec![pronunciation.into()]]);
        let found = sweep(&scores, &Filler::new(&phones), &PhraseNetwork::new(&phrases, |_| false, &[]));
        let places = |phrase: usize| {
            let here = found.iter().filter(|l| l.phrase == phrase && l.llr > 0.0);
            here.map(|l| l.frames).collect::<Vec<_>>()
        };
        assert_eq!(places(0), [(2, 6), (12, 16)]);
        assert_eq!(places(1), [(8, 10), (16, 18)]);
        assert_eq!(places(2), []);
    }
}
