//! A run in words: the spoken recap and the one for the terminal. What was heard is *called*; the tool can't know more.

mod answer;
mod data;
mod exam;
mod harm;
mod page;
mod sheet;
mod timeline;

pub use answer::answer;
pub use data::{SCHEMA, csv, json, webvtt};
pub use exam::{Went, exam_spoken, exam_text};
pub use page::{head, page};

use crate::outcome::{Absence, Ending, Mode, Outcome};
use crate::review::{Called, Finding, Review, review, score};
use crate::section::{Section, Step};
use crate::time::{Ms, SampleIndex, spoken as span};
use std::fmt::Write;

/// Most words of the spoken recap: at 150 words a minute under a minute. The page has the rest.
const MOST_WORDS: usize = 145;

/// Most titles in one breath.
const MOST_TITLES: usize = 8;

/// What the tool can't know, said in every recap.
pub const CAUTION: &str = "I heard what you called, not what you did.";

/// The same after a silent run.
const TOLD_CAUTION: &str = "I heard what you told me afterwards, not what you did.";

/// A run as pages and data tell it.
pub struct Lived<'a> {
    /// What was rehearsed.
    pub section: &'a Section,
    /// How it went.
    pub outcome: &'a Outcome,
    /// What there is to say of it.
    pub review: Review,
    /// Civil time at the start, RFC 3339.
    pub started: &'a str,
    /// Coach or exam.
    pub mode: Mode,
    /// How far the clock was compressed.
    pub compress: u32,
    /// What the proctor drew with.
    pub seed: u64,
}

/// Section time of a place: every time that is told is this one, so that pauses lie in none of them.
fn since(outcome: &Outcome, place: SampleIndex) -> Ms {
    outcome.clock(place)
}

/// Callouts for hand hygiene, in order.
pub fn hygiene<'a>(section: &Section, outcome: &'a Outcome) -> Vec<&'a Called> {
    outcome.called.iter().filter(|c| section.is_hygiene(&c.say)).collect()
}

/// What the section file has to say where a finding was made; empty where the sentence says it all.
pub fn section_says(section: &Section, finding: &Finding) -> String {
    let names = |steps: &[usize]| steps.iter().map(|s| section.steps[*s].title.as_str()).collect::<Vec<_>>().join(", ");
    let about = |step: &Step| {
        let mut parts = vec![];
        parts.extend((!step.after.is_empty()).then(|| format!("after: {}", names(&step.after))));
        parts.extend(step.directly_after.map(|d| format!("directly after: {}", section.steps[d].title)));
        parts.extend(step.plan().map(|plan| format!("planned: {}", span(plan))));
        parts.extend((step.points > 0).then(|| format!("points: {}", step.points)));
        parts.extend(step.caution.clone());
        if parts.is_empty() {
            String::new()
        } else {
            format!("The section has it {}.", parts.join("; ").trim_end_matches('.'))
        }
    };
    match finding {
        Finding::NotCalled { step } | Finding::Perhaps { step, .. } | Finding::OutOfOrder { step, .. } => {
            about(&section.steps[*step])
        }
        Finding::BeforeCue { step, .. } => {
            let cue = section.steps[*step].gate.as_deref().unwrap_or_default();
            format!("The section has it wait for the words \u{201c}{cue}\u{201d}.")
        }
        Finding::TooFew { choice, .. } => {
            let choice = &section.choices[*choice];
            format!("The section asks for {} of: {}.", choice.at_least, names(&choice.of))
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

/// The review of a run.
pub fn reviewed(section: &Section, outcome: &Outcome) -> Review {
    let mut review = review(section, &outcome.facts());
    for called in &outcome.before_start {
        review.findings.push(Finding::BeforeStart { say: called.say.clone(), at: called.at });
    }
    for called in &outcome.after_stop {
        review.findings.push(Finding::AfterStop { say: called.say.clone(), at: called.at });
    }
    // By harm, then by what is scored, then common practice; otherwise as the section has them.
    review.findings.sort_by_key(|f| f.weight(section));
    review
}

/// The spoken recap, in under a minute: how it ended, findings (critical ones, then what was not called, then order and rules),
/// hand hygiene, the step slowest against its plan, one thing to practise, and what the tool can't know.
pub fn spoken(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let mut text = ending(section, outcome);
    text.extend(guess(outcome).map(|guess| format!(" {guess}")));
    text += &format!(" {}", count(outcome, &review));
    let mut findings: Vec<&Finding> = review.findings.iter().collect();
    findings.sort_by_key(|f| (f.weight(section), rank(f)));
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
            let more = count.saturating_sub(MOST_TITLES);
            titles.truncate(MOST_TITLES);
            let more = if more > 0 { format!(", and {more} more") } else { String::new() };
            sentences.push((count, format!("Not called: {}{more}.", titles.join(", "))));
            titles.clear();
        }
    }
    sentences
}

/// The steps that a run which was cut short never reached, at most so many by name; none where it reached all.
pub fn not_reached(section: &Section, review: &Review, most: usize) -> Option<String> {
    let titles = review.not_reached.iter().take(most).map(|s| section.steps[*s].title.as_str()).collect::<Vec<_>>();
    let more = review.not_reached.len() - titles.len();
    let more = if more > 0 { format!(", and {more} more") } else { String::new() };
    (!titles.is_empty()).then(|| format!("Not reached: {}{more}.", titles.join(", ")))
}

/// What the tool can't know of this run.
pub fn caution(outcome: &Outcome) -> &'static str {
    if outcome.told { TOLD_CAUTION } else { CAUTION }
}

/// What is told first: what is missing, then what was in the wrong place, then rules.
fn rank(finding: &Finding) -> u8 {
    match finding {
        Finding::NotCalled { .. } | Finding::TooFew { .. } => 0,
        Finding::Perhaps { .. }
        | Finding::BeforeStart { .. }
        | Finding::AfterStop { .. }
        | Finding::BeforeCue { .. } => 1,
        Finding::OutOfOrder { .. } | Finding::Extra { .. } => 2,
        Finding::Unsafe { .. }
        | Finding::TooShort { .. }
        | Finding::Unanswered { .. }
        | Finding::Dropped { .. }
        | Finding::RuleBroken { .. }
        | Finding::InvariantBroken { .. } => 3,
    }
}

fn often(times: usize) -> String {
    match times {
        1 => "once".into(),
        2 => "twice".into(),
        n => format!("{n} times"),
    }
}

/// How often hands were called, and how long they took.
fn hands(section: &Section, outcome: &Outcome, review: &Review) -> Option<String> {
    section.steps.iter().any(|s| s.hygiene).then_some(())?;
    let called = hygiene(section, outcome).len();
    let took: Ms = review.steps.iter().filter(|t| section.steps[t.step].hygiene).map(|t| t.took).sum();
    Some(match called {
        0 => "Hand hygiene was never called.".into(),
        1 => format!("Hand hygiene called once, {}.", span(took)),
        n => format!("Hand hygiene called {}, {} in all.", often(n), span(took)),
    })
}

/// The step that took most beyond its plan, where that is a quarter of the plan and ten seconds. Care takes its time: what is
/// critical or for the hands is never told as slow.
fn slowest(section: &Section, review: &Review) -> Option<(usize, String)> {
    let over = |t: &&crate::review::StepTime| t.took.saturating_sub(section.steps[t.step].target);
    let slow = |t: &&crate::review::StepTime| {
        let step = &section.steps[t.step];
        let over_plan = |plan: Ms| over(t) >= Ms(10_000) && over(t).0 * 4 >= plan.0;
        !step.critical && !step.hygiene && step.plan().is_some_and(over_plan)
    };
    let time = review.steps.iter().filter(slow).max_by_key(over)?;
    let step = &section.steps[time.step];
    Some((time.step, format!("Slowest against plan: {}, {} for {}.", step.title, span(time.took), span(step.target))))
}

/// One thing to practise next.
fn practise(section: &Section, review: &Review, findings: &[&Finding]) -> String {
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

/// A while in which nobody listened, as a clause.
pub fn away(why: Absence, span: Option<Ms>) -> String {
    let why = match why {
        Absence::Restarted => "the program was gone",
        Absence::Slept => "the computer slept",
        Absence::Microphone => "the microphone was gone",
    };
    let how_long = span.map_or_else(|| "a while".into(), self::span);
    format!("{why} for {how_long}; the clock was held")
}

fn count(outcome: &Outcome, review: &Review) -> String {
    let count = match review.findings.len() {
        0 if !outcome.whole() => "Nothing to look at, as far as it went.".into(),
        0 => "Every step was called, in order.".into(),
        1 => "One thing to look at.".into(),
        n => format!("{n} things to look at."),
    };
    // Nobody is to be told of more faults than there may be without a word about it.
    if review.unsettled {
        format!("{count} Some may be none: this run can be read in too many ways to try them all.")
    } else {
        count
    }
}

fn ending(section: &Section, outcome: &Outcome) -> String {
    if outcome.started.is_none() {
        return "The section was not started.".into();
    }
    match outcome.ended {
        Some((_, Ending::Finished | Ending::TimedOut)) => parts(section, outcome),
        Some((at, Ending::Stopped)) => format!("Stopped after {}.", span(since(outcome, at))),
        Some((at, Ending::MicrophoneEnded)) => format!("The sound ended after {}.", span(since(outcome, at))),
        None => "The run was cut off.".into(),
    }
}

/// How the time that the candidate guessed compares with the clock's.
pub fn guess(outcome: &Outcome) -> Option<String> {
    let (guessed, used) = (outcome.guessed?, outcome.used()?);
    Some(format!("You guessed {}; it was {}.", span(guessed), span(used)))
}

/// How each phase ended.
fn parts(section: &Section, outcome: &Outcome) -> String {
    let alone = section.phases.len() == 1;
    let told = section.phases.iter().zip(&outcome.phases).filter_map(|(phase, (from, end))| {
        let (to, how) = (*end)?;
        let used = outcome.pauses.clock(*from, to);
        let of = if alone { String::new() } else { format!("{}: ", phase.title) };
        Some(match (how, phase.clock.limit) {
            (Ending::Finished, Some(limit)) => {
                format!("{of}You finished with {} to spare.", span(limit.saturating_sub(used)))
            }
            (Ending::Finished, None) => format!("{of}You finished after {}.", span(used)),
            _ => format!("{of}Time ran out before you called the finish."),
        })
    });
    told.collect::<Vec<_>>().join(" ")
}

/// One finding as a sentence.
pub fn sentence(section: &Section, outcome: &Outcome, finding: &Finding) -> String {
    let title = |step: usize| section.steps[step].title.as_str();
    let since = |at: SampleIndex| span(since(outcome, at));
    match finding {
        Finding::NotCalled { step } if section.steps[*step].critical => {
            let consequence =
                harm::consequence(section, outcome, *step).map_or_else(String::new, |words| format!(" {words}"));
            format!("Critical, not called: {}.{consequence}", title(*step))
        }
        Finding::NotCalled { step } => format!("Not called: {}.", title(*step)),
        Finding::Perhaps { step, at } => {
            format!("Not heard for sure: {}, perhaps called at {}.", title(*step), since(*at))
        }
        Finding::OutOfOrder { step, at } => format!("Out of order: {}, called at {}.", title(*step), since(*at)),
        Finding::Extra { say, at } => format!("Called once more than the section has it: {say}, at {}.", since(*at)),
        Finding::TooFew { choice, called } => {
            format!("Too few: {called} called, where the section asks for {}.", section.choices[*choice].title)
        }
        Finding::BeforeCue { step, at } => format!("Before the cue: {}, called at {}.", title(*step), since(*at)),
        Finding::RuleBroken { rule, at } => {
            let rule = &section.rules[*rule];
            let critical = if rule.severity == crate::section::Severity::Critical { "Critical: " } else { "" };
            format!("{critical}At {}, {}.", since(*at), rule.message)
        }
        Finding::InvariantBroken { invariant, at } => {
            format!("Not kept, from {}: {}.", since(*at), section.invariants[*invariant].title)
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
            format!("At {}, {say}; what answers it did not follow: {missing}.", since(*at))
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

/// The recap for the terminal: ending, findings, the table of steps, blind time, cautions and source.
pub fn text(section: &Section, outcome: &Outcome) -> String {
    let review = reviewed(section, outcome);
    let mut out =
        format!("{} ({})\n{}\n{}\n", section.title, section.board, ending(section, outcome), count(outcome, &review));
    for finding in &review.findings {
        let _ = writeln!(out, "  - {}{}", sentence(section, outcome, finding), sheet::origin(section, finding));
    }
    if let Some(not_reached) = not_reached(section, &review, usize::MAX) {
        let _ = writeln!(out, "{not_reached}");
    }
    if let Some(guess) = guess(outcome) {
        let _ = writeln!(out, "{guess}");
    }
    if outcome.told {
        let told: Vec<&str> = outcome.called.iter().map(|c| c.say.as_str()).collect();
        let _ = writeln!(out, "\nA silent run. Told afterwards, in order: {}.", told.join(", "));
    } else {
        let _ = writeln!(out, "\n  called   took   plan  step");
    }
    for time in review.steps.iter().filter(|_| !outcome.told) {
        let step = &section.steps[time.step];
        let at = since(outcome, time.at);
        let _ = writeln!(
            out,
            "  {:>6} {:>6} {:>6}  {}",
            at.to_string(),
            time.took.to_string(),
            step.plan().map_or_else(String::new, |plan| plan.to_string()),
            step.title
        );
    }
    out += &sheet::text(section, outcome, &review);
    if let Some(score) = score(section, &outcome.called, &review) {
        let _ = writeln!(out, "\n{}", sheet::points(&score));
    }
    let _ = writeln!(out, "\nWhile the proctor spoke, {} of sound went unheard.", span(outcome.masked));
    if outcome.pauses.total() > Ms(0) {
        let _ = writeln!(out, "The clock was held for {}.", span(outcome.pauses.total()));
    }
    for gone in &outcome.away {
        let started = outcome.started.is_some_and(|s| gone.at >= s);
        let at = if started { format!("At {}", span(since(outcome, gone.at))) } else { "Before the start".into() };
        let _ = writeln!(out, "{at}, {}.", away(gone.why, gone.span));
    }
    if outcome.lost_samples > 0 {
        let _ = writeln!(out, "{} samples of sound were lost; callouts in them were not heard.", outcome.lost_samples);
    }
    for caution in &section.cautions {
        let _ = writeln!(out, "Caution: {caution}");
    }
    let _ = writeln!(out, "{}\nEdition {}. {}", caution(outcome), section.edition, section.source);
    out
}
