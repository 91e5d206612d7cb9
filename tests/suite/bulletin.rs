//! The content of the shipped sections beside what is published. Each test names its source; what is in our own words was read in
//! the bulletins on 28 November 2026.

use crate::figure;
use crate::review::perfect;
use crate::section::{SHIPPED, shipped};
use crate::verdict::{lived, lived_saying};
use std::fs;
use stepbell::recap::{self, reviewed};
use stepbell::review::{Claim, Finding, sheet};
use stepbell::section::{DropAnswer, Order, Section};

/// The six sections of the esthetics bulletin, in its order, with how many criteria it has for each.
const ESTHETICS: [(&str, usize); 6] =
    [("station-set-up", 4), ("basic-facial", 9), ("break-down", 4), ("brow-wax", 7), ("make-up", 9), ("blood", 7)];

fn place(section: &Section, id: &str) -> usize {
    section.steps.iter().position(|s| s.id == id).unwrap_or_else(|| panic!("{} has no {id}", section.id))
}

/// Whether `first` must come before `then`, however far.
fn before(section: &Section, first: &str, then: &str) -> bool {
    Order::of(section).all_before()[place(section, then)].has(place(section, first))
}

/// The callouts of a whole run, in order.
fn says(section: &Section) -> Vec<String> {
    perfect(section).iter().map(|s| section.steps[*s].say[0].clone()).collect()
}

fn findings(section: &Section, says: &[String]) -> Vec<Finding> {
    reviewed(section, &lived_saying(section, says)).findings
}

/// NIC National Esthetics Practical Examination bulletin, rev. 1 Mar 2026, sections 1 to 6: 40 criteria, by their numbers.
#[test]
fn every_published_criterion_is_mapped() {
    let (mut mapped, mut infection, mut unheard) = (0, 0, vec![]);
    for (k, (name, count)) in ESTHETICS.iter().enumerate() {
        let section = shipped(name);
        let numbers: Vec<String> = (1..=*count).map(|n| format!("{}.{n}", k + 1)).collect();
        let ours: Vec<&str> = section.criteria.iter().map(|c| c.id.as_str()).collect();
        assert_eq!(ours, numbers, "{name}");
        infection += section.criteria.iter().filter(|c| c.infection).count();
        // A whole run claims all that can be heard, with the labels called.
        let mut says = says(&section);
        if section.events.iter().any(|e| e.id == "labels") {
            says.insert(1, "labels facing out".into());
        }
        let outcome = lived_saying(&section, &says);
        let review = reviewed(&section, &outcome);
        for (criterion, claim) in section.criteria.iter().zip(sheet(&section, &outcome.called, &review)) {
            let heard = !section.unheard(criterion);
            assert_eq!(claim, if heard { Claim::Claimed } else { Claim::CantBeHeard }, "{name}, {}", criterion.id);
            unheard.extend((!heard).then_some(criterion.id.clone()));
            mapped += 1;
        }
    }
    figure("criteria of the esthetics bulletin mapped", format!("{mapped} of 40"), "40 of 40", mapped == 40);
    figure("criteria about infection control", infection, "27", infection == 27);
    figure(
        "criteria that only an observer can tell",
        unheard.join(" "),
        "2.2 2.8 4.2 5.2 6.3",
        unheard == ["2.2", "2.8", "4.2", "5.2", "6.3"],
    );
}

/// NIC esthetics bulletin, blood procedure: gloves off, then contaminated supplies away. 29 CFR 1910.1030(d)(3)(ix), OSHA: gloves for
/// contaminated items. Both orders pass.
#[test]
fn both_blood_orders_pass() {
    let section = shipped("blood");
    let whole = says(&section);
    let at = |say: &str| whole.iter().position(|s| s == say).unwrap();
    let (off, away) = (at("gloves in the bin"), at("contaminated items away"));
    assert_eq!(off.abs_diff(away), 1);
    let mut other = whole.clone();
    other.swap(off, away);
    let found = [findings(&section, &whole), findings(&section, &other)];
    figure(
        "blood, findings in both orders",
        format!("{}, {}", found[0].len(), found[1].len()),
        "0, 0",
        found.iter().all(Vec::is_empty),
    );
}

/// NIC esthetics bulletin, blood procedure: the blood is not touched, and the injured person presses.
#[test]
fn touching_the_blood_and_pressing_for_the_client_are_critical() {
    let section = shipped("blood");
    for say in ["touching the blood", "i press the cut"] {
        let mut says = says(&section);
        says.insert(5, say.into());
        let found = findings(&section, &says);
        assert!(found.len() == 1 && found[0].critical(&section), "{say}: {found:?}");
    }
}

/// NIC Barber Styling practical bulletin, rev. 1 Sep 2025, 5.4 to 5.6: antiseptic, dressing, then a glove or a finger guard.
#[test]
fn a_practitioner_who_is_hurt_cleans_covers_and_guards() {
    let own = shipped("barbering/blood-own");
    assert!(before(&own, "antiseptic", "dressing") && before(&own, "dressing", "guard"));
    assert!(before(&own, "guard", "contaminated"));
    let client = shipped("blood");
    assert!(before(&client, "gloves-on", "antiseptic"), "a hurt client has it the other way round");
}

/// Common practice, in line with 16 Cal. Code Regs. 979(c): pick up with a tissue or a glove, the right container, hands, a fresh one.
#[test]
fn a_dropped_item_answered_right_is_no_finding() {
    let mut right = 0;
    for (name, _) in SHIPPED {
        let section = shipped(name);
        for answer in [DropAnswer::Away, DropAnswer::Fresh] {
            assert!(section.events.iter().any(|e| e.drop == Some(answer)), "{name} can answer a drop");
        }
        let hands = section.steps.iter().find(|s| s.hygiene).unwrap().say[0].clone();
        let run = |answers: &[&str]| {
            let mut says = says(&section);
            // Not right before planned hands: those answer, too.
            let after = (3..).find(|&k| !section.is_hygiene(&says[k])).unwrap();
            answers.iter().rev().for_each(|say| says.insert(after, say.replace("HANDS", &hands)));
            let mut outcome = lived_saying(&section, &says);
            outcome.dropped = vec![outcome.called[after].at - stepbell::time::Ms(1_000)];
            reviewed(&section, &outcome).findings
        };
        let found = run(&["picked up with a tissue", "HANDS", "fresh item"]);
        assert_eq!(found, [], "{name}");
        right += 1;
        for wrong in
            [&["HANDS"][..], &["picked up with a tissue", "HANDS"], &["HANDS", "picked up with a tissue", "fresh item"]]
        {
            let found = run(wrong);
            assert!(found.iter().any(|f| matches!(f, Finding::Dropped { .. })), "{name}, {wrong:?}: {found:?}");
        }
    }
    figure(
        "dropped item answered right: no finding",
        format!("{right} of {}", SHIPPED.len()),
        "all",
        right == SHIPPED.len(),
    );
}

/// Calling again changes nothing, more hygiene is never a fault, and gloves that picked it up have to come off.
#[test]
fn an_answer_goes_on_through_repeats_hands_and_gloves() {
    let found = |name: &str, after: &str, answers: &[&str]| {
        let section = shipped(name);
        let mut says = says(&section);
        let place = says.iter().position(|s| s == after).unwrap() + 1;
        says.splice(place..place, answers.iter().map(|s| s.to_string()));
        let mut outcome = lived_saying(&section, &says);
        // Five seconds apart, and then the work goes on: no rub is too short that answers nothing else.
        outcome.dropped = vec![outcome.called[place - 1].at + stepbell::time::Ms(1_000)];
        for (k, c) in outcome.called.iter_mut().enumerate().skip(place).take(answers.len()) {
            c.at = outcome.dropped[0] + stepbell::time::Ms(2_000 * (k - place + 1) as u64);
        }
        if answers.contains(&"torn glove") {
            outcome.dropped.clear();
        }
        reviewed(&section, &outcome).findings
    };
    let (away, hands, fresh) = ("picked up with a tissue", "sanitize hands", "fresh item");
    for answers in [
        &[hands, away, hands, fresh][..],
        &[away, hands, hands, fresh],
        &[away, hands, away, fresh],
        &["labels facing out", away, hands, fresh],
        &["cleanse", away, hands, "cleanse the face", fresh],
        &[away, hands, fresh, fresh, hands],
    ] {
        assert_eq!(found("basic-facial", "cleanse", answers), [], "{answers:?}");
    }
    let with_gloves = "picked up with gloves";
    for answers in [
        &[with_gloves, "gloves in the bin", hands, fresh, "gloves on"][..],
        &[with_gloves, "gloves in the bin", hands, "gloves on", "gloves on", fresh],
        &[with_gloves, "remove gloves", hands, fresh, "labels facing out", hands, "gloves on"],
        &["torn glove", "torn glove", "gloves in the bin", hands, "gloves on"],
        &["torn glove", hands, "gloves in the bin", hands, hands, "gloves on", "gloves on"],
        &["torn glove", "mix the color", "remove gloves", "gloves in the bin", "labels in english", hands, "gloves on"],
    ] {
        assert_eq!(found("hair/color-test", "mix the color", answers), [], "{answers:?}");
    }
    // What was not called is told all the same, once.
    let told = found("basic-facial", "cleanse", &["cleanse", away, fresh]);
    assert!(
        matches!(&told[..], [Finding::Dropped { hands_after: None, missing, .. }] if missing.is_empty()),
        "{told:?}"
    );
    let told = found("basic-facial", "cleanse", &[hands, hands, away, fresh]);
    assert!(matches!(&told[..], [Finding::Dropped { missing, .. }] if missing[..] == [DropAnswer::Hands]), "{told:?}");
    let told = found("hair/color-test", "mix the color", &["torn glove", "torn glove", "remove gloves", hands, hands]);
    assert!(
        told.iter().any(|f| matches!(f, Finding::Unanswered { missing, .. } if missing == "gloves-on")),
        "{told:?}"
    );
    assert_eq!(told.iter().filter(|f| matches!(f, Finding::Unanswered { .. })).count(), 1, "{told:?}");
    // Bare hands in the color stay what can hurt.
    let told = found("hair/color-test", "mix the color", &[with_gloves, "remove gloves", hands, fresh]);
    assert!(matches!(told[..], [Finding::Unsafe { undone: true, .. }]), "{told:?}");
}

/// 29 CFR 1910.1030(d)(3)(ix)(A), OSHA: torn single-use gloves are replaced. Hands between them: common practice.
#[test]
fn a_torn_glove_answered_right_is_no_finding() {
    let (mut right, mut tried) = (0, 0);
    for name in [
        "station-set-up",
        "break-down",
        "brow-wax",
        "blood",
        "additional/lip-wax",
        "additional/brow-tint",
        "additional/steam-extraction",
        "hair/hair-set-up",
        "hair/color-test",
    ] {
        let section = shipped(name);
        let whole = says(&section);
        let gloves = whole.iter().position(|s| s == "gloves on").unwrap();
        let with = |answers: &[&str]| {
            let mut says = whole.clone();
            answers.iter().rev().for_each(|say| says.insert(gloves + 1, say.to_string()));
            findings(&section, &says)
        };
        let found = with(&["torn glove", "gloves in the bin", "sanitize hands", "gloves on"]);
        tried += 1;
        right += usize::from(found.is_empty());
        assert_eq!(found, [], "{name}");
        let found = with(&["torn glove"]);
        assert!(matches!(found[..], [Finding::Unanswered { .. }]), "{name}: {found:?}");
    }
    figure("torn glove answered right: no finding", format!("{right} of {tried}"), "all", right == tried);
}

/// NIC Nail Technology practical bulletin, rev. 1 Mar 2026, section 2 (polish off all nails, 2.7 disposal) and section 4 (the proctor
/// names the finger of the tip).
#[test]
fn all_polish_comes_off_and_the_drawn_finger_belongs_to_the_tip() {
    let manicure = shipped("nails/water-manicure");
    assert!(manicure.drawn.is_empty());
    assert_eq!(manicure.steps[place(&manicure, "polish-off")].title, "polish off all nails");
    assert!(before(&manicure, "polish-off", "dispose") && before(&manicure, "dispose", "hands-last"));
    let text = fs::read_to_string("prompts/nails/nail-tip.toml").unwrap();
    let drawn: std::collections::BTreeSet<String> =
        (0..40).map(|seed| stepbell::authoring::read_seeded(&text, seed).0.unwrap().drawn[0].1.clone()).collect();
    assert_eq!(drawn.into_iter().collect::<Vec<_>>(), ["index", "little", "middle", "ring", "thumb"]);
}

/// NIC esthetics bulletin, 2.6 (four of five movements), 2.8 (the drape stays on), 2.9 (disposal).
#[test]
fn the_drape_of_the_facial_stays_to_the_end() {
    let facial = shipped("basic-facial");
    assert_eq!((facial.choices[0].of.len(), facial.choices[0].at_least), (5, 4));
    assert!(before(&facial, "dispose", "hands-last"), "disposal and the last hands are two things");
    let mut says = says(&facial);
    says.insert(20, "undrape".into());
    let outcome = lived_saying(&facial, &says);
    let review = reviewed(&facial, &outcome);
    assert_eq!(review.findings.len(), 1, "{:?}", review.findings);
    assert_eq!(sheet(&facial, &outcome.called, &review)[7], Claim::Contradicted, "2.8");
}

/// NIC esthetics bulletin, section 4: no general start; each candidate is told alone, for the wax and again for the tweezing.
#[test]
fn the_brow_has_no_general_start() {
    let brow = shipped("brow-wax");
    let begin = brow.phases[0].begin.to_lowercase();
    assert!(!begin.contains("begin") && !begin.contains("start") && begin.contains("wait"), "{begin}");
    let gated: Vec<&str> = brow.steps.iter().filter(|s| s.gate.is_some()).map(|s| s.id.as_str()).collect();
    assert_eq!(gated, ["hands-first", "tweeze"]);
    // 16 Tex. Admin. Code 83.105(d): an applicator is not used again; so each is called.
    assert!(before(&brow, "fresh-applicator", "apply-wax"));
}

/// NIC esthetics bulletin, sections 3 and 5: draped in the section before; five items in order; braced at eye and mouth.
#[test]
fn make_up_is_put_on_in_the_published_order() {
    let make_up = shipped("make-up");
    let items = ["foundation", "blush", "eyeliner", "mascara", "lip"];
    assert!(items.windows(2).all(|pair| before(&make_up, pair[0], pair[1])));
    assert!(make_up.steps.iter().all(|s| s.id != "drape") && before(&make_up, "check-drape", "foundation"));
    for id in ["eyeliner", "lip"] {
        assert!(make_up.steps[place(&make_up, id)].caution.as_ref().unwrap().contains("Brace"), "{id}");
    }
    let applicators = make_up.steps.iter().filter(|s| s.say[0] == "fresh applicator").count();
    assert_eq!(applicators, 4, "applicators are counted");
    assert!(make_up.events.iter().all(|e| !e.say.iter().any(|s| s.contains("dip"))), "nobody confesses a double dip");
}

/// NIC esthetics bulletin, section 3 and supplies; contact time: the product's label (EPA-registered labels run from 15 s to 10 min).
#[test]
fn the_break_down_and_the_set_up_leave_contact_time_to_the_label() {
    let down = shipped("break-down");
    assert!(before(&down, "hands-drape", "new-client") && before(&down, "fresh-supplies", "labels"));
    assert!(before(&down, "close-kit", "new-client"));
    let towels = down.supplies.iter().find(|s| s.name == "barrier towels").unwrap();
    assert_eq!(towels.kind.in_words(), "laundered after");
    for section in [&down, &shipped("station-set-up")] {
        let step = &section.steps[place(section, "contact-time")];
        assert_eq!((step.target, step.at_least), (stepbell::time::Ms(0), None), "no fixed minute");
    }
    let set_up = shipped("station-set-up");
    let reading = set_up.reading.sentences.join(" ");
    assert!(["Trash", "Soiled linens", "To be disinfected"].iter().all(|name| reading.contains(name)), "{reading}");
}

/// A step with a least time, called shorter: one finding, unless the file leaves the time to the label.
#[test]
fn a_wait_that_was_cut_short_is_told() {
    let text = fs::read_to_string("prompts/skin-care/break-down.toml").unwrap();
    let text = text.replacen("# at_least_seconds = 120", "at_least_seconds = 120", 1);
    let section = stepbell::authoring::read(&text).0.unwrap();
    let outcome = lived(&section, &perfect(&section));
    let found = reviewed(&section, &outcome).findings;
    assert!(matches!(found[..], [Finding::TooShort { .. }]), "{found:?}");
    let sentence = recap::sentence(&section, &outcome, &found[0]);
    assert_eq!(sentence, "Too short: contact time, surface left wet, 30 seconds for at least 2 minutes.");
}

/// NIC Barber Styling practical bulletin, rev. 1 Sep 2025, 4.5 to 4.7: one cue for all strokes; areas 1, 3, 11; 2; 13 and 14.
/// Sharps: 29 CFR 1910.1030(d)(4)(iii).
#[test]
fn the_shave_has_one_cue_and_the_published_areas() {
    let shave = shipped("barbering/razor-shave");
    let gated: Vec<&str> = shave.steps.iter().filter(|s| s.gate.is_some()).map(|s| s.id.as_str()).collect();
    assert_eq!(gated, ["towel-off"]);
    let areas = ["area-1", "area-3", "area-11", "area-2", "area-13", "area-14"];
    assert!(areas.windows(2).all(|pair| before(&shave, pair[0], pair[1])));
    let blade = &shave.steps[place(&shave, "blade")];
    assert!(["puncture resistant", "closed", "labelled"].iter().all(|word| blade.title.contains(word)));
    assert_eq!(blade.published.as_deref(), Some("29 CFR 1910.1030(d)(4)(iii)"));
}

/// NIC Cosmetology practical bulletin, rev. 1 Jan 2026, section 2: four curls on top of the head, the iron tested; the rest is house.
#[test]
fn the_curls_are_on_top() {
    let curl = shipped("hair/thermal-curl");
    assert!(curl.reading.sentences.join(" ").contains("four curls on the top of the head"));
    assert_eq!(curl.steps.iter().filter(|s| s.base == "curl").count(), 4);
    assert!(curl.steps.iter().filter(|s| s.base == "secure").all(|s| s.published.is_none()));
}

/// NIC esthetics bulletin, suggested supplies, each item in our own word for it; over the six sections.
#[test]
fn the_pack_lists_hold_the_published_list() {
    let published = [
        "spatula",
        "soiled linens",
        "to be disinfected",
        "trash",
        "blush",
        "bowl",
        "kit",
        "cleanser",
        "make-up applicator",
        "palette",
        "disinfectant wipes",
        "eyeliner",
        "sharpener",
        "first-aid kit",
        "foundation",
        "gloves",
        "hand sanitiser",
        "drapes",
        "implement",
        "lip colour",
        "exfoliate",
        "mascara",
        "mask applicator",
        "mask",
        "massage product",
        "sun protection",
        "paper towels",
        "after epilation",
        "before epilation",
        "soft wax",
        "tissues",
        "toner",
        "tweezers",
        "wax applicator",
        "strips",
        "steam towel",
    ];
    let ours: Vec<String> = ESTHETICS
        .iter()
        .flat_map(|(name, _)| shipped(name).supplies)
        .map(|s| format!("{} {}", s.name, s.label.unwrap_or_default()).to_lowercase())
        .collect();
    let missing: Vec<&str> = published.into_iter().filter(|word| !ours.iter().any(|s| s.contains(word))).collect();
    figure("pack lists: published items missing", missing.join(", "), "", missing.is_empty());
    for (name, _) in SHIPPED {
        let kinds = shipped(name).supplies.iter().filter(|s| s.kind == stepbell::section::SupplyKind::Multi).count();
        assert_eq!(kinds, 0, "{name}: each supply is single use, a product, laundered or disinfected");
    }
}

/// NIC esthetics additional sections, rev. 1 Mar 2026: the patch test of the lashes (8.3) comes before the adhesive; the lip has 9.1 to 9.7.
#[test]
fn additional_sections_hold_their_criteria() {
    let lashes = shipped("additional/lash-bands");
    assert!(before(&lashes, "patch-test", "adhesive@left") && before(&lashes, "patch-test", "adhesive@right"));
    let numbers = |section: &Section| section.criteria.iter().map(|c| c.id.clone()).collect::<Vec<_>>().join(" ");
    assert_eq!(numbers(&lashes), "8.1 8.2 8.3 8.4 8.5 8.6 8.7 8.8");
    assert_eq!(numbers(&shipped("additional/lip-wax")), "9.1 9.2 9.3 9.4 9.5 9.6 9.7");
    // NIC Eyelash and Eyebrow Technician practical bulletin, rev. 1 Mar 2026, 8.1 to 8.9: gloves, barrier cream, tint, and off with it.
    let tint = shipped("additional/brow-tint");
    assert_eq!(numbers(&tint), "8.1 8.2 8.3 8.4 8.5 8.6 8.7 8.8 8.9");
    assert!(
        ["gloves-on", "barrier", "mix"].iter().all(|id| before(&tint, id, "tint")) && before(&tint, "tint", "tint-off")
    );
    // NIC Esthetics Advanced Practice practical bulletin, rev. 1 Mar 2026, 8.1 to 8.8: gel and moist conductors before the current.
    let lift = shipped("additional/microcurrent");
    assert_eq!(numbers(&lift), "8.1 8.2 8.3 8.4 8.5 8.6 8.7 8.8");
    assert!(["gel", "moisten", "cord"].iter().all(|id| before(&lift, id, "lift")));
}

/// NIC Cosmetology practical bulletin, rev. 1 Jan 2026, sections 1 and 6; NIC Barber Styling, rev. 1 Sep 2025, section 2, with hair that
/// stays where it fell until each candidate is told.
#[test]
fn cosmetology_and_barber_basics_hold_their_criteria() {
    let numbers = |name: &str| shipped(name).criteria.iter().map(|c| c.id.clone()).collect::<Vec<_>>();
    let up_to = |section: u32, last: u32| (1..=last).map(|k| format!("{section}.{k}")).collect::<Vec<_>>();
    assert_eq!(numbers("hair/hair-set-up"), up_to(1, 4));
    assert_eq!(numbers("hair/color-test"), up_to(6, 5));
    assert_eq!(numbers("barbering/haircut"), up_to(2, 14));
    let cut = shipped("barbering/haircut");
    let gated: Vec<&str> = cut.steps.iter().filter(|s| s.gate.is_some()).map(|s| s.id.as_str()).collect();
    assert_eq!(gated, ["hair-away"]);
    assert!(before(&cut, "scalp", "no-guard") && before(&cut, "lather", "neck-shave"));
}

/// 16 Tex. Admin. Code 83.104, as amended from 1 January 2023: gloves for extractions (a), tools cleaned and disinfected (d), single-use
/// things thrown away (e). No national bulletin has the section, so nothing else in it is called published.
#[test]
fn extraction_has_gloves_and_calls_nothing_else_published() {
    let section = shipped("additional/steam-extraction");
    assert!(before(&section, "gloves-on", "extract") && before(&section, "steamer-test", "steam"));
    let published: Vec<&str> = section.steps.iter().filter_map(|s| s.published.as_deref()).collect();
    assert!(published.iter().all(|p| p.starts_with("16 Tex. Admin. Code 83.104")), "{published:?}");
    assert!(shipped("additional/high-frequency").steps.iter().all(|s| s.published.is_none()));
}

/// NIC esthetics bulletin: sections 1 to 6 in this order; the day of the mock exam follows it.
#[test]
fn the_day_has_the_published_order() {
    let exam = stepbell::authoring::exam(&fs::read_to_string("prompts/mock-exam.toml").unwrap()).0.unwrap();
    let files: Vec<String> = exam.sections.iter().map(|p| p.file.as_ref().clone()).collect();
    let wanted: Vec<String> = ESTHETICS.iter().map(|(name, _)| format!("skin-care/{name}.toml")).collect();
    assert_eq!(files, wanted);
    assert!(exam.sections[2].before.contains("new client"), "a new client after the second section");
}

/// Editions are the sources' own dates, and every source is dated: NIC esthetics and nails 1 Mar 2026, barber 1 Sep 2025,
/// cosmetology 1 Jan 2026; for massage none is published.
#[test]
fn editions_are_the_sources_own() {
    for (name, _) in SHIPPED {
        let section = shipped(name);
        let (edition, rev) = match name.split('/').next().unwrap() {
            _ if ["additional/high-frequency", "additional/steam-extraction"].contains(&name) => {
                ("2026-03-01", "date of this file")
            }
            "barbering" => ("2025-09-01", "rev. 1 Sep 2025"),
            "hair" => ("2026-01-01", "rev. 1 Jan 2026"),
            "massage" => ("2026-03-01", "date of this file"),
            _ => ("2026-03-01", "rev. 1 Mar 2026"),
        };
        assert_eq!(section.edition, edition, "{name}");
        assert!(section.source.contains(rev), "{name}: {}", section.source);
    }
}

/// Words of our own, and none that sound alike.
#[test]
fn start_words_are_ours_and_callouts_are_told_apart() {
    for (name, _) in SHIPPED {
        let text = fs::read_to_string(format!("prompts/{name}.toml")).unwrap();
        assert!(!text.contains("You may begin"), "{name}");
        let section = shipped(name);
        let says: Vec<&String> = section.steps.iter().flat_map(|s| &s.say).collect();
        for say in says.iter().filter_map(|s| s.strip_suffix(" on")) {
            assert!(!says.iter().any(|s| **s == format!("{say} off")), "{name}: {say} on and off");
        }
    }
}

/// US CPSC, Avoiding Tap Water Scalds, publication 5098 (second-hand): 150 °F 2 s, 140 °F 6 s, 130 °F 30 s. The rest: textbooks, common
/// practice.
#[test]
fn cautions_hold_what_can_hurt() {
    let words = |name: &str| shipped(name).cautions.join(" ");
    for (name, wanted) in [
        ("basic-facial", &["150 °F", "2 seconds", "140 °F in 6", "130 °F in 30", "allergies"][..]),
        ("barbering/razor-shave", &["150 °F", "140 °F in 6", "130 °F in 30"]),
        ("brow-wax", &["sunburn", "moles", "broken skin", "thin the blood", "retinoids"]),
        ("massage/back", &["Fever", "spine", "kidneys"]),
        ("additional/lip-wax", &["sunburn", "moles", "broken skin", "thin the blood", "retinoids"]),
        ("additional/microcurrent", &["pacemaker", "epilepsy", "pregnancy"]),
        ("additional/high-frequency", &["pacemaker", "alcohol", "metal"]),
        ("additional/steam-extraction", &["Steam burns", "retinoids", "thin the blood"]),
        ("additional/brow-tint", &["patch test", "rinse at once"]),
        ("hair/color-test", &["emergency", "any reaction"]),
    ] {
        assert!(wanted.iter().all(|word| words(name).contains(word)), "{name}: {}", words(name));
    }
}
