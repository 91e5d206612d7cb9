//! A run explained: perfect runs say nothing, and each single fault says exactly itself.

use crate::section::shipped;
use stepbell::review::{Called, Finding, Review, align, review};
use stepbell::section::Section;
use stepbell::time::{Ms, SampleIndex};

const SECTIONS: [&str; 2] = ["station-set-up", "basic-facial"];

/// The steps' own order as written can be unlawful; this is the first lawful one.
fn perfect(section: &Section) -> Vec<usize> {
    let order = stepbell::section::Order::of(section);
    let mut done = stepbell::section::Done::default();
    let mut run = vec![];
    while let Some(step) = (0..section.steps.len()).find(|&s| order.may_follow(&done, s)) {
        done = done.with(step);
        run.push(step);
    }
    run
}

fn run(section: &Section, steps: &[usize], dropped: &[SampleIndex]) -> Review {
    let called: Vec<Called> = steps
        .iter()
        .enumerate()
        .map(|(i, &s)| Called {
            say: section.steps[s].say[0].clone(),
            at: SampleIndex::from_seconds(10.0 * (i + 1) as f64),
        })
        .collect();
    review(section, &called, dropped, SampleIndex::from_seconds(1000.0))
}

#[test]
fn a_perfect_run_gives_no_finding() {
    for name in SECTIONS {
        let section = shipped(name);
        let steps = perfect(&section);
        let review = run(&section, &steps, &[]);
        assert_eq!(review.findings, [], "{name}");
        assert_eq!(review.steps.iter().map(|s| s.step).collect::<Vec<_>>(), steps, "{name}");
        assert_eq!(review.steps[0].took, Ms(10_000));
    }
}

#[test]
fn each_step_left_out_is_the_one_not_called() {
    for name in SECTIONS {
        let section = shipped(name);
        let steps = perfect(&section);
        for (i, &left_out) in steps.iter().enumerate() {
            let mut fewer = steps.clone();
            fewer.remove(i);
            let expected = match section.choice_of(left_out) {
                Some(_) => vec![],
                None => vec![Finding::NotCalled { step: left_out }],
            };
            assert_eq!(run(&section, &fewer, &[]).findings, expected, "{name} without {}", section.steps[left_out].id);
        }
    }
}

#[test]
fn three_movements_are_one_finding() {
    let section = shipped("basic-facial");
    let steps: Vec<usize> = perfect(&section)
        .into_iter()
        .filter(|&s| !["friction", "vibration"].contains(&section.steps[s].id.as_str()))
        .collect();
    assert_eq!(run(&section, &steps, &[]).findings, [Finding::TooFew { choice: 0, called: 3 }]);
}

#[test]
fn one_step_moved_is_one_finding() {
    let section = shipped("basic-facial");
    let mut steps = perfect(&section);
    let place = |id: &str| section.steps.iter().position(|s| s.id == id).unwrap();
    let from = steps.iter().position(|&s| s == place("analyse")).unwrap();
    let moved = steps.remove(from);
    let to = steps.iter().position(|&s| s == place("mask")).unwrap();
    steps.insert(to, moved);
    let findings = run(&section, &steps, &[]).findings;
    assert!(matches!(findings[..], [Finding::OutOfOrder { step, .. }] if step == moved), "{findings:?}");
}

#[test]
fn hands_right_after_a_dropped_item_answer_it_and_stand_for_no_step() {
    let section = shipped("basic-facial");
    let mut steps = perfect(&section);
    let hands = section.steps.iter().position(|s| s.id == "hands-first").unwrap();
    steps.insert(9, hands);
    let at = SampleIndex::from_seconds(95.0);
    let findings = run(&section, &steps, &[at]).findings;
    assert_eq!(findings, [Finding::Dropped { at, hands_after: Some(Ms(5_000)) }]);
    steps.remove(9);
    assert_eq!(run(&section, &steps, &[at]).findings, [Finding::Dropped { at, hands_after: None }]);
}

#[test]
fn explanations_cost_what_was_skipped_and_unexplained() {
    let section = shipped("station-set-up");
    let says: Vec<&str> = perfect(&section).iter().map(|&s| section.steps[s].say[0].as_str()).collect();
    assert_eq!(align(&section, &says).cost, 0);
    assert_eq!(align(&section, &says[1..]).cost, 1);
    assert_eq!(align(&section, &[]).cost, 12);
    assert_eq!(align(&section, &["kit closed"]).cost, 11);
}
