//! A pause while no clock runs: in the readings, in front of the start words, in the telling, in the recap. What was being said is said again.

use super::asking::ASKED;
use super::closing::{ASIDE, TOLD};
use super::deadlines::GAP;
use super::{Effect, Session, Stage, Timer};
use crate::time::SampleIndex;

impl Session {
    /// Whether the proctor can be held without a clock to hold.
    pub(super) fn may_be_held(&self) -> bool {
        matches!(self.stage, Stage::Reading(_) | Stage::Starting | Stage::Telling | Stage::Recapping | Stage::Asking)
    }

    /// Fall silent, and wait.
    pub(super) fn hold(&mut self) -> Vec<Effect> {
        self.held = true;
        let timers = [Timer::Gap, Timer::Told, Timer::Asked].map(Effect::Disarm);
        let paused = Effect::Speak { id: ASIDE, text: "Paused.".into(), urgent: true };
        [Effect::Show("held until you say resume".into())].into_iter().chain(timers).chain([paused]).collect()
    }

    /// Go on: what was not said to its end is said again from its beginning.
    pub(super) fn go_on(&mut self, at: SampleIndex) -> Vec<Effect> {
        self.held = false;
        if self.awaited.is_some() {
            let again = self.unsaid.iter().cloned();
            return again.map(|(id, text)| Effect::Speak { id, text, urgent: false }).collect();
        }
        let timer = match self.stage {
            Stage::Telling => (Timer::Told, TOLD),
            Stage::Asking => (Timer::Asked, ASKED),
            _ => (Timer::Gap, GAP),
        };
        vec![Effect::Arm(timer.0, at + timer.1)]
    }
}
