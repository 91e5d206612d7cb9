//! The proctor as a state machine: an event in, effects out. It reads no clock; time comes with each event.

mod outcome;

pub use outcome::{Ending, Outcome};

use crate::callout::{Command, Heard, Meaning};
use crate::recap;
use crate::review::Called;
use crate::section::Section;
use crate::time::{Ms, SampleIndex, spoken};
use serde::{Deserialize, Serialize};

/// Silence between the readings and before the start words, in which the room is listened to.
const GAP: Ms = Ms(1500);

/// How long after the end results may still come in for what was said before it.
const LATE: Ms = Ms(4000);

/// How much the proctor helps.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// Answers "time left" and "repeat that".
    Coach,
    /// One warning and nothing else, as in an exam room.
    Exam,
}

/// A deadline the session asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Timer {
    /// End of a silence around the readings.
    Gap,
    /// The one warning.
    Warning,
    /// The limit.
    Limit,
    /// No more results are waited for.
    Late,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Event {
    /// The session was opened.
    Opened,
    /// A phrase was recognised.
    Heard(Heard),
    /// The announcement numbered so began to sound.
    SpeechStarted(u32),
    /// The announcement numbered so ended.
    SpeechEnded(u32),
    /// A deadline came.
    TimerFired(Timer),
    /// The microphone was masked, from and to these places, because the tool spoke.
    Masked(SampleIndex, SampleIndex),
    /// This many samples were lost because nobody took them in time.
    Overflowed(u64),
    /// No more sound will come from the microphone.
    MicrophoneEnded,
    /// The person asked at the keyboard to end.
    Interrupted,
}

/// Something to do, after its event is on disk.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// Say this, after what is being said, or instead of it where it is urgent.
    Speak {
        /// Number of the announcement, counted from 0.
        id: u32,
        /// The words.
        text: String,
        /// Whether it cuts off what is being said.
        urgent: bool,
    },
    /// Fire this timer at that place.
    Arm(Timer, SampleIndex),
    /// Forget this timer.
    Disarm(Timer),
    /// Stop speaking.
    Hush,
    /// Show this line.
    Show(String),
    /// The session is over.
    Close,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    Reading(u32),
    Starting,
    Running,
    Paused(SampleIndex),
    Closing,
    Recapping,
    Closed,
}

/// The proctor of one run.
#[derive(Clone, Debug)]
pub struct Session {
    section: Section,
    mode: Mode,
    phase: Phase,
    next_id: u32,
    awaited: Option<u32>,
    last_said: String,
    outcome: Outcome,
}

impl Session {
    /// A session that waits for [`Event::Opened`].
    pub fn new(section: Section, mode: Mode) -> Session {
        Session {
            section,
            mode,
            phase: Phase::Reading(0),
            next_id: 0,
            awaited: None,
            last_said: String::new(),
            outcome: Outcome::default(),
        }
    }

    /// Every announcement whose words are known beforehand.
    pub fn announcements(section: &Section) -> Vec<String> {
        let (reading, clock) = (&section.reading, &section.clock);
        let first = reading.sentences.join(" ");
        let again = format!("{} {first}", reading.again);
        let fixed = [first, again, reading.begin.clone(), clock.warning.clone(), clock.stop.clone()];
        fixed.into_iter().chain(["Paused.".into(), "Going on.".into()]).filter(|t| !t.is_empty()).collect()
    }

    /// The section rehearsed.
    pub fn section(&self) -> &Section {
        &self.section
    }

    /// What is known of the run so far.
    pub fn outcome(&self) -> &Outcome {
        &self.outcome
    }

    /// Whether the session is over.
    pub fn closed(&self) -> bool {
        self.phase == Phase::Closed
    }

    /// Take in one event that was known at `at`.
    pub fn handle(&mut self, at: SampleIndex, event: &Event) -> Vec<Effect> {
        match event {
            Event::Opened => self.read(),
            Event::SpeechStarted(_) => vec![],
            Event::SpeechEnded(id) if self.awaited == Some(*id) => self.said(at),
            Event::SpeechEnded(_) => vec![],
            Event::TimerFired(timer) => self.fired(at, *timer),
            Event::Heard(heard) => match &heard.meaning {
                Meaning::Callout(say) => self.called(say, heard),
                Meaning::Command(command) => self.ordered(at, *command, heard),
            },
            Event::Masked(from, to) => {
                self.outcome.masked = self.outcome.masked + to.since(*from);
                vec![]
            }
            Event::Overflowed(samples) => {
                self.outcome.lost_samples += samples;
                vec![Effect::Show(format!("{samples} samples of sound were lost: the computer was too busy"))]
            }
            Event::MicrophoneEnded => self.end(at, Ending::MicrophoneEnded),
            Event::Interrupted => self.stop(at),
        }
    }

    fn say(&mut self, text: String, urgent: bool) -> Effect {
        let id = self.next_id;
        self.next_id += 1;
        self.last_said.clone_from(&text);
        Effect::Speak { id, text, urgent }
    }

    fn say_and_wait(&mut self, text: String) -> Vec<Effect> {
        self.awaited = Some(self.next_id);
        vec![self.say(text, false)]
    }

    fn read(&mut self) -> Vec<Effect> {
        let Phase::Reading(done) = self.phase else { return vec![] };
        let reading = self.section.reading.sentences.join(" ");
        let text = if done == 0 { reading } else { format!("{} {reading}", self.section.reading.again) };
        self.say_and_wait(text)
    }

    /// The announcement that the session waited for has ended.
    fn said(&mut self, at: SampleIndex) -> Vec<Effect> {
        self.awaited = None;
        match self.phase {
            Phase::Reading(done) => {
                let done = done + 1;
                self.phase = if done < self.section.reading.times { Phase::Reading(done) } else { Phase::Starting };
                vec![Effect::Arm(Timer::Gap, at + GAP)]
            }
            Phase::Starting => {
                self.phase = Phase::Running;
                self.outcome.started = Some(at);
                let mut effects = vec![Effect::Show("the clock has started".into())];
                effects.extend(self.arm());
                effects
            }
            Phase::Recapping => {
                self.phase = Phase::Closed;
                vec![Effect::Close]
            }
            _ => vec![],
        }
    }

    /// Where the limit lies, pauses counted in.
    fn limit_at(&self) -> Option<SampleIndex> {
        Some(self.outcome.started? + self.section.clock.limit + self.outcome.paused)
    }

    fn arm(&self) -> Vec<Effect> {
        let Some(limit) = self.limit_at() else { return vec![] };
        let warning = self.section.clock.warning_left.filter(|_| self.outcome.warned.is_none());
        warning
            .map(|left| Effect::Arm(Timer::Warning, limit - left))
            .into_iter()
            .chain([Effect::Arm(Timer::Limit, limit)])
            .collect()
    }

    fn fired(&mut self, at: SampleIndex, timer: Timer) -> Vec<Effect> {
        match (timer, self.phase) {
            (Timer::Gap, Phase::Reading(_)) => self.read(),
            (Timer::Gap, Phase::Starting) => self.say_and_wait(self.section.reading.begin.clone()),
            (Timer::Warning, Phase::Running) => {
                self.outcome.warned = Some(at);
                vec![self.say(self.section.clock.warning.clone(), true)]
            }
            (Timer::Limit, Phase::Running) => {
                let at = self.limit_at().unwrap_or(at);
                let mut effects = vec![self.say(self.section.clock.stop.clone(), true)];
                effects.extend(self.end(at, Ending::TimedOut));
                effects
            }
            (Timer::Late, Phase::Closing) => {
                self.phase = Phase::Recapping;
                let text = recap::spoken(&self.section, &self.outcome);
                self.say_and_wait(text)
            }
            _ => vec![],
        }
    }

    fn end(&mut self, at: SampleIndex, how: Ending) -> Vec<Effect> {
        if matches!(self.phase, Phase::Closing | Phase::Recapping | Phase::Closed) {
            return vec![];
        }
        if let Phase::Paused(since) = self.phase {
            self.outcome.paused = self.outcome.paused + at.since(since);
        }
        self.phase = Phase::Closing;
        self.awaited = None;
        self.outcome.ended = Some((at, how));
        vec![
            Effect::Disarm(Timer::Warning),
            Effect::Disarm(Timer::Limit),
            Effect::Disarm(Timer::Gap),
            Effect::Arm(Timer::Late, at + LATE),
        ]
    }

    /// End at once, without another spoken word.
    fn stop(&mut self, at: SampleIndex) -> Vec<Effect> {
        let mut effects = self.end(at, Ending::Stopped);
        self.phase = Phase::Closed;
        effects.extend([Effect::Hush, Effect::Close]);
        effects
    }

    fn called(&mut self, say: &str, heard: &Heard) -> Vec<Effect> {
        let called = Called { say: say.to_string(), at: heard.start };
        let started = self.outcome.started.filter(|s| heard.start >= *s);
        let ended = self.outcome.ended.is_some_and(|(end, _)| heard.start >= end);
        match (self.phase, started) {
            (Phase::Closed | Phase::Recapping, _) => vec![],
            (Phase::Paused(since), _) if heard.start >= since => {
                vec![Effect::Show(format!("paused: \"{say}\" doesn't count"))]
            }
            (_, None) => {
                self.outcome.before_start.push(called);
                vec![Effect::Show(format!("before the start: {say}"))]
            }
            _ if ended => {
                self.outcome.after_stop.push(called);
                vec![Effect::Show(format!("after the end: {say}"))]
            }
            (_, Some(started)) => {
                self.outcome.called.push(called);
                self.outcome.called.sort_by_key(|c| c.at);
                vec![Effect::Show(self.stamped(heard.start.since(started), say))]
            }
        }
    }

    /// A line with its time; in exam mode without one, since the room has no clock.
    fn stamped(&self, since: Ms, line: &str) -> String {
        match self.mode {
            Mode::Coach => format!("{since:>6}  {line}", since = since.to_string()),
            Mode::Exam => format!("        {line}"),
        }
    }

    fn ordered(&mut self, at: SampleIndex, command: Command, heard: &Heard) -> Vec<Effect> {
        let coach = self.mode == Mode::Coach;
        match (command, self.phase) {
            (Command::StopEverything, _) => self.stop(at),
            (Command::Pause, Phase::Running) => {
                self.phase = Phase::Paused(heard.start);
                vec![Effect::Disarm(Timer::Warning), Effect::Disarm(Timer::Limit), self.say("Paused.".into(), false)]
            }
            (Command::Resume, Phase::Paused(since)) => {
                self.outcome.paused = self.outcome.paused + heard.start.since(since);
                self.phase = Phase::Running;
                let mut effects = vec![self.say("Going on.".into(), false)];
                effects.extend(self.arm());
                effects
            }
            (Command::Undo, Phase::Running) => match self.outcome.called.pop() {
                Some(last) => vec![Effect::Show(format!("taken back: {}", last.say))],
                None => vec![Effect::Show("there is nothing to take back".into())],
            },
            (Command::TimeLeft, Phase::Running) if coach => {
                let left = self.limit_at().map_or(Ms(0), |limit| limit.since(at));
                vec![self.say(format!("{} left.", spoken(left)), false)]
            }
            (Command::Repeat, Phase::Running | Phase::Paused(_)) if coach => {
                vec![self.say(self.last_said.clone(), false)]
            }
            (Command::DroppedItem, Phase::Running) => {
                self.outcome.dropped.push(heard.start);
                let since = self.outcome.started.map_or(Ms(0), |s| heard.start.since(s));
                vec![Effect::Show(self.stamped(since, "dropped item"))]
            }
            (Command::Finished, Phase::Running) => self.end(heard.start, Ending::Finished),
            (Command::Finished, Phase::Closing) => {
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
}
