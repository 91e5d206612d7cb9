//! Session time: milliseconds and sample counts, and the arithmetic between them. It never reads a clock.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::{Add, Sub};

/// Samples a second of the one axis that every event is placed on.
pub const RATE: u64 = 16_000;

/// A length of time in milliseconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Ms(pub u64);

impl Ms {
    /// From minutes, rounded to the millisecond; negative or absent numbers become zero.
    pub fn from_minutes(minutes: f64) -> Self {
        Ms((minutes.max(0.0) * 60_000.0).round() as u64)
    }

    /// Seconds, with the fraction.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1000.0
    }

    /// The same span on the sample axis.
    pub fn samples(self) -> u64 {
        self.0.saturating_mul(RATE) / 1000
    }

    /// To the nearest second, as it is shown.
    pub fn rounded(self) -> Ms {
        Ms(self.0.saturating_add(500) / 1000 * 1000)
    }

    /// What is left after taking `other` away, never below zero.
    pub fn saturating_sub(self, other: Ms) -> Ms {
        Ms(self.0.saturating_sub(other.0))
    }
}

impl Add for Ms {
    type Output = Ms;
    fn add(self, other: Ms) -> Ms {
        Ms(self.0.saturating_add(other.0))
    }
}

impl std::iter::Sum for Ms {
    fn sum<I: Iterator<Item = Ms>>(spans: I) -> Ms {
        spans.fold(Ms(0), |a, b| a + b)
    }
}

impl fmt::Display for Ms {
    /// Minutes and seconds, `m:ss`, rounded to the nearest second.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seconds = self.rounded().0 / 1000;
        write!(f, "{}:{:02}", seconds / 60, seconds % 60)
    }
}

/// A place on the session's axis: samples at [`RATE`] since the microphone was opened.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SampleIndex(pub u64);

impl SampleIndex {
    /// The place this many seconds after the start; negative numbers become zero.
    pub fn from_seconds(seconds: f64) -> Self {
        SampleIndex((seconds.max(0.0) * RATE as f64).round() as u64)
    }

    /// How long after `earlier` this is; zero where it is not after it.
    pub fn since(self, earlier: SampleIndex) -> Ms {
        Ms(self.0.saturating_sub(earlier.0).saturating_mul(1000) / RATE)
    }
}

impl Add<Ms> for SampleIndex {
    type Output = SampleIndex;
    fn add(self, span: Ms) -> SampleIndex {
        SampleIndex(self.0.saturating_add(span.samples()))
    }
}

impl Sub<Ms> for SampleIndex {
    type Output = SampleIndex;
    fn sub(self, span: Ms) -> SampleIndex {
        SampleIndex(self.0.saturating_sub(span.samples()))
    }
}

/// Stretches of the axis in which the clock was held on request, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Pauses(Vec<(SampleIndex, SampleIndex)>);

impl Pauses {
    /// One more, behind all others.
    pub fn add(&mut self, from: SampleIndex, until: SampleIndex) {
        self.0.push((from, until));
    }

    /// Each of them, from the first place to the second.
    pub fn iter(&self) -> impl Iterator<Item = (SampleIndex, SampleIndex)> {
        self.0.iter().copied()
    }

    /// How long the clock was held in all.
    pub fn total(&self) -> Ms {
        self.iter().map(|(from, until)| until.since(from)).sum()
    }

    /// What the clock shows between two places: the time from the one to the other, pauses left out.
    pub fn clock(&self, from: SampleIndex, until: SampleIndex) -> Ms {
        let held = self.iter().map(|(a, b)| b.min(until).since(a.max(from))).sum();
        until.since(from).saturating_sub(held)
    }
}

/// A span as a person says it: `1 minute 5 seconds`, `40 seconds`.
pub fn spoken(span: Ms) -> String {
    let seconds = span.0.saturating_add(500) / 1000;
    let count = |n: u64, unit: &str| crate::text::count(n as usize, unit);
    match (seconds / 60, seconds % 60) {
        (0, s) => count(s, "second"),
        (m, 0) => count(m, "minute"),
        (m, s) => format!("{} {}", count(m, "minute"), count(s, "second")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_read_as_people_say_them() {
        assert_eq!(spoken(Ms(40_000)), "40 seconds");
        assert_eq!(spoken(Ms(65_000)), "1 minute 5 seconds");
        assert_eq!(spoken(Ms(120_000)), "2 minutes");
        assert_eq!(Ms(751_400).to_string(), "12:31");
    }

    #[test]
    fn the_clock_leaves_pauses_out() {
        let at = SampleIndex::from_seconds;
        let mut pauses = Pauses::default();
        pauses.add(at(10.0), at(70.0));
        pauses.add(at(100.0), at(101.0));
        assert_eq!(pauses.total(), Ms(61_000));
        for (from, until, clock) in [(0.0, 5.0, 5), (0.0, 10.0, 10), (0.0, 40.0, 10), (0.0, 71.0, 11), (20.0, 80.0, 10)]
        {
            assert_eq!(pauses.clock(at(from), at(until)), Ms(clock * 1000), "{from} to {until}");
        }
        assert_eq!(pauses.clock(at(80.0), at(5.0)), Ms(0));
    }

    #[test]
    fn samples_and_milliseconds_agree() {
        let at = SampleIndex(8_000) + Ms(1500);
        assert_eq!(at, SampleIndex(32_000));
        assert_eq!(at.since(SampleIndex(8_000)), Ms(1500));
        assert_eq!(SampleIndex(0).since(at), Ms(0));
    }
}
