//! What goes wrong and is put right: a dropped item, a torn glove. What answers it belongs to no step, and is no finding.

use super::{Called, Facts, Finding};
use crate::section::{DropAnswer, Section, Step};
use crate::time::SampleIndex;

/// Where mishaps were called.
pub(super) fn begun(section: &Section, facts: &Facts) -> Vec<SampleIndex> {
    let is_one = |say: &String| section.events.iter().any(|e| !e.answered_by.is_empty() && e.say.contains(say));
    let others = facts.called.iter().filter(|c| is_one(&c.say)).map(|c| c.at);
    facts.dropped.iter().copied().chain(others).collect()
}

/// Callouts that answer a mishap, by place among those called, and what was not answered; in a run that was cut short it might have
/// been answered yet.
pub(super) fn answered(section: &Section, facts: &Facts) -> (Vec<usize>, Vec<Finding>) {
    let (mut answers, mut findings) = (vec![], vec![]);
    let called = &facts.called;
    for &at in &facts.dropped {
        findings.extend(drop_answered(section, facts, at, &mut answers));
    }
    for (event, keys) in section.events.iter().enumerate().filter(|(_, e)| !e.answered_by.is_empty()) {
        let mut behind = 0;
        for (place, c) in called.iter().enumerate().filter(|(_, c)| keys.say.contains(&c.say)) {
            // Called again before it was answered, it is the same mishap.
            if place < behind {
                continue;
            }
            let missing;
            (missing, behind) = follow(section, &keys.answered_by, called, place, &mut answers);
            if let Some(missing) = missing.filter(|_| !(facts.cut && behind == called.len())) {
                findings.push(Finding::Unanswered { event, at: c.at, missing });
            }
        }
    }
    // Two mishaps may have one answer in common.
    answers.sort_unstable();
    answers.dedup();
    (answers, findings)
}

/// The first of `wanted` that did not follow the mishap called at `place`, and the place behind its answer. What was called once
/// more is no other callout, and hands may be washed between any two.
fn follow(
    section: &Section,
    wanted: &[String],
    called: &[Called],
    place: usize,
    answers: &mut Vec<usize>,
) -> (Option<String>, usize) {
    let mut meant = 0;
    let mut behind = place + 1;
    while let Some(Called { say, .. }) = called.get(behind) {
        let open = meant < wanted.len();
        let next = open && section.means(&wanted[meant], say);
        let again = meant > 0 && section.means(&wanted[meant - 1], say);
        meant += usize::from(next);
        if next || again || open && section.is_hygiene(say) {
            answers.push(behind);
        } else if !(open && goes_on(section, &called[..place], say)) {
            break;
        }
        behind += 1;
    }
    (wanted.get(meant).cloned(), behind)
}

/// Whether a callout begins no other step than the one at work, by what was called before the mishap: hands and changed gloves
/// end no step.
fn goes_on(section: &Section, before: &[Called], say: &str) -> bool {
    let announces = |step: &Step, say: &str| step.say.iter().any(|p| p == say);
    let for_a_step = |say: &str| section.steps.iter().any(|s| announces(s, say));
    let works = |c: &&Called| for_a_step(&c.say) && !section.is_hygiene(&c.say) && !changes(section, &c.say);
    let at_work = before.iter().rev().find(works);
    let same = |work: &Called| section.steps.iter().any(|s| announces(s, say) && announces(s, &work.say));
    !for_a_step(say) || at_work.is_some_and(same)
}

/// Whether a callout is part of what answers a mishap, such as gloves taken off.
fn changes(section: &Section, say: &str) -> bool {
    section.events.iter().flat_map(|e| &e.answered_by).any(|name| section.means(name, say))
}

/// The callouts that answer an item dropped at `at`, and a finding where one is missing. A file that doesn't say how to put it
/// away can't be answered whole: there the drop is told with its hands. Up to the next step all may be called once more, and gloves
/// that picked it up may be changed.
fn drop_answered(section: &Section, facts: &Facts, at: SampleIndex, answers: &mut Vec<usize>) -> Option<Finding> {
    let means = |say: &str, answer: DropAnswer| {
        section.events.iter().any(|e| e.drop == Some(answer) && e.say.iter().any(|p| p == say))
    };
    let known = |answer: DropAnswer| section.events.iter().any(|e| e.drop == Some(answer));
    // What a file doesn't know is not wanted.
    let (mut away, mut fresh) = (!known(DropAnswer::Away), !known(DropAnswer::Fresh));
    let (mut hands, mut clean, mut whole, mut gloves, mut over) = (None, true, false, false, false);
    let (before, since) = facts.called.split_at(facts.called.partition_point(|c| c.at < at));
    for (place, c) in (before.len()..).zip(since) {
        if means(&c.say, DropAnswer::Away) {
            // Hands that were clean before they touched it are not clean now.
            clean &= away || hands.is_none();
            away = true;
        } else if means(&c.say, DropAnswer::Fresh) {
            fresh = true;
        } else if section.is_hygiene(&c.say) {
            // Behind the whole answer they are the section's own.
            if whole {
                continue;
            }
            hands = hands.or(Some(facts.pauses.clock(at, c.at)));
            clean = true;
        } else if changes(section, &c.say) && (gloves || !whole) {
            gloves = true;
        } else if goes_on(section, before, &c.say) {
            continue;
        } else {
            over = true;
            break;
        }
        answers.push(place);
        whole = away && fresh && clean && hands.is_some();
    }
    if whole && known(DropAnswer::Away) || facts.cut && !over {
        return None;
    }
    let wanted = [(DropAnswer::Away, away), (DropAnswer::Fresh, fresh), (DropAnswer::Hands, clean)];
    let missing = wanted.into_iter().filter(|(_, called)| !called).map(|(answer, _)| answer).collect();
    Some(Finding::Dropped { at, hands_after: hands, missing })
}
