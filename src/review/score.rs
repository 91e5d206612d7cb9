//! A score, for sections whose board has one: by its criteria where it publishes points for them, else by the steps' points.

use super::{Called, Claim, Finding, Review, sheet};
use crate::section::Section;

/// Points of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Score {
    /// Points of what was called in its place, or of the criteria claimed.
    pub got: u64,
    /// Points of all that is needed.
    pub of: u64,
    /// Points of criteria that can't be heard: an observer gives or refuses them.
    pub unheard: u64,
    /// Whether the board's mark is reached and nothing critical was found; none where the board has no mark, or where what
    /// can't be heard decides.
    pub passed: Option<bool>,
    /// Whether the mark can't be reached any more, whatever an observer saw.
    pub below_mark: bool,
}

impl Score {
    /// A score against a mark, in percent. An observer's points may still come in.
    pub fn against(mark: Option<u8>, clean: bool, (got, unheard, of): (u64, u64, u64)) -> Score {
        let reached = |points: u64| mark.map(|mark| points * 100 >= of * u64::from(mark));
        let below_mark = reached(got + unheard) == Some(false);
        let passed = match (reached(got), reached(got + unheard)) {
            (None, _) | (_, None) => None,
            _ if !clean || below_mark => Some(false),
            (Some(true), _) => Some(true),
            _ => None,
        };
        Score { got, of, unheard, passed, below_mark }
    }

    /// The same, without a verdict where the run was cut short: points that were never reached are none that were lost.
    fn of_whole(self, review: &Review) -> Score {
        if review.not_reached.is_empty() { self } else { Score { passed: None, below_mark: false, ..self } }
    }
}

/// The score of a run; none where neither a step nor a criterion has points.
pub fn score(section: &Section, called: &[Called], review: &Review) -> Option<Score> {
    let clean = !review.findings.iter().any(|f| f.critical(section));
    if section.criteria.iter().any(|c| c.points > 0) {
        let claims = sheet(section, called, review);
        let sum = |claim: Claim| {
            section
                .criteria
                .iter()
                .zip(&claims)
                .filter(|(_, c)| **c == claim)
                .map(|(c, _)| u64::from(c.points))
                .sum::<u64>()
        };
        let of = section.criteria.iter().map(|c| u64::from(c.points)).sum();
        let points = (sum(Claim::Claimed), sum(Claim::CantBeHeard), of);
        return Some(Score::against(section.pass_mark, clean, points).of_whole(review));
    }
    let of: u64 = section.steps.iter().filter(|s| !s.optional).map(|s| u64::from(s.points)).sum();
    if of == 0 {
        return None;
    }
    let misplaced =
        |step: usize| review.findings.iter().any(|f| matches!(f, Finding::OutOfOrder { step: s, .. } if *s == step));
    let earned = review.steps.iter().filter(|t| !section.steps[t.step].optional && !misplaced(t.step));
    let got = earned.map(|t| u64::from(section.steps[t.step].points)).sum();
    Some(Score::against(section.pass_mark, clean, (got, 0, of)).of_whole(review))
}
