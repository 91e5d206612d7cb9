//! Drills: some steps of a section, or an item that drops.

use crate::kill::stepbell;
use crate::review::perfect;
use std::fs;
use stepbell::authoring;
use stepbell::callout::Vocabulary;
use stepbell::outcome::Mode;
use stepbell::review::{Called, Facts, Finding, review};
use stepbell::section::{Done, Order, Section};
use stepbell::session::{Effect, Event, Session, Settings, Timer};
use stepbell::time::{Ms, SampleIndex};

fn shipped() -> Vec<Section> {
    let folders = fs::read_dir("prompts").unwrap().map(|e| e.unwrap().path());
    let files = folders.filter(|f| f.is_dir()).flat_map(|f| fs::read_dir(f).unwrap().map(|e| e.unwrap().path()));
    files
        .filter(|f| f.extension().is_some_and(|e| e == "toml"))
        .map(|f| authoring::read_seeded(&fs::read_to_string(f).unwrap(), 3).0.unwrap())
        .collect()
}

#[test]
fn every_step_and_every_phase_of_every_section_can_be_drilled() {
    let mut drills = 0;
    for section in shipped() {
        let steps = section.steps.iter().map(|s| vec![s.id.clone()]);
        let phases = section.phases.iter().filter(|p| section.steps.iter().any(|s| section.phases[s.phase].id == p.id));
        // Every third step: what lies between is left out, and their order stays.
        let thirds = vec![section.steps.iter().step_by(3).map(|s| s.id.clone()).collect::<Vec<_>>()];
        for names in steps.chain(phases.map(|p| vec![p.id.clone()])).chain(thirds) {
            let drill = section.drilled(&names).unwrap();
            drills += 1;
            assert!(!drill.steps.is_empty() && drill.reading.times == 1);
            if let (Some(short), Some(long)) = (drill.limit(), section.limit()) {
                assert!(short <= long && short > Ms(0));
            }
            // One order that the section allows: nothing to find but rules about time, which is not walked here.
            let order = Order::of(&drill);
            let (mut done, mut walk) = (Done::default(), vec![]);
            while walk.len() < drill.steps.len() {
                let may = (0..drill.steps.len()).filter(|s| !done.has(*s) && order.may_follow(&done, *s));
                // What must follow directly comes at once.
                let next = order.due(&done).into_iter().chain(may).next().unwrap();
                done = done.with(next);
                walk.push(next);
            }
            let called: Vec<Called> = (walk.iter().enumerate())
                .map(|(k, s)| Called {
                    say: drill.steps[*s].say[0].clone(),
                    at: SampleIndex(0) + Ms(60_000 * (k as u64 + 1)),
                })
                .collect();
            let cues =
                drill.steps.iter().enumerate().filter(|(_, s)| s.gate.is_some()).map(|(k, _)| (k, SampleIndex(0)));
            let end = SampleIndex(0) + Ms(60_000 * (called.len() as u64 + 2));
            let facts = Facts { cues: cues.collect(), called, end, ..Facts::default() };
            let findings = review(&drill, &facts).findings;
            let order =
                findings.iter().filter(|f| !matches!(f, Finding::RuleBroken { .. } | Finding::InvariantBroken { .. }));
            assert_eq!(order.count(), 0, "{} {names:?}: {findings:?}", section.id);
            // Two kept steps are tied where the whole section ties them.
            let (whole, part) = (Order::of(&section).all_before(), Order::of(&drill).all_before());
            let place = |id: &str| section.steps.iter().position(|s| s.id == id).unwrap();
            for (a, first) in drill.steps.iter().enumerate() {
                for (b, second) in drill.steps.iter().enumerate() {
                    let tied = whole[place(&second.id)].has(place(&first.id));
                    assert_eq!(part[b].has(a), tied, "{}: {} before {}", section.id, first.id, second.id);
                }
            }
        }
        assert!(section.drilled(&["no-such-step".to_string()]).is_none());
    }
    assert!(drills > 150, "{drills}");
}

/// Hands and gloves are heard, and answer a mishap, where their steps are left out.
#[test]
fn a_mishap_is_answered_in_a_part_of_a_section_as_in_the_whole() {
    let (mut dropped, mut torn) = (0, 0);
    for section in shipped() {
        let hands = section.steps.iter().find(|s| s.hygiene).unwrap().say[0].clone();
        let drills = section.steps.iter().filter_map(|s| section.drilled(std::slice::from_ref(&s.id)));
        for part in drills.chain(section.hygiene_only()) {
            let says = perfect(&part).into_iter().map(|s| part.steps[s].say[0].clone());
            let heard: Vec<String> = Vocabulary::of(&part).phrases().collect();
            // The answer comes behind the last step, far from what a rule wants between others.
            let found = |answers: &[String], drop: bool| {
                let says: Vec<String> = says.clone().chain(answers.iter().cloned()).collect();
                assert!(says.iter().all(|say| heard.contains(say)), "{}: {says:?}", part.id);
                let at = |k: usize| SampleIndex(0) + Ms(60_000 * (k as u64 + 1));
                let called: Vec<Called> =
                    says.iter().enumerate().map(|(k, say)| Called { say: say.clone(), at: at(k) }).collect();
                let dropped = if drop { vec![at(says.len() - answers.len()) - Ms(1_000)] } else { vec![] };
                let facts = Facts { called, dropped, end: at(says.len() + 1), ..Facts::default() };
                let told = review(&part, &facts).findings;
                let of_mishaps = |f: &Finding| matches!(f, Finding::Dropped { .. } | Finding::Unanswered { .. });
                told.into_iter().filter(of_mishaps).count()
            };
            let say = |id: &String| {
                let step = section.steps.iter().find(|s| s.base == *id);
                step.map_or_else(
                    || section.events.iter().find(|e| e.id == *id).unwrap().say[0].clone(),
                    |s| s.say[0].clone(),
                )
            };
            let item = ["item-away".to_string(), "fresh-item".into()].map(|id| say(&id));
            assert_eq!(found(&[item[0].clone(), hands.clone(), item[1].clone()], true), 0, "{}", part.id);
            assert_eq!(found(&item, true), 1, "{}", part.id);
            dropped += 1;
            for event in section.events.iter().filter(|e| !e.answered_by.is_empty()) {
                let whole: Vec<String> = std::iter::once(&event.id).chain(&event.answered_by).map(say).collect();
                assert_eq!(found(&whole, false), 0, "{}: {whole:?}", part.id);
                assert_eq!(found(&whole[..2], false), 1, "{}: {whole:?}", part.id);
                torn += 1;
            }
        }
    }
    assert!(dropped > 300 && torn > 90, "{dropped}, {torn}");
}

#[test]
fn a_loop_is_drilled_by_its_name() {
    let all = shipped();
    for (id, name) in
        [("thermal-curl", "curls"), ("water-manicure", "fingers"), ("back-massage", "sides"), ("lash-bands", "bands")]
    {
        let section = all.iter().find(|s| s.id == id).unwrap();
        let drill = section.drilled(&[name.to_string()]).unwrap();
        let turns = section.steps.iter().filter(|s| s.id.contains('@')).map(|s| &s.id);
        assert!(drill.steps.iter().map(|s| &s.id).eq(turns), "{id}");
    }
}

#[test]
fn a_dropped_item_comes_in_the_middle_and_wants_hands() {
    let section = shipped().into_iter().find(|s| s.id == "basic-facial").unwrap();
    let mut places = vec![];
    for seed in 0..40 {
        let mut session = Session::new(section.clone(), Settings { drops: true, seed, ..Mode::Exam.into() });
        let at = |seconds: u64| SampleIndex(0) + Ms(seconds * 1000);
        let mut handle = |seconds: u64, event: Event| session.handle(at(seconds), &event);
        handle(0, Event::Opened);
        handle(1, Event::SpeechEnded(0));
        handle(2, Event::TimerFired(Timer::Gap));
        handle(3, Event::SpeechEnded(1));
        handle(4, Event::TimerFired(Timer::Gap));
        let effects = handle(5, Event::SpeechEnded(2));
        let place = effects.iter().find_map(|e| if let Effect::Arm(Timer::Drop, at) = e { Some(*at) } else { None });
        let seconds = place.unwrap().since(at(5)).0 / 1000;
        places.push(seconds);
        let effects = handle(5 + seconds, Event::TimerFired(Timer::Drop));
        assert!(matches!(&effects[..], [Effect::Speak { text, .. }] if text.contains("dropped")), "{effects:?}");
        assert_eq!(session.outcome().dropped.len(), 1);
    }
    // Not always at the same moment, never at the edges: of 25 minutes.
    let (first, last) = (places.iter().min().unwrap(), places.iter().max().unwrap());
    assert!(*first >= 180 && *last <= 1300 && last - first > 400, "{places:?}");
}

#[test]
fn a_drill_is_rehearsed_and_its_journal_tells_the_same_recap() {
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().to_str().unwrap();
    let fixed = ["rehearse", "prompts/skin-care/basic-facial.toml", "--mic", "tests/audio/demo.wav", "--headset"];
    let drill = stepbell(&[&fixed, ["--runs", runs, "--drill", "drape-body", "--drill", "toner"].as_slice()].concat());
    let shown = String::from_utf8(drill.stdout).unwrap();
    assert!(drill.status.success(), "{}", String::from_utf8_lossy(&drill.stderr));
    assert!(shown.contains("A drill: drape the body, toner.") && shown.contains("Not called: toner."), "{shown}");
    let recap = String::from_utf8(stepbell(&["recap", "--runs", runs]).stdout).unwrap();
    assert!(shown.contains(&recap) && recap.starts_with("Drill: Basic facial"), "{recap}");
    let wrong = stepbell(&[&fixed, ["--runs", runs, "--drill", "nothing"].as_slice()].concat());
    assert_eq!(wrong.status.code(), Some(2));
}
