//! While the clock runs: callouts and commands, and what becomes of both when nobody listens.

use super::closing::TOLD;
use super::deadlines::DEADLINES;
use super::wording::{DEAF, STILL_PAUSED};
use super::{Effect, Session, Stage, Timer};
use crate::callout::{Command, Heard, Vocabulary};
use crate::outcome::{Absence, Away, Ending, Mode};
use crate::recap;
use crate::review::Called;
use crate::time::{Ms, SampleIndex, spoken};

impl Session {
    pub(super) fn called(&mut self, at: SampleIndex, say: &str, heard: &Heard) -> Vec<Effect> {
        let called = Called { say: say.to_string(), at: heard.start };
        let started = self.outcome.started.filter(|s| heard.start >= *s);
        let between = self.stage == Stage::Starting
            && self.outcome.phases.last().is_some_and(|p| p.1.is_some_and(|(end, _)| heard.start >= end));
        let ended = between || self.outcome.ended.is_some_and(|(end, _)| heard.start >= end);
        match (self.stage, started) {
            (
                Stage::Closed
                | Stage::Recapping
                | Stage::Searching
                | Stage::Guessing
                | Stage::Confirming
                | Stage::Asking,
                _,
            ) => vec![],
            (Stage::Telling, _) if self.outcome.told => {
                self.outcome.called.push(called);
                vec![Effect::Show(format!("told: {say}")), Effect::Arm(Timer::Told, at + TOLD)]
            }
            (Stage::Telling, _) => vec![],
            (_, Some(_)) if self.settings.silent() && !ended => {
                vec![Effect::Show(format!("a silent run: \"{say}\" doesn't count"))]
            }
            (Stage::Paused(since), _) if heard.start >= since => {
                vec![Effect::Show(format!("paused: \"{say}\" doesn't count"))]
            }
            // Whoever says a callout over the reading rehearses it, or repeats what is read.
            (_, None) if self.over_the_voice(heard.start) => vec![],
            (_, None) => {
                self.outcome.before_start.push(called);
                vec![Effect::Show(format!("before the start: {say}"))]
            }
            _ if ended => {
                self.outcome.after_stop.push(called);
                vec![Effect::Show(format!("after the end: {say}"))]
            }
            (_, Some(_)) => {
                self.outcome.called.push(called);
                self.outcome.called.sort_by_key(|c| c.at);
                let mut effects = vec![Effect::Show(self.stamped(heard.start, say))];
                effects.extend(self.sign(heard));
                effects.extend(self.await_cue(at));
                effects.extend(self.await_hint(at));
                effects.extend(self.await_wait(at));
                effects
            }
        }
    }

    /// Whether what began here began over the proctor's own voice.
    fn over_the_voice(&self, start: SampleIndex) -> bool {
        let ended = |end: SampleIndex| start >= end;
        !self.settings.headset && self.voice.is_some_and(|began| start >= began) && !self.voice_ended.is_some_and(ended)
    }

    /// A line with its section time; in exam mode without one, since the room has no clock.
    pub(super) fn stamped(&self, place: SampleIndex, line: &str) -> String {
        match self.settings.mode {
            Mode::Coach => format!("{since:>6}  {line}", since = self.outcome.clock(place).to_string()),
            Mode::Exam => format!("        {line}"),
        }
    }

    pub(super) fn ordered(&mut self, at: SampleIndex, command: Command, heard: &Heard) -> Vec<Effect> {
        let coach = self.settings.mode == Mode::Coach;
        match (command, self.stage) {
            (Command::StopEverything, _) => self.stop(at),
            (Command::Pause, Stage::Running) => {
                self.stage = Stage::Paused(heard.start);
                let held = DEADLINES.into_iter().filter(|timer| *timer != Timer::Gap);
                held.map(Effect::Disarm).chain([self.say("Paused.".into(), false)]).collect()
            }
            (Command::Pause, _) if self.may_be_held() && !self.held => self.hold(),
            (Command::Resume, _) if self.held => self.go_on(at),
            (Command::Resume, Stage::Paused(since)) => {
                self.outcome.pauses.add(since, heard.start);
                self.stage = Stage::Running;
                let mut effects = vec![self.say("Going on.".into(), false)];
                effects.extend(self.arm());
                effects.extend(self.await_cue(at));
                effects.extend(self.await_hint(at));
                effects.extend(self.await_wait(at));
                effects.extend(self.drop_at());
                effects
            }
            (Command::Finished, Stage::Telling) if self.outcome.told => self.recap(),
            (Command::Undo, Stage::Running) if self.dropped_last() => {
                self.outcome.dropped.pop();
                vec![Effect::Show("taken back: dropped item".into())]
            }
            (Command::Undo, Stage::Running | Stage::Telling) => match self.outcome.called.pop() {
                Some(last) => {
                    let mut effects = vec![Effect::Show(format!("taken back: {}", last.say))];
                    effects.extend(self.await_wait(at));
                    effects
                }
                None => vec![Effect::Show("there is nothing to take back".into())],
            },
            (Command::TimeLeft, Stage::Running | Stage::Paused(_)) if coach => self.time_left(at),
            // Told anew, as it is by now.
            (Command::Repeat, Stage::Running | Stage::Paused(_)) if coach && self.last_said.is_empty() => {
                self.time_left(at)
            }
            (Command::Repeat, Stage::Running | Stage::Paused(_)) if coach => {
                vec![self.say(self.last_said.clone(), false)]
            }
            (Command::Next, Stage::Running) if coach => self.next_step(),
            // Whoever forgot the pause would wait for an end that never comes.
            (Command::Undo | Command::DroppedItem | Command::Finished, Stage::Paused(since))
                if heard.start >= since =>
            {
                vec![Effect::Show("paused: that doesn't count".into()), self.say(STILL_PAUSED.into(), false)]
            }
            (Command::DroppedItem, Stage::Running) => {
                self.outcome.dropped.push(heard.start);
                let shown = Effect::Show(self.stamped(heard.start, "dropped item"));
                [shown].into_iter().chain(self.sign(heard)).collect()
            }
            (Command::Finished, Stage::Running) => self.end_phase(heard.start, Ending::Finished),
            (Command::Finished, Stage::Closing) => {
                // Said before the limit, understood after it: the section was finished in time.
                if let Some((end, how @ Ending::TimedOut)) = &mut self.outcome.ended
                    && heard.start < *end
                {
                    (*end, *how) = (heard.start, Ending::Finished);
                }
                vec![]
            }
            _ => vec![],
        }
    }

    /// Whether an item that the person dropped came after the last callout; one that the proctor drops can't be taken back.
    fn dropped_last(&self) -> bool {
        let dropped = self.outcome.dropped.last().filter(|_| self.settings.drop().is_none());
        dropped.is_some_and(|dropped| self.outcome.called.last().is_none_or(|called| called.at < *dropped))
    }

    /// Tells how much time there is left at a place; in a pause the clock stands. No words are kept to be repeated: by then they are untrue.
    fn time_left(&mut self, at: SampleIndex) -> Vec<Effect> {
        let now = if let Stage::Paused(since) = self.stage { since } else { at };
        let left = self.limit_at().map(|limit| limit.since(now));
        let text = left.map_or_else(|| "This part is not timed.".into(), |left| format!("{} left.", spoken(left)));
        let told = self.say(text, false);
        self.last_said.clear();
        vec![told]
    }

    /// The microphone is lost. The notice cuts off what is being said, which is said again when it is back.
    pub(super) fn deaf(&mut self) -> Vec<Effect> {
        if self.closed() {
            return vec![];
        }
        let id = self.next_id;
        self.next_id += 1;
        let line =
            "the microphone gives no sound; the clock is held until it does (Ctrl-C leaves the run, to be resumed)";
        vec![Effect::Show(line.into()), Effect::Speak { id, text: DEAF.into(), urgent: true }]
    }

    /// Nobody listened for a while: what was not said to its end is said again, and where the run stands.
    pub(super) fn back(&mut self, at: SampleIndex, why: Absence, span: Option<Ms>) -> Vec<Effect> {
        if self.closed() {
            return vec![];
        }
        self.held = false;
        self.outcome.away.push(Away { at, why, span });
        let mut effects = vec![Effect::Hush, Effect::Show(recap::away(why, span))];
        let again = self.unsaid.iter().cloned();
        effects.extend(again.map(|(id, text)| Effect::Speak { id, text, urgent: false }));
        match self.stage {
            Stage::Searching => effects.extend(self.search()),
            Stage::Guessing => effects.push(Effect::Listen(self.spans())),
            Stage::Confirming => effects.push(Effect::Listen(Vocabulary::answers())),
            Stage::Asking => effects.push(Effect::Listen(Vocabulary::questions(&self.section))),
            _ => {}
        }
        if self.stage == Stage::Running {
            let last = self.outcome.called.last();
            let last = last.map_or_else(String::new, |c| format!(" The last callout I have is: {}.", c.say));
            effects.push(self.say(format!("Going on.{last}"), false));
        }
        effects
    }
}
