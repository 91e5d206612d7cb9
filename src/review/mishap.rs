//! What goes wrong and is put right: a dropped item, a torn glove. What answers it belongs to no step, and is no finding.

use super::{Facts, Finding};
use crate::section::{DropAnswer, Section};
use crate::time::SampleIndex;

/// Callouts that answer a mishap, by place among those called, and what was not answered; in a run that was cut short it might have
/// been answered yet.
pub(super) fn answered(section: &Section, facts: &Facts) -> (Vec<usize>, Vec<Finding>) {
    let (mut answers, mut findings) = (vec![], vec![]);
    let called = &facts.called;
    for &at in &facts.dropped {
        findings.extend(drop_answered(section, facts, at, &mut answers));
    }
    for (event, keys) in section.events.iter().enumerate().filter(|(_, e)| !e.answered_by.is_empty()) {
        for (place, c) in called.iter().enumerate().filter(|(_, c)| keys.say.contains(&c.say)) {
            let rest = &called[place + 1..];
            let meant = keys.answered_by.iter().zip(rest).take_while(|(name, c)| section.means(name, &c.say)).count();
            answers.extend(place + 1..place + 1 + meant);
            if let Some(missing) = keys.answered_by.get(meant).filter(|_| !(facts.cut && meant == rest.len())) {
                findings.push(Finding::Unanswered { event, at: c.at, missing: missing.clone() });
            }
        }
    }
    (answers, findings)
}

/// The callouts that answer an item dropped at `at`, and a finding where one is missing. A file that doesn't say how to put it
/// away can't be answered whole: there the drop is told with its hands.
fn drop_answered(section: &Section, facts: &Facts, at: SampleIndex, answers: &mut Vec<usize>) -> Option<Finding> {
    let means = |say: &str, answer: DropAnswer| {
        section.events.iter().any(|e| e.drop == Some(answer) && e.say.iter().any(|p| p == say))
    };
    let known = |answer: DropAnswer| section.events.iter().any(|e| e.drop == Some(answer));
    let (mut away, mut fresh, mut hands, mut early) = (false, false, None, false);
    let mut over = false;
    for (place, c) in facts.called.iter().enumerate().filter(|(_, c)| c.at >= at) {
        if means(&c.say, DropAnswer::Away) {
            // Hands that were clean before they touched it are not clean now.
            (away, early) = (true, hands.is_some());
        } else if means(&c.say, DropAnswer::Fresh) {
            fresh = true;
        } else if hands.is_none() && section.is_hygiene(&c.say) {
            hands = Some(facts.pauses.clock(at, c.at));
        } else {
            over = true;
            break;
        }
        answers.push(place);
    }
    let clean = !early || !known(DropAnswer::Away);
    let wanted = [(DropAnswer::Away, away), (DropAnswer::Fresh, fresh)];
    let mut missing: Vec<DropAnswer> =
        wanted.into_iter().filter(|(a, called)| known(*a) && !called).map(|(a, _)| a).collect();
    missing.extend((!clean).then_some(DropAnswer::Hands));
    let whole = known(DropAnswer::Away) && missing.is_empty() && hands.is_some();
    (!whole && (over || !facts.cut)).then_some(Finding::Dropped { at, hands_after: hands, missing })
}
