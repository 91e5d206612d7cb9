//! A whole exam: every one of its sections in a row, and its own mark over all their points.

use super::ready::{DRAWS, interval, recency};
use super::{History, Interval, Points, Readiness, readiness};
use crate::review::Score;
use rand_distr::{Distribution, StandardUniform};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::SeedableRng;

/// Readiness for a whole exam.
#[derive(Clone, Debug, PartialEq)]
pub struct ExamReadiness {
    /// By section of the exam; none where its runs are too few.
    pub parts: Vec<Option<Readiness>>,
    /// Chance that every section goes well in a row, with a 90 % interval, as if one had no influence on the next; none while a
    /// section has too few runs.
    pub good: Option<Interval>,
    /// How the points stand against the exam's mark; none where the exam has no mark, or a section no run with points.
    pub marked: Option<Marked>,
}

/// Chances about an exam's mark, over runs drawn one for each section: later ones are drawn more often.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Marked {
    /// What was called reaches it.
    pub reached: f64,
    /// It can't be reached, whatever an observer saw of what can't be heard.
    pub missed: f64,
}

/// Readiness for an exam of these sections: by place in `history`, none for one that was never rehearsed. `mark` is the exam's
/// own, in percent of all points.
pub fn exam_readiness(history: &History, sections: &[Option<usize>], mark: Option<u8>) -> ExamReadiness {
    // What each section is told to be by itself.
    let part = |section: &Option<usize>| section.and_then(|s| readiness(history, s, history.seed(s)));
    let parts: Vec<Option<Readiness>> = sections.iter().map(part).collect();
    let together = |parts: Vec<&Readiness>| -> Vec<f64> {
        (0..DRAWS).map(|draw| parts.iter().map(|p| p.draws[draw]).product()).collect()
    };
    let all: Option<Vec<&Readiness>> = parts.iter().map(Option::as_ref).collect();
    let good = all.filter(|all| !all.is_empty()).map(|all| interval(&together(all)));
    let marked = mark.and_then(|mark| marked(history, sections, mark));
    ExamReadiness { parts, good, marked }
}

fn marked(history: &History, sections: &[Option<usize>], mark: u8) -> Option<Marked> {
    let scored = |section: &Option<usize>| -> Option<Vec<Points>> {
        let points: Vec<Points> = history.of((*section)?).iter().filter_map(|r| r.points).collect();
        (!points.is_empty()).then_some(points)
    };
    let scored: Vec<Vec<Points>> = sections.iter().map(scored).collect::<Option<_>>()?;
    let mut chance = Pcg64Mcg::seed_from_u64(history.runs.len() as u64);
    let (mut reached, mut missed) = (0, 0);
    for _ in 0..DRAWS {
        let drawn: Vec<Points> = scored.iter().map(|points| points[drawn(points.len(), &mut chance)]).collect();
        let sum = |of: fn(&Points) -> u64| drawn.iter().map(of).sum::<u64>();
        let score = Score::against(Some(mark), true, (sum(|p| p.got), sum(|p| p.unheard), sum(|p| p.of)));
        reached += usize::from(score.passed == Some(true));
        missed += usize::from(score.below_mark);
    }
    let share = |n: usize| n as f64 / DRAWS as f64;
    Some(Marked { reached: share(reached), missed: share(missed) })
}

/// One of so many runs, the last the likeliest.
fn drawn(runs: usize, chance: &mut Pcg64Mcg) -> usize {
    let all: f64 = (0..runs).map(recency).sum();
    let uniform: f64 = StandardUniform.sample(chance);
    let mut left = uniform * all;
    let later = (0..runs).find(|later| {
        left -= recency(*later);
        left < 0.0
    });
    runs - 1 - later.unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::super::{About, Run, TOO_FEW};
    use super::*;

    /// Runs of two sections, each with these points.
    fn two(points: [(u64, u64, u64); 2]) -> History {
        let about = |id: &str| About {
            id: id.into(),
            title: id.into(),
            edition: "2026-01-01".into(),
            compress: 1,
            limit: None,
            steps: vec![],
            criteria: vec![],
        };
        let run = |k: usize| {
            let (got, unheard, of) = points[k % 2];
            Run {
                section: (k % 2) as u32,
                started: k as i64,
                points: Some(Points { got, unheard, of }),
                ..Run::usual()
            }
        };
        History { sections: vec![about("a"), about("b")], runs: (0..2 * TOO_FEW).map(run).collect() }
    }

    /// By hand: 40 and 35 of 60 and 60 are 62.5 %; with the 12 that an observer may give, 72.5 %.
    #[test]
    fn points_of_all_sections_are_held_against_the_exams_mark() {
        let history = two([(40, 12, 60), (35, 0, 60)]);
        let marked = |mark| exam_readiness(&history, &[Some(0), Some(1)], Some(mark)).marked.unwrap();
        assert_eq!(marked(62), Marked { reached: 1.0, missed: 0.0 });
        assert_eq!(marked(70), Marked { reached: 0.0, missed: 0.0 });
        assert_eq!(marked(75), Marked { reached: 0.0, missed: 1.0 });
        assert_eq!(exam_readiness(&history, &[Some(0), None], Some(62)).marked, None);
        assert_eq!(exam_readiness(&history, &[Some(0), Some(1)], None).marked, None);
    }

    #[test]
    fn an_exam_goes_well_where_every_section_does() {
        let mut history = two([(1, 0, 1), (1, 0, 1)]);
        history.runs.iter_mut().filter(|r| r.section == 1).step_by(2).for_each(|r| (r.critical, r.findings) = (1, 1));
        let ready = exam_readiness(&history, &[Some(0), Some(1)], None);
        let [a, b] = [0, 1].map(|k: usize| ready.parts[k].as_ref().unwrap().good.mean);
        let whole = ready.good.unwrap();
        let alone = |k: usize| readiness(&history, k, history.seed(k));
        assert_eq!(ready.parts, [alone(0), alone(1)], "each as it is told by itself");
        assert!((whole.mean - a * b).abs() < 0.01 && whole.mean < 0.9, "{whole:?}, parts {a} and {b}");
        assert_eq!(exam_readiness(&history, &[Some(0), None], None).good, None, "a section that nobody rehearsed");
    }
}
