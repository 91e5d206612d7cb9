//! How far callouts have faded, chosen from the runs so far; and how well time is guessed.

use super::{About, History, Interval, Run, bootstrap, percentile};
use crate::outcome::Fade;

/// Good runs in a row before less is called out: ours.
const GOOD: usize = 3;
/// Findings with which a run is still a good one, and from which on it calls for more callouts again: ours.
const FINDINGS: (u32, u32) = (1, 3);

/// Guesses before an interval is told: fewer draw nothing but themselves.
const GUESSES: usize = 3;

/// What to call out next, and by which runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Faded {
    /// What to call out.
    pub fade: Fade,
    /// Good runs in a row with that called out.
    pub good: usize,
    /// The runs that say so, in words; none where there is no whole run.
    pub runs: Option<String>,
}

/// What to call out next in a section: everything at first; one step less after three good runs in a row at a step (finished in time, nothing
/// critical, at most one finding), and one more after a run with something critical or three findings. Counted are the whole runs of this
/// edition, with everything called or faded, on the clock of the one rehearsed last.
pub fn fading(history: &History, id: &str, edition: &str) -> Faded {
    // Faded sections have names of their own.
    let ids = [id.to_string(), format!("{id}-hygiene"), format!("{id}-silent")];
    let named = |about: &About| ids.contains(&about.id) && about.edition == edition;
    let last = history.meant(named).map(|place| &history.sections[place]);
    let ours = |run: &&Run| {
        let about = &history.sections[run.section as usize];
        run.whole && named(about) && last.is_some_and(|last| last.compress == about.compress)
    };
    let mut runs: Vec<&Run> = history.runs.iter().filter(ours).collect();
    runs.sort_by_key(|r| r.started);
    let (mut fade, mut good) = (Fade::All, 0);
    for run in &runs {
        if run.fade != fade {
            // The person chose otherwise: that is where they stand.
            (fade, good) = (run.fade, 0);
        }
        if run.critical > 0 || run.findings >= FINDINGS.1 {
            (fade, good) = (back(fade), 0);
        } else if run.finished && run.findings <= FINDINGS.0 {
            good += 1;
            if good == GOOD && fade != Fade::Silent {
                (fade, good) = (on(fade), 0);
            }
        } else {
            good = 0;
        }
    }
    Faded { fade, good, runs: last.filter(|_| !runs.is_empty()).map(|about| about.runs(runs.len())) }
}

impl Faded {
    /// What to call out this time, and why, in a sentence.
    pub fn sentence(&self) -> String {
        let what = match self.fade {
            Fade::All => "call out everything",
            Fade::Hygiene => "call out hand hygiene and labels only",
            Fade::Silent => "call out nothing, and tell afterwards what you went through",
        };
        let good = self.good;
        let why = match (&self.runs, self.fade) {
            (None, _) => "no whole run of this edition yet".into(),
            (Some(runs), Fade::Silent) => format!("by {runs}; good silent ones in a row: {good}"),
            (Some(runs), _) => {
                format!("by {runs}; good ones in a row with that: {good}; after three, less is called out")
            }
        };
        format!("This time, {what} ({why}).")
    }
}

fn on(step: Fade) -> Fade {
    match step {
        Fade::All => Fade::Hygiene,
        Fade::Hygiene | Fade::Silent => Fade::Silent,
    }
}

fn back(step: Fade) -> Fade {
    match step {
        Fade::All | Fade::Hygiene => Fade::All,
        Fade::Silent => Fade::Hygiene,
    }
}

/// Guessed over real time in the runs of one section in which a time was guessed: how many, and the middle; with its 90 % bootstrap interval
/// where they are enough for one. None where nothing was guessed.
pub fn guesses(history: &History, section: usize) -> Option<(usize, f64, Option<Interval>)> {
    let ratio = |run: &&Run| Some(run.guessed?.seconds() / run.used.seconds().max(1.0));
    let ratios: Vec<f64> = history.of(section).iter().filter_map(ratio).collect();
    let middle = |of: &[f64]| percentile(of, 0.5);
    let mean = middle(&ratios)?;
    if ratios.len() < GUESSES {
        return Some((ratios.len(), mean, None));
    }
    let drawn = bootstrap(&ratios, 2_000, ratios.len() as u64, |sample| middle(sample).unwrap_or(1.0));
    let at = |share: f64| percentile(&drawn, share);
    Some((ratios.len(), mean, Some(Interval { low: at(0.05)?, mean, high: at(0.95)? })))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::About;
    use crate::time::Ms;

    /// Runs by what was called out, findings and critical ones.
    fn after(runs: &[(Fade, u32, u32)]) -> (Fade, usize) {
        on_clocks(1, runs)
    }

    /// The same, all on a clock compressed `factor` times.
    fn on_clocks(factor: u32, runs: &[(Fade, u32, u32)]) -> (Fade, usize) {
        let about = |id: &str| About {
            id: id.into(),
            title: "A".into(),
            edition: "1".into(),
            compress: factor,
            limit: None,
            steps: vec![],
            criteria: vec![],
        };
        let run = |(k, (fade, findings, critical)): (usize, &(Fade, u32, u32))| Run {
            section: *fade as u32,
            started: k as i64,
            finished: true,
            whole: true,
            used: Ms(600_000),
            critical: *critical,
            findings: *findings,
            hygiene: 0,
            fade: *fade,
            guessed: (k > 0).then_some(Ms(300_000 * k as u64)),
            points: None,
            took: vec![],
            claims: vec![],
            name: String::new(),
        };
        let sections = ["a", "a-hygiene", "a-silent"].map(about).to_vec();
        let history = History { sections, runs: runs.iter().enumerate().map(run).collect() };
        let faded = fading(&history, "a", "1");
        (faded.fade, faded.good)
    }

    #[test]
    fn compressed_runs_fade_too_and_are_not_mixed_with_others() {
        assert_eq!(on_clocks(10, &[(Fade::All, 0, 0); 3]), (Fade::Hygiene, 0));
        let about = |compress| About {
            id: "a".into(),
            title: "A".into(),
            edition: "1".into(),
            compress,
            limit: None,
            steps: vec![],
            criteria: vec![],
        };
        let run = |k: i64| Run { section: u32::from(k == 3), started: k, ..Run::usual() };
        let history = History { sections: vec![about(10), about(1)], runs: (0..4).map(run).collect() };
        let faded = fading(&history, "a", "1");
        assert_eq!((faded.fade, faded.good, faded.runs.as_deref()), (Fade::All, 1, Some("1 whole run")));
        let nine = History { sections: vec![about(10)], runs: (0..3).cycle().take(9).map(run).collect() };
        assert_eq!(
            fading(&nine, "a", "1").sentence(),
            "This time, call out hand hygiene and labels only (by 9 whole runs, compressed 10 times; good ones in a row with that: 0; after three, \
             less is called out)."
        );
        assert!(fading(&nine, "a", "2").sentence().contains("no whole run of this edition yet"));
    }

    #[test]
    fn callouts_fade_with_good_runs_and_come_back_with_bad_ones() {
        use Fade::{All, Hygiene, Silent};
        assert_eq!(after(&[]), (All, 0));
        assert_eq!(after(&[(All, 1, 0), (All, 0, 0)]), (All, 2));
        assert_eq!(
            after(&[(All, 1, 0), (All, 2, 0), (All, 0, 0), (All, 0, 0)]),
            (All, 2),
            "two findings begin the count again"
        );
        assert_eq!(after(&[(All, 0, 0); 3]), (Hygiene, 0));
        let mut runs = vec![(All, 0, 0); 3];
        runs.extend([(Hygiene, 0, 0); 3]);
        assert_eq!(after(&runs), (Silent, 0));
        runs.extend([(Silent, 0, 0); 5]);
        assert_eq!(after(&runs), (Silent, 5));
        runs.push((Silent, 1, 1));
        assert_eq!(after(&runs), (Hygiene, 0));
        runs.push((Hygiene, 4, 0));
        assert_eq!(after(&runs), (All, 0));
        assert_eq!(after(&[(Silent, 0, 0)]), (Silent, 1), "who began silent stays there");
    }

    #[test]
    fn guesses_are_compared_with_the_clock() {
        // 5, 10 and 15 minutes guessed of 10.
        let about = About {
            id: "a".into(),
            title: "A".into(),
            edition: "1".into(),
            compress: 1,
            limit: None,
            steps: vec![],
            criteria: vec![],
        };
        let run = |minutes: u64| Run { guessed: Some(Ms(minutes * 60_000)), ..Run::usual() };
        let mut history = History { sections: vec![about], runs: [5, 10, 15].map(run).to_vec() };
        assert_eq!(guesses(&history, 0), Some((3, 1.0, Some(Interval { low: 0.5, mean: 1.0, high: 1.5 }))));
        // Of one or two no interval can be drawn.
        history.runs.truncate(1);
        assert_eq!(guesses(&history, 0), Some((1, 0.5, None)));
    }
}
