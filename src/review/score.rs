//! A weighted score, for sections whose board has one.

use super::{Finding, Review};
use crate::section::Section;

/// Points of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Score {
    /// Points of the steps called in their place.
    pub got: u32,
    /// Points of all needed steps.
    pub of: u32,
    /// Whether the board's mark is reached and nothing critical was found; none where the board has no mark.
    pub passed: Option<bool>,
}

/// The score of a run; none where no step has points.
pub fn score(section: &Section, review: &Review) -> Option<Score> {
    let of: u32 = section.steps.iter().filter(|s| !s.optional).map(|s| s.points).sum();
    if of == 0 {
        return None;
    }
    let misplaced =
        |step: usize| review.findings.iter().any(|f| matches!(f, Finding::OutOfOrder { step: s, .. } if *s == step));
    let earned = review.steps.iter().filter(|t| !section.steps[t.step].optional && !misplaced(t.step));
    let got = earned.map(|t| section.steps[t.step].points).sum();
    let clean = !review.findings.iter().any(|f| f.critical(section));
    let passed = section.pass_mark.map(|mark| clean && u64::from(got) * 100 >= u64::from(of) * u64::from(mark));
    Some(Score { got, of, passed })
}
