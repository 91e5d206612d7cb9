//! Rules: each template's truth table by hand, and against an independent evaluator of linear temporal logic on finite
//! traces (De Giacomo & Vardi, IJCAI 2013), which follows the formula where the program runs an automaton.

use crate::figure;
use stepbell::section::{Rule, RuleAutomaton, Severity, Template};

/// A formula over the two propositions `a` and `b`.
enum F {
    A,
    B,
    Not(Box<F>),
    And(Box<F>, Box<F>),
    Or(Box<F>, Box<F>),
    /// Strong next.
    X(Box<F>),
    Until(Box<F>, Box<F>),
}

use F::{A, And, B, Or, Until, X};

fn not(f: F) -> F {
    F::Not(Box::new(f))
}
fn and(f: F, g: F) -> F {
    And(Box::new(f), Box::new(g))
}
fn or(f: F, g: F) -> F {
    Or(Box::new(f), Box::new(g))
}
fn implies(f: F, g: F) -> F {
    or(not(f), g)
}
fn next(f: F) -> F {
    X(Box::new(f))
}
/// Weak next: true at the end.
fn weak_next(f: F) -> F {
    not(next(not(f)))
}
fn until(f: F, g: F) -> F {
    Until(Box::new(f), Box::new(g))
}
fn truth() -> F {
    or(A, not(A))
}
fn eventually(f: F) -> F {
    until(truth(), f)
}
fn always(f: F) -> F {
    not(eventually(not(f)))
}
fn weak_until(f: fn() -> F, g: fn() -> F) -> F {
    or(until(f(), g()), always(f()))
}
fn last() -> F {
    not(next(truth()))
}

fn holds(f: &F, trace: &[(bool, bool)], at: usize) -> bool {
    match f {
        A => trace[at].0,
        B => trace[at].1,
        F::Not(f) => !holds(f, trace, at),
        And(f, g) => holds(f, trace, at) && holds(g, trace, at),
        Or(f, g) => holds(f, trace, at) || holds(g, trace, at),
        X(f) => at + 1 < trace.len() && holds(f, trace, at + 1),
        Until(f, g) => (at..trace.len()).any(|j| holds(g, trace, j) && (at..j).all(|i| holds(f, trace, i))),
    }
}

/// `a` at least `n` times.
fn times(n: u32) -> F {
    match n {
        0 => truth(),
        1 => eventually(A),
        n => eventually(and(A, next(times(n - 1)))),
    }
}

fn formula(template: Template, n: u32) -> F {
    use Template::*;
    let no_b_before_a = || weak_until(|| not(B), || A);
    match template {
        Existence => times(n),
        Absence => not(times(n)),
        Exactly => and(times(n), not(times(n + 1))),
        Init => A,
        End => eventually(and(A, last())),
        Choice => or(eventually(A), eventually(B)),
        ExclusiveChoice => and(or(eventually(A), eventually(B)), not(and(eventually(A), eventually(B)))),
        RespondedExistence => implies(eventually(A), eventually(B)),
        CoExistence => and(implies(eventually(A), eventually(B)), implies(eventually(B), eventually(A))),
        NotCoExistence => not(and(eventually(A), eventually(B))),
        Response => always(implies(A, eventually(B))),
        AlternateResponse => always(implies(A, next(until(not(A), B)))),
        ChainResponse => always(implies(A, next(B))),
        Precedence => no_b_before_a(),
        AlternatePrecedence => and(no_b_before_a(), always(implies(B, weak_next(no_b_before_a())))),
        ChainPrecedence => and(not(B), always(implies(next(B), A))),
        Succession => and(formula(Response, n), formula(Precedence, n)),
        AlternateSuccession => and(formula(AlternateResponse, n), formula(AlternatePrecedence, n)),
        ChainSuccession => and(formula(ChainResponse, n), formula(ChainPrecedence, n)),
        NotSuccession => always(implies(A, not(eventually(B)))),
        NotChainSuccession => always(implies(A, not(next(B)))),
    }
}

/// A trace of letters: `a`, `b`, `x` for both at once, `.` for neither.
fn trace(letters: &str) -> Vec<(bool, bool)> {
    letters.chars().map(|c| (c == 'a' || c == 'x', c == 'b' || c == 'x')).collect()
}

fn kept(template: Template, n: u32, trace: &[(bool, bool)]) -> bool {
    let mut automaton = RuleAutomaton::new(template, n);
    let mut possible = true;
    for (a, b) in trace {
        let still = automaton.next(*a, *b);
        assert!(possible || !still, "{template:?}: broken once is broken for good");
        possible = still;
    }
    automaton.kept()
}

/// Every trace of up to seven callouts, for every template and counts of 1 to 3.
#[test]
fn judges_agree_with_temporal_logic_on_finite_traces() {
    let mut tried = 0u32;
    let mut differ = 0;
    for template in Template::ALL {
        let counts =
            if template.binary() || matches!(template, Template::Init | Template::End) { 1..=1 } else { 1..=3 };
        for n in counts {
            let formula = formula(template, n);
            for length in 1..=7u32 {
                for code in 0..4u32.pow(length) {
                    let trace: Vec<(bool, bool)> =
                        (0..length).map(|k| code >> (2 * k) & 3).map(|c| (c & 1 == 1, c & 2 == 2)).collect();
                    let ours = kept(template, n, &trace);
                    if ours != holds(&formula, &trace, 0) {
                        if differ < 5 {
                            println!("{template:?} {n} {trace:?}: {ours}");
                        }
                        differ += 1;
                    }
                    tried += 1;
                }
            }
        }
    }
    figure("rules: traces judged otherwise than by temporal logic", format!("{differ} of {tried}"), "0", differ == 0);
}

/// By hand, from the templates' descriptions: traces that keep each, and traces that break it.
#[test]
fn truth_tables() {
    use Template::*;
    let table: [(Template, &str, &str); 21] = [
        (Existence, "a .a ba aa", ". b bb .b."),
        (Absence, ". b bb", "a .a ba aa"),
        (Exactly, "a .a ab", ". b aa aba"),
        (Init, "a ab a.b x", "b .a ba"),
        (End, "a ba ..a x", "b ab a."),
        (Choice, "a b ab .b x", ". .."),
        (ExclusiveChoice, "a aa b .b", ". ab ba x"),
        (RespondedExistence, ". b ab ba x .b.a", "a aa .a"),
        (CoExistence, ". ab ba x", "a b aa .b"),
        (NotCoExistence, ". a b aa bb", "ab ba x a.b"),
        (Response, ". b ab a.b aab x", "a ba aba"),
        (AlternateResponse, ". b ab a.b abab", "a aab aba ba"),
        (ChainResponse, ". b ab abab bab", "a a.b aab ba"),
        (Precedence, ". a ab a.bb x", "b ba .b"),
        (AlternatePrecedence, ". a ab abab aab x", "b abb ba"),
        (ChainPrecedence, ". a ab abab aab", "b a.b abb"),
        (Succession, ". ab aab abb a.b", "a b ba aba"),
        (AlternateSuccession, ". ab abab a.b", "a b aab abb ba"),
        (ChainSuccession, ". ab abab", "a b a.b aab abb"),
        (NotSuccession, ". a b ba bba", "ab a.b bab x"),
        (NotChainSuccession, ". a b ba a.b", "ab bab .ab"),
    ];
    for (template, good, bad) in table {
        for letters in good.split(' ') {
            assert!(kept(template, 1, &trace(letters)), "{template:?} keeps {letters}");
        }
        for letters in bad.split(' ') {
            assert!(!kept(template, 1, &trace(letters)), "{template:?} is broken by {letters}");
        }
    }
}

/// What a template asks is said in the same words by the program, by the schema that editors show and in the chapter for authors.
#[test]
fn each_template_is_said_in_one_plain_sentence() {
    let schema: serde_json::Value = serde_json::from_str(stepbell::authoring::SCHEMA).unwrap();
    let shown = schema.pointer("/properties/rule/items/properties/template/oneOf").unwrap().as_array().unwrap();
    let chapter = std::fs::read_to_string("prompts/README.md").unwrap();
    assert_eq!(shown.len(), Template::ALL.len());
    for template in Template::ALL {
        let (name, sentence) = (template.name(), template.sentence());
        assert_eq!(serde_json::to_value(template).unwrap(), name, "the name that files have");
        assert!(shown.iter().any(|s| s["const"] == name && s["description"] == sentence), "{name} in the schema");
        assert!(chapter.contains(&format!("| `{name}` | {sentence} |")), "{name} in prompts/README.md");
        assert_eq!(sentence.contains(" B ") || sentence.starts_with("B "), template.binary(), "{name}: {sentence}");
        assert_eq!(stepbell::authoring::explain(&name.to_uppercase()).unwrap().2, sentence);
    }
}

#[test]
fn a_rule_is_said_with_its_own_names() {
    let rule = |template, count| Rule {
        id: "r".into(),
        template,
        first: "gloves-off".into(),
        then: Some("hands".into()),
        count,
        at_least: None,
        severity: Severity::Advice,
        message: String::new(),
        published: None,
    };
    let said = |template, count| rule(template, count).sentence();
    assert_eq!(said(Template::ChainResponse, 1), "`hands` must follow `gloves-off`, with nothing between.");
    assert_eq!(said(Template::AlternateSuccession, 1), "`gloves-off` and `hands` must take turns, `gloves-off` first.");
    assert_eq!(said(Template::Existence, 3), "`gloves-off` must be called at least 3 times.");
    assert_eq!(said(Template::Absence, 1), "`gloves-off` must not be called.");
}
