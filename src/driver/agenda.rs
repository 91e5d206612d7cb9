//! What a run has ahead of it.

use crate::callout::Vocabulary;
use crate::listen::Voiced;
use crate::review::SearchTarget;
use crate::session::Timer;
use crate::time::SampleIndex;
use crate::voice::Speech;
use std::collections::VecDeque;

/// What is still to come, by place, and what is going on.
#[derive(Default)]
pub(super) struct Agenda {
    pub(super) timers: Vec<(SampleIndex, Timer)>,
    pub(super) waiting: VecDeque<(u32, Speech)>,
    pub(super) speaking: Option<(u32, SampleIndex)>,
    pub(super) masked_from: Option<SampleIndex>,
    pub(super) unmask: Option<SampleIndex>,
    /// What the ears are to be told of the tool's voice, before they decode.
    pub(super) voiced: Vec<Voiced>,
    /// Place of the last event on record.
    pub(super) written: SampleIndex,
    /// What is to be listened for again.
    pub(super) search: Option<Vec<SearchTarget>>,
    /// What is to be listened for from now on.
    pub(super) set_grammar: Option<Vocabulary>,
    /// Whether the run was cut off before its first event.
    pub(super) unopened: bool,
}

impl Agenda {
    pub(super) fn arm(&mut self, timer: Timer, when: SampleIndex) {
        self.disarm(timer);
        self.timers.push((when, timer));
    }

    pub(super) fn disarm(&mut self, timer: Timer) {
        self.timers.retain(|t| t.1 != timer);
    }
}
