//! A run explained: perfect runs say nothing, and each single fault says exactly itself.

use crate::section::{SHIPPED, shipped};
use stepbell::outcome::Ending;
use stepbell::review::{Called, Claimed, Facts, Finding, Review, align, review, search_targets};
use stepbell::section::{DropAnswer, Section};
use stepbell::time::{Ms, SampleIndex};

/// The steps' own order as written can be unlawful; this is the first lawful one.
pub fn perfect(section: &Section) -> Vec<usize> {
    let order = stepbell::section::Order::of(section);
    let mut done = stepbell::section::Done::default();
    let mut run = vec![];
    while let Some(step) = (0..section.steps.len()).find(|&s| order.may_follow(&done, s)) {
        done = done.with(step);
        run.push(step);
    }
    run
}

/// Callouts for these steps, ten seconds apart.
fn called(section: &Section, steps: &[usize]) -> Vec<Called> {
    let place = |i: usize| SampleIndex::from_seconds(30.0 * (i + 1) as f64);
    steps.iter().enumerate().map(|(i, &s)| Called { say: section.steps[s].say[0].clone(), at: place(i) }).collect()
}

/// Each gated step has its cue, a second before it may be called.
pub fn facts(section: &Section, steps: &[usize], dropped: &[SampleIndex]) -> Facts {
    let called = called(section, steps);
    let gated = |s: &usize| section.steps[*s].gate.is_some();
    let cues = steps.iter().zip(&called).filter(|(s, _)| gated(s)).map(|(s, c)| (*s, c.at - Ms(1000))).collect();
    Facts { called, dropped: dropped.to_vec(), cues, end: SampleIndex::from_seconds(3000.0), ..Facts::default() }
}

fn run(section: &Section, steps: &[usize], dropped: &[SampleIndex]) -> Review {
    review(section, &facts(section, steps, dropped))
}

#[test]
fn a_perfect_run_gives_no_finding() {
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let steps = perfect(&section);
        let review = run(&section, &steps, &[]);
        assert_eq!(review.findings, [], "{name}");
        assert_eq!(review.steps.iter().map(|s| s.step).collect::<Vec<_>>(), steps, "{name}");
        assert_eq!(review.steps[0].took, Ms(30_000));
    }
}

/// Whether steps are told apart by what is said; two that share a callout can stand in for each other.
fn alike(section: &Section, a: usize, b: usize) -> bool {
    section.steps[a].say == section.steps[b].say
}

#[test]
fn each_step_left_out_is_the_one_not_called() {
    let mut tried = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let steps = perfect(&section);
        for (i, &left_out) in steps.iter().enumerate() {
            let mut fewer = steps.clone();
            fewer.remove(i);
            let findings = run(&section, &fewer, &[]).findings;
            if section.choice_of(left_out).is_some() || section.steps[left_out].optional {
                assert_eq!(findings, [], "{name} without {}", section.steps[left_out].id);
            } else {
                let one = matches!(findings[..], [Finding::NotCalled { step }] if alike(&section, step, left_out));
                assert!(one, "{name} without {}: {findings:?}", section.steps[left_out].id);
            }
            tried += 1;
        }
    }
    crate::figure("mutations: one step left out, one finding, its own", tried, "333", tried == 333);
}

/// Two neighbours that the section has in this order, called the other way round: one of them is out of order, once.
#[test]
fn each_ordered_pair_swapped_is_one_finding() {
    let mut tried = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let steps = perfect(&section);
        for i in 0..steps.len() - 1 {
            let (a, b) = (steps[i], steps[i + 1]);
            let ordered = section.steps[b].after.contains(&a) || section.steps[b].directly_after == Some(a);
            if !ordered || alike(&section, a, b) {
                continue;
            }
            let mut facts = facts(&section, &steps, &[]);
            let say = facts.called[i].say.clone();
            facts.called[i].say = std::mem::replace(&mut facts.called[i + 1].say, say);
            // A gated step that moves forward comes before its cue as well: that is another fault, tried below.
            if [a, b].iter().any(|&s| section.steps[s].gate.is_some()) {
                continue;
            }
            let findings = review(&section, &facts).findings;
            let pair = |step: usize| [a, b].iter().any(|&s| alike(&section, s, step));
            // Moved beside a callout of the same words it only repeats that one, and so isn't called in its own place.
            let beside =
                |k: usize| facts.called.get(k).zip(facts.called.get(k + 1)).is_some_and(|(x, y)| x.say == y.say);
            let repeats = beside(i + 1) || i > 0 && beside(i - 1);
            let one = match findings[..] {
                [Finding::OutOfOrder { step, .. }] => pair(step),
                [Finding::NotCalled { step }] => repeats && pair(step),
                // Where the order protects, the pair is what is told.
                [Finding::Unsafe { pair, .. }] => {
                    [a, b].iter().any(|&s| section.is_named(&section.safety[pair].first, s))
                }
                _ => false,
            };
            assert!(one, "{name}, {} and {}: {findings:?}", section.steps[a].id, section.steps[b].id);
            // What is told of it is what was not kept, and not what was.
            if let Finding::OutOfOrder { step, .. } = findings[0] {
                let says = stepbell::recap::section_says(&section, &review(&section, &facts), &findings[0]);
                let title = |s: usize| &section.steps[s].title;
                let wanted = if alike(&section, step, a) {
                    format!("The section has it before: {}.", title(b))
                } else {
                    format!("The section has it after: {}.", title(a))
                };
                assert!(says.starts_with(&wanted), "{name}: {says}, not {wanted}");
            }
            tried += 1;
        }
    }
    crate::figure("mutations: two ordered steps swapped, one finding", tried, "over 100", tried > 100);
}

/// A step called twice in a row: nothing, and the step lasts from the first of the two.
#[test]
fn each_step_repeated_is_no_finding_and_lasts_from_its_first_callout() {
    let mut tried = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let steps = perfect(&section);
        let plain = run(&section, &steps, &[]);
        for (i, &step) in steps.iter().enumerate() {
            for again in 1..=2 {
                let mut more = steps.clone();
                more.splice(i..i, vec![step; again]);
                let review = run(&section, &more, &[]);
                let id = &section.steps[step].id;
                assert_eq!(review.findings, [], "{name}, {id} {} times", again + 1);
                let took = review.steps[i].took;
                assert_eq!(review.steps.len(), plain.steps.len());
                // Two steps that share a callout can't be told apart by it: the repeat may be the next one's.
                let next = steps.get(i + 1).is_some_and(|&n| alike(&section, step, n));
                let before = i > 0 && alike(&section, steps[i - 1], step);
                let wanted = plain.steps[i].took + Ms(30_000 * again as u64);
                let last = i + 1 == steps.len();
                assert!(next || before || last || took == wanted, "{name}, {id}: {took}, not {wanted}");
            }
            tried += 1;
        }
    }
    crate::figure("mutations: one step called twice or three times, no finding", tried, "333", tried == 333);
}

/// What a step is told to have taken.
fn took(review: &Review, step: usize) -> Ms {
    review.steps.iter().find(|t| t.step == step).unwrap().took
}

/// What the proctor says between two phases, and the wait for the next one, belong to no step.
#[test]
fn a_step_lasts_no_longer_than_its_phase() {
    let section = shipped("nails/water-manicure");
    let steps = perfect(&section);
    let mut outcome = crate::verdict::lived(&section, &steps);
    let last = steps.iter().rposition(|&s| section.steps[s].phase == 0).unwrap();
    let at = outcome.called[last].at;
    let ended = |at| Some((at, Ending::Finished));
    let second = (at + Ms(15_000), ended(at + Ms(40_000)));
    outcome.phases = vec![(SampleIndex(0), ended(at + Ms(5_000))), second, (at + Ms(50_000), outcome.ended)];
    let review = stepbell::recap::reviewed(&section, &outcome);
    assert_eq!(review.findings, []);
    assert_eq!((took(&review, steps[last]), took(&review, steps[last + 1])), (Ms(5_000), Ms(10_000)));
    assert_eq!(took(&review, steps[last - 1]), Ms(30_000));
}

/// From a mishap on a step is not at work, until it is called again.
#[test]
fn what_answers_a_mishap_is_no_part_of_a_step() {
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let steps = perfect(&section);
        for (i, &step) in steps.iter().enumerate() {
            let dropped = SampleIndex::from_seconds(30.0 * (i + 1) as f64 + 5.0);
            let review = run(&section, &steps, &[dropped]);
            assert_eq!(took(&review, step), Ms(5_000), "{name}, {}", section.steps[step].id);
            let others = review.steps.iter().filter(|t| t.step != step && t.step != *steps.last().unwrap());
            assert!(others.clone().all(|t| t.took == Ms(30_000)), "{name}");
        }
    }
    let section = shipped("station-set-up");
    let mut steps = perfect(&section);
    let step = section.steps.iter().position(|s| s.id == "universal").unwrap();
    let i = steps.iter().position(|s| *s == step).unwrap();
    steps.insert(i, step);
    let mut facts = facts(&section, &steps, &[]);
    let at = facts.called[i].at;
    facts.dropped = vec![at + Ms(5_000), at + Ms(10_000)];
    assert_eq!(took(&review(&section, &facts), step), Ms(35_000));
    facts.dropped.clear();
    assert_eq!(took(&review(&section, &facts), step), Ms(60_000));
    facts.called.insert(i + 2, Called { say: "torn glove".into(), at: at + Ms(40_000) });
    assert_eq!(took(&review(&section, &facts), step), Ms(40_000));
}

/// Neither the end of its phase nor a mishap makes too short what goes on by itself.
#[test]
fn what_has_to_last_is_not_cut_by_a_phase_or_a_mishap() {
    let mut section = shipped("station-set-up");
    let steps = perfect(&section);
    let (step, least) = (section.steps.iter().position(|s| s.id == "contact-time").unwrap(), Ms(600_000));
    section.steps[step].at_least = Some(least);
    let i = steps.iter().position(|s| *s == step).unwrap();
    let mut facts = facts(&section, &steps, &[]);
    let at = facts.called[i].at;
    facts.dropped = vec![at + Ms(1_000)];
    facts.phases = vec![(SampleIndex(0), Some(at + Ms(5_000))), (at + Ms(6_000), None)];
    let short = |facts: &Facts| {
        let findings = review(&section, facts).findings;
        findings.into_iter().find(|f| matches!(f, Finding::TooShort { .. }))
    };
    assert_eq!(short(&facts), Some(Finding::TooShort { step, at, took: Ms(30_000) }));
    facts.called[i + 1..].iter_mut().for_each(|c| c.at = c.at + least);
    assert_eq!(short(&facts), None);
    assert_eq!(took(&review(&section, &facts), step), Ms(1_000));
}

/// Hands in their own phase, then what was to be laid out before it: that is what came out of order.
#[test]
fn a_step_called_outside_its_phase_is_the_one_out_of_order() {
    let section = shipped("additional/lash-bands");
    let mut steps = perfect(&section);
    steps.swap(0, 1);
    let mut facts = facts(&section, &steps, &[]);
    facts.phases = vec![(SampleIndex(0), Some(SampleIndex(10))), (SampleIndex(20), None)];
    let found = review(&section, &facts);
    let lay_out = section.steps.iter().position(|s| s.id == "lay-out-lashes").unwrap();
    assert_eq!(found.findings, [Finding::OutOfOrder { step: lay_out, at: facts.called[1].at }]);
    assert_ne!(found.findings, run(&section, &steps, &[]).findings, "by the words alone it could be either");
    let says = stepbell::recap::section_says(&section, &found, &found.findings[0]);
    assert!(says.starts_with("The section has it before: sanitise hands"), "{says}");
    // Where the end of the first phase was never called, its clock says nothing of what came out of order behind it.
    for i in 1..steps.len() - 1 {
        let mut steps = perfect(&section);
        steps.swap(i, i + 1);
        let without = run(&section, &steps, &[]);
        let mut facts = self::facts(&section, &steps, &[]);
        facts.phases = vec![(SampleIndex(0), None)];
        assert_eq!(review(&section, &facts), without);
    }
}

/// Gone back to after hands were washed for a dropped item, a step goes on; gone back to after another step, it is one too many.
#[test]
fn a_step_gone_back_to_goes_on_only_where_no_other_came_between() {
    let section = shipped("station-set-up");
    let steps = perfect(&section);
    let says = |more: &[&str]| -> Vec<String> {
        let mut says: Vec<String> = steps.iter().map(|&s| section.steps[s].say[0].clone()).collect();
        let after = says.iter().position(|s| s == "universal supplies").unwrap() + 1;
        says.splice(after..after, more.iter().map(|s| s.to_string()));
        says
    };
    let review_of = |says: &[String]| {
        let place = |i: usize| SampleIndex::from_seconds(30.0 * (i + 1) as f64);
        let called = says.iter().enumerate().map(|(i, s)| Called { say: s.clone(), at: place(i) }).collect();
        review(&section, &Facts { called, end: SampleIndex::from_seconds(3000.0), ..Facts::default() })
    };
    let back = review_of(&says(&["sanitize", "first aid kit"]));
    assert_eq!(back.findings, []);
    let universal = section.steps.iter().position(|s| s.id == "universal").unwrap();
    assert_eq!(back.steps.iter().find(|t| t.step == universal).unwrap().took, Ms(90_000));
    let other = review_of(&says(&["close the kit", "universal supplies"])).findings;
    assert!(other.iter().any(|f| matches!(f, Finding::Extra { .. } | Finding::OutOfOrder { .. })), "{other:?}");
}

/// Gloves off, an item dropped, hands: the cleaning that the section has there answers the item, too.
#[test]
fn a_cleaning_after_a_dropped_item_counts_as_the_planned_one_too() {
    let mut tried = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let steps = perfect(&section);
        for (i, _) in steps.iter().enumerate().filter(|(_, s)| section.steps[**s].hygiene) {
            // Right in front of the planned cleaning, which then answers the drop.
            let at = SampleIndex::from_seconds(30.0 * (i + 1) as f64 - 5.0);
            let review = run(&section, &steps, &[at]);
            let hands = matches!(review.findings[..], [Finding::Dropped { hands_after: Some(Ms(5_000)), .. }]);
            assert!(hands, "{name}: {:?}", review.findings);
            assert_eq!(review.steps.len(), steps.len());
            // Without it, nothing answers the drop, and the cleaning is not called.
            let mut fewer = steps.clone();
            fewer.remove(i);
            let findings = run(&section, &fewer, &[at]).findings;
            let missed = findings.iter().any(|f| matches!(f, Finding::NotCalled { .. }));
            // Another cleaning may follow at once: that one answers, and then one of the two is missing.
            let needed = !section.steps[steps[i]].optional;
            assert!(missed == needed && findings.len() == 1 + usize::from(needed), "{name}: {findings:?}");
            tried += 1;
        }
    }
    crate::figure("a dropped item in front of each planned cleaning: counted for both", tried, "over 10", tried > 10);
}

/// A cleaning that answers a drop at a place where the section has none doesn't stand in for the one that is left out later.
#[test]
fn a_cleaning_after_a_dropped_item_is_no_excuse_for_a_later_one() {
    let section = shipped("station-set-up");
    let steps = perfect(&section);
    let planned = steps.iter().position(|&s| section.steps[s].id == "hands-after-gloves").unwrap();
    let disinfect = steps.iter().position(|&s| section.steps[s].id == "disinfect").unwrap();
    let hands = steps[planned];
    let mut other = steps.clone();
    other.remove(planned);
    other.insert(disinfect + 1, hands);
    let at = SampleIndex::from_seconds(30.0 * (disinfect + 2) as f64 - 5.0);
    let findings = run(&section, &other, &[at]).findings;
    let [Finding::NotCalled { step }, Finding::Dropped { hands_after: Some(Ms(5_000)), .. }] = findings[..] else {
        panic!("{findings:?}")
    };
    assert_eq!(step, hands);
}

#[test]
fn each_gated_step_before_its_cue_is_one_finding() {
    let mut tried = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let steps = perfect(&section);
        for &step in steps.iter().filter(|&&s| section.steps[s].gate.is_some()) {
            let mut facts = facts(&section, &steps, &[]);
            facts.cues.iter_mut().filter(|(s, _)| *s == step).for_each(|c| c.1 = c.1 + Ms(2000));
            let findings = review(&section, &facts).findings;
            assert!(matches!(findings[..], [Finding::BeforeCue { step: s, .. }] if s == step), "{name}: {findings:?}");
            tried += 1;
        }
    }
    crate::figure("mutations: one gated step before its cue, one finding", tried, "5", tried == 5);
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
    let at = SampleIndex::from_seconds(295.0);
    let findings = run(&section, &steps, &[at]).findings;
    assert_eq!(
        findings,
        [Finding::Dropped { at, hands_after: Some(Ms(5_000)), missing: vec![DropAnswer::Away, DropAnswer::Fresh] }]
    );
    steps.remove(9);
    assert_eq!(
        run(&section, &steps, &[at]).findings,
        [Finding::Dropped { at, hands_after: None, missing: vec![DropAnswer::Away, DropAnswer::Fresh] }]
    );
}

#[test]
fn explanations_cost_what_was_skipped_and_unexplained() {
    let section = shipped("station-set-up");
    let says: Vec<&str> = perfect(&section).iter().map(|&s| section.steps[s].say[0].as_str()).collect();
    assert_eq!(align(&section, &says).cost, 0);
    assert_eq!(align(&section, &says[1..]).cost, 1);
    assert_eq!(align(&section, &[]).cost, 13);
    assert_eq!(align(&section, &["kit closed"]).cost, 12);
}

/// The rub called over ten seconds too soon: one piece of advice, wherever in the section it is.
#[test]
fn each_short_rub_is_one_finding() {
    let mut tried = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let Some(rule) = section.rules.iter().position(|r| r.at_least.is_some()) else { continue };
        let steps = perfect(&section);
        for (i, &step) in steps.iter().enumerate().filter(|(_, s)| section.steps[**s].hygiene) {
            let mut facts = facts(&section, &steps, &[]);
            let hands = facts.called[i].at;
            // All that follows comes earlier by the same time, cues too.
            let earlier = |at: SampleIndex| if at > hands { at - Ms(20_000) } else { at };
            facts.called.iter_mut().for_each(|c| c.at = earlier(c.at));
            facts.cues.iter_mut().for_each(|c| c.1 = earlier(c.1));
            facts.end = facts.called.last().unwrap().at + Ms(if i + 1 == steps.len() { 10_000 } else { 60_000 });
            let findings = review(&section, &facts).findings;
            // Its time is that of the hands, of which it speaks. Where nothing is called behind them, nothing came too soon.
            let last = i + 1 == steps.len();
            let one =
                matches!(findings[..], [Finding::RuleBroken { rule: r, at }] if r == rule && at == hands && !last);
            assert!(one || last && findings.is_empty(), "{name}, {}: {findings:?}", section.steps[step].id);
            tried += 1;
        }
    }
    crate::figure("mutations: one rub too short, one finding", tried, "over 10", tried > 10);
}

/// A callout too many right behind the hands is told as that alone: it may be a word misheard.
#[test]
fn a_callout_too_many_makes_no_rub_too_short() {
    let section = shipped("hair/thermal-curl");
    let steps = perfect(&section);
    let mut facts = facts(&section, &steps, &[]);
    let at = facts.called.last().unwrap().at + Ms(6_000);
    facts.called.push(Called { say: "iron down".into(), at });
    assert_eq!(review(&section, &facts).findings, [Finding::Extra { say: "iron down".into(), at }]);
}

/// Florida DOAH case 97-1863 (recommended order of 2 Sep 1997): ten sanitation criteria worth 2, 3, 2, 3, 3, 2, 2, 3, 3, 2.
/// Fourteen of their 25 points fail a mark of 75 percent, whatever is said of the rest of the examination.
#[test]
fn points_are_weighted() {
    let worth = [2, 3, 2, 3, 3, 2, 2, 3, 3, 2];
    let mut section = shipped("station-set-up");
    section.rules.clear();
    section.criteria.clear();
    section.safety.clear();
    section.steps.truncate(10);
    for (step, points) in section.steps.iter_mut().zip(worth) {
        (step.points, step.after, step.say) = (points, vec![], vec![format!("step {}", step.id)]);
    }
    section.pass_mark = Some(75);
    let scored = |steps: &[usize]| stepbell::review::score(&section, &[], &run(&section, steps, &[])).unwrap();
    let all = scored(&[0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
    assert_eq!((all.got, all.of, all.passed), (25, 25, Some(true)));
    let some = scored(&[0, 1, 2, 3, 5, 6]);
    assert_eq!((some.got, some.of, some.passed), (14, 25, Some(false)));
    // Enough points, but without the first, critical step.
    let critical = scored(&[1, 2, 3, 4, 5, 6, 7, 8, 9]);
    assert_eq!((critical.got, critical.passed), (23, Some(false)));
    // Points as large as a file may have them are summed as they are.
    section.steps.iter_mut().for_each(|s| s.points = u32::MAX);
    let most = stepbell::review::score(&section, &[], &run(&section, &[1, 2, 3], &[])).unwrap();
    assert_eq!((most.got, most.of), (3 * u64::from(u32::MAX), 10 * u64::from(u32::MAX)));
}

/// A movement said but not heard, and so one too few: what the second listen found of it makes up for it, until somebody says no.
#[test]
fn a_movement_perhaps_called_is_none_too_few() {
    let section = shipped("basic-facial");
    let place = |id: &str| section.steps.iter().position(|s| s.id == id).unwrap();
    let called = |left_out: &[&str]| -> Vec<usize> {
        perfect(&section).into_iter().filter(|&s| !left_out.contains(&section.steps[s].id.as_str())).collect()
    };
    let (friction, at) = (place("friction"), SampleIndex::from_seconds(500.0));
    let found = |left_out: &[&str], claims: &[Claimed]| {
        let claims = claims.iter().map(|c| (friction, *c)).collect();
        review(&section, &Facts { perhaps: vec![(friction, at)], claims, ..facts(&section, &called(left_out), &[]) })
            .findings
    };
    let two = ["friction", "vibration"];
    assert_eq!(found(&two, &[]), [Finding::Perhaps { step: friction, at }]);
    assert_eq!(found(&two, &[Claimed::NotCalled]), [Finding::TooFew { choice: 0, called: 3 }]);
    let claimed = Finding::ClaimedAfterwards { step: friction, called: true, perhaps: Some(at) };
    assert_eq!(found(&two, &[Claimed::Called]), [claimed]);
    // With enough of them nothing is asked, and with too few all the same both are told.
    assert_eq!(found(&["friction"], &[]), []);
    let three = ["friction", "vibration", "tapotement"];
    assert_eq!(found(&three, &[]), [Finding::TooFew { choice: 0, called: 2 }, Finding::Perhaps { step: friction, at }]);
    // Each that was not called is looked for between the first strokes and the last, where a run was made so.
    let heard = facts(&section, &called(&two), &[]);
    let targets = |choices| search_targets(&section, &heard, SampleIndex(0), choices);
    assert!(targets(false).is_empty());
    assert_eq!(targets(true).iter().map(|t| t.step).collect::<Vec<_>>(), [friction, place("vibration")]);
    let time = |id: &str| review(&section, &heard).steps.iter().find(|t| t.step == place(id)).unwrap().at;
    assert!(targets(true).iter().all(|t| t.between == (time("effleurage"), time("finish-effleurage"))));
}
