//! Answers about the run as a whole, and about its section.

use super::{MOST_FINDINGS, list, since, upper};
use crate::outcome::Outcome;
use crate::recap::{
    MOST_TITLES, called_or_told, count as findings_counted, ending, not_reached, often, only_hygiene, reviewed,
    sentence, sheet, spoken,
};
use crate::review::{Finding, StepTime, score};
use crate::section::Section;
use crate::time::{Ms, spoken as span};

pub fn missed(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let title = |step: usize| section.steps[step].title.as_str();
    let mut sentences: Vec<String> = vec![];
    let missing: Vec<&str> = review
        .findings
        .iter()
        .filter_map(|f| if let Finding::NotCalled { step } = f { Some(title(*step)) } else { None })
        .collect();
    if !missing.is_empty() {
        sentences.push(format!("Not {}: {}.", called_or_told(outcome), list(&missing, MOST_TITLES)));
    }
    for finding in &review.findings {
        if let Finding::TooFew { .. } | Finding::Perhaps { .. } | Finding::ClaimedAfterwards { .. } = finding {
            sentences.push(sentence(section, outcome, finding));
        }
    }
    sentences.extend(not_reached(section, &review, MOST_TITLES));
    if sentences.is_empty() {
        format!("Nothing: every step that the section needs was {}.", called_or_told(outcome))
    } else {
        sentences.join(" ")
    }
}

/// A step's time beside its plan; care that took longer stands alone.
fn timed(section: &Section, time: &StepTime) -> String {
    let step = &section.steps[time.step];
    let plan = step.plan().filter(|plan| time.took <= *plan || !section.is_care(time.step));
    let plan = plan.map_or_else(String::new, |plan| format!(", planned {}", span(plan)));
    format!("{}, {}{plan}", step.title, span(time.took))
}

/// Said where care would have been told as slow.
const CARE: &str = "I leave out what keeps hands and people safe: it takes its time.";

/// The step that took most time, or least, and the one behind it. Care is never told as slow.
pub fn extreme(section: &Section, outcome: &Outcome, longest: bool) -> String {
    let mut times = reviewed(section, outcome).steps;
    times.sort_by_key(|t| t.took);
    if longest {
        times.reverse();
    }
    let care = |t: &StepTime| longest && section.is_care(t.step);
    let left_out = times.iter().take(2).any(care);
    times.retain(|t| !care(t));
    let word = if longest { "Longest" } else { "Shortest" };
    let told = match &times[..] {
        [] if left_out => return CARE.into(),
        [] => "No step was called.".into(),
        [only] => format!("{word}: {}.", timed(section, only)),
        [first, second, ..] => format!("{word}: {}. Then {}.", timed(section, first), timed(section, second)),
    };
    if left_out { format!("{told} {CARE}") } else { told }
}

/// The steps that took more than planned, or less, by how much, the most first. Care is never told as slow.
pub fn against_plan(section: &Section, outcome: &Outcome, over: bool) -> String {
    let times = reviewed(section, outcome).steps;
    let by = |t: &StepTime| {
        let plan = section.steps[t.step].plan()?;
        let by = if over { t.took.saturating_sub(plan) } else { plan.saturating_sub(t.took) };
        (by >= Ms(1_000)).then_some((by, t.step))
    };
    let (care, mut found): (Vec<_>, Vec<_>) =
        times.iter().filter_map(by).partition(|(_, s)| over && section.is_care(*s));
    found.sort_by_key(|(by, step)| (std::cmp::Reverse(*by), *step));
    let words: Vec<String> =
        found.iter().map(|(by, step)| format!("{} by {}", section.steps[*step].title, span(*by))).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let side = if over { "over" } else { "under" };
    let told = match (words.is_empty(), care.is_empty()) {
        (true, true) => format!("No step that was called went {side} its plan."),
        (true, false) => format!("No other step that was called went {side} its plan."),
        (false, _) => format!("{} plan: {}.", upper(side), list(&words, MOST_FINDINGS)),
    };
    if care.is_empty() { told } else { format!("{told} {CARE}") }
}

pub fn left(section: &Section, outcome: &Outcome) -> String {
    match section.limit() {
        Some(_) => ending(section, outcome),
        None => format!("{} This section is not timed.", ending(section, outcome)),
    }
}

pub fn total(section: &Section, outcome: &Outcome) -> String {
    let limit = section.limit().map_or_else(String::new, |limit| format!(", of {}", span(limit)));
    match outcome.used() {
        Some(used) => format!("{} in all{limit}.", upper(&span(used))),
        None => ending(section, outcome),
    }
}

pub fn limit(section: &Section) -> String {
    let parts = section.phases.iter().map(|phase| match phase.clock.limit {
        Some(limit) => format!("{}: {}", phase.title, span(limit)),
        None => format!("{}: not timed", phase.title),
    });
    match section.limit() {
        Some(limit) => format!("The limit is {}.", span(limit)),
        None if section.phases.len() > 1 => format!("{}.", parts.collect::<Vec<_>>().join("; ")),
        None => "This section is not timed.".into(),
    }
}

pub fn count(section: &Section, outcome: &Outcome) -> String {
    let steps = reviewed(section, outcome).steps.len();
    let callouts = crate::text::count(outcome.called.len(), "callout");
    format!("I heard {callouts}, which stand for {} of {}.", steps, crate::text::count(section.steps.len(), "step"))
}

fn place(outcome: &Outcome, called: Option<&crate::review::Called>, word: &str) -> String {
    match called {
        None => "Nothing was called.".into(),
        Some(called) if outcome.told => format!("{word}: {}.", called.say),
        Some(called) => format!("{word}: {}, at {}.", called.say, span(since(outcome, called.at))),
    }
}

pub fn first(outcome: &Outcome) -> String {
    place(outcome, outcome.called.first(), "First")
}

pub fn last(outcome: &Outcome) -> String {
    place(outcome, outcome.called.last(), "Last")
}

pub fn hygiene(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let Some(mut told) = spoken::hands(section, outcome, &review) else {
        return "This section has no hand hygiene.".into();
    };
    if outcome.told {
        told = format!("Hand hygiene told {}.", often(crate::recap::hygiene(section, outcome).len()));
    }
    let missing: Vec<&str> = (review.findings.iter())
        .filter_map(|f| if let Finding::NotCalled { step } = f { Some(&section.steps[*step]) } else { None })
        .filter(|s| s.hygiene)
        .map(|s| s.title.as_str())
        .collect();
    if !missing.is_empty() {
        told += &format!(" Not {}: {}.", called_or_told(outcome), list(&missing, MOST_TITLES));
    }
    told
}

/// Findings as sentences, a few of them; `none` where there are none.
fn some(section: &Section, outcome: &Outcome, none: &str, of: impl Fn(&Finding) -> bool) -> String {
    let review = reviewed(section, outcome);
    let found: Vec<&Finding> = review.findings.iter().filter(|f| of(f)).collect();
    if found.is_empty() {
        return none.into();
    }
    let mut told: Vec<String> = found.iter().take(MOST_FINDINGS).map(|f| sentence(section, outcome, f)).collect();
    let more = found.len().saturating_sub(MOST_FINDINGS);
    told.extend((more > 0).then(|| format!("{more} more on the page.")));
    told.join(" ")
}

pub fn critical(section: &Section, outcome: &Outcome) -> String {
    some(section, outcome, "Nothing critical in what I heard.", |f| f.critical(section))
}

pub fn misplaced(section: &Section, outcome: &Outcome) -> String {
    some(section, outcome, "Nothing that I heard was out of order.", |f| {
        matches!(
            f,
            Finding::OutOfOrder { .. }
                | Finding::BeforeCue { .. }
                | Finding::Unsafe { .. }
                | Finding::BeforeStart { .. }
                | Finding::AfterStop { .. }
        )
    })
}

pub fn findings(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let counted = findings_counted(section, outcome, &review);
    if review.findings.is_empty() { counted } else { format!("{counted} {}", some(section, outcome, "", |_| true)) }
}

pub fn well(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let wrong = |step: usize| {
        review.findings.iter().any(|f| matches!(f, Finding::OutOfOrder { step: s, .. } | Finding::BeforeCue { step: s, .. } | Finding::TooShort { step: s, .. } if *s == step))
    };
    let good: Vec<&StepTime> = review.steps.iter().filter(|t| !wrong(t.step)).collect();
    let steps = crate::text::count(section.steps.len(), "step");
    let called = format!("{} of {steps} {} in place.", good.len(), called_or_told(outcome));
    if outcome.told || only_hygiene(section) {
        return called;
    }
    let within = |t: &&&StepTime| section.steps[t.step].plan().is_some_and(|plan| t.took <= plan);
    format!("{called} Within their plan: {}.", good.iter().filter(within).count())
}

pub fn points(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    score(section, &outcome.called, &review)
        .map_or_else(|| "This section has no points.".into(), |score| sheet::points(&score))
}

pub fn dropped(outcome: &Outcome) -> String {
    match outcome.dropped.len() {
        0 => "No dropped item was called.".into(),
        n => format!("Dropped items: {n}."),
    }
}

pub fn paused(outcome: &Outcome) -> String {
    match outcome.pauses.total() {
        Ms(0) => "The clock was never held.".into(),
        held => format!("The clock was held for {}.", span(held)),
    }
}

pub fn cautions(section: &Section) -> String {
    if section.cautions.is_empty() { "The section has no cautions.".into() } else { section.cautions.join(" ") }
}

/// The finding that is told first, and what the section says there.
pub fn explain(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    match review.findings.first() {
        Some(finding) => super::step::explained(section, outcome, &review, finding),
        None => "There is no finding to explain.".into(),
    }
}
