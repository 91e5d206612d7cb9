//! Which runs count. One rule for every verb and for the page of a class: whole runs, of one section, one edition and one compression of
//! the clock; those of the whole run rehearsed last, where nobody names others. What is kept apart is said.

use super::{About, History, StepAbout};

impl About {
    /// Whether runs of both count together: the same section, edition, compression, limit and steps. Titles may differ, since the proctor draws
    /// words of them.
    pub fn same(&self, other: &About) -> bool {
        let whole = |a: &About| (a.id.clone(), a.edition.clone(), a.compress, a.limit, a.steps.len());
        let step = |s: &StepAbout| (s.id.clone(), s.critical, s.free, s.plan);
        let number = |(number, _): &(String, String)| number.clone();
        whole(self) == whole(other)
            && self.steps.iter().map(step).eq(other.steps.iter().map(step))
            && self.criteria.iter().map(number).eq(other.criteria.iter().map(number))
    }

    /// Runs of this kind in words: "9 whole runs, compressed 10 times".
    pub fn runs(&self, count: usize) -> String {
        let runs = crate::text::count(count, "whole run");
        if self.compress > 1 { format!("{runs}, compressed {} times", self.compress) } else { runs }
    }

    /// Take over the titles of the same section drawn otherwise: of each, only the words that don't change.
    fn join_titles(&mut self, other: &About) {
        for (ours, theirs) in self.steps.iter_mut().zip(&other.steps).filter(|(a, b)| a.title != b.title) {
            ours.title = shared(&ours.title, &theirs.title);
        }
    }
}

/// The words that both titles begin and end with, and a gap between them.
fn shared(a: &str, b: &str) -> String {
    let (a, b): (Vec<&str>, Vec<&str>) = (a.split(' ').collect(), b.split(' ').collect());
    let front = a.iter().zip(&b).take_while(|(x, y)| x == y && **x != "\u{2026}").count();
    let (a_left, b_left) = (&a[front..], &b[front..]);
    let back = a_left.iter().rev().zip(b_left.iter().rev()).take_while(|(x, y)| x == y && **x != "\u{2026}").count();
    [&a[..front], &["\u{2026}"], &a_left[a_left.len() - back..]].concat().join(" ")
}

impl History {
    /// The place of a section among those known, where its runs belong; it is added where it is new.
    pub(super) fn place(&mut self, about: About) -> usize {
        match self.sections.iter().position(|known| known.same(&about)) {
            Some(place) => {
                self.sections[place].join_titles(&about);
                place
            }
            None => {
                self.sections.push(about);
                self.sections.len() - 1
            }
        }
    }

    /// The section whose runs are meant: that of the whole run rehearsed last among those wanted; of any run, where none is whole.
    pub fn meant(&self, wanted: impl Fn(&About) -> bool) -> Option<usize> {
        let ours = self.runs.iter().filter(|r| wanted(&self.sections[r.section as usize]));
        ours.max_by_key(|r| (r.whole, r.started)).map(|r| r.section as usize)
    }
}

/// Runs of a section that don't count beside others of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Apart {
    /// Stopped before their finish or limit.
    pub stopped: usize,
    /// Whole, on a clock compressed otherwise or not at all.
    pub compressed: usize,
    /// Whole, of another edition, or of a file in which steps, plan or limit were others.
    pub edited: usize,
}

impl Apart {
    /// What of a history is kept apart from the runs of `about`.
    pub fn of(history: &History, about: &About) -> Apart {
        let mut apart = Apart::default();
        for run in &history.runs {
            let other = &history.sections[run.section as usize];
            let same = other.same(about);
            match (other.id == about.id, run.whole) {
                (false, _) => {}
                (true, false) => apart.stopped += usize::from(same),
                (true, true) if same => {}
                (true, true) if other.compress != about.compress => apart.compressed += 1,
                (true, true) => apart.edited += 1,
            }
        }
        apart
    }

    /// Both together.
    pub fn and(self, other: Apart) -> Apart {
        Apart {
            stopped: self.stopped + other.stopped,
            compressed: self.compressed + other.compressed,
            edited: self.edited + other.edited,
        }
    }

    /// In a sentence; none where nothing is kept apart.
    pub fn sentence(self, about: &About) -> Option<String> {
        let clock =
            if about.compress > 1 { "on a clock compressed otherwise, or not at all" } else { "on a compressed clock" };
        let parts = [
            (self.stopped, "stopped before the finish or the limit"),
            (self.compressed, clock),
            (self.edited, "of another edition or wording of the section"),
        ];
        let parts: Vec<String> = parts.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")).collect();
        (!parts.is_empty()).then(|| format!("Kept apart, and not counted here: {}.", parts.join("; ")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::Run;
    use crate::outcome::Fade;
    use crate::time::Ms;

    fn about(compress: u32, edition: &str, title: &str) -> About {
        let step = StepAbout { id: "off".into(), title: title.into(), critical: false, free: false, plan: None };
        About {
            id: "a".into(),
            title: "A".into(),
            edition: edition.into(),
            compress,
            limit: None,
            steps: vec![step],
            criteria: vec![],
        }
    }

    /// Runs by their section's place, when they were and whether they are whole.
    fn history(sections: Vec<About>, runs: &[(u32, i64, bool)]) -> History {
        let run = |&(section, started, whole): &(u32, i64, bool)| Run {
            section,
            started,
            finished: whole,
            whole,
            used: Ms(1),
            critical: 0,
            findings: 0,
            hygiene: 0,
            fade: Fade::All,
            guessed: None,
            points: None,
            took: vec![1],
            claims: vec![],
            name: String::new(),
        };
        History { sections, runs: runs.iter().map(run).collect() }
    }

    #[test]
    fn the_whole_run_rehearsed_last_says_which_runs_are_meant() {
        let sections = || vec![about(1, "1", "x"), about(10, "1", "x"), about(1, "2", "x")];
        let of = |runs: &[(u32, i64, bool)]| history(sections(), runs).meant(|a| a.edition == "1");
        assert_eq!(of(&[]), None);
        assert_eq!(of(&[(0, 1, true), (1, 2, true), (2, 9, true)]), Some(1));
        assert_eq!(of(&[(1, 2, true), (0, 5, false)]), Some(1), "a stopped run changes nothing");
        assert_eq!(of(&[(0, 5, false)]), Some(0));
    }

    #[test]
    fn what_is_kept_apart_is_said() {
        let sections = vec![about(1, "1", "x"), about(10, "1", "x"), about(1, "2", "x")];
        let runs = [(0, 1, true), (0, 2, false), (1, 3, true), (1, 4, true), (2, 5, true), (1, 6, false)];
        let history = history(sections, &runs);
        let apart = |place: usize| Apart::of(&history, &history.sections[place]);
        assert_eq!(apart(0), Apart { stopped: 1, compressed: 2, edited: 1 });
        assert_eq!(
            apart(1).sentence(&history.sections[1]).unwrap(),
            "Kept apart, and not counted here: 1 stopped before the finish or the limit; 2 on a clock compressed otherwise, or not at all."
        );
        assert_eq!(Apart::default().sentence(&history.sections[0]), None);
        assert_eq!(history.sections[1].runs(9), "9 whole runs, compressed 10 times");
    }

    #[test]
    fn a_drawn_word_parts_no_runs() {
        let mut history = History::default();
        for title in ["polish off the ring finger", "polish off the thumb finger", "polish off the ring finger"] {
            assert_eq!(history.place(about(1, "1", title)), 0);
        }
        assert_eq!(history.sections[0].steps[0].title, "polish off the \u{2026} finger");
        assert_eq!(history.place(about(1, "2", "x")), 1);
        assert_eq!(shared("a b", "c d"), "\u{2026}");
    }
}
