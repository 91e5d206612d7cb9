//! What is known of a run: how it was made, how it went, and the facts that a review and a recap are made from. It decides nothing.

use crate::review::{Called, Claimed, Facts};
use crate::time::{Ms, Pauses, SampleIndex};
use serde::{Deserialize, Serialize};

/// How much the proctor helps.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// Answers "time left" and "repeat that".
    Coach,
    /// One warning and nothing else, as in an exam room.
    Exam,
}

/// How much the candidate calls out: the real exam is silent, so callouts fade.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fade {
    /// Every step.
    #[default]
    All,
    /// Hand hygiene only.
    Hygiene,
    /// Nothing; afterwards the candidate tells what they went through.
    Silent,
}

impl Fade {
    /// Whether nothing has faded.
    pub fn is_all(&self) -> bool {
        *self == Fade::All
    }
}

/// Why nobody listened for a while.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Absence {
    /// The program was gone and came back.
    Restarted,
    /// The computer slept.
    Slept,
    /// The microphone was gone and came back.
    Microphone,
}

/// A while in which nobody listened. The axis stood still, so the clock was held.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Away {
    /// Where.
    pub at: SampleIndex,
    /// Why.
    pub why: Absence,
    /// How long, by the computer's clock, where that could be told.
    pub span: Option<Ms>,
}

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Ending {
    /// By the candidate's finish signal.
    Finished,
    /// By the limit.
    TimedOut,
    /// By "stop everything", or twice Ctrl-C.
    Stopped,
    /// Because no more sound came.
    MicrophoneEnded,
}

/// A correction made afterwards. What was heard stays in the journal.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Correction {
    /// Something is claimed of a step, by place.
    Claim {
        /// The step.
        step: usize,
        /// What is claimed.
        claimed: Claimed,
    },
    /// A callout was none.
    Struck(Called),
}

/// The facts of a run.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Outcome {
    /// End of the start words.
    pub started: Option<SampleIndex>,
    /// Where the run ended, and how.
    pub ended: Option<(SampleIndex, Ending)>,
    /// Each phase that was begun: its start, and its end with how.
    pub phases: Vec<(SampleIndex, Option<(SampleIndex, Ending)>)>,
    /// Cues given: the gated step, by place, and the end of its cue.
    pub cues: Vec<(usize, SampleIndex)>,
    /// Callouts that count, by onset.
    pub called: Vec<Called>,
    /// Callouts before the start words ended.
    pub before_start: Vec<Called>,
    /// Callouts after the end.
    pub after_stop: Vec<Called>,
    /// Dropped items, by onset.
    pub dropped: Vec<SampleIndex>,
    /// Whether all was told after a silent run: the order of callouts means something, their times don't.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub told: bool,
    /// Whether the telling after a silent run was broken off.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub broken_off: bool,
    /// What the second listen found: a step, by place, and where it was perhaps called.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub perhaps: Vec<(usize, SampleIndex)>,
    /// Corrections made afterwards, in their order.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub corrections: Vec<Correction>,
    /// How long the candidate guessed that it took.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub guessed: Option<Ms>,
    /// Whether the candidate wants to go through the section again.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub again: bool,
    /// Where the clock was held on request.
    pub pauses: Pauses,
    /// Time in which nothing could be heard, because the tool spoke.
    pub masked: Ms,
    /// Whiles in which nobody listened.
    pub away: Vec<Away>,
    /// Samples lost because nobody took them in time.
    pub lost_samples: u64,
}

impl Outcome {
    /// What is claimed afterwards of each step that something is claimed of: the last word counts.
    pub fn claims(&self) -> Vec<(usize, Claimed)> {
        let mut claims: Vec<(usize, Claimed)> = vec![];
        for correction in &self.corrections {
            if let Correction::Claim { step, claimed } = correction {
                claims.retain(|(s, _)| s != step);
                claims.push((*step, *claimed));
            }
        }
        claims
    }

    /// Take the last correction back; gives it.
    pub fn take_back(&mut self) -> Option<Correction> {
        let last = self.corrections.pop();
        if let Some(Correction::Struck(called)) = &last {
            let place = self.called.partition_point(|c| c.at <= called.at);
            self.called.insert(place, called.clone());
        }
        last
    }

    /// Callouts that are said afterwards to be none.
    pub fn struck(&self) -> impl Iterator<Item = &Called> {
        self.corrections.iter().filter_map(|c| if let Correction::Struck(called) = c { Some(called) } else { None })
    }

    /// The same with every callout that was heard.
    pub fn as_heard(&self) -> Outcome {
        let mut heard = self.clone();
        heard.called.extend(self.struck().cloned());
        heard.called.sort_by_key(|c| c.at);
        heard
    }

    /// Section time of a place: from the clock's start, pauses left out; 0 for what lies before it.
    pub fn clock(&self, place: SampleIndex) -> Ms {
        self.started.map_or(Ms(0), |started| self.pauses.clock(started, place))
    }

    /// From the clock's start to the end, pauses left out.
    pub fn used(&self) -> Option<Ms> {
        let (end, _) = self.ended?;
        self.started.map(|started| self.pauses.clock(started, end))
    }

    /// Whether it ran to its finish or its limit, and all could be told: what was not called then was left out. In any other run the
    /// steps behind the last callout were never reached.
    pub fn whole(&self) -> bool {
        matches!(self.ended, Some((_, Ending::Finished | Ending::TimedOut))) && !self.broken_off
    }

    /// What a review is made from.
    pub fn facts(&self) -> Facts {
        Facts {
            called: self.called.clone(),
            // What is told afterwards answers no drop.
            dropped: if self.told { vec![] } else { self.dropped.clone() },
            // Nor was it told in the phase that it speaks of.
            phases: if self.told {
                vec![]
            } else {
                self.phases.iter().map(|(from, end)| (*from, end.map(|e| e.0))).collect()
            },
            cues: self.cues.clone(),
            perhaps: self.perhaps.clone(),
            claims: self.claims(),
            pauses: self.pauses.clone(),
            cut: !self.whole(),
            end: self.ended.map_or(SampleIndex(0), |(at, _)| at),
        }
    }
}

/// One of the earlier runs, as far as a later one is compared with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Former {
    /// From the clock's start to the end, pauses left out.
    pub used: Ms,
    /// Whether it was finished before the limit.
    pub finished: bool,
    /// Things to look at.
    pub findings: u32,
    /// Critical ones among them.
    pub critical: u32,
}

/// What is known of the earlier whole runs of a section before a new one begins. It stands in the new one's journal, so that what is
/// answered there can be told again without them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Past {
    /// How many.
    pub runs: u32,
    /// The last one.
    pub last: Former,
    /// The one with the fewest critical findings, then the fewest findings, then the least time.
    pub best: Former,
    /// The chance of a good next run in percent, with its 90 % interval; none with too few runs.
    pub ready: Option<(u8, u8, u8)>,
    /// Titles of the steps to practise, the weakest first.
    pub weak: Vec<String>,
    /// What each step usually took lately, by its id; without those of a silent run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub usual: Vec<(String, Ms)>,
}
