//! Whether runs of a section can be explained in bounded time, tried on made-up runs that are hard to explain.

use super::align::{align, by_pieces};
use super::search::Search;
use crate::section::{Done, Order, Section};
use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng;

/// The made-up runs: what is done to an allowed one.
#[derive(Clone, Copy)]
enum Made {
    /// Every second callout is left out.
    Halved,
    /// Every third callout stands elsewhere.
    Moved,
    /// Every third callout comes once more, elsewhere.
    Doubled,
    /// No order at all.
    Shuffled,
}

/// Whether the cheapest explanation of made-up runs of `section` is found, of each as a whole and while it goes on.
pub fn explainable(section: &Section) -> bool {
    let mut chance = Pcg64::new(1, 0x0a02_bdbf_7bb3_c0a7_ac28_fa16_a64a_bf96);
    [Made::Halved, Made::Moved, Made::Halved, Made::Doubled, Made::Shuffled].into_iter().all(|made| {
        let run = run(section, made, &mut chance);
        let says: Vec<&str> = run.iter().map(String::as_str).collect();
        [true, false].into_iter().all(|whole| {
            by_pieces(section, &Search::new(section, &says, whole), whole).cheapest
                || (whole && align(section, &says).cheapest)
        })
    })
}

fn below(chance: &mut Pcg64, most: usize) -> usize {
    (chance.next_u64() % most.max(1) as u64) as usize
}

fn run(section: &Section, made: Made, chance: &mut Pcg64) -> Vec<String> {
    let order = Order::of(section);
    let (mut done, mut says) = (Done::default(), vec![]);
    loop {
        let ready: Vec<usize> = (0..order.len()).filter(|&s| order.may_follow(&done, s)).collect();
        let Some(&step) = ready.get(below(chance, ready.len())) else { break };
        done = done.with(step);
        let say = &section.steps[step].say;
        says.extend(say.get(below(chance, say.len())).cloned());
    }
    match made {
        Made::Halved => says.retain(|_| below(chance, 2) == 0),
        Made::Moved | Made::Doubled => {
            for _ in 0..says.len() / 3 {
                let at = below(chance, says.len());
                let say = if let Made::Moved = made { says.remove(at) } else { says[at].clone() };
                says.insert(below(chance, says.len() + 1), say);
            }
        }
        Made::Shuffled => (1..says.len()).rev().for_each(|k| says.swap(k, below(chance, k + 1))),
    }
    says
}

/// Callouts that several steps share between which there is no order, most shared first: what makes runs hard to explain.
pub fn shared_without_order(section: &Section) -> Vec<(String, usize)> {
    let far = Order::of(section).all_before();
    let mut says: Vec<&String> = section.steps.iter().flat_map(|s| &s.say).collect();
    says.sort_unstable();
    says.dedup();
    let free = |say: &String| {
        let steps: Vec<usize> = (0..section.steps.len()).filter(|&s| section.steps[s].say.contains(say)).collect();
        steps.iter().filter(|&&a| steps.iter().any(|&b| a != b && !far[a].has(b) && !far[b].has(a))).count()
    };
    let mut shared: Vec<(String, usize)> =
        says.into_iter().map(|say| (say.clone(), free(say))).filter(|(_, n)| *n > 1).collect();
    shared.sort_by_key(|(_, n)| std::cmp::Reverse(*n));
    shared
}
