//! The posterior of a phrase in some frames: all its paths against all sequences of phones, which is what the network was trained
//! for (maximum mutual information: Bahl et al. 1986, from memory). The search looks at best paths, whose ratio says less
//! where many others are nearly as good.

use super::phones::{Phone, Phones, SILENCE, SPEECH};
use super::phrase::{PhoneGraph, Pronunciation, START, sayable};
use super::scores::{Scores, best};

/// The chance that a silence follows a phone.
const PAUSE: f64 = 0.1;
/// No output of the network is less likely than that, against a frame's best.
const LEAST: f64 = 1e-25;
/// ln of a posterior of 0, and the least that is given.
pub const NONE: f32 = -200.0;

/// The chance of one phone after another, silence among them.
pub struct PhoneLoop {
    /// The phones, silence first.
    live: Vec<Phone>,
    /// Row p, column q: of q after p, by place in `live`.
    after: Vec<f64>,
    /// Of each at the beginning.
    first: Vec<f64>,
    /// Scores of a frame: two for each phone.
    width: usize,
}

impl PhoneLoop {
    /// By the phones' costs in ordinary words.
    pub fn new(phones: &Phones) -> PhoneLoop {
        let n = phones.names.len();
        let live = phones.live();
        let chance = |p: Option<Phone>, q: Phone| match (p, q) {
            (Some(SILENCE), SILENCE) => 0.0,
            (None, SILENCE) => 0.5,
            (Some(_), SILENCE) => PAUSE,
            (None, q) => 0.5 * (-phones.follow(None, q)).exp(),
            (Some(SILENCE), q) => (-phones.follow(None, q)).exp(),
            (Some(p), q) => (1.0 - PAUSE) * (-phones.follow(Some(p), q)).exp(),
        };
        let after = live.iter().flat_map(|p| live.iter().map(|q| chance(Some(*p), *q))).collect();
        let first = live.iter().map(|q| chance(None, *q)).collect();
        PhoneLoop { live, after, first, width: 2 * n }
    }

    fn place(&self, phone: Phone) -> usize {
        if phone == SILENCE { 0 } else { phone - SPEECH + 1 }
    }

    fn chance(&self, from: Option<Phone>, to: Phone) -> f64 {
        let to = self.place(to);
        from.map_or(self.first[to], |p| self.after[self.place(p) * self.live.len() + to])
    }

    /// Of each output, against the likeliest of the frame.
    fn likelihoods(&self, row: &[f32]) -> Vec<f64> {
        let top = best(row.iter().copied()).0;
        row.iter().map(|x| f64::from(x - top).exp().max(LEAST)).collect()
    }

    /// ln of the sum over all sequences of phones, less what the frames' likeliest outputs give.
    fn log_denominator(&self, rows: &[Vec<f64>]) -> f64 {
        let states = self.live.len();
        let mut values: Vec<f64> = vec![];
        let mut sum = 0.0;
        for row in rows {
            let next = |(k, q): (usize, &Phone)| {
                let (enter, stay) = (row[2 * q], row[2 * q + 1]);
                if values.is_empty() {
                    return self.first[k] * enter;
                }
                let into: f64 = values.iter().enumerate().map(|(p, v)| v * self.after[p * states + k]).sum();
                into * enter + values[k] * stay
            };
            values = self.live.iter().enumerate().map(next).collect();
            sum += normal(&mut values);
        }
        sum
    }

    /// The same over a phrase's paths.
    fn log_numerator(&self, rows: &[Vec<f64>], words: &[Vec<Pronunciation>]) -> f64 {
        let (places, ends) = PhoneGraph::of(words);
        let phones: Vec<Phone> = places.iter().map(|(phone, _)| phone).collect();
        // By place: those that can come before it, none for the beginning, and its chance behind each.
        type Before = Vec<(Option<usize>, f64)>;
        let chances = |(phone, before): (Phone, &[(usize, f32)])| -> Before {
            let from = |b: usize| (b != START).then_some(b);
            before.iter().map(|(b, _)| (from(*b), self.chance(from(*b).map(|b| phones[b]), phone))).collect()
        };
        let into: Vec<Before> = places.iter().map(chances).collect();
        let dear: Vec<f64> = places.dear().iter().map(|cost| (-f64::from(*cost)).exp()).collect();
        let mut values: Vec<f64> = vec![];
        let mut sum = 0.0;
        for row in rows {
            let next = |(k, (phone, before)): (usize, (&Phone, &Before))| {
                let (enter, stay) = (row[2 * phone], row[2 * phone + 1]);
                let from = |(b, chance): &(Option<usize>, f64)| match (b, values.is_empty()) {
                    (None, true) => *chance,
                    (Some(b), false) => values[*b] * chance,
                    _ => 0.0,
                };
                let into: f64 = before.iter().map(from).sum::<f64>() * dear[k];
                into * enter + values.get(k).map_or(0.0, |v| v * stay)
            };
            values = phones.iter().zip(&into).enumerate().map(next).collect();
            sum += normal(&mut values);
        }
        let ended: f64 = ends.iter().filter_map(|e| values.get(*e)).sum();
        sum + ended.max(f64::MIN_POSITIVE).ln()
    }

    /// ln of the posterior, at most 0, of each of some phrases in some frames: given as the pronunciations of each of its words. [`NONE`] for one with a
    /// word without a pronunciation.
    pub fn log_posteriors<'a>(
        &self,
        scores: &Scores,
        phrases: impl IntoIterator<Item = &'a [Vec<Pronunciation>]>,
    ) -> Vec<f32> {
        let rows: Vec<Vec<f64>> = scores.rows.chunks_exact(self.width).map(|row| self.likelihoods(row)).collect();
        let all = self.log_denominator(&rows);
        let posterior = |words: &[Vec<Pronunciation>]| ((self.log_numerator(&rows, words) - all) as f32).max(NONE);
        phrases.into_iter().map(|words| if sayable(words) { posterior(words) } else { NONE }).collect()
    }
}

/// Makes their sum 1, and gives the logarithm of what it was.
fn normal(values: &mut [f64]) -> f64 {
    let sum = values.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    values.iter_mut().for_each(|v| *v /= sum);
    sum.ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::acoustic::phrase::Substitution;

    /// Silence, noise and two phones of speech; B follows A twice as often as A follows itself.
    fn phones() -> Phones {
        let filler = "# 1 1 1\n^ A 0.4\n^ B 1.1\nA A 1.0986\nA B 0.4055\nB A 0.2231\nB B 1.6094\n";
        Phones::parse("SIL 0\nSPN 1\nA 2\nB 3\n", "", filler).unwrap()
    }

    /// Four frames of scores with no pattern in them.
    fn scores() -> Scores {
        Scores { rows: (0..4 * 8).map(|k| ((k * k * 37 + k * 11) % 23) as f32 / 4.0).collect(), level: vec![0.0; 4] }
    }

    /// Every way to go through the frames: the phones entered, and the likelihood.
    fn listed(chances: &PhoneLoop, rows: &[Vec<f64>]) -> Vec<(Vec<Phone>, f64)> {
        let mut open: Vec<(Vec<Phone>, f64)> = vec![(vec![], 1.0)];
        for row in rows {
            let on = |(said, value): &(Vec<Phone>, f64)| {
                let last = said.last().copied();
                let enter = chances.live.iter().map(move |q| (Some(*q), chances.chance(last, *q) * row[2 * q]));
                let stay = last.map(|p| (None, row[2 * p + 1]));
                let (said, value) = (said.clone(), *value);
                enter
                    .chain(stay)
                    .map(move |(q, x)| (said.iter().copied().chain(q).collect(), value * x))
                    .collect::<Vec<_>>()
            };
            open = open.iter().flat_map(on).collect();
        }
        open
    }

    #[test]
    fn the_posterior_is_that_of_all_paths_listed() {
        let phone_loop = PhoneLoop::new(&phones());
        let scores = scores();
        let rows: Vec<Vec<f64>> = scores.rows.chunks(8).map(|row| phone_loop.likelihoods(row)).collect();
        let listed = listed(&phone_loop, &rows);
        assert!(listed.len() > 100);
        let sum = |goodness: &dyn Fn(&[Phone]) -> bool| {
            listed.iter().filter(|(said, _)| goodness(said)).map(|(_, x)| x).sum::<f64>()
        };
        let all = sum(&|_| true);
        let (a, b) = (2, 3);
        // One word in two pronunciations; then two words, between which a silence may stand.
        let one = [vec![vec![a, b].into(), vec![b].into()]];
        let two = [vec![vec![a].into()], vec![vec![b].into()]];
        let posteriors = phone_loop.log_posteriors(&scores, [&one[..], &two[..]]);
        let expected = [
            sum(&|said| said == [a, b] || said == [b]) / all,
            sum(&|said| said == [a, b] || said == [a, SILENCE, b]) / all,
        ];
        for (posterior, expected) in posteriors.iter().zip(expected) {
            assert!(
                expected > 0.0 && (f64::from(*posterior) - expected.ln()).abs() < 1e-5,
                "{posterior} {}",
                expected.ln()
            );
        }
    }

    /// What is said in the place of a phone has its own paths, as much less likely as it costs.
    #[test]
    fn a_substitution_costs_what_it_costs() {
        let (phone_loop, scores) = (PhoneLoop::new(&phones()), scores());
        let rows: Vec<Vec<f64>> = scores.rows.chunks(8).map(|row| phone_loop.likelihoods(row)).collect();
        let listed = listed(&phone_loop, &rows);
        let sum = |said: &[Phone]| listed.iter().filter(|(s, _)| s == said).map(|(_, x)| x).sum::<f64>();
        let all = listed.iter().map(|(_, x)| x).sum::<f64>();
        let (a, b) = (2, 3);
        // A B, with B A in the place of B, or B dropped.
        let substitutions = [(1, 1, vec![b, a], 0.7), (0, 2, vec![a], 1.3)];
        let substitutions = substitutions.map(|(at, of, said, cost)| Substitution { at, of, said, cost }).to_vec();
        let phrase = [vec![Pronunciation { phones: vec![a, b], substitutions }]];
        let expected = sum(&[a, b]) + sum(&[a, b, a]) * (-0.7f64).exp() + sum(&[a]) * (-1.3f64).exp();
        let posterior = f64::from(phone_loop.log_posteriors(&scores, [&phrase[..]])[0]);
        assert!((posterior - (expected / all).ln()).abs() < 1e-5, "{posterior} {}", (expected / all).ln());
    }

    #[test]
    fn a_phrase_longer_than_the_frames_and_one_that_nobody_can_say_have_no_posterior() {
        let (long, unsayable) = ([vec![vec![2, 3, 2, 3, 2, 3].into()]], [vec![vec![2].into()], vec![]]);
        assert_eq!(PhoneLoop::new(&phones()).log_posteriors(&scores(), [&long[..], &unsayable[..]]), [NONE; 2]);
    }
}
