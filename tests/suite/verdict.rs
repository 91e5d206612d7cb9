//! An examiner's verdict: what protects comes first, in the findings as in the work.

use crate::figure;
use crate::review::{facts, perfect};
use crate::section::{SHIPPED, shipped};
use stepbell::recap;
use stepbell::review::Finding;
use stepbell::section::Section;
use stepbell::session::{Ending, Outcome};
use stepbell::time::{Ms, SampleIndex};

/// A whole run in which these steps were called, half a minute apart.
pub fn lived(section: &Section, steps: &[usize]) -> Outcome {
    let facts = facts(section, steps, &[]);
    let end = facts.called.last().unwrap().at + Ms(30_000);
    Outcome {
        started: Some(SampleIndex(0)),
        ended: Some((end, Ending::Finished)),
        phases: vec![(SampleIndex(0), Some((end, Ending::Finished)))],
        called: facts.called,
        cues: facts.cues,
        ..Outcome::default()
    }
}

/// Every run of a section in which one safety pair is called the wrong way round: the pair, and the steps.
fn swapped(section: &Section) -> Vec<(usize, Vec<usize>)> {
    let mut runs = vec![];
    let whole = perfect(section);
    for (pair, keys) in section.safety.iter().enumerate() {
        let is = |name: &str, step: usize| section.is_named(name, step);
        for (place, _) in whole.iter().enumerate().filter(|(_, s)| keys.then.iter().any(|n| is(n, **s))) {
            // What protects it goes right behind it. Where that protects something else too, the first of them is tried.
            let Some(first) = (0..place).rev().find(|p| is(&keys.first, whole[*p])) else { continue };
            if (first + 1..place).any(|p| keys.then.iter().any(|n| is(n, whole[p]))) {
                continue;
            }
            let mut steps = whole.clone();
            let moved = steps.remove(first);
            steps.insert(place, moved);
            runs.push((pair, steps));
        }
    }
    runs
}

#[test]
fn each_safety_pair_swapped_is_critical_and_told_first() {
    let (mut tried, mut right) = (0, 0);
    for (name, _) in SHIPPED {
        let section = shipped(name);
        assert!(!section.safety.is_empty(), "{name} has no pair that protects");
        let runs = swapped(&section);
        let pairs: std::collections::BTreeSet<usize> = runs.iter().map(|(pair, _)| *pair).collect();
        assert_eq!(pairs.len(), section.safety.len(), "{name}: every pair is swapped");
        for (pair, steps) in runs {
            tried += 1;
            let outcome = lived(&section, &steps);
            let findings = recap::reviewed(&section, &outcome).findings;
            let keys = &section.safety[pair];
            // Pairs with the same first part are one cause, told once with the consequence of the first that broke.
            let first =
                matches!(&findings[0], Finding::Unsafe { pair: p, .. } if section.safety[*p].first == keys.first);
            let spoken = recap::spoken(&section, &outcome);
            let told = spoken.find("Critical: ").is_some_and(|at| spoken[..at].matches(". ").count() == 2);
            let sentence = recap::sentence(&section, &outcome, &findings[0]);
            let Finding::Unsafe { pair: p, .. } = findings[0] else { panic!("{name}, {}: {findings:?}", keys.id) };
            let consequence = sentence.ends_with(&section.safety[p].consequence) && spoken.contains(&sentence);
            let alone = findings.iter().filter(|f| f.critical(&section)).count() == 1;
            if first && told && consequence && alone && findings[0].critical(&section) {
                right += 1;
            } else {
                println!("{name}, {}: {findings:?}\n{spoken}", keys.id);
            }
        }
    }
    figure(
        "safety pairs swapped: critical and told first",
        format!("{right} of {tried}"),
        "all",
        right == tried && tried > 20,
    );
}

/// The example of the facial, word for word: the towel on before it was tested.
#[test]
fn an_untested_towel_is_told_with_its_consequence_and_its_drill() {
    let section = shipped("basic-facial");
    let mut steps = perfect(&section);
    let place = |id: &str| section.steps.iter().position(|s| s.id == id).unwrap();
    let at = steps.iter().position(|s| *s == place("test-towel")).unwrap();
    steps.swap(at, at + 1);
    let outcome = lived(&section, &steps);
    let spoken = recap::spoken(&section, &outcome);
    assert!(
        spoken.contains(
            "One thing to look at. Critical: \u{201c}apply the steam towel\u{201d} came at 5 minutes 30 seconds, before \u{201c}test \
             the towel on the wrist\u{201d}. A face can burn. Test, then apply: drill that pair."
        ),
        "{spoken}"
    );
    assert!(spoken.contains("Practise next: test the towel on the wrist, then apply the steam towel."), "{spoken}");
    assert!(!spoken.contains("Out of order"), "one cause, one finding: {spoken}");
    // Left out altogether it is told as that, with the same consequence.
    let steps: Vec<usize> = perfect(&section).into_iter().filter(|s| *s != place("test-towel")).collect();
    let spoken = recap::spoken(&section, &lived(&section, &steps));
    assert!(spoken.contains("Critical, not called: test the towel on the wrist. A face can burn."), "{spoken}");
}

/// What the second listen may have heard accuses nobody of a wrong order.
#[test]
fn a_step_perhaps_called_breaks_no_pair() {
    let section = shipped("blood");
    let place = |id: &str| section.steps.iter().position(|s| s.id == id).unwrap();
    let mut steps = perfect(&section);
    let gloves = steps.iter().position(|s| *s == place("gloves-on")).unwrap();
    let moved = steps.remove(gloves);
    steps.insert(gloves + 2, moved);
    let mut outcome = lived(&section, &steps);
    let unsafe_found = |outcome: &Outcome| {
        recap::reviewed(&section, outcome).findings.iter().any(|f| matches!(f, Finding::Unsafe { .. }))
    };
    assert!(unsafe_found(&outcome), "gloves after the wound was pressed");
    outcome.perhaps = vec![(place("gloves-on"), outcome.called[gloves - 1].at + Ms(5_000))];
    assert!(!unsafe_found(&outcome), "{:?}", recap::reviewed(&section, &outcome).findings);
}

/// Care takes its time: no step that is critical or for the hands is told as slow, whatever it took.
#[test]
fn slowness_of_care_is_held_against_nobody() {
    let mut tried = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        for step in (0..section.steps.len()).filter(|s| section.steps[*s].critical || section.steps[*s].hygiene) {
            let steps = perfect(&section);
            let at = steps.iter().position(|s| *s == step).unwrap();
            let mut outcome = lived(&section, &steps);
            outcome.called[at + 1..].iter_mut().for_each(|c| c.at = c.at + Ms(600_000));
            outcome.cues.iter_mut().filter(|(s, _)| steps[at + 1..].contains(s)).for_each(|c| c.1 = c.1 + Ms(600_000));
            outcome.ended = outcome.ended.map(|(end, how)| (end + Ms(600_000), how));
            let spoken = recap::spoken(&section, &outcome);
            assert!(
                !spoken.contains(&format!("Slowest against plan: {}", section.steps[step].title)),
                "{name}: {spoken}"
            );
            assert!(!spoken.contains(&format!("Practise next: {}", section.steps[step].title)), "{name}: {spoken}");
            tried += 1;
        }
    }
    figure("slowness of critical and hygiene steps told", 0, "0", tried > 20);
}

/// Readiness counts a run with a pair the wrong way round as not clean.
#[test]
fn a_broken_pair_counts_in_readiness() {
    let section = shipped("basic-facial");
    let place = |id: &str| section.steps.iter().position(|s| s.id == id).unwrap();
    let whole = perfect(&section);
    let mut wrong = whole.clone();
    let at = wrong.iter().position(|s| *s == place("test-towel")).unwrap();
    wrong.swap(at, at + 1);
    let clean = |steps: &[usize]| {
        let mut history = stepbell::history::History::default();
        for k in 0..8 {
            let outcome = lived(&section, steps);
            let review = recap::reviewed(&section, &outcome);
            history.add(&section, (1, stepbell::session::Fade::All), &outcome, &review, k);
        }
        stepbell::history::readiness(&history, 0, 1).unwrap().clean
    };
    let (good, bad) = (clean(&whole), clean(&wrong));
    figure(
        "ready: no critical finding, by clean runs and by runs with an untested towel",
        format!("{good:.2}, {bad:.2}"),
        "over 0.9, under 0.2",
        good > 0.9 && bad < 0.2,
    );
}
