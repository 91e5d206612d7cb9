//! Deadlines: the warning and the limit, cues and hints, a drilled drop, and what is done when one comes.

use super::wording::DROP;
use super::{Effect, Session, Stage, Timer};
use crate::outcome::Ending;
use crate::review::align_so_far;
use crate::section::{Order, Phase};
use crate::time::{Ms, SampleIndex};

/// Silence between the readings and before the start words, in which the room is listened to.
pub(super) const GAP: Ms = Ms(1500);

/// How long the proctor waits before a cue once all before it was called, and how long after the last callout if not.
const CUE: (Ms, Ms) = (Ms(3_000), Ms(30_000));

/// The timers of a phase.
pub(super) const DEADLINES: [Timer; 7] =
    [Timer::Gap, Timer::Warning, Timer::Limit, Timer::Cue, Timer::Hint, Timer::Drop, Timer::Wait];

impl Session {
    /// Where the drilled drop comes: in the first phase, by its limit or by the plan of its steps.
    pub(super) fn drop_at(&self) -> Option<Effect> {
        let share = self.drop.filter(|_| self.outcome.phases.len() == 1)?;
        let plan: Ms = self.section.steps.iter().filter(|s| s.phase == 0).map(|s| s.target).sum();
        let time = self.phase().clock.limit.map_or(plan, |limit| if plan > Ms(0) { limit.min(plan) } else { limit });
        Some(Effect::Arm(Timer::Drop, self.reached(Ms(time.0 * share / 1000))))
    }

    /// The phase going on, or to be begun.
    pub(super) fn phase(&self) -> &Phase {
        let begun = self.outcome.phases.len();
        let place =
            if matches!(self.stage, Stage::Reading(_) | Stage::Starting) { begun } else { begun.saturating_sub(1) };
        &self.section.phases[place.min(self.section.phases.len() - 1)]
    }

    /// Where the limit of the phase lies, pauses counted in.
    pub(super) fn limit_at(&self) -> Option<SampleIndex> {
        Some(self.reached(self.phase().clock.limit?))
    }

    /// Where the clock of this phase shows so much, pauses so far counted in.
    pub(super) fn reached(&self, clock: Ms) -> SampleIndex {
        let paused = self.outcome.pauses.total().saturating_sub(self.paused_before);
        self.outcome.phases.last().map_or(SampleIndex(0), |phase| phase.0) + clock + paused
    }

    pub(super) fn arm(&self) -> Vec<Effect> {
        let Some(limit) = self.limit_at() else { return vec![] };
        let warning = self.phase().clock.warning_left.filter(|_| !self.warned);
        warning
            .map(|left| Effect::Arm(Timer::Warning, limit - left))
            .into_iter()
            .chain([Effect::Arm(Timer::Limit, limit)])
            .collect()
    }

    /// The gated step that waits for its cue in this phase, and whether all before it was called.
    pub(super) fn gate(&self) -> Option<(usize, bool)> {
        let begun = self.outcome.phases.len().checked_sub(1)?;
        let given = |step: usize| self.outcome.cues.iter().any(|(s, _)| *s == step);
        let done = self.so_far();
        let order = Order::of(&self.section);
        let steps = self.section.steps.iter().enumerate();
        let mut waiting =
            steps.filter(|(place, s)| s.gate.is_some() && s.phase == begun && !given(*place) && !done.has(*place));
        waiting.next().map(|(place, _)| (place, order.may_follow(&done, place)))
    }

    /// What the callouts so far stand for.
    pub(super) fn so_far(&self) -> crate::section::Done {
        let says: Vec<&str> = self.outcome.called.iter().map(|c| c.say.as_str()).collect();
        let for_a_step = |say: &&str| self.section.steps.iter().any(|s| s.say.iter().any(|p| p == say));
        align_so_far(&self.section, &says.into_iter().filter(for_a_step).collect::<Vec<_>>()).done
    }

    pub(super) fn await_cue(&mut self, at: SampleIndex) -> Vec<Effect> {
        if !self.section.steps.iter().any(|s| s.gate.is_some()) || self.stage != Stage::Running || self.cueing.is_some()
        {
            return vec![];
        }
        match self.gate() {
            // In a silent run the cue comes when the plan has what lies before it through.
            Some((step, _)) if self.settings.silent() => vec![Effect::Arm(Timer::Cue, self.planned(step).max(at))],
            Some((_, ready)) => vec![Effect::Arm(Timer::Cue, at + if ready { CUE.0 } else { CUE.1 })],
            None => vec![Effect::Disarm(Timer::Cue)],
        }
    }

    /// Where the plan has all of this phase through that must come before a step.
    pub(super) fn planned(&self, step: usize) -> SampleIndex {
        let before = Order::of(&self.section).all_before();
        let ours = |s: &usize| before[step].has(*s) && self.section.steps[*s].phase == self.section.steps[step].phase;
        let plan: Ms = (0..self.section.steps.len()).filter(ours).map(|s| self.section.steps[s].target).sum();
        self.reached(plan)
    }

    pub(super) fn cue(&mut self) -> Vec<Effect> {
        let Some((step, _)) = self.gate() else { return vec![] };
        let text = self.section.steps[step].gate.clone().unwrap_or_default();
        self.cueing = Some((self.next_id, step));
        vec![self.say(text, false)]
    }

    /// The step that is due now and was not hinted at, where the coach hints.
    pub(super) fn due(&self) -> Option<usize> {
        let done = self.so_far();
        let order = Order::of(&self.section);
        let begun = self.outcome.phases.len().checked_sub(1)?;
        (0..self.section.steps.len()).find(|&s| {
            let step = &self.section.steps[s];
            order.may_follow(&done, s)
                && !step.optional
                && step.phase == begun
                && step.gate.is_none()
                && !step.say.is_empty()
        })
    }

    pub(super) fn fired(&mut self, at: SampleIndex, timer: Timer) -> Vec<Effect> {
        match (timer, self.stage) {
            (Timer::Gap, Stage::Reading(_)) => self.read(),
            (Timer::Gap, Stage::Starting) => self.begin_phase(),
            (Timer::Warning, Stage::Running) => {
                self.warned = true;
                // A cue that the warning cuts off is said again behind it: the gated step waits for its end.
                let cue = self.cueing.and_then(|(cue, _)| self.unsaid.iter().find(|(id, _)| *id == cue).cloned());
                let mut effects = vec![self.say(self.phase().clock.warning.clone(), true)];
                effects.extend(cue.map(|(id, text)| {
                    self.unsaid.push((id, text.clone()));
                    Effect::Speak { id, text, urgent: false }
                }));
                effects.extend(self.pace());
                effects
            }
            (Timer::Limit, Stage::Running) => {
                let at = self.limit_at().unwrap_or(at);
                let mut effects = vec![self.say(self.phase().clock.stop.clone(), true)];
                effects.extend(self.end_phase(at, Ending::TimedOut));
                effects
            }
            (Timer::Cue, Stage::Running) => self.cue(),
            (Timer::Hint, Stage::Running) => self.hint(),
            (Timer::Wait, Stage::Running) => self.waited_enough(),
            (Timer::Drop, Stage::Running) => {
                self.drop = None;
                self.outcome.dropped.push(at);
                vec![self.say(DROP.into(), false)]
            }
            (Timer::Late, Stage::Closing) => self.ask_the_time().unwrap_or_else(|| self.tell_or_search()),
            (Timer::Guessed, Stage::Guessing) => self.guessed_enough(),
            (Timer::Asked, Stage::Asking) => self.close(),
            (Timer::Answered, Stage::Confirming) => self.unanswered(),
            (Timer::Told, Stage::Telling) => self.recap(),
            _ => vec![],
        }
    }
}
