//! Alignments against the reference library: cost and fitness of every stored case, which `tests/reference/alignments.py`
//! computed with pm4py 2.7.23 and can compute again.

use crate::figure;
use serde::Deserialize;
use std::time::Instant;
use stepbell::authoring;
use stepbell::review::{align, align_so_far};
use stepbell::section::{Choice, Section, Step};

#[derive(Deserialize)]
struct Case {
    name: String,
    steps: Vec<CaseStep>,
    choices: Vec<CaseChoice>,
    trace: Vec<String>,
    cost: u32,
    fitness: f64,
}

#[derive(Deserialize)]
struct CaseStep {
    say: Vec<String>,
    after: Vec<usize>,
    optional: bool,
}

#[derive(Deserialize)]
struct CaseChoice {
    of: Vec<usize>,
    at_least: usize,
}

/// A section with nothing but steps and choices.
fn section(case: &Case) -> Section {
    let text = "id = 'x'\ntitle = 'x'\ntrade = 'x'\nboard = 'x'\nedition = '2026-03-01'\nsource = 'x'\nfinish = ['done']\n\
                [reading]\nsentences = ['x']\nagain = 'x'\nbegin = 'x'\n[clock]\nstop = 'x'\n[[step]]\nid = 's'\ntitle = 's'\nsay = ['s']\n";
    let mut section = authoring::read(text).0.unwrap();
    let one = section.steps[0].clone();
    let step = |(place, s): (usize, &CaseStep)| Step {
        id: place.to_string(),
        say: s.say.clone(),
        after: s.after.clone(),
        optional: s.optional,
        ..one.clone()
    };
    section.steps = case.steps.iter().enumerate().map(step).collect();
    section.choices =
        case.choices.iter().map(|c| Choice { title: String::new(), of: c.of.clone(), at_least: c.at_least }).collect();
    section
}

#[test]
fn alignments_cost_what_the_reference_library_says() {
    let text = std::fs::read_to_string("tests/data/alignments.jsonl").unwrap();
    let cases: Vec<Case> = text.lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    let sections: Vec<Section> = cases.iter().map(section).collect();
    let mut equal = 0;
    let began = Instant::now();
    let found: Vec<_> = cases
        .iter()
        .zip(&sections)
        .map(|(case, section)| align(section, &case.trace.iter().map(String::as_str).collect::<Vec<_>>()))
        .collect();
    let seconds = began.elapsed().as_secs_f64();
    for ((case, section), ours) in cases.iter().zip(&sections).zip(&found) {
        let fitness = ours.fitness(section, case.trace.len());
        let same = ours.cost == case.cost && (fitness - case.fitness).abs() < 1e-6;
        if !same {
            println!("{}: cost {} for {}, fitness {fitness} for {}", case.name, ours.cost, case.cost, case.fitness);
        }
        equal += usize::from(same);
    }
    println!("\nseconds|alignments|{seconds}");
    let value = format!("{equal} of {}", cases.len());
    figure(
        "alignments: cost and fitness equal to pm4py's",
        value,
        "all of over 2000",
        equal == cases.len() && equal > 2000,
    );
}

/// A run that goes on costs at most what it costs at its end, and never less as it grows.
#[test]
fn what_is_known_so_far_never_costs_more_than_the_whole() {
    let text = std::fs::read_to_string("tests/data/alignments.jsonl").unwrap();
    for case in text.lines().step_by(20).map(|l| serde_json::from_str::<Case>(l).unwrap()) {
        let section = section(&case);
        let says: Vec<&str> = case.trace.iter().map(String::as_str).collect();
        let mut last = 0;
        for n in 0..=says.len() {
            let cost = align_so_far(&section, &says[..n]).cost;
            assert!(cost >= last && cost <= align(&section, &says[..n]).cost, "{}", case.name);
            last = cost;
        }
    }
}

/// Sizes at which it must stay interactive: 200 steps in a row with 2,000 callouts, and eight chains side by side.
#[test]
fn large_sections_are_explained() {
    let step = |say: String, after: Vec<usize>| CaseStep { say: vec![say], after, optional: false };
    let case = |steps, trace| Case { name: String::new(), steps, choices: vec![], trace, cost: 0, fitness: 0.0 };
    let line = (0..200).map(|k| step(format!("s{k}"), if k > 0 { vec![k - 1] } else { vec![] })).collect();
    let trace: Vec<String> = (0..2000).map(|k| format!("s{}", k / 10)).collect();
    let wide = (0..48).map(|k| step(format!("w{}", k % 12), if k >= 8 { vec![k - 8] } else { vec![] })).collect();
    let mixed: Vec<String> = (0..48).map(|k| format!("w{}", (k * 7) % 12)).collect();
    // Eight chains of five, each step with a callout of its own, in an order that has little to do with them.
    let chains = (0..40).map(|k| step(format!("c{k}"), if k >= 8 { vec![k - 8] } else { vec![] })).collect();
    let shuffled: Vec<String> = (0..40).map(|k| format!("c{}", (k * 23 + 11) % 40)).collect();
    for (name, case, cost) in [
        ("line of 200, 2000 callouts", case(line, trace), Some(1800)),
        ("width 8", case(wide, mixed), None),
        ("width 8, shuffled", case(chains, shuffled), None),
    ] {
        let section = section(&case);
        let began = Instant::now();
        let found = align(&section, &case.trace.iter().map(String::as_str).collect::<Vec<_>>());
        println!("\nseconds|{name}|{}", began.elapsed().as_secs_f64());
        assert!(cost.is_none_or(|c| c == found.cost), "{name}: {}", found.cost);
    }
}

/// Sections eight wide with cross ties, a start and an end for all, shared callouts, and runs with every fifth callout
/// moved or changed: the slowest of forty.
#[test]
fn wide_sections_with_cross_ties_are_explained() {
    let mut chance = 2_463_534_242u64;
    let mut random = |n: usize| {
        // xorshift64 (Marsaglia, J. Stat. Softw. 8 (2003)).
        chance ^= chance << 13;
        chance ^= chance >> 7;
        chance ^= chance << 17;
        (chance % n as u64) as usize
    };
    let mut slowest = 0f64;
    for _ in 0..40 {
        let mut steps = vec![CaseStep { say: vec!["start".into()], after: vec![], optional: false }];
        for k in 0..48 {
            let mut after = vec![if k < 8 { 0 } else { k - 7 }];
            if k >= 8 && random(4) == 0 {
                after.push(1 + (k / 8 - 1) * 8 + random(8));
            }
            steps.push(CaseStep { say: vec![format!("s{}", random(30))], after, optional: random(10) == 0 });
        }
        steps.push(CaseStep { say: vec!["end".into()], after: (41..49).collect(), optional: false });
        let mut trace: Vec<String> = steps.iter().map(|s| s.say[0].clone()).collect();
        for _ in 0..10 {
            let moved = trace.remove(random(trace.len()));
            match random(3) {
                0 => trace.insert(random(trace.len()), moved),
                1 => trace.insert(random(trace.len()), format!("s{}", random(30))),
                _ => {}
            }
        }
        let case = Case { name: String::new(), steps, choices: vec![], trace, cost: 0, fitness: 0.0 };
        let section = section(&case);
        let says: Vec<&str> = case.trace.iter().map(String::as_str).collect();
        let began = Instant::now();
        let found = align(&section, &says);
        slowest = slowest.max(began.elapsed().as_secs_f64());
        assert!(found.cost <= 20);
    }
    println!("\nseconds|width 8 with cross ties, slowest of 40|{slowest}");
}
