//! What is there to rehearse, as the front desk tells it.

use crate::intent::names;
use crate::section::Section;
use crate::text::upper;
use crate::time::{Ms, spoken};
use crate::words::plain;
use std::collections::BTreeMap;

/// Most things told in one breath.
pub(super) const BREATH: usize = 5;

/// A section or a whole exam.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Entry {
    /// As shown and spoken.
    pub title: String,
    /// Other names that it goes by, in plain letters.
    pub names: Vec<String>,
    /// The trade; empty for an exam.
    pub trade: String,
    /// Its limit; none where it isn't timed.
    pub limit: Option<Ms>,
    /// What is read before it.
    pub cautions: Vec<String>,
    /// Whether it is a section of the person's own.
    pub own: bool,
    /// Whether it is an exam of several sections.
    pub exam: bool,
    /// What of it can be drilled: by name in plain letters, the ids of its steps.
    pub drills: BTreeMap<String, Vec<String>>,
    /// What earlier runs show; none without a whole one.
    pub before: Option<Before>,
}

/// What earlier runs of a section show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Before {
    /// How many, in words.
    pub runs: String,
    /// Titles of the steps to practise, the weakest first.
    pub weak: Vec<String>,
    /// Their ids.
    pub drill: Vec<String>,
    /// Whether the person is ready, in words.
    pub ready: String,
}

impl Entry {
    /// A section, which also goes by `name`.
    pub fn of(section: &Section, name: &str) -> Entry {
        let ids = |steps: Vec<usize>| steps.into_iter().map(|s| section.steps[s].id.clone()).collect();
        let drills = names(section).into_iter().map(|(name, steps)| (name, ids(steps))).collect();
        Entry {
            title: section.title.clone(),
            names: vec![plain(name)],
            trade: section.trade.clone(),
            limit: section.limit(),
            cautions: section.cautions.clone(),
            own: false,
            exam: false,
            drills,
            before: None,
        }
    }

    /// An exam of these sections, with the cautions of all of them.
    pub fn of_exam(title: &str, sections: &[Section]) -> Entry {
        let mut cautions: Vec<String> = vec![];
        for caution in sections.iter().flat_map(|s| &s.cautions) {
            if !cautions.contains(caution) {
                cautions.push(caution.clone());
            }
        }
        Entry { title: title.into(), cautions, exam: true, ..Entry::default() }
    }

    /// Its title and its minutes.
    pub(super) fn told(&self) -> String {
        match self.limit {
            Some(limit) => format!("{}, {}", self.title, spoken(limit)),
            None => self.title.clone(),
        }
    }
}

/// All that is there.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Menu {
    /// Sections and exams.
    pub entries: Vec<Entry>,
    /// The one rehearsed last, by its place.
    pub last: Option<usize>,
}

impl Menu {
    /// Trades, the one with most sections first.
    pub(super) fn trades(&self) -> Vec<&str> {
        let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
        let trades = self.entries.iter().map(|e| e.trade.as_str()).filter(|t| !t.is_empty());
        trades.for_each(|trade| *counts.entry(trade).or_default() += 1);
        let mut trades: Vec<&str> = counts.keys().copied().collect();
        trades.sort_by_key(|trade| std::cmp::Reverse(counts[trade]));
        trades
    }

    /// Places of a trade's sections, the longest first.
    pub(super) fn of(&self, trade: &str) -> Vec<usize> {
        let mut places: Vec<usize> = (0..self.entries.len()).filter(|k| self.entries[*k].trade == trade).collect();
        places.sort_by_key(|k| std::cmp::Reverse(self.entries[*k].limit));
        places
    }

    /// The trade of a section of the person's own, or of the one rehearsed last, or the one with most sections.
    pub(super) fn usual(&self) -> String {
        let own = self.entries.iter().find(|e| e.own).or(self.last.map(|k| &self.entries[k]));
        let trade = own.map(|e| e.trade.as_str()).filter(|t| !t.is_empty());
        trade.or(self.trades().first().copied()).unwrap_or_default().to_string()
    }

    /// The section behind another in the list of its trade; the first one where it is the last.
    pub(super) fn behind(&self, place: Option<usize>) -> Option<usize> {
        let all = self.of(&place.map_or_else(|| self.usual(), |k| self.entries[k].trade.clone()));
        let next = all.iter().position(|k| Some(*k) == place).map_or(0, |k| (k + 1) % all.len());
        all.get(next).copied()
    }

    /// Some sections of a trade from the `from`th on, and how many there are behind them.
    pub(super) fn told(&self, trade: &str, from: usize) -> String {
        let all = self.of(trade);
        let told: Vec<String> = all.iter().skip(from).take(BREATH).map(|k| self.entries[*k].told()).collect();
        let left = all.len().saturating_sub(from + BREATH);
        let more = if left > 0 { format!(" And {left} more: say, tell me more.") } else { String::new() };
        format!("{}: {}.{more}", upper(trade), told.join("; "))
    }
}
