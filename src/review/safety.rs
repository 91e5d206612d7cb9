//! Safety pairs: what was called without the thing that should have protected from it.

use super::stood::Stood;
use super::{Called, Finding};
use crate::section::{SafetyPair, Section};
use crate::time::SampleIndex;

/// Pairs called in the wrong order. One whose first part is a needed step that was not called at all is told as that, and not here.
/// What was called comes without callouts that only repeat the one before.
pub(super) fn broken(
    section: &Section,
    (called, perhaps): (&[&Stood], &[(usize, SampleIndex)]),
    cut: bool,
    findings: &[Finding],
) -> Vec<Finding> {
    let mut found: Vec<Finding> = vec![];
    for (pair, keys) in section.safety.iter().enumerate() {
        let judged = keys.turns(section);
        let judged = judged.iter().filter_map(|turn| unguarded(section, turn, (called, perhaps), cut, findings));
        let Some((at, undone)) = judged.min() else { continue };
        // One cause, one finding: what else the same step should have protected from is not told again.
        let told = found.iter().any(
            |f| matches!(f, Finding::Unsafe { pair: p, undone: u, .. } if section.safety[*p].first == keys.first && *u == undone),
        );
        if !told {
            found.push(Finding::Unsafe { pair, at, undone });
        }
    }
    // What came too late to protect came, for that, when its own protection was gone: one cause, told as the first.
    let late = |say: &str| {
        found.iter().any(|f| matches!(f, Finding::Unsafe { pair, undone: false, .. } if section.means(&section.safety[*pair].first, say)))
    };
    let say = |at: SampleIndex| called.iter().find(|c| c.called.at == at).map_or("", |c| c.called.say.as_str());
    let keep: Vec<bool> =
        found.iter().map(|f| !matches!(f, Finding::Unsafe { at, undone: true, .. } if late(say(*at)))).collect();
    let mut keep = keep.into_iter();
    found.retain(|_| keep.next().unwrap_or(true));
    found
}

/// Where a pair, or a turn of it, was first broken, and whether its protection had been there and was taken away.
fn unguarded(
    section: &Section,
    keys: &SafetyPair,
    (called, perhaps): (&[&Stood], &[(usize, SampleIndex)]),
    cut: bool,
    findings: &[Finding],
) -> Option<(SampleIndex, bool)> {
    let missed = findings.iter().any(|f| f.unheard().is_some_and(|(step, _)| section.is_named(&keys.first, step)));
    // Something like it was heard: nobody is accused of an order that may have been right.
    let perhaps = perhaps.iter().any(|(step, _)| section.is_named(&keys.first, *step));
    // Not called at all: in a run that was cut short it was not listened for again, and where it is one of a choice, another may be
    // what protected.
    let of_choice = || section.choices.iter().flat_map(|c| &c.of).any(|s| section.is_named(&keys.first, *s));
    let never = !called.iter().any(|c| c.may_be(section, &keys.first));
    let spared = || cut || of_choice() || called.iter().any(|c| section.means(&keys.first, &c.called.say));
    if missed || perhaps || (never && spared()) {
        return None;
    }
    let any = |names: &[String], c: &Stood| names.iter().any(|n| c.must_be(section, n));
    let (mut safe, mut undone) = (false, false);
    for c in called {
        let Called { say, at } = c.called;
        // A callout more than the section has is told as that: it may have been heard twice.
        let extra = findings.iter().any(|f| f.is_extra(*at));
        let first = c.may_be(section, &keys.first);
        if any(&keys.then, c) && !safe && !extra && !first {
            return Some((*at, undone));
        }
        if any(&keys.undone_by, c) {
            undone |= safe;
            safe = false;
        }
        // The step itself comes once; what renews its protection is anything of the same words.
        safe |= first || (undone && section.means(&keys.first, say));
    }
    None
}

/// Without what a broken pair tells already: its steps out of order.
pub(super) fn without_told(section: &Section, unsafe_found: &[Finding], findings: &mut Vec<Finding>) {
    let of_pair = |step: usize| {
        unsafe_found.iter().any(|f| {
            let Finding::Unsafe { pair, undone, .. } = f else { return false };
            let keys = &section.safety[*pair];
            let gone = keys.undone_by.iter().filter(|_| *undone);
            std::iter::once(&keys.first).chain(&keys.then).chain(gone).any(|n| section.is_named(n, step))
        })
    };
    findings.retain(|f| !matches!(f, Finding::OutOfOrder { step, .. } if of_pair(*step)));
}
