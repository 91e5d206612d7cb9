//! Findings in words: what each says, and what the section says of it.

use super::{called_or_told, harm, listed, sheet, since};
use crate::outcome::Outcome;
use crate::review::{Finding, Review};
use crate::section::{Order, Section, Step};
use crate::text::upper;
use crate::time::{Ms, SampleIndex, spoken as span};

/// One finding as a sentence.
pub fn sentence(section: &Section, outcome: &Outcome, finding: &Finding) -> String {
    let title = |step: usize| section.steps[step].title.as_str();
    let since = |at: SampleIndex| span(since(outcome, at));
    // What is told after a silent run was not called, and has no times.
    let word = called_or_told(outcome);
    let when =
        |clause: &str, at: SampleIndex| if outcome.told { String::new() } else { format!("{clause}{}", since(at)) };
    let opening =
        |at: SampleIndex, words: &str| if outcome.told { upper(words) } else { format!("At {}, {words}", since(at)) };
    let consequence =
        |step: usize| harm::consequence(section, outcome, step).map_or_else(String::new, |words| format!(" {words}"));
    match finding {
        Finding::NotCalled { step } if section.steps[*step].critical => {
            format!("Critical, not {word}: {}.{}", title(*step), consequence(*step))
        }
        Finding::NotCalled { step } => format!("Not {word}: {}.", title(*step)),
        Finding::Perhaps { step, at } => {
            format!("Not heard for sure: {}, perhaps called at {}.", title(*step), since(*at))
        }
        Finding::ClaimedAfterwards { step, called, perhaps } => {
            let (critical, consequence) =
                if finding.critical(section) { ("Critical: ", consequence(*step)) } else { ("", String::new()) };
            let title = if critical.is_empty() { upper(title(*step)) } else { title(*step).into() };
            let claimed = match (called, perhaps) {
                (true, Some(at)) => format!("not heard for sure, perhaps called at {}", since(*at)),
                (true, None) => "not heard".into(),
                (false, _) => "gone through without a callout".into(),
            };
            format!("{critical}{title}, claimed afterwards: {claimed}.{consequence}")
        }
        Finding::OutOfOrder { step, at } => format!("Out of order: {}{}.", title(*step), when(", called at ", *at)),
        Finding::Extra { say, at } => {
            format!("{} once more than the section has it: {say}{}.", upper(word), when(", at ", *at))
        }
        Finding::TooFew { choice, called } => {
            format!("Too few: {called} {word}, where the section asks for {}.", section.choices[*choice].title)
        }
        Finding::BeforeCue { step, at } => format!("Before the cue: {}, called at {}.", title(*step), since(*at)),
        Finding::RuleBroken { rule, at } => {
            let rule = &section.rules[*rule];
            let critical = if rule.severity == crate::section::Severity::Critical { "Critical: " } else { "" };
            format!("{critical}{}.", opening(*at, &rule.message))
        }
        Finding::InvariantBroken { invariant, at } => {
            format!("Not kept{}: {}.", when(", from ", *at), section.invariants[*invariant].title)
        }
        Finding::Unsafe { pair, at, undone } => harm::unsafe_sentence(section, outcome, (*pair, *at, *undone)),
        Finding::BeforeStart { say, .. } => format!("Called before the start: {say}."),
        Finding::AfterStop { say, .. } => format!("Called after the end, so it doesn't count: {say}."),
        Finding::TooShort { step, took, .. } => {
            let least = section.steps[*step].at_least.unwrap_or(Ms(0));
            format!("Too short: {}, {} for at least {}.", title(*step), span(*took), span(least))
        }
        Finding::Unanswered { event, at, missing } => {
            let say = section.events[*event].say.first().map_or("", String::as_str);
            let step = section.steps.iter().find(|s| s.id == *missing || s.base == *missing);
            let missing = step.map_or(missing.as_str(), |s| s.title.as_str());
            format!("{}; what answers it did not follow: {missing}.", opening(*at, say))
        }
        Finding::Dropped { at, hands_after: Some(after), missing } => {
            let missing = sheet::unanswered(missing);
            format!("Dropped item called at {}, and hands {} later{missing}.", since(*at), span(*after))
        }
        Finding::Dropped { at, hands_after: None, missing } => {
            let missing = sheet::unanswered(missing);
            format!("Dropped item called at {}, and no hands before the next step{missing}.", since(*at))
        }
    }
}

fn titles(section: &Section, steps: &[usize]) -> String {
    listed(&steps.iter().map(|s| section.steps[*s].title.as_str()).collect::<Vec<_>>())
}

/// What of the section's order a step did not keep that was called at a place: of a row of steps, the nearest.
fn not_kept(section: &Section, review: &Review, step: usize, at: SampleIndex) -> Vec<String> {
    let far = Order::of(section).all_before();
    let when = |s: usize| review.steps.iter().find(|t| t.step == s).map(|t| t.at);
    let came = |s: &usize| when(*s).is_some_and(|place| place < at);
    let comes = |s: &usize| when(*s).is_some_and(|place| place > at);
    let all = || 0..section.steps.len();
    let late: Vec<usize> = all().filter(|&s| far[step].has(s)).filter(comes).collect();
    let early: Vec<usize> = all().filter(|&s| far[s].has(step)).filter(came).collect();
    let after: Vec<usize> = late.iter().copied().filter(|&s| !late.iter().any(|&m| far[m].has(s))).collect();
    let before: Vec<usize> = early.iter().copied().filter(|&s| !early.iter().any(|&m| far[s].has(m))).collect();
    let mut parts = vec![];
    parts.extend((!after.is_empty()).then(|| format!("after: {}", titles(section, &after))));
    parts.extend((!before.is_empty()).then(|| format!("before: {}", titles(section, &before))));
    if parts.is_empty() {
        // In its place, but for what belongs directly together.
        let own = section.steps[step].directly_after.filter(came);
        parts.extend(own.map(|first| format!("directly after: {}", titles(section, &[first]))));
        let pairs = all().filter_map(|next| Some((section.steps[next].directly_after?, next)));
        let split = |(first, next): &(usize, usize)| came(first) && comes(next);
        parts.extend(
            pairs.filter(split).map(|(first, next)| format!("not between: {}", titles(section, &[first, next]))),
        );
    }
    parts
}

/// What the section file has to say where a finding was made; empty where the sentence says it all.
pub fn section_says(section: &Section, review: &Review, finding: &Finding) -> String {
    let said = |step: &Step, parts: Vec<String>| {
        let has = (!parts.is_empty()).then(|| format!("The section has it {}.", parts.join("; ")));
        let caution = step.caution.as_ref().map(|c| format!("Caution: {}.", c.trim_end_matches('.')));
        has.into_iter().chain(caution).collect::<Vec<_>>().join(" ")
    };
    let about = |step: &Step| {
        let mut parts = vec![];
        parts.extend((!step.after.is_empty()).then(|| format!("after: {}", titles(section, &step.after))));
        parts.extend(step.directly_after.map(|d| format!("directly after: {}", section.steps[d].title)));
        parts.extend(step.plan().map(|plan| format!("planned: {}", span(plan))));
        parts.extend((step.points > 0).then(|| format!("points: {}", step.points)));
        said(step, parts)
    };
    match finding {
        Finding::NotCalled { step } | Finding::Perhaps { step, .. } | Finding::ClaimedAfterwards { step, .. } => {
            about(&section.steps[*step])
        }
        Finding::OutOfOrder { step, at } => said(&section.steps[*step], not_kept(section, review, *step, *at)),
        Finding::BeforeCue { step, .. } => {
            let cue = section.steps[*step].gate.as_deref().unwrap_or_default();
            format!("The section has it wait for the words \u{201c}{cue}\u{201d}.")
        }
        Finding::TooFew { choice, .. } => {
            let choice = &section.choices[*choice];
            format!("The section asks for {} of: {}.", choice.at_least, titles(section, &choice.of))
        }
        Finding::Extra { say, .. } => {
            let times = section.steps.iter().filter(|s| s.say.contains(say)).count();
            format!("The section has {times} of this callout.")
        }
        Finding::Dropped { .. } => {
            "A dropped item is picked up with a tissue or a glove and put where it belongs; then the hands, then a fresh one.".into()
        }
        Finding::TooShort { step, .. } => about(&section.steps[*step]),
        Finding::Unanswered { event, .. } => {
            let named = |name: &String| {
                let step = section.steps.iter().find(|s| s.id == *name || s.base == *name);
                step.map_or(name.clone(), |s| s.title.clone())
            };
            let answers: Vec<String> = section.events[*event].answered_by.iter().map(named).collect();
            format!("The section has it answered at once by: {}.", answers.join(", "))
        }
        Finding::BeforeStart { .. } => "The clock starts when the start words end.".into(),
        Finding::AfterStop { .. } => "The stop words end the work.".into(),
        Finding::Unsafe { pair, .. } => {
            let from = section.safety[*pair].published.as_ref();
            from.map_or_else(|| "Common practice.".into(), |source| format!("Published: {source}."))
        }
        Finding::RuleBroken { .. } | Finding::InvariantBroken { .. } => String::new(),
    }
}
