//! Waits with a least time, such as a contact time: the coach says when one was long enough.

use super::wording::LONG_ENOUGH;
use super::{Effect, Session, Stage, Timer};
use crate::outcome::Mode;
use crate::time::{Ms, SampleIndex};

/// A shorter wait is not announced: in a walk-through on a compressed clock the words would fall on the next callout.
const SHORTEST: Ms = Ms(5_000);

impl Session {
    /// Arm the end of the wait at work, or forget it where the candidate has gone on. What has to last goes on in a pause, as it does
    /// for the finding.
    pub(super) fn await_wait(&self, at: SampleIndex) -> Vec<Effect> {
        if self.settings.mode != Mode::Coach || self.stage != Stage::Running || self.settings.silent() {
            return vec![];
        }
        match self.wait() {
            Some((since, least)) => vec![Effect::Arm(Timer::Wait, (since + least).max(at))],
            None => vec![Effect::Disarm(Timer::Wait)],
        }
    }

    /// The wait at work that was not announced: the onset of its first callout, and its least time.
    fn wait(&self) -> Option<(SampleIndex, Ms)> {
        let called = &self.outcome.called;
        let last = called.last()?;
        // A callout said again begins no new wait.
        let since = called.iter().rev().take_while(|c| self.same(&c.say, &last.say)).last()?.at;
        let least = self.least(&last.say).filter(|least| *least >= SHORTEST)?;
        (self.waited != Some(since)).then_some((since, least))
    }

    fn same(&self, one: &str, other: &str) -> bool {
        one == other || self.section.steps.iter().any(|s| [one, other].iter().all(|say| s.say.iter().any(|p| p == say)))
    }

    /// The least time until just any callout may follow this one: of its step, and with a headset of rules too. The rub of the hands comes
    /// often, and without a headset a callout that falls on the announcement would be lost.
    fn least(&self, say: &str) -> Option<Ms> {
        let steps = self.section.steps.iter().filter(|s| s.say.iter().any(|p| p == say)).filter_map(|s| s.at_least);
        let any = |then: &Option<String>| then.as_deref() == Some("any");
        let rules = self.section.rules.iter().filter(|_| self.settings.headset);
        let rules = rules.filter(|r| any(&r.then) && self.section.means(&r.first, say));
        steps.chain(rules.filter_map(|r| r.at_least)).max()
    }

    pub(super) fn waited_enough(&mut self) -> Vec<Effect> {
        let Some((since, _)) = self.wait() else { return vec![] };
        self.waited = Some(since);
        vec![self.say(LONG_ENOUGH.into(), false)]
    }
}
