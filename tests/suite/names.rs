//! Names in pairs, rules and criteria: what they stand for when a run is told.

use stepbell::authoring;
use stepbell::outcome::{Ending, Outcome};
use stepbell::recap;
use stepbell::review::{Called, Claim, sheet};
use stepbell::section::Section;
use stepbell::time::{Ms, SampleIndex};

const HEAD: &str = "id = 'x'\ntitle = 'x'\ntrade = 'x'\nboard = 'x'\nedition = '2026-03-01'\nsource = 'x'\nfinish = ['stepping back']\n\
                    [reading]\nsentences = ['x']\nagain = 'x'\nbegin = 'x'\n[clock]\nstop = 'x'\n";

/// Hands, and two fingers.
const FINGERS: &str = "[[step]]\nid = 'wash'\ntitle = 'wash'\nsay = ['wash hands']\n\
                       [[step]]\nid = 'cut'\ntitle = 'cut {item}'\nsay = ['cut the nail {item}']\n\
                       [[loop]]\nid = 'fingers'\nover = ['left', 'right']\nsteps = ['cut']\n";

/// The same in two phases, the second with a step that may be left out.
const PHASES: &str = "[[phase]]\nid = 'one'\ntitle = 'One'\nminutes = 5\n[[phase]]\nid = 'two'\ntitle = 'Two'\nbegin = 'x'\nminutes = 5\n\
                      [[step]]\nid = 'wash'\ntitle = 'wash'\nsay = ['wash hands']\nphase = 'one'\n\
                      [[step]]\nid = 'cut'\ntitle = 'cut'\nsay = ['cut the nail']\nphase = 'two'\n\
                      [[step]]\nid = 'buff'\ntitle = 'buff'\nsay = ['buff the nail']\nphase = 'two'\noptional = true\n";

/// The section with these tables behind its head; it has no problem.
fn section(tables: &str) -> Section {
    let (section, problems) = authoring::read(&format!("{HEAD}{tables}"));
    assert_eq!(problems, [], "{tables}");
    section.unwrap()
}

/// A whole run in which this was called, half a minute apart.
fn lived(says: &[&str]) -> Outcome {
    let at = |i: usize| SampleIndex(0) + Ms(30_000 * (i as u64 + 1));
    let called = says.iter().enumerate().map(|(i, say)| Called { say: say.to_string(), at: at(i) }).collect();
    Outcome {
        started: Some(SampleIndex(0)),
        ended: Some((at(says.len()), Ending::Finished)),
        phases: vec![(SampleIndex(0), Some((at(says.len()), Ending::Finished)))],
        called,
        ..Outcome::default()
    }
}

/// What is said of a run of the section with these tables.
fn told(tables: &str, says: &[&str]) -> Vec<String> {
    let (section, outcome) = (section(tables), lived(says));
    recap::reviewed(&section, &outcome).findings.iter().map(|f| recap::sentence(&section, &outcome, f)).collect()
}

fn pair(first: &str, then: &str) -> String {
    format!("[[safety]]\nid = 'p'\nfirst = '{first}'\nthen = ['{then}']\nconsequence = 'Harm.'\n")
}

fn rule(template: &str, first: &str, then: &str) -> String {
    format!(
        "[[rule]]\nid = 'r'\ntemplate = '{template}'\nfirst = '{first}'\nthen = '{then}'\nseverity = 'critical'\nmessage = 'wrong'\n"
    )
}

#[test]
fn the_name_of_a_loop_or_a_phase_stands_for_its_steps() {
    let late = ["cut the nail left", "wash hands", "cut the nail right"];
    let right = ["wash hands", "cut the nail left", "cut the nail right"];
    let unsafe_order =
        "Critical: \u{201c}cut left\u{201d} was called at 30 seconds, before \u{201c}wash\u{201d}. Harm.";
    let invariant = "[[invariant]]\nid = 'i'\ntitle = 'clean'\nbroken_by = ['fingers']\nmended_by = ['wash']\n";
    for (tables, expected) in [
        (pair("wash", "fingers"), unsafe_order),
        (rule("precedence", "wash", "fingers"), "Critical: At 30 seconds, wrong."),
    ] {
        let tables = format!("{FINGERS}{tables}");
        assert_eq!(told(&tables, &late), [expected]);
        assert_eq!(told(&tables, &right), [""; 0]);
    }
    assert_eq!(told(&format!("{FINGERS}{invariant}"), &late), ["Not kept, from 30 seconds: clean."]);
    let torn = format!("{FINGERS}[[callout]]\nid = 'torn'\nsay = ['glove torn']\nanswered_by = ['fingers']\n");
    let answered = ["wash hands", "cut the nail left", "glove torn", "cut the nail right"];
    assert_eq!(told(&torn, &answered), [""; 0]);
    let phases = format!("{PHASES}{}", pair("wash", "two"));
    let swapped = told(&phases, &["cut the nail", "wash hands"]);
    assert_eq!(swapped, ["Critical: \u{201c}cut\u{201d} was called at 30 seconds, before \u{201c}wash\u{201d}. Harm."]);
    assert_eq!(told(&phases, &["wash hands", "cut the nail"]), [""; 0]);
    // Rules that no run can keep are seen through such a name, too.
    let both = format!("{HEAD}{FINGERS}{}", rule("not_co_existence", "wash", "fingers"));
    assert!(authoring::read(&both).1.iter().any(|p| p.code == "S041"));
}

#[test]
fn a_criterion_of_a_loop_or_a_phase_takes_what_is_needed_of_it() {
    for (tables, name, says, claim) in [
        (FINGERS, "fingers", &["wash hands", "cut the nail left", "cut the nail right"][..], Claim::Claimed),
        (FINGERS, "fingers", &["wash hands", "cut the nail left"], Claim::NotClaimed),
        (PHASES, "two", &["wash hands", "cut the nail"], Claim::Claimed),
        (PHASES, "two", &["wash hands", "buff the nail"], Claim::NotClaimed),
    ] {
        let section = section(&format!("{tables}[[criterion]]\nid = '1'\ntext = 'x'\nsteps = ['{name}']\n"));
        let outcome = lived(says);
        let review = recap::reviewed(&section, &outcome);
        assert_eq!(sheet(&section, &outcome.called, &review), [claim], "{says:?}");
    }
}

/// Gauze before and behind the needle, in the same words.
const GAUZE: &str = "[[step]]\nid = 'gauze1'\ntitle = 'first gauze'\nsay = ['apply gauze']\noptional = true\n\
                     [[step]]\nid = 'needle'\ntitle = 'needle out'\nsay = ['needle out']\nafter = ['gauze1']\n\
                     [[step]]\nid = 'gauze2'\ntitle = 'second gauze'\nsay = ['apply gauze']\nafter = ['needle']\n";

/// Hands twice in the same words, gloves off between them, and what the second hands are for.
const HANDS: &str = "[[step]]\nid = 'h1'\ntitle = 'hands'\nsay = ['sanitize hands']\nhygiene = true\n\
                     [[step]]\nid = 'glove'\ntitle = 'gloves off'\nsay = ['gloves off']\nafter = ['h1']\n\
                     [[step]]\nid = 'h2'\ntitle = 'hands again'\nsay = ['sanitize hands']\nhygiene = true\nafter = ['glove']\n\
                     [[step]]\nid = 'touch'\ntitle = 'touch'\nsay = ['touch the client']\nafter = ['h2']\n";

#[test]
fn a_pair_or_rule_goes_by_the_step_where_steps_share_words() {
    let perfect = ["apply gauze", "needle out", "apply gauze"];
    for tables in [pair("needle", "gauze2"), rule("precedence", "needle", "gauze2")] {
        assert_eq!(told(&format!("{GAUZE}{tables}"), &perfect), [""; 0], "{tables}");
    }
    let hands = format!("{HANDS}{}", pair("h2", "touch"));
    assert_eq!(told(&hands, &["sanitize hands", "gloves off", "sanitize hands", "touch the client"]), [""; 0]);
    assert_eq!(
        told(&hands, &["sanitize hands", "gloves off", "touch the client", "sanitize hands"]),
        [
            "Critical: \u{201c}touch\u{201d} was called at 1 minute 30 seconds, before \u{201c}hands again\u{201d}. Harm."
        ]
    );
    // Nothing tells which of two is meant that have no order between them: nobody is accused.
    let either =
        hands.replace("after = ['h1']\n", "").replace("after = ['glove']\n", "").replace("after = ['h2']\n", "");
    assert_eq!(told(&either, &["sanitize hands", "touch the client", "sanitize hands", "gloves off"]), [""; 0]);
}

const NEEDLE: &str = "[[step]]\nid = 'wash'\ntitle = 'wash'\nsay = ['wash hands']\n\
                      [[step]]\nid = 'needle'\ntitle = 'needle in'\nsay = ['insert the needle']\nafter = ['wash']\n";

#[test]
fn a_protection_that_was_never_called_is_told_where_nothing_else_tells_it() {
    let pair = pair("gloves", "needle");
    let event = format!("{NEEDLE}[[callout]]\nid = 'gloves'\nsay = ['gloves on']\n{pair}");
    let step = "[[step]]\nid = 'gloves'\ntitle = 'gloves'\nsay = ['gloves on']\n";
    let optional = format!("{NEEDLE}{step}optional = true\n{pair}");
    let never = "Critical: \u{201c}needle in\u{201d} was called at 1 minute, and \u{201c}gloves\u{201d} was not called before it. Harm.";
    let late = "Critical: \u{201c}needle in\u{201d} was called at 1 minute, before \u{201c}gloves\u{201d}. Harm.";
    for tables in [&event, &optional] {
        assert_eq!(told(tables, &["wash hands", "insert the needle"]), [never], "{tables}");
        assert_eq!(told(tables, &["wash hands", "insert the needle", "gloves on"]), [late], "{tables}");
        assert_eq!(told(tables, &["wash hands", "gloves on", "insert the needle"]), [""; 0], "{tables}");
        // Without what it protects from there is nothing to tell of it.
        assert_eq!(told(tables, &["wash hands"]), ["Not called: needle in."], "{tables}");
    }
    // A needed step is told as not called, and only so.
    let needed = told(&format!("{NEEDLE}{step}{pair}"), &["wash hands", "insert the needle"]);
    assert_eq!(needed, ["Critical, not called: gloves. Harm."]);
    // Another of its choice may be what protected.
    let mask = "[[step]]\nid = 'mask'\ntitle = 'mask'\nsay = ['mask on']\n\
                [[choice]]\ntitle = 'one protection'\nof = ['gloves', 'mask']\nat_least = 1\n";
    assert_eq!(told(&format!("{NEEDLE}{step}{mask}{pair}"), &["wash hands", "mask on", "insert the needle"]), [""; 0]);
    // Nor is anybody accused in a run that was cut short, or in a drill of something else.
    let section = section(&event);
    let mut cut = lived(&["wash hands", "insert the needle"]);
    cut.ended = cut.ended.map(|(at, _)| (at, Ending::Stopped));
    assert_eq!(recap::reviewed(&section, &cut).findings, []);
    let drill = section.drilled(&["needle".into()]).unwrap();
    assert_eq!(recap::reviewed(&drill, &lived(&["insert the needle"])).findings, []);
}

/// Gloves on and off around a needle; a torn one is answered by off, hands and on.
const TORN: &str = "[[step]]\nid = 'wash'\ntitle = 'wash'\nsay = ['wash hands']\nhygiene = true\n\
                    [[step]]\nid = 'on'\ntitle = 'gloves'\nsay = ['gloves on']\nafter = ['wash']\n\
                    [[step]]\nid = 'needle'\ntitle = 'needle in'\nsay = ['insert the needle']\nafter = ['on']\n\
                    [[step]]\nid = 'off'\ntitle = 'gloves off'\nsay = ['gloves off']\nafter = ['needle']\n\
                    [[callout]]\nid = 'torn'\nsay = ['torn glove']\nanswered_by = ['off', 'wash', 'on']\n";

/// A rule that asks for the answer to a mishap sees it, though it is no step of the section's.
#[test]
fn what_answers_a_mishap_is_seen_by_rules_that_ask_for_it() {
    let answered = [
        "wash hands",
        "gloves on",
        "torn glove",
        "gloves off",
        "wash hands",
        "gloves on",
        "insert the needle",
        "gloves off",
    ];
    let unanswered = ["wash hands", "gloves on", "torn glove", "insert the needle", "gloves off"];
    let mended =
        "[[invariant]]\nid = 'i'\ntitle = 'whole gloves'\nbroken_by = ['torn']\nmended_by = ['on']\nat_end = true\n";
    let asks = |template: &str, then: &str| rule(template, "torn", then);
    for asked in
        [asks("response", "on"), asks("alternate_response", "on"), asks("chain_response", "off"), mended.to_string()]
    {
        let tables = format!("{TORN}{asked}");
        assert_eq!(told(&tables, &answered), [""; 0], "{asked}");
        assert_eq!(told(&tables, &unanswered).len(), 2, "{asked}");
    }
    // Nor does it break what is kept without it.
    let once = rule("absence", "off", "x").replace("then = 'x'\n", "count = 2\n");
    assert_eq!(told(&format!("{TORN}{once}"), &answered), [""; 0]);
}

/// A pair over two steps of a loop is kept or broken by each turn.
#[test]
fn a_pair_over_a_loops_steps_is_judged_by_turn() {
    let ears = |after: &str, ear: &str| {
        format!(
            "[[step]]\nid = 'clean'\ntitle = 'clean {{item}}'\nsay = ['clean the {ear}']\n\
             [[step]]\nid = 'pierce'\ntitle = 'pierce {{item}}'\nsay = ['pierce the {ear}']\n\
             [[step]]\nid = 'mirror'\ntitle = 'mirror'\nsay = ['show the mirror']\n\
             [[loop]]\nid = 'ears'\nover = ['left', 'right']\nsteps = ['clean', 'pierce']\n{after}"
        )
    };
    let tables = ears(&pair("clean", "pierce").replace("['pierce']", "['pierce', 'mirror']"), "{item} ear");
    let late = "Critical: \u{201c}pierce right\u{201d} was called at 1 minute 30 seconds, before \u{201c}clean right\u{201d}. Harm.";
    let run = |ears: [&'static str; 4]| ears.into_iter().chain(["show the mirror"]).collect::<Vec<_>>();
    let late_run = run(["clean the left ear", "pierce the left ear", "pierce the right ear", "clean the right ear"]);
    assert_eq!(told(&tables, &late_run), [late]);
    for right in [
        ["clean the left ear", "pierce the left ear", "clean the right ear", "pierce the right ear"],
        ["clean the right ear", "clean the left ear", "pierce the left ear", "pierce the right ear"],
    ] {
        assert_eq!(told(&tables, &run(right)), [""; 0]);
    }
    // What is outside the loop is safe behind any turn.
    let early = ["clean the left ear", "show the mirror", "pierce the left ear"];
    let early = [&early[..], &["clean the right ear", "pierce the right ear"]].concat();
    assert_eq!(told(&tables, &early), [""; 0]);
    // A turn that was not cleaned at all is told as that, and the other one by itself.
    let missing = ["pierce the left ear", "clean the left ear", "pierce the right ear", "show the mirror"];
    let missing = told(&tables, &missing);
    assert!(missing[0].contains("pierce left") && missing[0].contains("before \u{201c}clean left"), "{missing:?}");
    assert!(missing.len() == 2 && missing[1].contains("not called: clean right"), "{missing:?}");
    // Where the turns have the same words, one can't be told from the other.
    let alike = ears(&pair("clean", "pierce"), "ear");
    let shared = ["clean the ear", "pierce the ear", "pierce the ear", "clean the ear", "show the mirror"];
    assert!(!told(&alike, &shared).iter().any(|t| t.contains("before")));
    // An order that puts each turn the wrong way round is seen in the file.
    let against = tables.replacen("say = ['clean", "after = ['pierce']\nsay = ['clean", 1);
    assert!(authoring::read(&format!("{HEAD}{against}")).1.iter().any(|p| p.code == "S053"));
}

/// What a pair or an invariant asks for once more is no callout too many.
#[test]
fn what_is_asked_for_once_more_is_not_told_as_extra() {
    let chin = "[[step]]\nid = 'gloves'\ntitle = 'gloves'\nsay = ['gloves on']\nafter = ['wash']\n\
                [[step]]\nid = 'chin'\ntitle = 'chin'\nsay = ['extract chin']\nafter = ['gloves']\n\
                [[callout]]\nid = 'face'\nsay = ['touched my face']\n";
    let steps = format!("{}{chin}", NEEDLE.replace("after = ['wash']", "after = ['gloves']"));
    let guarded = format!("{}undone_by = ['face']\n", pair("gloves", "chin"));
    let mended =
        "[[invariant]]\nid = 'i'\ntitle = 'clean'\nbroken_by = ['face']\nmended_by = ['gloves']\nat_end = true\n";
    let renewed = ["wash hands", "gloves on", "insert the needle", "touched my face", "gloves on", "extract chin"];
    let again = ["wash hands", "gloves on", "insert the needle", "gloves on", "extract chin"];
    let once = rule("exactly", "gloves", "x").replace("then = 'x'\n", "count = 1\n");
    for asked in [guarded.as_str(), mended] {
        for once in ["", &once] {
            let tables = format!("{steps}{asked}{once}");
            assert_eq!(told(&tables, &renewed), [""; 0], "{asked}");
            let extra = told(&tables, &again);
            assert!(extra.len() == 1 && extra[0].contains("once more"), "{asked}: {extra:?}");
        }
    }
}

/// What the proctor says and the recap shows has its placeholders filled, wherever a file may have them.
#[test]
fn placeholders_are_filled_in_every_text_that_is_said() {
    let text = format!(
        "{HEAD}minutes = 5\nwarning = '{{f}} warning'\nwarning_minutes_left = 2\n\
         [[parameter]]\nid = 'f'\none_of = ['thumb']\n\
         [[step]]\nid = 'cut'\ntitle = 'cut {{item}}'\nsay = ['cut {{item}}']\nhint = '{{f}} {{item}}'\ncaution = '{{f}} {{item}}'\n\
         gate = '{{f}} {{item}}'\n[[loop]]\nid = 'sides'\nover = ['left']\nsteps = ['cut']\n\
         [[step]]\nid = 'file'\ntitle = 'file'\nsay = ['file']\n{}{}",
        rule("precedence", "cut", "file").replace("'wrong'", "'{f} message'"),
        pair("cut", "file").replace("'Harm.'", "'{f} harm'")
    )
    .replace("again = 'x'\nbegin = 'x'", "again = '{f} again'\nbegin = '{f} begin'")
    .replace("stop = 'x'", "stop = '{f} stop'");
    let section = authoring::read(&text).0.unwrap();
    let (step, clock) = (&section.steps[0], &section.phases[0].clock);
    assert_eq!([&step.gate, &step.hint, &step.caution], [&Some("thumb left".to_string()); 3]);
    assert_eq!(
        [&*clock.warning, &clock.stop, &section.phases[0].begin],
        ["thumb warning", "thumb stop", "thumb begin"]
    );
    assert_eq!([&*section.reading.again, &section.rules[0].message], ["thumb again", "thumb message"]);
    assert_eq!(section.safety[0].consequence, "thumb harm");
}
