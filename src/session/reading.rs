//! The readings, and the start words that the clock starts behind.

use super::deadlines::GAP;
use super::wording::{SKIPPED, compressed, reading};
use super::{Effect, Session, Stage, Timer};
use crate::time::SampleIndex;

impl Session {
    pub(super) fn read(&mut self) -> Vec<Effect> {
        let Stage::Reading(done) = self.stage else { return vec![] };
        if self.settings.skips_reading {
            self.stage = Stage::Starting;
            let clock = compressed(&self.section, self.settings.compress);
            let text = [Some(SKIPPED.into()), clock].into_iter().flatten().collect::<Vec<String>>().join(" ");
            let mut effects = vec![self.say(text, false)];
            effects.extend(self.begin_phase());
            return effects;
        }
        self.say_and_wait(reading(&self.section, self.settings.compress, done))
    }

    /// A reading has ended: once more, or on to the start words.
    pub(super) fn read_out(&mut self, at: SampleIndex, done: u32) -> Vec<Effect> {
        let done = done + 1;
        self.stage = if done < self.section.reading.times { Stage::Reading(done) } else { Stage::Starting };
        vec![Effect::Arm(Timer::Gap, at + GAP)]
    }

    /// The start words have ended: the clock starts.
    pub(super) fn start(&mut self, at: SampleIndex) -> Vec<Effect> {
        self.stage = Stage::Running;
        self.outcome.started = self.outcome.started.or(Some(at));
        self.outcome.phases.push((at, None));
        self.paused_before = self.outcome.pauses.total();
        self.warned = false;
        let line = if self.phase().clock.limit.is_some() { "the clock has started" } else { "begun, untimed" };
        let mut effects = vec![Effect::Show(line.into())];
        effects.extend(self.arm());
        effects.extend(self.await_cue(at));
        effects.extend(self.await_hint(at));
        effects.extend(self.drop_at());
        effects
    }
}
