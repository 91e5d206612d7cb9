//! Alignments against the reference library: cost and fitness of every stored case, which `tests/reference/alignments.py`
//! computed with pm4py 2.7.23 and can compute again; and our two ways of finding them against each other.

use crate::figure;
use serde::Deserialize;
use std::time::Instant;
use stepbell::authoring;
use stepbell::review::{Alignment, Move, align, align_both_ways, align_so_far, explainable};
use stepbell::section::{Choice, Done, Order, Section, Step};

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

/// What the moves of an explanation cost, each held against the order and the run.
fn cost_of(section: &Section, says: &[&str], found: &Alignment, whole: bool) -> u32 {
    let order = Order::of(section);
    let (mut done, mut at, mut cost) = (Done::default(), 0, 0);
    let mut passed = vec![0; section.choices.len()];
    for step_move in &found.moves {
        match *step_move {
            Move::Called { step, event } => {
                assert!(event == at && order.may_follow(&done, step));
                assert!(section.steps[step].say.iter().any(|say| say == says[event]));
                (done, at) = (done.with(step), at + 1);
            }
            Move::Extra(event) => {
                assert_eq!(event, at);
                (at, cost) = (at + 1, cost + 1);
            }
            Move::Skip(step) => {
                assert!(order.may_follow(&done, step));
                done = done.with(step);
                cost += match section.choice_of(step) {
                    Some(choice) => {
                        passed[choice] += 1;
                        let of = &section.choices[choice];
                        u32::from(passed[choice] > of.of.len() - of.at_least)
                    }
                    None => u32::from(!section.steps[step].optional),
                };
            }
        }
    }
    assert!(at == says.len() && done == found.done && (!whole || done.len() == section.steps.len()));
    cost
}

fn cases(file: &str) -> Vec<Case> {
    let text = std::fs::read_to_string(file).unwrap();
    text.lines().map(|l| serde_json::from_str(l).unwrap()).collect()
}

/// Seconds that this thread was on a processor, which is what the reference is measured by, too.
fn on_processor() -> f64 {
    let spent = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    spent.tv_sec as f64 + spent.tv_nsec as f64 / 1e9
}

/// Sections up to 24 steps wide, with cross ties, choices and shared callouts: the cost is pm4py's.
#[test]
fn wide_alignments_cost_what_the_reference_library_says() {
    let cases = cases("tests/data/wide.jsonl");
    let mut equal = 0;
    for case in &cases {
        let section = section(case);
        let says: Vec<&str> = case.trace.iter().map(String::as_str).collect();
        let began = on_processor();
        let found = align(&section, &says);
        let took = on_processor() - began;
        println!("\nseconds|{}|{took}", case.name);
        assert_eq!(cost_of(&section, &says, &found, true), found.cost, "{}", case.name);
        equal += usize::from(found.cost == case.cost && found.cheapest);
        if found.cost != case.cost || !found.cheapest {
            println!("{}: cost {} for {}, cheapest {}", case.name, found.cost, case.cost, found.cheapest);
        }
    }
    let value = format!("{equal} of {}", cases.len());
    figure("wide alignments: cost equal to pm4py's", value, "all of over 80", equal == cases.len() && equal > 80);
}

/// The search state by state and the flows find explanations that cost the same, of whole runs and of runs that go on.
#[test]
fn two_ways_of_explaining_a_run_agree() {
    for case in cases("tests/data/alignments.jsonl").iter().step_by(5) {
        let section = section(case);
        let says: Vec<&str> = case.trace.iter().map(String::as_str).collect();
        for whole in [true, false] {
            let (search, flows) = align_both_ways(&section, &says, whole, usize::MAX);
            let search = search.unwrap();
            assert!(search.cost == flows.cost && flows.cheapest, "{}: {} and {}", case.name, search.cost, flows.cost);
            assert_eq!(cost_of(&section, &says, &search, whole), search.cost, "{}", case.name);
            assert_eq!(cost_of(&section, &says, &flows, whole), flows.cost, "{}", case.name);
        }
    }
}

/// Steps that come directly after each other are explained alike in both ways, too; the reference has no such steps.
#[test]
fn steps_directly_after_each_other_are_explained_alike() {
    for seed in 0..60 {
        let turns = 2 + seed % 5;
        let step = |k: usize| CaseStep {
            say: vec![if seed % 3 == 0 { format!("{}", k % 3) } else { format!("{k}") }],
            after: vec![],
            optional: k % 7 == 6,
        };
        let trace = (0..turns * 3).map(|k| format!("{}", (k * (seed + 2)) % (turns * 3)));
        let trace = trace
            .map(|say| if seed % 3 == 0 { format!("{}", say.len() + say.as_bytes()[0] as usize % 3 - 1) } else { say });
        let case = Case {
            name: String::new(),
            steps: (0..turns * 3).map(step).collect(),
            choices: vec![],
            trace: trace.collect(),
            cost: 0,
            fitness: 0.0,
        };
        let mut section = section(&case);
        for (place, step) in section.steps.iter_mut().enumerate() {
            step.directly_after = (place % 3 > 0).then(|| place - 1);
        }
        let says: Vec<&str> = case.trace.iter().map(String::as_str).collect();
        for whole in [true, false] {
            let (search, flows) = align_both_ways(&section, &says, whole, usize::MAX);
            assert!(flows.cheapest);
            assert_eq!(search.unwrap().cost, flows.cost, "{seed} {whole}");
            assert_eq!(cost_of(&section, &says, &flows, whole), flows.cost, "{seed} {whole}");
        }
    }
}

/// Many steps that share callouts, have no order and are not alike: a run can be too much, and then it says so.
#[test]
fn what_cannot_be_settled_is_said() {
    let mut chance = 7u64;
    let mut random = |n: usize| {
        chance ^= chance << 13;
        chance ^= chance >> 7;
        chance ^= chance << 17;
        (chance % n as u64) as usize
    };
    let mut steps: Vec<CaseStep> = vec![];
    for k in 0..96 {
        let after = if k < 24 { vec![] } else { (0..2).map(|_| (k / 24 - 1) * 24 + random(24)).collect() };
        steps.push(CaseStep { say: vec![format!("s{}", random(6))], after, optional: false });
    }
    let trace: Vec<String> = (0..96).map(|_| format!("s{}", random(6))).collect();
    let case = Case { name: String::new(), steps, choices: vec![], trace, cost: 0, fitness: 0.0 };
    let section = section(&case);
    let says: Vec<&str> = case.trace.iter().map(String::as_str).collect();
    let found = align(&section, &says);
    assert_eq!(cost_of(&section, &says, &found, true), found.cost);
    assert!(!found.cheapest && !explainable(&section));
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
        // By pm4py, in half a minute.
        ("width 8", case(wide, mixed), Some(4)),
        // More than pm4py does in a minute: by both ways of ours.
        ("width 8, shuffled", case(chains, shuffled), None),
    ] {
        let section = section(&case);
        let began = Instant::now();
        let found = align(&section, &case.trace.iter().map(String::as_str).collect::<Vec<_>>());
        println!("\nseconds|{name}|{}", began.elapsed().as_secs_f64());
        let says: Vec<&str> = case.trace.iter().map(String::as_str).collect();
        let cost = cost.unwrap_or_else(|| {
            let (search, flows) = align_both_ways(&section, &says, true, usize::MAX);
            assert_eq!(search.unwrap().cost, flows.cost, "{name}");
            flows.cost
        });
        assert!(cost == found.cost && cost_of(&section, &says, &found, true) == cost, "{name}: {}", found.cost);
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
    for round in 0..40 {
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
        assert_eq!(cost_of(&section, &says, &found, true), found.cost);
        // The other way takes half a second each.
        if round % 5 == 0 {
            let (search, flows) = align_both_ways(&section, &says, true, usize::MAX);
            assert_eq!((found.cost, flows.cost), (search.unwrap().cost, found.cost));
        }
    }
    println!("\nseconds|width 8 with cross ties, slowest of 40|{slowest}");
}
