//! An examiner's verdict: what protects comes first, in the findings as in the work.

use crate::figure;
use crate::review::{facts, perfect};
use crate::section::{SHIPPED, shipped};
use stepbell::intent::Question;
use stepbell::outcome::{Ending, Mode, Outcome};
use stepbell::recap;
use stepbell::review::{Called, Claim, Finding};
use stepbell::section::Section;
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

/// A run as its page and its data have it.
pub fn viewed<'a>(section: &'a Section, outcome: &'a Outcome) -> recap::RunView<'a> {
    let (review, started) = (recap::reviewed(section, outcome), "2026-11-28T12:00:00Z");
    recap::RunView { section, outcome, review, started, mode: Mode::Coach, compress: 1, seed: 0 }
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
            "One thing to look at. Critical: \u{201c}apply the steam towel\u{201d} was called at 5 minutes 30 seconds, before \u{201c}test \
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

/// Care takes its time: no step that is critical, for the hands or protects is told as slow, whatever it took and whoever asks.
#[test]
fn slowness_of_care_is_held_against_nobody() {
    let mut tried = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        for step in (0..section.steps.len()).filter(|s| section.is_care(*s)) {
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
            let ask = |question: Question| recap::answer(&section, &outcome, None, &question).unwrap();
            for told in [ask(Question::Longest), ask(Question::Over)] {
                assert!(!told.contains("10 minutes"), "{name}: {told}");
            }
            assert!(ask(Question::Longest).ends_with("it takes its time."));
            assert!(
                !ask(Question::HowLong(section.steps[step].say[0].clone())).contains("10 minutes 30 seconds, planned")
            );
            let page = recap::page(&viewed(&section, &outcome), None);
            assert!(!page.contains(">+1"), "{name}: ten minutes over are on the page");
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
            history.add(&section, (1, stepbell::outcome::Fade::All), &outcome, &review, (k, ""));
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

/// A whole run in which this was called, half a minute apart; each gated step gets its cue a second before it.
pub fn lived_saying(section: &Section, says: &[String]) -> Outcome {
    let mut outcome = lived(section, &perfect(section));
    let at = |k: usize| SampleIndex::from_seconds(30.0 * (k + 1) as f64);
    outcome.called = says.iter().enumerate().map(|(k, say)| Called { say: say.clone(), at: at(k) }).collect();
    let gated = (0..section.steps.len()).filter(|s| section.steps[*s].gate.is_some());
    let cue = |step: usize| {
        let called = outcome.called.iter().find(|c| section.steps[step].say.contains(&c.say))?;
        Some((step, called.at - Ms(1000)))
    };
    outcome.cues = gated.filter_map(cue).collect();
    let end = at(says.len()) + Ms(30_000);
    outcome.ended = Some((end, Ending::Finished));
    outcome.phases = vec![(SampleIndex(0), Some((end, Ending::Finished)))];
    outcome
}

/// A run of each section, each with one planted fault that can hurt and two that can't: the one that can is told first, in words
/// of its consequence.
#[test]
fn planted_faults_are_told_first() {
    let mut right = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let (pair, mut steps) = swapped(&section).remove(0);
        // The first step is called twice, and one that hurts nobody is left out.
        let keys = &section.safety[pair];
        let harmless = |s: &usize| {
            let step = &section.steps[*s];
            let named = |name: &String| section.is_named(name, *s);
            !step.critical && !step.hygiene && !keys.then.iter().chain([&keys.first]).any(named)
        };
        let left_out = *steps.iter().rev().find(|s| harmless(s)).unwrap();
        steps.retain(|s| *s != left_out);
        let again = *steps.iter().find(|s| harmless(s)).unwrap();
        steps.insert(steps.iter().position(|s| *s == again).unwrap(), again);
        let outcome = lived(&section, &steps);
        let spoken = recap::spoken(&section, &outcome);
        let consequence = spoken.find(&keys.consequence);
        let others =
            ["Not called: ", "Out of order: ", "Called once more"].iter().filter_map(|words| spoken.find(words)).min();
        let first = consequence.zip(others).is_some_and(|(harm, other)| harm < other);
        let practise = spoken.contains(&format!("Practise next: {}", title(&section, &keys.first)));
        right += usize::from(first && practise);
        assert!(first && practise, "{name}: {spoken}");
    }
    figure(
        "planted faults told first, with their consequence",
        format!("{right} of {}", SHIPPED.len()),
        "all, one a section",
        right == SHIPPED.len() && right >= 12,
    );
}

fn title(section: &Section, name: &str) -> String {
    (0..section.steps.len()).find(|s| section.is_named(name, *s)).map(|s| section.steps[s].title.clone()).unwrap()
}

/// A section of so many steps, each with a criterion of its own worth so much; the last `unheard` of them can't be heard.
fn worked(worth: &[u32], unheard: usize, mark: u32) -> Section {
    let mut text = format!(
        "id = 'x'\ntitle = 'x'\ntrade = 'x'\nboard = 'x'\nedition = '2026-03-01'\nsource = 'x'\nfinish = ['stepping back']\npass_mark = {mark}\n\
         [reading]\nsentences = ['x']\nagain = 'x'\nbegin = 'x'\n[clock]\nminutes = 600.0\nstop = 'x'\n"
    );
    let words = [
        "alpha", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india", "juliet", "kilo", "lima",
        "mike", "november", "oscar", "papa", "quebec",
    ];
    for (k, points) in worth.iter().enumerate() {
        let word = words[k];
        text += &format!("[[step]]\nid = '{word}'\ntitle = '{word}'\nsay = ['{word}']\n");
        let steps = if k < worth.len() - unheard { format!("steps = ['{word}']\n") } else { String::new() };
        text += &format!("[[criterion]]\nid = '{k}'\ntext = 'x'\npoints = {points}\n{steps}");
    }
    let (section, problems) = stepbell::authoring::read(&text);
    section.unwrap_or_else(|| panic!("{problems:?}"))
}

/// Equal criteria with a mark: New York's bulletin (undated copy) has 15 and 17 tasks and a mark of 70 %. By hand: 11 of 15 are
/// 73.3 %, 10 are 66.7 %; 12 of 17 are 70.6 %, 11 are 64.7 %. Weighted: Florida DOAH case 97-1863 (2 Sep 1997), ten criteria of 25 points,
/// 75 the mark of that part: 19 are 76 %, 18 are 72 %, and the candidate's 14 are 56 %.
#[test]
fn worked_sheets_score_as_by_hand() {
    let florida = [2, 3, 2, 3, 3, 2, 2, 3, 3, 2];
    // Points of each, how many can't be heard, the mark, what was called; got, of, passed.
    type Case<'a> = (&'a [u32], usize, u32, &'a [usize], (u64, u64, Option<bool>));
    let cases: [Case; 9] = [
        (&[1; 15], 0, 70, &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10], (11, 15, Some(true))),
        (&[1; 15], 0, 70, &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9], (10, 15, Some(false))),
        (&[1; 17], 0, 70, &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11], (12, 17, Some(true))),
        (&[1; 17], 0, 70, &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10], (11, 17, Some(false))),
        // Two that can't be heard decide: ten and what an observer saw.
        (&[1; 15], 2, 70, &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9], (10, 15, None)),
        (&[1; 15], 2, 70, &[0, 1, 2, 3, 4, 5, 6, 7], (8, 15, Some(false))),
        (&florida, 0, 75, &[0, 1, 2, 3, 4, 5, 6, 9], (19, 25, Some(true))),
        (&florida, 0, 75, &[0, 1, 2, 3, 4, 6, 7], (18, 25, Some(false))),
        (&florida, 0, 75, &[0, 1, 2, 3, 5, 6], (14, 25, Some(false))),
    ];
    let mut equal = 0;
    for (worth, unheard, mark, taken, by_hand) in cases {
        let section = worked(worth, unheard, mark);
        let outcome = lived(&section, taken);
        let score = stepbell::review::score(&section, &outcome.called, &recap::reviewed(&section, &outcome)).unwrap();
        assert_eq!((score.got, score.of, score.passed), by_hand, "{worth:?} {taken:?}");
        equal += 1;
    }
    // Both parts as one exam with a mark of 70 %: by hand 12 + 19 = 31 of 42 points are 73.8 %.
    let parts = [
        (worked(&[1; 17], 0, 70), vec![0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]),
        (worked(&florida, 0, 75), vec![0, 1, 2, 3, 4, 5, 6, 9]),
    ];
    let outcomes: Vec<Outcome> = parts.iter().map(|(section, taken)| lived(section, taken)).collect();
    let went: Vec<recap::SectionResult> = parts.iter().map(|p| &p.0).zip(&outcomes).collect();
    let text = recap::exam_text(("x", Some(70)), &went, 2);
    assert!(text.contains("Points called: 31 of 42, at or above the board's mark."), "{text}");
    assert!(text.contains("Criteria: 20 of 27 claimed, 7 not claimed, 0 contradicted, 0 for an observer."), "{text}");
    // Readiness counts a run below the mark as one that fails.
    let below = lived(&parts[1].0, &[0, 1, 2, 3, 5, 6]);
    let mut history = stepbell::history::History::default();
    history.add(&parts[1].0, (1, stepbell::outcome::Fade::All), &below, &recap::reviewed(&parts[1].0, &below), (0, ""));
    assert_eq!(history.runs[0].critical, 1);
    figure("worked sheets equal to a calculation by hand", format!("{equal} of 9"), "9 of 9", equal == 9);
}

/// The sheet in the recap, on the page and in the data; and where each demand comes from.
#[test]
fn the_sheet_is_told_everywhere() {
    let section = shipped("basic-facial");
    let whole = perfect(&section);
    let without = |ids: &[&str]| {
        whole.iter().copied().filter(|s| !ids.contains(&section.steps[*s].id.as_str())).collect::<Vec<_>>()
    };
    let outcome = lived(&section, &without(&["toner", "exfoliate"]));
    let text = recap::text(&section, &outcome);
    for words in [
        "  - Not called: exfoliate. (published, 2.4)\n  - Not called: toner. (common practice)\n",
        "Criteria claimed: 5 of 9 (2.3, 2.5, 2.6, 2.7, 2.9).",
        "  2.4 not claimed: the face, but not eyes and lips, is exfoliated by hand",
        "  2.2 can't be heard: ask an observer: tools and supplies are clean to look at",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let run = viewed(&section, &outcome);
    let page = recap::page(&run, None);
    assert!(page.contains("The board's criteria") && page.contains("can't be heard: ask an observer"), "{page}");
    assert!(page.contains("(published, 2.4)"));
    let json: serde_json::Value = serde_json::from_str(&recap::json(&run)).unwrap();
    let claims: Vec<&str> = json["sheet"].as_array().unwrap().iter().map(|l| l["claim"].as_str().unwrap()).collect();
    assert_eq!(
        claims,
        [
            "not_claimed",
            "cant_be_heard",
            "claimed",
            "not_claimed",
            "claimed",
            "claimed",
            "claimed",
            "cant_be_heard",
            "claimed"
        ]
    );
    let schema = jsonschema::validator_for(&serde_json::from_str(recap::SCHEMA).unwrap()).unwrap();
    assert!(schema.is_valid(&json), "{:?}", schema.iter_errors(&json).next().map(|e| e.to_string()));
}

/// A towel that was never tested is not claimed to be used as the sheet asks, though all that the criterion names was called; nor is one
/// in a run that was cut short in between.
#[test]
fn what_was_left_unprotected_is_not_claimed() {
    let section = shipped("basic-facial");
    let number = section.criteria.iter().position(|c| c.broken_by.contains(&"towel-tested".to_string())).unwrap();
    let claim = |outcome: &Outcome| {
        stepbell::review::sheet(&section, &outcome.called, &recap::reviewed(&section, outcome))[number]
    };
    let whole = perfect(&section);
    assert_eq!(claim(&lived(&section, &whole)), Claim::Claimed);
    let untested: Vec<usize> = whole.into_iter().filter(|s| section.steps[*s].id != "test-towel").collect();
    let outcome = lived(&section, &untested);
    assert_eq!(claim(&outcome), Claim::NotClaimed);
    let id = &section.criteria[number].id;
    assert!(recap::text(&section, &outcome).contains(&format!("  {id} not claimed: ")), "{id}");
    // Every shipped pair that speaks against a criterion, its first part left out.
    let mut tried = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        for pair in &section.safety {
            let kept = |s: &usize| !section.is_named(&pair.first, *s);
            let outcome = lived(&section, &perfect(&section).into_iter().filter(kept).collect::<Vec<_>>());
            let claims = stepbell::review::sheet(&section, &outcome.called, &recap::reviewed(&section, &outcome));
            for (criterion, claim) in section.criteria.iter().zip(claims) {
                if criterion.broken_by.contains(&pair.id) && !section.unheard(criterion) {
                    assert_ne!(claim, Claim::Claimed, "{name}, {}: {}", criterion.id, pair.id);
                    tried += 1;
                }
            }
        }
    }
    assert!(tried > 15, "{tried}");
}

/// What only a named callout tells of was not reached either, where the run was cut short before it.
#[test]
fn a_run_that_was_cut_short_never_reached_the_labels() {
    let section = shipped("blood");
    let labels = section.criteria.iter().position(|c| c.steps == ["labels"]).unwrap();
    let mut outcome = lived(&section, &perfect(&section)[..2]);
    let claim = |outcome: &Outcome| {
        stepbell::review::sheet(&section, &outcome.called, &recap::reviewed(&section, outcome))[labels]
    };
    assert_eq!(claim(&outcome), Claim::NotClaimed);
    outcome.ended = outcome.ended.map(|(at, _)| (at, Ending::Stopped));
    assert_eq!(claim(&outcome), Claim::NotReached);
    let at = outcome.called[1].at + Ms(1_000);
    outcome.called.push(Called { say: section.events.iter().find(|e| e.id == "labels").unwrap().say[0].clone(), at });
    assert_eq!(claim(&outcome), Claim::Claimed);
}

/// The board asks for one test of the iron, whatever the section's own order asks for.
#[test]
fn one_test_of_the_iron_claims_the_criterion_that_asks_for_one() {
    let section = shipped("hair/thermal-curl");
    let of = |ids: &[&str]| {
        let kept =
            |s: &usize| !section.steps[*s].id.starts_with("test-iron") || ids.contains(&section.steps[*s].id.as_str());
        recap::text(&section, &lived(&section, &perfect(&section).into_iter().filter(kept).collect::<Vec<_>>()))
    };
    assert!(of(&["test-iron@first"]).contains("Criteria claimed: 3 of 7 (2.2, 2.3, 2.7)."));
    assert!(of(&[]).contains("  2.2 not claimed: the heat of the iron is tested"));
}

/// Who calls what `show` lists, and nothing else, has a spotless run: every criterion that can be heard is claimed.
#[test]
fn what_show_lists_makes_a_spotless_run() {
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_stepbell"))
            .args(["show", &format!("prompts/{}{name}.toml", if name.contains('/') { "" } else { "skin-care/" })])
            .output()
            .unwrap();
        let shown = String::from_utf8(output.stdout).unwrap();
        // What stands under the line that begins so, behind "say: ".
        let says = |line: &str| -> Vec<String> {
            let mut lines = shown.lines().skip_while(|l| !l.contains(line));
            let told = lines.nth(1).and_then(|l| l.trim().strip_prefix("say: "));
            told.unwrap_or_else(|| panic!("{name}, {line}: {shown}")).split(", ").map(str::to_string).collect()
        };
        let mut called: Vec<String> = vec![];
        for callout in shown.lines().filter(|l| l.starts_with("callout ") && l.contains("(for criterion ")) {
            called.push(says(callout).remove(0));
        }
        for step in perfect(&section) {
            let step = &section.steps[step];
            let told = says(&format!("  {}: ", step.id));
            assert_eq!(told, step.say, "{name}");
            called.push(told[0].clone());
        }
        assert_eq!(says("to finish"), section.finish, "{name}");
        let outcome = lived_saying(&section, &called);
        let review = recap::reviewed(&section, &outcome);
        assert_eq!(review.findings, [], "{name}");
        let claims = stepbell::review::sheet(&section, &outcome.called, &review);
        for (criterion, claim) in section.criteria.iter().zip(claims) {
            let heard = matches!(claim, Claim::Claimed | Claim::CantBeHeard);
            assert!(heard, "{name}, {}: {claim:?} after {called:?}", criterion.id);
            // The tool hears claims: no criterion says that something is done.
            assert!(!criterion.text.split(' ').any(|w| w == "done"), "{name}: {}", criterion.text);
        }
    }
}
