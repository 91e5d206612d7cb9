//! Safety pairs: what was called without the thing that should have protected from it.

use super::{Called, Finding};
use crate::section::Section;
use crate::time::SampleIndex;

/// Pairs called in the wrong order. One whose first part was not called at all is told as that, and not here.
/// What was called comes without callouts that only repeat the one before.
pub(super) fn broken(
    section: &Section,
    (called, perhaps): (&[Called], &[(usize, SampleIndex)]),
    findings: &[Finding],
) -> Vec<Finding> {
    let mut found: Vec<Finding> = vec![];
    for (pair, keys) in section.safety.iter().enumerate() {
        let first = |say: &str| section.means(&keys.first, say);
        let missed = findings.iter().any(|f| f.unheard().is_some_and(|(step, _)| section.is_named(&keys.first, step)));
        // Something like it was heard: nobody is accused of an order that may have been right.
        let perhaps = perhaps.iter().any(|(step, _)| section.is_named(&keys.first, *step));
        if missed || perhaps || !called.iter().any(|c| first(&c.say)) {
            continue;
        }
        let Some((at, undone)) = unguarded(section, pair, called, findings) else { continue };
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
    let say = |at: SampleIndex| called.iter().find(|c| c.at == at).map_or("", |c| c.say.as_str());
    let keep: Vec<bool> =
        found.iter().map(|f| !matches!(f, Finding::Unsafe { at, undone: true, .. } if late(say(*at)))).collect();
    let mut keep = keep.into_iter();
    found.retain(|_| keep.next().unwrap_or(true));
    found
}

/// Where a pair was first broken, and whether its protection had been there and was taken away.
fn unguarded(section: &Section, pair: usize, called: &[Called], findings: &[Finding]) -> Option<(SampleIndex, bool)> {
    let keys = &section.safety[pair];
    let any = |names: &[String], say: &str| names.iter().any(|n| section.means(n, say));
    let (mut safe, mut undone) = (false, false);
    for c in called {
        // A callout more than the section has is told as that: it may have been heard twice.
        let extra = findings.iter().any(|f| matches!(f, Finding::Extra { at, .. } if *at == c.at));
        if any(&keys.then, &c.say) && !safe && !extra {
            return Some((c.at, undone));
        }
        if any(&keys.undone_by, &c.say) {
            undone |= safe;
            safe = false;
        }
        if section.means(&keys.first, &c.say) {
            safe = true;
        }
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
