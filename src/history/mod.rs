//! Many runs: what each came to, trends, readiness and the pace plan. It reads no file; runs come in as facts.

mod archive;
mod counting;
mod curve;
mod exam;
mod fading;
mod past;
mod plan;
mod ready;
mod stats;
mod table;
mod weak;

pub use archive::{ARCHIVE_VERSION, Archived, QUESTIONS, Table, archive_schema, tables};
pub use counting::Apart;
pub use curve::{Curve, Shape, fit, fit_as};
pub use exam::{ExamReadiness, Marked, exam_readiness};
pub use fading::{Faded, fading, guesses};
pub use past::past;
pub use plan::{Pace, expected, pace_plan};
pub use ready::{Limiter, Readiness, TOO_FEW, readiness};
pub use stats::{Interval, beta_interval, bootstrap, kappa, percentile, three_point, wilson};
pub use table::{Column, GROUP, Kind, Rows, Writer, texts, without};
pub use weak::{Weakest, weakest};

use crate::outcome::{Ending, Fade, Outcome};
use crate::review::{Claim, Finding, Review, Score, score, sheet};
use crate::section::Section;
use crate::time::Ms;
use serde::{Deserialize, Serialize};

/// A step that was not called, in [`Run::took`].
pub const NOT_CALLED: u32 = u32::MAX;

/// A step that was told after a silent run, and so has no time, in [`Run::took`].
pub const UNTIMED: u32 = u32::MAX - 1;

/// A step that a run which was cut short never reached, in [`Run::took`]: it was not left out.
pub const NOT_REACHED: u32 = u32::MAX - 2;

/// A needed step that was perhaps called, in [`Run::took`]: nobody is accused of it.
pub const PERHAPS: u32 = u32::MAX - 3;

/// A needed step that was not heard and is claimed afterwards, in [`Run::took`]. What is critical stays so.
pub const CLAIMED: u32 = u32::MAX - 4;

/// The time in a value of [`Run::took`], in milliseconds; none where there is none.
pub fn timed(took: u32) -> Option<f64> {
    (took < CLAIMED).then_some(f64::from(took))
}

/// What of a section its runs share.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct About {
    /// The section's name.
    pub id: String,
    /// As shown.
    pub title: String,
    /// Date of the edition.
    pub edition: String,
    /// How far the clock was compressed: such runs train the order, and are kept apart.
    pub compress: u32,
    /// Time allowed in all, where every phase is timed.
    pub limit: Option<Ms>,
    /// The steps, in order.
    pub steps: Vec<StepAbout>,
    /// The board's criteria, in order: number and text.
    pub criteria: Vec<(String, String)>,
}

/// What of a step its runs share.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepAbout {
    /// Its name.
    pub id: String,
    /// As shown.
    pub title: String,
    /// Leaving it out can fail the section.
    pub critical: bool,
    /// It may be left out, or is one of a choice.
    pub free: bool,
    /// Time planned; none where the section file plans none.
    pub plan: Option<Ms>,
}

/// The points of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Points {
    /// Of what was called.
    pub got: u64,
    /// Of what can't be heard: an observer gives or refuses them.
    pub unheard: u64,
    /// All that the section gives.
    pub of: u64,
}

/// One run, as history has it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Run {
    /// Which of [`History::sections`].
    pub section: u32,
    /// Seconds since 1970, UTC.
    pub started: i64,
    /// Whether the candidate called the finish in time.
    pub finished: bool,
    /// Whether it ran to its finish or its limit, so that what was not called was left out.
    pub whole: bool,
    /// From the clock's start to the end, pauses left out.
    pub used: Ms,
    /// Critical findings.
    pub critical: u32,
    /// All findings.
    pub findings: u32,
    /// Callouts for hand hygiene.
    pub hygiene: u32,
    /// What was called out in it.
    pub fade: Fade,
    /// How long the candidate guessed that it took.
    pub guessed: Option<Ms>,
    /// Its points, where the board publishes some.
    pub points: Option<Points>,
    /// By step: how long it took in milliseconds, [`UNTIMED`], [`NOT_REACHED`], [`PERHAPS`], [`CLAIMED`] or [`NOT_CALLED`].
    pub took: Vec<u32>,
    /// By criterion: what the run says of it.
    pub claims: Vec<Claim>,
    /// The name of its journal, without its ending.
    pub name: String,
}

/// Critical findings of a run. Points that can't reach the board's mark fail a section as one does.
fn critical(section: &Section, outcome: &Outcome, review: &Review) -> u32 {
    let below_mark = score(section, &outcome.called, review).is_some_and(|s| s.below_mark);
    review.findings.iter().filter(|f| f.critical(section)).count() as u32 + u32::from(below_mark)
}

/// Runs and the sections they were of.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct History {
    /// Each section, edition and compression once ([`About::same`]).
    pub sections: Vec<About>,
    /// Runs, as they were added.
    pub runs: Vec<Run>,
}

impl History {
    /// Add a run that began at `started` (seconds since 1970), by the name of its journal.
    pub fn add(
        &mut self,
        section: &Section,
        (compress, fade): (u32, Fade),
        outcome: &Outcome,
        review: &Review,
        (started, name): (i64, &str),
    ) {
        let about = About {
            id: section.id.clone(),
            title: section.title.clone(),
            edition: section.edition.clone(),
            compress,
            limit: section.limit(),
            steps: (section.steps.iter().enumerate())
                .map(|(place, s)| StepAbout {
                    id: s.id.clone(),
                    title: s.title.clone(),
                    critical: s.critical,
                    free: s.optional || section.choice_of(place).is_some(),
                    plan: s.plan(),
                })
                .collect(),
            criteria: section.criteria.iter().map(|c| (c.id.clone(), c.text.clone())).collect(),
        };
        let place = self.place(about);
        let mut took = vec![NOT_CALLED; section.steps.len()];
        review.not_reached.iter().for_each(|&step| took[step] = NOT_REACHED);
        for finding in &review.findings {
            match finding.unheard() {
                Some((step, true)) => took[step] = PERHAPS,
                Some((step, false)) if matches!(finding, Finding::ClaimedAfterwards { .. }) => took[step] = CLAIMED,
                _ => {}
            }
        }
        for time in &review.steps {
            let time_of = u32::try_from(time.took.0).unwrap_or(CLAIMED - 1).min(CLAIMED - 1);
            took[time.step] = if outcome.told { UNTIMED } else { time_of };
        }
        let hygiene = crate::recap::hygiene(section, outcome).len() as u32;
        let ended = outcome.ended.map(|(_, how)| how);
        let score = score(section, &outcome.called, review);
        self.runs.push(Run {
            section: place as u32,
            started,
            finished: ended == Some(Ending::Finished),
            whole: outcome.whole(),
            used: outcome.used().unwrap_or(Ms(0)),
            critical: critical(section, outcome, review),
            findings: review.findings.len() as u32,
            hygiene,
            fade,
            guessed: outcome.guessed,
            points: score.map(|Score { got, unheard, of, .. }| Points { got, unheard, of }),
            took,
            claims: sheet(section, &outcome.called, review),
            name: name.to_string(),
        });
    }

    /// Add the runs of another history, without asking whether they are here already.
    pub fn join(&mut self, other: History) {
        let places: Vec<u32> = other.sections.into_iter().map(|about| self.place(about) as u32).collect();
        self.runs.extend(other.runs.into_iter().map(|run| Run { section: places[run.section as usize], ..run }));
    }

    /// What readiness for a section is drawn with: the same runs give the same words, whichever verb asks, and two sections don't rise and
    /// fall together.
    pub fn seed(&self, section: usize) -> u64 {
        self.runs.len() as u64 ^ (section as u64) << 32
    }

    /// The whole runs of one section, oldest first.
    pub fn of(&self, section: usize) -> Vec<&Run> {
        let mut runs: Vec<&Run> = self.runs.iter().filter(|r| r.section as usize == section && r.whole).collect();
        runs.sort_by_key(|r| r.started);
        runs
    }
}

/// How one step went over many runs.
#[derive(Clone, Debug, PartialEq)]
pub struct StepTrend {
    /// Runs in which it was left out.
    pub missed: usize,
    /// Runs in which it was perhaps called, and in which it was claimed afterwards: not counted as left out.
    pub unsure: [usize; 2],
    /// Share of runs in which it is left out, 95 %, Jeffreys prior.
    pub omission: Interval,
    /// Middle of the times it took in milliseconds, where it was called.
    pub middle: Option<f64>,
    /// Middle of the times in the last five runs in which it was called.
    pub lately: Option<f64>,
}

/// Trends by step; none for a history without whole runs of the section.
pub fn step_trends(history: &History, section: usize) -> Vec<StepTrend> {
    let runs = history.of(section);
    let steps = history.sections[section].steps.len();
    (0..steps)
        .map(|step| {
            let took: Vec<f64> = runs.iter().filter_map(|r| timed(r.took[step])).collect();
            let [missed, perhaps, claimed] =
                [NOT_CALLED, PERHAPS, CLAIMED].map(|kind| runs.iter().filter(|r| r.took[step] == kind).count());
            StepTrend {
                missed,
                unsure: [perhaps, claimed],
                omission: beta_interval(missed as f64, runs.len() as f64, 0.95),
                middle: percentile(&took, 0.5),
                lately: percentile(&took[took.len().saturating_sub(5)..], 0.5),
            }
        })
        .collect()
}

#[cfg(test)]
impl Run {
    /// A run as tests have it where nothing else matters: whole, in time, ten minutes long, without findings.
    fn usual() -> Run {
        Run {
            section: 0,
            started: 0,
            finished: true,
            whole: true,
            used: Ms(600_000),
            critical: 0,
            findings: 0,
            hygiene: 0,
            fade: Fade::All,
            guessed: None,
            points: None,
            took: vec![],
            claims: vec![],
            name: String::new(),
        }
    }
}
