//! What goes wrong and is put right: a dropped item, a torn glove. What answers it belongs to no step, and is no finding.

use super::{Called, Finding};
use crate::section::{DropAnswer, Section};
use crate::time::SampleIndex;

/// Callouts that answer a mishap, by place in `called`, and what was not answered.
pub(super) fn answered(section: &Section, called: &[Called], dropped: &[SampleIndex]) -> (Vec<usize>, Vec<Finding>) {
    let (mut answers, mut findings) = (vec![], vec![]);
    for &at in dropped {
        findings.extend(drop_answered(section, called, at, &mut answers));
    }
    for (event, keys) in section.events.iter().enumerate().filter(|(_, e)| !e.answered_by.is_empty()) {
        for (place, c) in called.iter().enumerate().filter(|(_, c)| keys.say.contains(&c.say)) {
            let rest = &called[place + 1..];
            let meant = keys.answered_by.iter().zip(rest).take_while(|(name, c)| section.means(name, &c.say)).count();
            answers.extend(place + 1..place + 1 + meant);
            if let Some(missing) = keys.answered_by.get(meant) {
                findings.push(Finding::Unanswered { event, at: c.at, missing: missing.clone() });
            }
        }
    }
    (answers, findings)
}

/// The callouts that answer an item dropped at `at`, and a finding where one is missing. A file that doesn't say how to put it
/// away can't be answered whole: there the drop is told with its hands.
fn drop_answered(section: &Section, called: &[Called], at: SampleIndex, answers: &mut Vec<usize>) -> Option<Finding> {
    let means = |say: &str, answer: DropAnswer| {
        section.events.iter().any(|e| e.drop == Some(answer) && e.say.iter().any(|p| p == say))
    };
    let known = |answer: DropAnswer| section.events.iter().any(|e| e.drop == Some(answer));
    let (mut away, mut fresh, mut hands, mut early) = (false, false, None, false);
    for (place, c) in called.iter().enumerate().filter(|(_, c)| c.at >= at) {
        if means(&c.say, DropAnswer::Away) {
            // Hands that were clean before they touched it are not clean now.
            (away, early) = (true, hands.is_some());
        } else if means(&c.say, DropAnswer::Fresh) {
            fresh = true;
        } else if hands.is_none() && section.is_hygiene(&c.say) {
            hands = Some(c.at.since(at));
        } else {
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
    (!whole).then_some(Finding::Dropped { at, hands_after: hands, missing })
}
