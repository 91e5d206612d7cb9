//! The recogniser's graph, written for a given set of words: so a section may use words that the model's own graph lacks. A port of the
//! graph step of `models/recipe/make_vosk_model.py`, to the byte (a test compares); how the files are laid out is told there.

use super::phones::{Phone, Phones, SILENCE, SPEECH};
use std::collections::{BTreeMap, BTreeSet};

/// The word for anything else.
const UNKNOWN: &str = crate::words::FILLER;
/// OpenFst's number at the head of a file, and that of a table added to one.
const FST: i32 = 2_125_659_606;
const ADDED: i32 = 446_681_434;
/// Chance of a silence between two words, and of the end after a word in the plain language model.
const SIL_PROB: f64 = 0.5;
const END_PROB: f64 = 0.1;

/// The files of a graph folder that depend on the words.
pub struct Graph {
    /// HCLr.fst: phones to words, with the table that lets libvosk look ahead.
    pub hclr: Vec<u8>,
    /// Gr.fst: the plain language model; every word is as likely as any other.
    pub gr: Vec<u8>,
    /// words.txt: the words by number.
    pub words: String,
}

#[derive(Clone, Copy)]
struct Arc {
    from: i32,
    input: i32,
    output: i32,
    cost: f32,
    to: i32,
}

/// Number of a phone in a position of its word: silence is 1, then each has begin, end, inside and alone.
fn number(phone: Phone, position: i32) -> i32 {
    2 + (phone as i32 - 1) * 4 + position
}

const BEGIN: i32 = 0;
const END: i32 = 1;
const INSIDE: i32 = 2;
const ALONE: i32 = 3;

fn stay(id: i32) -> i32 {
    2 * id - 1
}

fn leave(id: i32) -> i32 {
    2 * id
}

/// A node of the tree of pronunciations.
#[derive(Default)]
struct Node {
    children: Vec<(i32, usize)>,
    phone: i32,
    leaves: Vec<i32>,
    /// The one word below it; -1 where there are several, -2 where there is none yet.
    only: i32,
}

/// Write the graph for these words, each with its pronunciations; `costs`: of entering filler, of each of its phones, and
/// the weight of how unlikely one phone follows another.
pub fn graph(words: &BTreeMap<String, Vec<Vec<Phone>>>, phones: &Phones, costs: (f64, f64, f64)) -> Graph {
    // As the recipe sorts them: by word, then by the phones' names.
    let mut entries: BTreeSet<(&str, Vec<&str>, Vec<Phone>)> = BTreeSet::new();
    for (word, pronunciations) in words.iter().filter(|(w, _)| *w != UNKNOWN) {
        for pronunciation in pronunciations {
            entries.insert((
                word,
                pronunciation.iter().map(|p| phones.names[*p].as_str()).collect(),
                pronunciation.clone(),
            ));
        }
    }
    entries.insert((UNKNOWN, vec!["SPN"], vec![SPEECH - 1]));
    let names: Vec<&str> = entries.iter().map(|e| e.0).collect::<BTreeSet<_>>().into_iter().collect();
    let id: BTreeMap<&str, i32> = names.iter().zip(1..).map(|(n, k)| (*n, k)).collect();
    let pronunciations: Vec<(i32, &Vec<Phone>)> = entries.iter().map(|(w, _, p)| (id[w], p)).collect();
    let (arcs, states) = lexicon(&pronunciations, id[UNKNOWN], phones, costs);
    let (hclr, relabelled) = lookahead(&arcs, states);
    let mut by_number: Vec<(i32, &str)> = id.iter().map(|(n, k)| (relabelled[k], *n)).collect();
    by_number.sort_unstable();
    let words =
        std::iter::once("<eps> 0\n".to_string()).chain(by_number.iter().map(|(k, n)| format!("{n} {k}\n"))).collect();
    let share = -(1.0 / (names.len() - 1) as f64 * (1.0 - END_PROB)).ln();
    let plain: Vec<Arc> = names
        .iter()
        .filter(|n| **n != UNKNOWN)
        .map(|n| relabelled[&id[n]])
        .map(|k| Arc { from: 0, input: k, output: k, cost: share as f32, to: 0 })
        .collect();
    let gr = const_fst(1, 0, &plain, &[-(END_PROB.ln()) as f32], true).0;
    Graph { hclr, gr, words }
}

/// The tree of pronunciations with optional silence, and the filler beside it; gives arcs and the number of states.
fn lexicon(entries: &[(i32, &Vec<Phone>)], unknown: i32, phones: &Phones, costs: (f64, f64, f64)) -> (Vec<Arc>, i32) {
    let mut nodes = vec![Node { only: -2, ..Node::default() }];
    for (word, pron) in entries {
        let mut at = 0;
        for (k, phone) in pron.iter().enumerate() {
            let position = match (k, pron.len() - 1) {
                (0, 0) => ALONE,
                (0, _) => BEGIN,
                (k, last) if k == last => END,
                _ => INSIDE,
            };
            let phone = number(*phone, position);
            let child = nodes[at].children.iter().find(|(p, _)| *p == phone).map(|(_, c)| *c);
            at = child.unwrap_or_else(|| {
                let new = nodes.len();
                nodes[at].children.push((phone, new));
                nodes.push(Node { phone, only: -2, ..Node::default() });
                new
            });
            let only = nodes[at].only;
            nodes[at].only = if only == -2 || only == *word { *word } else { -1 };
        }
        if !nodes[at].leaves.contains(word) {
            nodes[at].leaves.push(*word);
        }
    }
    let mut arcs = vec![];
    let mut arc = |from: usize, input: i32, output: i32, cost: f64, to: usize| {
        arcs.push(Arc { from: from as i32, input, output, cost: cost as f32, to: to as i32 });
    };
    let silence = SILENCE as i32 + 1;
    arc(0, 0, 0, -(1.0 - SIL_PROB).ln(), 1);
    arc(0, leave(silence), 0, -SIL_PROB.ln(), 2);
    arc(2, stay(silence), 0, 0.0, 2);
    arc(2, 0, 0, 0.0, 1);
    let state = |node: usize| if node == 0 { 1 } else { node + 2 };
    let mut stack = vec![(0, false)];
    while let Some((at, done)) = stack.pop() {
        let node = &nodes[at];
        if at > 0 {
            arc(state(at), stay(node.phone), 0, 0.0, state(at));
            if !node.leaves.is_empty() && done {
                arc(state(at), 0, 0, 0.0, 0);
            } else {
                node.leaves.iter().for_each(|word| arc(state(at), 0, *word, 0.0, 0));
            }
        }
        for (phone, child) in &node.children {
            let only = nodes[*child].only;
            let emit = !done && only >= 0;
            arc(state(at), leave(*phone), if emit { only } else { 0 }, 0.0, state(*child));
            stack.push((*child, done || emit));
        }
    }
    let (entry, each, scale) = costs;
    let speech: Vec<Phone> = (SPEECH..phones.names.len()).collect();
    let base = nodes.len() + 2;
    let order = [BEGIN, INSIDE, END];
    let place = |position: usize, p: Phone| base + position * speech.len() + (p - SPEECH);
    for (k, position) in order.iter().enumerate() {
        for p in &speech {
            arc(place(k, *p), stay(number(*p, *position)), 0, 0.0, place(k, *p));
        }
    }
    for &p in &speech {
        let first = entry + each + scale * phones.follow(None, p);
        arc(1, leave(number(p, BEGIN)), unknown, first, place(0, p));
        arc(place(2, p), 0, 0, 0.0, 0);
        for from in [0, 1] {
            for &q in &speech {
                let cost = each + scale * phones.follow(Some(p), q);
                arc(place(from, p), leave(number(q, INSIDE)), 0, cost, place(1, q));
                arc(place(from, p), leave(number(q, END)), 0, cost, place(2, q));
            }
        }
    }
    (arcs, (base + 3 * speech.len()) as i32)
}

/// OpenFst's const form, arcs sorted by input or output label.
fn const_fst(states: i32, start: i64, arcs: &[Arc], finals: &[f32], by_input: bool) -> (Vec<u8>, Vec<Arc>) {
    let mut sorted = arcs.to_vec();
    sorted.sort_by_key(|a| (a.from, if by_input { a.input } else { a.output }, a.to));
    let acceptor = arcs.iter().all(|a| a.input == a.output);
    let properties =
        0x1u64 | if acceptor { 0x1_0000 } else { 0x2_0000 } | if by_input { 0x1000_0000 } else { 0x4000_0000 };
    let mut out = header("const", 2, properties, start, i64::from(states), arcs.len() as i64);
    let mut at = 0u32;
    let mut rest = sorted.as_slice();
    for state in 0..states {
        let (own, others) = rest.split_at(rest.iter().take_while(|a| a.from == state).count());
        rest = others;
        out.extend(finals[state as usize].to_le_bytes());
        let count = |f: &dyn Fn(&&Arc) -> bool| own.iter().filter(f).count() as u32;
        for number in [at, own.len() as u32, count(&|a| a.input == 0), count(&|a| a.output == 0)] {
            out.extend(number.to_le_bytes());
        }
        at += own.len() as u32;
    }
    for arc in &sorted {
        out.extend(arc.input.to_le_bytes());
        out.extend(arc.output.to_le_bytes());
        out.extend(arc.cost.to_le_bytes());
        out.extend(arc.to.to_le_bytes());
    }
    (out, sorted)
}

fn header(kind: &str, version: i32, properties: u64, start: i64, states: i64, arcs: i64) -> Vec<u8> {
    let mut out = FST.to_le_bytes().to_vec();
    for text in [kind, "standard"] {
        out.extend((text.len() as i32).to_le_bytes());
        out.extend(text.as_bytes());
    }
    out.extend(version.to_le_bytes());
    out.extend(0i32.to_le_bytes());
    out.extend(properties.to_le_bytes());
    [start, states, arcs].iter().for_each(|n| out.extend(n.to_le_bytes()));
    out
}

/// Half-open spans of labels, in order and joined.
fn joined(mut spans: Vec<(i32, i32)>) -> Vec<(i32, i32)> {
    spans.sort_unstable();
    let mut out: Vec<(i32, i32)> = vec![];
    for (a, b) in spans {
        match out.last_mut() {
            Some(last) if a <= last.1 => last.1 = last.1.max(b),
            _ => out.push((a, b)),
        }
    }
    out
}

/// Words numbered in the order of a walk through the graph, and for every state the words that can be reached from it without
/// passing another: what libvosk's look-ahead needs. Gives the file and the new number of each word.
fn lookahead(arcs: &[Arc], states: i32) -> (Vec<u8>, BTreeMap<i32, i32>) {
    let count = states as usize;
    let mut sorted = arcs.to_vec();
    sorted.sort_by_key(|a| (a.from, a.input, a.to));
    let bounds = |arcs: &[Arc]| (0..=states).map(|s| arcs.partition_point(|a| a.from < s)).collect::<Vec<_>>();
    let ptr = bounds(&sorted);
    let (mut number, mut seen, mut stack) = (BTreeMap::new(), vec![false; count], vec![0usize]);
    while let Some(at) = stack.pop() {
        if std::mem::replace(&mut seen[at], true) {
            continue;
        }
        let own = &sorted[ptr[at]..ptr[at + 1]];
        for arc in own.iter().filter(|a| a.output > 0) {
            let next = number.len() as i32 + 1;
            number.entry(arc.output).or_insert(next);
        }
        stack.extend(own.iter().rev().map(|a| a.to as usize).filter(|s| !seen[*s]));
    }
    let last = number.len() as i32 + 1;
    let new = |output: i32| if output > 0 { number[&output] } else { 0 };
    let quiet: Vec<Arc> = sorted.iter().copied().filter(|a| a.output == 0 && a.from != a.to).collect();
    let quiet_ptr = bounds(&quiet);
    let mut backwards = vec![vec![]; count];
    quiet.iter().for_each(|a| backwards[a.to as usize].push(a.from as usize));
    let forward = |s: usize| quiet[quiet_ptr[s]..quiet_ptr[s + 1]].iter().map(|a| a.to as usize).collect::<Vec<_>>();
    let reach = |next: &dyn Fn(usize) -> Vec<usize>| {
        let (mut reached, mut queue) = (vec![false; count], vec![0]);
        reached[0] = true;
        while let Some(at) = queue.pop() {
            for to in next(at) {
                if !std::mem::replace(&mut reached[to], true) {
                    queue.push(to);
                }
            }
        }
        reached
    };
    let (from_junction, to_junction) = (reach(&forward), reach(&|s| backwards[s].clone()));
    let mut own: Vec<Vec<(i32, i32)>> = vec![vec![]; count];
    for arc in sorted.iter().filter(|a| a.output > 0) {
        own[arc.from as usize].push((new(arc.output), new(arc.output) + 1));
    }
    own[1].push((last, last + 1));
    let all = joined((0..count).filter(|s| from_junction[*s]).flat_map(|s| own[s].clone()).collect());
    let mut sets: Vec<Option<Vec<(i32, i32)>>> = (0..count).map(|s| to_junction[s].then(|| all.clone())).collect();
    for root in 0..count {
        let mut stack = vec![root];
        while let Some(&at) = stack.last() {
            if sets[at].is_some() {
                stack.pop();
                continue;
            }
            let next = forward(at);
            let open: Vec<usize> = next.iter().copied().filter(|s| sets[*s].is_none()).collect();
            if open.is_empty() {
                let spans = next.iter().flat_map(|s| sets[*s].clone().unwrap_or_default()).chain(own[at].clone());
                sets[at] = Some(joined(spans.collect()));
                stack.pop();
            } else {
                stack.extend(open);
            }
        }
    }
    let relabelled: Vec<Arc> = arcs.iter().map(|a| Arc { output: new(a.output), ..*a }).collect();
    let mut finals = vec![f32::INFINITY; count];
    finals[1] = 0.0;
    let mut out = header("olabel_lookahead", 1, 0x4002_0001, -1, 0, 0);
    out.extend(ADDED.to_le_bytes());
    out.extend(const_fst(states, 0, &relabelled, &finals, false).0);
    out.extend([1, 0, 1, 0, 0]);
    out.extend(last.to_le_bytes());
    out.extend(i64::from(states).to_le_bytes());
    for set in sets.into_iter().map(Option::unwrap_or_default) {
        out.extend((set.len() as i64).to_le_bytes());
        for (a, b) in &set {
            out.extend(a.to_le_bytes());
            out.extend(b.to_le_bytes());
        }
        out.extend(set.iter().map(|(a, b)| b - a).sum::<i32>().to_le_bytes());
    }
    (out, number)
}
