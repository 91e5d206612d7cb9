//! The end: of a phase and of the section, the telling after a silent run, the second listen, the recap.

use super::deadlines::DEADLINES;
use super::wording::{AGAIN, TELL};
use super::{Effect, LATE, Session, Stage, Timer};
use crate::outcome::Ending;
use crate::recap;
use crate::review::search_targets;
use crate::time::{Ms, SampleIndex};

/// Nothing more is waited for after so long without a word.
pub(super) const TOLD: Ms = Ms(45_000);

/// The number of what is said beside the run: nothing waits for its end, and it is not said again.
pub(super) const ASIDE: u32 = u32::MAX;

impl Session {
    /// The end of a phase: the next one, or the end of the section.
    pub(super) fn end_phase(&mut self, at: SampleIndex, how: Ending) -> Vec<Effect> {
        if self.outcome.phases.len() >= self.section.phases.len() {
            return self.end(at, how);
        }
        self.close_phase(at, how);
        self.stage = Stage::Starting;
        self.cueing = None;
        let mut effects: Vec<Effect> = DEADLINES.into_iter().map(Effect::Disarm).collect();
        effects.extend(self.begin_phase());
        effects
    }

    pub(super) fn close_phase(&mut self, at: SampleIndex, how: Ending) {
        if let Some((_, end @ None)) = self.outcome.phases.last_mut() {
            *end = Some((at, how));
        }
    }

    pub(super) fn end(&mut self, at: SampleIndex, how: Ending) -> Vec<Effect> {
        if self.stage == Stage::Telling && how == Ending::MicrophoneEnded {
            return self.recap();
        }
        let over = [
            Stage::Closing,
            Stage::Searching,
            Stage::Telling,
            Stage::Guessing,
            Stage::Confirming,
            Stage::Recapping,
            Stage::Asking,
            Stage::Closed,
        ];
        if over.contains(&self.stage) {
            return vec![];
        }
        if let Stage::Paused(since) = self.stage {
            self.outcome.pauses.add(since, at);
        }
        self.close_phase(at, how);
        self.stage = Stage::Closing;
        self.awaited = None;
        self.cueing = None;
        self.outcome.ended = Some((at, how));
        DEADLINES.into_iter().map(Effect::Disarm).chain([Effect::Arm(Timer::Late, at + LATE)]).collect()
    }

    /// End at once, without another spoken word.
    pub(super) fn stop(&mut self, at: SampleIndex) -> Vec<Effect> {
        let mut effects = self.end(at, Ending::Stopped);
        self.outcome.broken_off |= self.stage == Stage::Telling;
        self.stage = Stage::Closed;
        self.stopped = true;
        effects.extend([Effect::Hush, Effect::Close]);
        effects
    }

    pub(super) fn tell_or_search(&mut self) -> Vec<Effect> {
        if self.settings.silent() && self.outcome.started.is_some() {
            self.stage = Stage::Telling;
            return self.say_and_wait(TELL.into());
        }
        self.search()
    }

    /// The candidate was asked to tell, and does so from here on.
    pub(super) fn told(&mut self, at: SampleIndex) -> Vec<Effect> {
        self.outcome.told = true;
        vec![Effect::Arm(Timer::Told, at + TOLD)]
    }

    /// The second listen, where there is something to listen for; then the recap.
    pub(super) fn search(&mut self) -> Vec<Effect> {
        let start = self.outcome.started.filter(|_| self.settings.listens_again);
        let choices = self.settings.seeks_choices;
        let targets = |start| search_targets(&self.section, &self.outcome.facts(), start, choices);
        let wanted = start.map(targets).unwrap_or_default();
        if wanted.is_empty() {
            return self.recap();
        }
        self.stage = Stage::Searching;
        vec![Effect::Speak { id: ASIDE, text: AGAIN.into(), urgent: false }, Effect::Search(wanted)]
    }

    pub(super) fn recap(&mut self) -> Vec<Effect> {
        if self.settings.unreported {
            return self.close();
        }
        self.stage = Stage::Recapping;
        let text = recap::spoken(&self.section, &self.outcome);
        let mut effects = vec![Effect::Disarm(Timer::Told)];
        effects.extend(self.say_and_wait(text));
        effects
    }

    pub(super) fn close(&mut self) -> Vec<Effect> {
        self.stage = Stage::Closed;
        vec![Effect::Close]
    }
}
