//! What the coach tells, and ever less of it: the next step, the name of a phase, where the plan is at the warning; and its soft signs.

use super::{Effect, Session, Sign, Stage, Tell, Timer};
use crate::callout::Heard;
use crate::outcome::Mode;
use crate::section::Step;
use crate::time::{Ms, SampleIndex};

/// Below this confidence a callout is understood, but not for sure.
const SURE: f32 = 0.85;

/// A pause is long where it is so much longer than this person's own.
const LONGER: Ms = Ms(20_000);

/// This run says something of its own pace from so many steps on; and how far from the plan a pace is believed, in percent.
const PACE: (usize, u64, u64) = (3, 50, 300);

impl Session {
    fn coaches(&self, tell: Tell) -> bool {
        let told = self.settings.tells.as_ref().is_some_and(|tells| tells.contains(&tell));
        told && self.settings.mode == Mode::Coach && !self.settings.silent()
    }

    /// The sign for a callout, where signs are wanted.
    pub(super) fn sign(&self, heard: &Heard) -> Option<Effect> {
        let wanted = self.settings.signs && self.settings.mode == Mode::Coach;
        wanted.then_some(Effect::Sign(if heard.confidence < SURE { Sign::Unsure } else { Sign::Heard }))
    }

    /// The start words of a phase, with its name in front where there are several.
    pub(super) fn begin_phase(&mut self) -> Vec<Effect> {
        let (title, begin) = (self.phase().title.clone(), self.phase().begin.clone());
        let named = self.coaches(Tell::Phase) && self.section.phases.len() > 1;
        let name = named.then(|| self.say(format!("{title}."), false));
        name.into_iter().chain(self.say_and_wait(begin)).collect()
    }

    /// Where the plan has the candidate by the warning.
    pub(super) fn pace(&mut self) -> Option<Effect> {
        let clock = self.phase().clock.clone();
        let by = clock.limit?.saturating_sub(clock.warning_left?);
        let step = self.coaches(Tell::Pace).then(|| self.by_plan(by)).flatten()?;
        let text = format!("By plan now: {}.", self.section.steps[step].title);
        Some(self.say(text, false))
    }

    /// The step of this phase that the plan has at work after so long. Of a choice only as many count as are needed.
    fn by_plan(&self, clock: Ms) -> Option<usize> {
        let begun = self.outcome.phases.len().checked_sub(1)?;
        let spare = |s: usize| {
            self.section.choices.iter().any(|c| c.of.iter().position(|of| *of == s).is_some_and(|k| k >= c.at_least))
        };
        let steps = self.section.steps.iter().enumerate();
        let mut planned = Ms(0);
        let mut last = None;
        for (place, step) in steps.filter(|(k, s)| s.phase == begun && !s.optional && !spare(*k) && s.target > Ms(0)) {
            planned = planned + step.target;
            last = Some(place);
            if planned > clock {
                break;
            }
        }
        last
    }

    /// A hint is due when the step at work has had far more time than it usually takes.
    pub(super) fn await_hint(&mut self, at: SampleIndex) -> Vec<Effect> {
        // Nothing is called in a silent run, so nothing is ever late.
        if self.settings.mode != Mode::Coach || self.stage != Stage::Running || self.settings.silent() {
            return vec![];
        }
        let called = self.outcome.called.last();
        let at_work = called.and_then(|c| self.section.steps.iter().find(|s| s.say.contains(&c.say)));
        // A step that has no time of its own is never late.
        if at_work.is_some_and(|s| s.plan().is_none()) {
            return vec![Effect::Disarm(Timer::Hint)];
        }
        let target = at_work.map_or(Ms(0), |s| s.target);
        let wait = match &self.settings.tells {
            None => target + Ms(target.0 / 2) + LONGER,
            Some(tells) if !tells.contains(&Tell::Next) => return vec![],
            Some(_) => self.patience(at_work),
        };
        vec![Effect::Arm(Timer::Hint, at + wait)]
    }

    /// Twice what this person needs for the step at work, by earlier runs or by this one's pace against the plan, and a little more; longer with
    /// each hint given, so that they fade.
    fn patience(&self, at_work: Option<&Step>) -> Ms {
        let Some(step) = at_work else { return LONGER };
        let past = self.settings.past.as_ref().and_then(|p| p.usual.iter().find(|(id, _)| *id == step.id));
        let usual = past.map_or(Ms(step.target.0 * self.percent() / 100), |(_, usual)| *usual);
        Ms((usual.0 * (4 + self.hinted.len() as u64) / 2).max(usual.0 + LONGER.0))
    }

    /// This run's pace so far, in percent of the plan: 100 where too little is known of it.
    fn percent(&self) -> u64 {
        let mut sums = (0, 0, 0);
        for pair in self.outcome.called.windows(2) {
            let step = self.section.steps.iter().find(|s| s.say.contains(&pair[0].say));
            if let Some(target) = step.and_then(Step::plan).filter(|_| pair[0].say != pair[1].say) {
                let took = self.outcome.pauses.clock(pair[0].at, pair[1].at);
                sums = (sums.0 + 1, sums.1 + took.0, sums.2 + target.0);
            }
        }
        if sums.0 < PACE.0 { 100 } else { (sums.1 * 100 / sums.2).clamp(PACE.1, PACE.2) }
    }

    /// The hint is due: the next step, once each.
    pub(super) fn hint(&mut self) -> Vec<Effect> {
        let Some(step) = self.due().filter(|s| !self.hinted.contains(s)) else { return vec![] };
        self.hinted.push(step);
        vec![self.told_next(step)]
    }

    /// The next step was asked for.
    pub(super) fn next_step(&mut self) -> Vec<Effect> {
        match self.due() {
            Some(step) => vec![self.told_next(step)],
            None => vec![self.say("Nothing more is due in this part.".into(), false)],
        }
    }

    fn told_next(&mut self, step: usize) -> Effect {
        let due = &self.section.steps[step];
        let text = due.hint.clone().unwrap_or_else(|| format!("Next: {}.", due.title));
        self.say(text, false)
    }
}
