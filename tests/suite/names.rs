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
    let unsafe_order = "Critical: \u{201c}cut left\u{201d} came at 30 seconds, before \u{201c}wash\u{201d}. Harm.";
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
    assert_eq!(swapped, ["Critical: \u{201c}cut\u{201d} came at 30 seconds, before \u{201c}wash\u{201d}. Harm."]);
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
