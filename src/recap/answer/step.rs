//! Answers about steps by name.

use super::{MOST_ALIKE, MOST_PLACES, list, since, upper};
use crate::intent::{alike, names};
use crate::outcome::Outcome;
use crate::recap::{apart, claim, often, reviewed, section_says, sentence};
use crate::review::{Called, Claimed, Finding, Review};
use crate::section::{Order, Section, Step};
use crate::time::{Ms, spoken as span};

/// The steps that go by a name.
fn steps(section: &Section, name: &str) -> Vec<usize> {
    names(section).remove(name).unwrap_or_default()
}

/// The answer for what the name names. A name is easily taken for one that ends alike, so such steps are told as well, where they
/// were called: "mask" is answered for "remove the mask", too.
fn with_alike(
    section: &Section,
    outcome: &Outcome,
    name: &str,
    tell: impl Fn(&str, &[usize]) -> Option<String>,
) -> String {
    let own = steps(section, name);
    let mut sentences = vec![tell(name, &own).unwrap_or_else(|| not_heard(outcome, name, &own))];
    for group in alike(section, name) {
        let called = outcome.called.iter().find(|c| group.iter().any(|s| section.steps[*s].say.contains(&c.say)));
        sentences.extend(called.and_then(|c| tell(&c.say, &group)));
    }
    sentences.truncate(1 + MOST_ALIKE);
    sentences.join(" ")
}

pub fn how_long(section: &Section, outcome: &Outcome, name: &str) -> String {
    let review = reviewed(section, outcome);
    with_alike(section, outcome, name, |name, steps| {
        let times: Vec<_> = review.steps.iter().filter(|t| steps.contains(&t.step)).collect();
        // A callout's own name asks after all of its callouts, also those that answered a mishap and stand for no step.
        let callout = steps.iter().all(|s| section.steps[*s].say.iter().any(|say| say == name));
        let apart = if callout { apart(section, outcome, &review, steps) } else { vec![] };
        let took: Ms = times.iter().map(|t| t.took).chain(apart.iter().copied()).sum();
        // Part of a plan is none to hold the whole against, and nobody is told that care took too long.
        let plan: Option<Ms> = times.iter().map(|t| section.steps[t.step].plan()).sum();
        let care = times.iter().any(|t| section.is_care(t.step));
        let plan = plan.filter(|plan| apart.is_empty() && !(care && took > *plan));
        let planned = plan.map_or_else(String::new, |plan| format!(", planned {}", span(plan)));
        match times.len() + apart.len() {
            0 => None,
            1 => Some(format!("{}: {}{planned}.", upper(name), span(took))),
            n => Some(format!("{}, called {}: {} in all{planned}.", upper(name), often(n), span(took))),
        }
    })
}

pub fn when(section: &Section, outcome: &Outcome, name: &str) -> String {
    with_alike(section, outcome, name, |name, steps| {
        let says = |step: &usize, say: &str| section.steps[*step].say.iter().any(|s| s == say);
        let called: Vec<_> = outcome.called.iter().filter(|c| steps.iter().any(|s| says(s, &c.say))).collect();
        // A word of several callouts: which of them is meant isn't known, so each is told.
        let callout = steps.iter().all(|s| says(s, name));
        let place = |c: &&Called| {
            let at = span(since(outcome, c.at));
            if callout || steps.len() < 2 { at } else { format!("{} {at}", c.say) }
        };
        let places: Vec<String> = called.iter().map(place).collect();
        let places: Vec<&str> = places.iter().map(String::as_str).collect();
        let often = often(places.len());
        let told = || format!("{}, called {often}, at: {}.", upper(name), list(&places, MOST_PLACES));
        (!places.is_empty()).then(told)
    })
}

fn not_called(name: &str) -> String {
    format!("I did not hear {name} called.")
}

/// The same, with what is claimed of it.
fn not_heard(outcome: &Outcome, name: &str, steps: &[usize]) -> String {
    let of_these = outcome.claims().into_iter().find(|(step, _)| steps.contains(step));
    let claimed = of_these.map(|(_, claimed)| claimed).filter(|claimed| *claimed != Claimed::NotCalled);
    let said = claimed.map(|claimed| format!(" You said afterwards that {}.", claim(claimed)));
    not_called(name) + &said.unwrap_or_default()
}

/// The callouts of a run that stand for some steps.
fn callouts<'a>(section: &Section, outcome: &'a Outcome, steps: &[usize]) -> Vec<&'a Called> {
    outcome.called.iter().filter(|c| steps.iter().any(|s| section.steps[*s].say.contains(&c.say))).collect()
}

pub fn called(section: &Section, outcome: &Outcome, name: &str) -> String {
    if !outcome.told {
        return when(section, outcome, name);
    }
    match callouts(section, outcome, &steps(section, name)).len() {
        0 => format!("You did not tell me of {name}."),
        n => format!("{}: told {}.", upper(name), often(n)),
    }
}

pub fn order(section: &Section, outcome: &Outcome, a: &str, b: &str) -> String {
    let place = |name: &str| {
        let steps = steps(section, name);
        let mine = |c: &Called| steps.iter().any(|s| section.steps[*s].say.contains(&c.say));
        let places: Vec<usize> = (0..outcome.called.len()).filter(|k| mine(&outcome.called[*k])).collect();
        places
    };
    let (first, second) = (place(a), place(b));
    let missing: Vec<String> =
        [(a, &first), (b, &second)].iter().filter(|(_, p)| p.is_empty()).map(|(name, _)| not_called(name)).collect();
    if !missing.is_empty() {
        return missing.join(" ");
    }
    if first.len() > 1 || second.len() > 1 {
        return format!("{} {}", called(section, outcome, a), called(section, outcome, b));
    }
    let (earlier, later) =
        if first[0] < second[0] { ((a, first[0]), (b, second[0])) } else { ((b, second[0]), (a, first[0])) };
    if outcome.told {
        return format!("First {}, then {}.", earlier.0, later.0);
    }
    let at = |k: usize| span(since(outcome, outcome.called[k].at));
    format!("First {}, at {}; then {}, at {}.", earlier.0, at(earlier.1), later.0, at(later.1))
}

pub fn between(section: &Section, outcome: &Outcome, a: &str, b: &str) -> String {
    let of = |name: &str| callouts(section, outcome, &steps(section, name));
    match (&of(a)[..], &of(b)[..]) {
        ([one], [other]) => {
            let (one, other) = (since(outcome, one.at), since(outcome, other.at));
            format!("{} from {a} to {b}.", upper(&span(Ms(one.0.abs_diff(other.0)))))
        }
        _ => order(section, outcome, a, b),
    }
}

pub fn planned(section: &Section, name: &str) -> String {
    let steps = steps(section, name);
    let plans: Option<Ms> = steps.iter().map(|s| section.steps[*s].plan()).sum();
    match plans.filter(|plan| *plan > Ms(0)) {
        Some(plan) if steps.len() > 1 => format!("{}: {} planned in all.", upper(name), span(plan)),
        Some(plan) => format!("{}: {} planned.", upper(name), span(plan)),
        None => format!("The section plans no time for {name}."),
    }
}

/// What a step needs: its hint, what comes before it, its time and its caution.
pub fn needs(section: &Section, name: &str) -> String {
    let mut told = vec![];
    for step in steps(section, name).into_iter().take(MOST_ALIKE) {
        let Step { title, hint, caution, at_least, .. } = &section.steps[step];
        let mut parts = vec![format!("{}:", upper(title))];
        parts.extend(hint.as_ref().map(|h| sentence_of(h)));
        let before = before(section, step);
        parts.extend((!before.is_empty()).then(|| format!("It comes after: {}.", list(&before, MOST_PLACES))));
        parts.extend(section.steps[step].plan().map(|plan| format!("Planned: {}.", span(plan))));
        parts.extend(at_least.map(|least| format!("At least {}.", span(least))));
        parts.extend(caution.as_ref().map(|c| format!("Caution: {}", sentence_of(c))));
        if section.steps[step].critical {
            parts.push("Leaving it out is critical.".into());
        }
        if parts.len() == 1 {
            parts.push("the section says nothing more of it.".into());
        }
        told.push(parts.join(" "));
    }
    told.join(" ")
}

/// With a full stop at its end.
fn sentence_of(text: &str) -> String {
    format!("{}.", text.trim_end_matches('.'))
}

/// Titles of the steps that must come right before one.
fn before(section: &Section, step: usize) -> Vec<&str> {
    let step = &section.steps[step];
    step.after.iter().chain(&step.directly_after).map(|s| section.steps[*s].title.as_str()).collect()
}

pub fn caution(section: &Section, name: &str) -> String {
    let steps = steps(section, name);
    let mut cautions: Vec<String> =
        steps.iter().filter_map(|s| section.steps[*s].caution.as_deref()).map(sentence_of).collect();
    cautions.dedup();
    if cautions.is_empty() {
        return format!("The section has no caution of its own for {name}. {}", super::whole::cautions(section));
    }
    format!("{}: {}", upper(name), cautions.join(" "))
}

pub fn source(section: &Section, name: &str) -> String {
    let mut published: Vec<&str> =
        steps(section, name).iter().filter_map(|s| section.steps[*s].published.as_deref()).collect();
    published.dedup();
    if published.is_empty() {
        return format!("{}: common practice; the section names no published source for it.", upper(name));
    }
    format!("{}: published, {}. {}", upper(name), published.join(", "), section.source)
}

/// The step that comes behind the first of those that go by a name, or the first of all; none behind the last.
pub fn following(section: &Section, name: Option<&str>) -> Option<usize> {
    let Some(name) = name else { return (!section.steps.is_empty()).then_some(0) };
    let last = *steps(section, name).first()?;
    // What may come at once: what waits for it, else the next on the list.
    let waits = |s: &usize| section.steps[*s].after.contains(&last) || section.steps[*s].directly_after == Some(last);
    let next = (0..section.steps.len()).find(|s| section.steps[*s].directly_after == Some(last));
    next.or_else(|| (0..section.steps.len()).find(waits)).or(Some(last + 1)).filter(|s| *s < section.steps.len())
}

pub fn next(section: &Section, name: Option<&str>) -> String {
    let order = |step: usize| {
        let before = Order::of(section).all_before();
        // Which of several comes first is free.
        let free = (0..section.steps.len())
            .filter(|s| *s != step && section.steps[*s].after == section.steps[step].after && !before[*s].has(step));
        let others: Vec<&str> =
            free.filter(|_| !section.steps[step].after.is_empty()).map(|s| section.steps[s].title.as_str()).collect();
        if others.is_empty() {
            String::new()
        } else {
            format!(" Or, in free order with it: {}.", list(&others, MOST_PLACES))
        }
    };
    match (following(section, name), name) {
        (Some(step), Some(name)) => format!("After {name}: {}.{}", section.steps[step].title, order(step)),
        (Some(step), None) => format!("First: {}.", section.steps[step].title),
        (None, _) => "That is the last step.".into(),
    }
}

pub fn prior(section: &Section, name: &str) -> String {
    let Some(step) = steps(section, name).first().copied() else { return not_called(name) };
    let before = before(section, step);
    match step.checked_sub(1) {
        _ if !before.is_empty() => format!("Before {name}: {}.", list(&before, MOST_PLACES)),
        Some(previous) => format!("Before {name}: {}, though the order is free.", section.steps[previous].title),
        None => format!("{} may come first.", upper(name)),
    }
}

/// The findings about a step, and what the section says there.
pub fn explain(section: &Section, outcome: &Outcome, name: &str) -> String {
    let steps = steps(section, name);
    let says = |say: &String| steps.iter().any(|s| section.steps[*s].say.contains(say));
    let about = |finding: &&Finding| match finding {
        Finding::OutOfOrder { step, .. } | Finding::BeforeCue { step, .. } | Finding::TooShort { step, .. } => {
            steps.contains(step)
        }
        Finding::Extra { say, .. } | Finding::BeforeStart { say, .. } | Finding::AfterStop { say, .. } => says(say),
        Finding::TooFew { choice, .. } => section.choices[*choice].of.iter().any(|s| steps.contains(s)),
        _ => finding.unheard().is_some_and(|(step, _)| steps.contains(&step)),
    };
    let review = reviewed(section, outcome);
    let told: Vec<String> = review
        .findings
        .iter()
        .filter(about)
        .take(MOST_ALIKE)
        .map(|f| explained(section, outcome, &review, f))
        .collect();
    if told.is_empty() { format!("I have no finding about {name}.") } else { told.join(" ") }
}

/// A finding, and what the section says of it.
pub fn explained(section: &Section, outcome: &Outcome, review: &Review, finding: &Finding) -> String {
    format!("{} {}", sentence(section, outcome, finding), section_says(section, review, finding)).trim().into()
}
