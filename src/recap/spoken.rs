//! The spoken recap, in under a minute.

use super::{
    MOST_TITLES, MOST_WORDS, apart, called_or_told, caution, count, ending, guess, hygiene, listed_up_to, not_reached,
    often, only_hygiene, reviewed, sentence,
};
use crate::outcome::Outcome;
use crate::review::{Finding, Review};
use crate::section::Section;
use crate::time::{Ms, spoken as span};

/// The spoken recap, in under a minute: how it ended, findings in the order of [`reviewed`], hand hygiene, the step slowest against its
/// plan, one thing to practise, and what the tool can't know.
pub fn spoken(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let mut text = ending(section, outcome);
    text.extend(guess(outcome).map(|guess| format!(" {guess}")));
    text += &format!(" {}", count(section, outcome, &review));
    let findings: Vec<&Finding> = review.findings.iter().collect();
    let mut tail = String::new();
    if outcome.started.is_some() {
        // What is told afterwards has no times.
        let slow = slowest(section, &review).map(|(_, words)| words);
        let times = [hands(section, outcome, &review), slow].into_iter().flatten().filter(|_| !outcome.told);
        for words in times.chain([practise(section, &review, &findings)]) {
            tail += &format!(" {words}");
        }
    }
    tail += &format!(" {}", caution(outcome));
    let words = |text: &str| text.split_whitespace().count();
    let mut left = findings.len();
    let not_reached = not_reached(section, &review, MOST_TITLES).map(|sentence| (0, sentence));
    for (count, sentence) in sentences(section, outcome, &findings).into_iter().chain(not_reached) {
        if words(&text) + words(&sentence) + words(&tail) > MOST_WORDS {
            text += &if left > 0 { format!(" {left} more on the page.") } else { String::new() };
            break;
        }
        text += &format!(" {sentence}");
        left -= count;
    }
    text + &tail
}

/// Findings as sentences, each with how many it tells: many steps that were not called are told in one breath.
fn sentences(section: &Section, outcome: &Outcome, findings: &[&Finding]) -> Vec<(usize, String)> {
    let missing = |finding: &Finding| match finding {
        Finding::NotCalled { step } if !section.steps[*step].critical => Some(section.steps[*step].title.as_str()),
        _ => None,
    };
    let mut titles: Vec<&str> = findings.iter().filter_map(|f| missing(f)).collect();
    let count = titles.len();
    let mut sentences = vec![];
    for finding in findings {
        if count <= 3 || missing(finding).is_none() {
            sentences.push((1, sentence(section, outcome, finding)));
        } else if !titles.is_empty() {
            let told = listed_up_to(&std::mem::take(&mut titles), MOST_TITLES);
            sentences.push((count, format!("Not {}: {told}.", called_or_told(outcome))));
        }
    }
    sentences
}

/// How often hands were called, and how long they took, where that is known.
pub(super) fn hands(section: &Section, outcome: &Outcome, review: &Review) -> Option<String> {
    let hands: Vec<usize> = (0..section.steps.len()).filter(|s| section.steps[*s].hygiene).collect();
    (!hands.is_empty()).then_some(())?;
    let called = hygiene(section, outcome).len();
    let of_steps = review.steps.iter().filter(|t| hands.contains(&t.step)).map(|t| t.took);
    let took: Ms = of_steps.chain(apart(section, outcome, review, &hands)).sum();
    Some(match called {
        0 => "Hand hygiene was never called.".into(),
        n if only_hygiene(section) => format!("Hand hygiene called {}.", often(n)),
        1 => format!("Hand hygiene called once, {}.", span(took)),
        n => format!("Hand hygiene called {}, {} in all.", often(n), span(took)),
    })
}

/// The step that took most beyond its plan, where that is a quarter of the plan and ten seconds; care is none.
fn slowest(section: &Section, review: &Review) -> Option<(usize, String)> {
    let over = |t: &&crate::review::StepTime| t.took.saturating_sub(section.steps[t.step].target);
    let slow = |t: &&crate::review::StepTime| {
        let step = &section.steps[t.step];
        let over_plan = |plan: Ms| over(t) >= Ms(10_000) && over(t).0 * 4 >= plan.0;
        !section.is_care(t.step) && step.plan().is_some_and(over_plan)
    };
    let time = review.steps.iter().filter(|_| !only_hygiene(section)).filter(slow).max_by_key(over)?;
    let step = &section.steps[time.step];
    Some((time.step, format!("Slowest against plan: {}, {} for {}.", step.title, span(time.took), span(step.target))))
}

/// One thing to practise next.
pub(super) fn practise(section: &Section, review: &Review, findings: &[&Finding]) -> String {
    let title = |step: usize| section.steps[step].title.as_str();
    let step = findings.iter().find_map(|f| f.to_practise(section));
    let slow = slowest(section, review).map(|(step, _)| (step, None));
    match step.or(slow) {
        Some((step, Some(then))) => format!("Practise next: {}, then {}.", title(step), title(then)),
        Some((step, None)) => format!("Practise next: {}.", title(step)),
        None if findings.is_empty() => "Next, the same again.".into(),
        None => "Look at the page, then run it again.".into(),
    }
}
