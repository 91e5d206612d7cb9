//! The proctor as a state machine: an event in, effects out. It reads no clock; time comes with each event.
//! Phases are gone through one after the other; gates get their cue when what comes before them was called, or late.

mod outcome;

pub use outcome::{Absence, Away, Ending, Outcome};

use crate::callout::{Command, Heard, Meaning, Question, Vocabulary};
use crate::recap;
use crate::review::{Called, Sought, align_so_far, sought};
use crate::section::{Order, Phase as Part, Section};
use crate::time::{Ms, SampleIndex, spoken};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// Raised whenever the same events would leave another state than before, so that digests of it are not compared.
pub const STATE: u32 = 2;

/// Said after a silent run.
const TELL: &str = "Now tell me what you went through, step by step. Give the finish signal when you have told all.";

/// Nothing more is waited for after so long without a word.
const TOLD: Ms = Ms(45_000);

/// Said after the recap.
const ASK: &str = "Any questions? Ask what you missed, how long something was, or when you called it.";

/// Nobody asks any more after so long without a word.
const ASKED: Ms = Ms(12_000);

/// Said before the recap, where a time is to be guessed.
const GUESS: &str = "Before I tell you: how many minutes did that take?";
/// Said while the second listen goes through what was heard, which takes some seconds after a run of talk.
const AGAIN: &str = "One moment. I listen once more for what I did not hear.";
/// The number of what is said beside the run: nothing waits for its end, and it is not said again.
const ASIDE: u32 = u32::MAX;

/// How long a guess is waited for, and then another one in its place.
const GUESSED: (Ms, Ms) = (Ms(12_000), Ms(3_000));

/// Said in the drill of a dropped item.
const DROP: &str = "An item has dropped to the floor.";

/// Said when the microphone gives nothing.
const DEAF: &str = "I can't hear you. The clock is held until the microphone is back.";

/// Silence between the readings and before the start words, in which the room is listened to.
const GAP: Ms = Ms(1500);

/// How long after the end results may still come in for what was said before it.
pub const LATE: Ms = Ms(4000);

/// How long the proctor waits before a cue once all before it was called, and how long after the last callout if not.
const CUE: (Ms, Ms) = (Ms(3_000), Ms(30_000));

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

/// A deadline the session asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Timer {
    /// End of a silence around the readings.
    Gap,
    /// The one warning of a phase.
    Warning,
    /// A cue that a step waits for.
    Cue,
    /// A hint, where the coach has one.
    Hint,
    /// The limit.
    Limit,
    /// No more results are waited for.
    Late,
    /// The proctor says that an item was dropped, in a drill for that.
    Drop,
    /// Nothing more is told after a silent run.
    Told,
    /// No more questions come after the recap.
    Asked,
    /// No time is guessed any more.
    Guessed,
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
    /// The person asked at the keyboard to end the run for good.
    Interrupted,
    /// Time went on; written where nothing else was, so that a run cut off loses little of its clock.
    Beat,
    /// The microphone stopped giving sound.
    MicrophoneLost,
    /// What the second listen found: steps, by place, and where each was perhaps called.
    Searched(Vec<(usize, SampleIndex)>),
    /// Nobody listened for a while, so the axis stood still: why, and how long where that is known.
    Away(Absence, Option<Ms>),
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
    /// Look for these steps again in what was heard, and answer with [`Event::Searched`].
    Search(Vec<Sought>),
    /// Listen for these phrases from now on, and no others.
    Listen(Vocabulary),
    /// Speak more slowly from now on.
    Slower,
    /// Stop speaking.
    Hush,
    /// Show this line.
    Show(String),
    /// The session is over.
    Close,
}

/// The timers of a phase.
const DEADLINES: [Timer; 6] = [Timer::Gap, Timer::Warning, Timer::Limit, Timer::Cue, Timer::Hint, Timer::Drop];

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
enum Phase {
    Reading(u32),
    /// The start words of the phase are to be said.
    Starting,
    Running,
    Paused(SampleIndex),
    Closing,
    /// The second listen is under way.
    Searching,
    /// After a silent run: the candidate tells what they went through.
    Telling,
    /// After the finish: the candidate guesses how long it took.
    Guessing,
    Recapping,
    /// After the recap: questions are answered.
    Asking,
    Closed,
}

/// The proctor of one run.
#[derive(Clone, Debug, Serialize)]
pub struct Session {
    section: Section,
    mode: Mode,
    phase: Phase,
    next_id: u32,
    awaited: Option<u32>,
    /// The cue being said: its announcement, and the gated step.
    cueing: Option<(u32, usize)>,
    warned: bool,
    paused_before: Ms,
    hinted: Vec<usize>,
    /// Wording is no part of the state that digests are made from: it may be mended.
    #[serde(skip)]
    last_said: String,
    /// Whether nothing is called while the section runs, and all is told afterwards.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    silent: bool,
    /// Whether steps that were not heard are looked for again before the recap.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    listens_again: bool,
    /// Whether questions are answered after the recap.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    answers: bool,
    /// Whether the candidate is asked how long it took.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    asks_time: bool,
    /// Whether the recap is left to whoever began the run, as between the sections of a mock exam.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    unreported: bool,
    /// Whether the sound has come to its end.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    deaf: bool,
    /// When the proctor says that an item was dropped, in thousandths of the time.
    #[serde(skip_serializing_if = "Option::is_none")]
    drop: Option<u64>,
    /// Announcements asked for that have not ended yet, in order.
    #[serde(serialize_with = "numbers")]
    unsaid: Vec<(u32, String)>,
    outcome: Outcome,
}

/// The numbers of announcements, without their words.
fn numbers<S: serde::Serializer>(unsaid: &[(u32, String)], to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(unsaid.iter().map(|(id, _)| id))
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
            cueing: None,
            warned: false,
            paused_before: Ms(0),
            hinted: vec![],
            last_said: String::new(),
            drop: None,
            silent: false,
            listens_again: false,
            answers: false,
            asks_time: false,
            unreported: false,
            deaf: false,
            unsaid: vec![],
            outcome: Outcome::default(),
        }
    }

    /// The same, with a dropped item that the proctor makes up somewhere in the middle, drawn with `seed`.
    pub fn dropping(mut self, seed: u64) -> Session {
        // Any spread of the seed's bits will do: 15 % to 85 % of the time.
        self.drop = Some(150 + seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) % 700);
        self
    }

    /// The same, with a second listen for steps that were not heard.
    pub fn listening_again(mut self) -> Session {
        self.listens_again = true;
        self
    }

    /// The same, answering questions after the recap.
    pub fn answering(mut self) -> Session {
        self.answers = true;
        self
    }

    /// The same, asking the candidate for the time before it is told.
    pub fn asking_the_time(mut self) -> Session {
        self.asks_time = true;
        self
    }

    /// The same, without a spoken recap and without questions.
    pub fn unreported(mut self) -> Session {
        self.unreported = true;
        self
    }

    /// The same, silent: what was gone through is told after the end.
    pub fn silent(mut self) -> Session {
        self.silent = true;
        self
    }

    /// Every announcement whose words are known beforehand.
    pub fn announcements(section: &Section) -> Vec<String> {
        let first = section.reading.sentences.join(" ");
        let again = format!("{} {first}", section.reading.again);
        let phases = section.phases.iter().flat_map(|p| [&p.begin, &p.clock.warning, &p.clock.stop]).cloned();
        let cues = section.steps.iter().filter_map(|s| s.gate.clone());
        let mut all = vec![first, again];
        all.extend(phases.chain(cues).chain([
            "Paused.".into(),
            "Going on.".into(),
            DEAF.into(),
            DROP.into(),
            TELL.into(),
            ASK.into(),
            GUESS.into(),
            AGAIN.into(),
        ]));
        let mut seen = std::collections::BTreeSet::new();
        all.retain(|text| !text.is_empty() && seen.insert(text.clone()));
        all
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

    /// Whether the clock runs.
    pub fn running(&self) -> bool {
        self.phase == Phase::Running
    }

    /// Whether all is known, and only the recap and questions are left.
    pub fn told_all(&self) -> bool {
        matches!(self.phase, Phase::Recapping | Phase::Asking | Phase::Closed)
    }

    /// SHA-256 over all that the session holds, its first 16 bytes in hex.
    pub fn digest(&self) -> String {
        // Nothing in a session can fail to be written as JSON: it has no maps with other keys than text.
        let state = serde_json::to_vec(self).unwrap_or_default();
        Sha256::digest(state).iter().take(16).map(|b| format!("{b:02x}")).collect()
    }

    /// Take in one event that was known at `at`.
    pub fn handle(&mut self, at: SampleIndex, event: &Event) -> Vec<Effect> {
        match event {
            Event::Opened => self.read(),
            Event::SpeechStarted(_) => vec![],
            Event::SpeechEnded(id) => {
                self.unsaid.retain(|(unsaid, _)| unsaid != id);
                self.ended(at, *id)
            }
            Event::Beat => vec![],
            Event::MicrophoneLost => self.deaf(),
            Event::Away(why, span) => self.back(at, *why, *span),
            Event::TimerFired(timer) => self.fired(at, *timer),
            Event::Heard(heard) => match &heard.meaning {
                Meaning::Callout(say) => self.called(at, say, heard),
                Meaning::Command(command) => self.ordered(at, *command, heard),
                Meaning::Question(question) => self.asked(question),
                Meaning::Span(span) => self.guessed(*span),
            },
            Event::Masked(from, to) => {
                self.outcome.masked = self.outcome.masked + to.since(*from);
                vec![]
            }
            Event::Overflowed(samples) => {
                self.outcome.lost_samples = self.outcome.lost_samples.saturating_add(*samples);
                vec![Effect::Show(format!("{samples} samples of sound were lost: the computer was too busy"))]
            }
            Event::Searched(found) if self.phase == Phase::Searching => {
                self.outcome.perhaps.clone_from(found);
                self.recap()
            }
            Event::Searched(_) => vec![],
            Event::MicrophoneEnded => {
                self.deaf = true;
                match self.phase {
                    // What is being said is said to its end.
                    Phase::Guessing | Phase::Asking if self.awaited.is_some() => vec![],
                    Phase::Guessing => self.guessed_enough(),
                    Phase::Asking => self.close(),
                    _ => self.end(at, Ending::MicrophoneEnded),
                }
            }
            Event::Interrupted => self.stop(at),
        }
    }

    fn say(&mut self, text: String, urgent: bool) -> Effect {
        let id = self.next_id;
        self.next_id += 1;
        self.last_said.clone_from(&text);
        if urgent {
            self.unsaid.clear();
        }
        self.unsaid.push((id, text.clone()));
        Effect::Speak { id, text, urgent }
    }

    /// The microphone is lost. The notice cuts off what is being said, which is said again when it is back.
    fn deaf(&mut self) -> Vec<Effect> {
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
    fn back(&mut self, at: SampleIndex, why: Absence, span: Option<Ms>) -> Vec<Effect> {
        if self.closed() {
            return vec![];
        }
        self.outcome.away.push(Away { at, why, span });
        let mut effects = vec![Effect::Hush, Effect::Show(recap::away(why, span))];
        let again = self.unsaid.iter().cloned();
        effects.extend(again.map(|(id, text)| Effect::Speak { id, text, urgent: false }));
        match self.phase {
            Phase::Searching => effects.extend(self.search()),
            Phase::Guessing => effects.push(Effect::Listen(self.spans())),
            Phase::Asking => effects.push(Effect::Listen(Vocabulary::questions(&self.section))),
            _ => {}
        }
        if self.phase == Phase::Running {
            let last = self.outcome.called.last();
            let last = last.map_or_else(String::new, |c| format!(" The last callout I have is: {}.", c.say));
            effects.push(self.say(format!("Going on.{last}"), false));
        }
        effects
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

    fn ended(&mut self, at: SampleIndex, id: u32) -> Vec<Effect> {
        if let Some((_, step)) = self.cueing.take_if(|(cue, _)| *cue == id) {
            self.outcome.cues.push((step, at));
            return self.await_cue(at);
        }
        if self.awaited == Some(id) { self.said(at) } else { vec![] }
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
                self.outcome.started = self.outcome.started.or(Some(at));
                self.outcome.phases.push((at, None));
                self.paused_before = self.outcome.pauses.total();
                self.warned = false;
                let line = if self.part().clock.limit.is_some() { "the clock has started" } else { "begun, untimed" };
                let mut effects = vec![Effect::Show(line.into())];
                effects.extend(self.arm());
                effects.extend(self.await_cue(at));
                effects.extend(self.await_hint(at));
                effects.extend(self.drop_at());
                effects
            }
            Phase::Telling => {
                self.outcome.told = true;
                vec![Effect::Arm(Timer::Told, at + TOLD)]
            }
            Phase::Guessing if self.deaf => self.guessed_enough(),
            Phase::Guessing => {
                let wait = if self.outcome.guessed.is_some() { GUESSED.1 } else { GUESSED.0 };
                vec![Effect::Arm(Timer::Guessed, at + wait)]
            }
            Phase::Recapping if self.answers && !self.deaf => {
                self.phase = Phase::Asking;
                // "Repeat" means the recap, and not these words.
                let recap = self.last_said.clone();
                let mut effects = vec![Effect::Listen(Vocabulary::questions(&self.section))];
                effects.extend(self.say_and_wait(ASK.into()));
                self.last_said = recap;
                effects
            }
            Phase::Asking if !self.deaf => vec![Effect::Arm(Timer::Asked, at + ASKED)],
            Phase::Recapping | Phase::Asking => self.close(),
            _ => vec![],
        }
    }

    fn close(&mut self) -> Vec<Effect> {
        self.phase = Phase::Closed;
        vec![Effect::Close]
    }

    /// A question after the recap.
    fn asked(&mut self, question: &Question) -> Vec<Effect> {
        if self.phase != Phase::Asking {
            return vec![];
        }
        let mut effects = vec![Effect::Disarm(Timer::Asked)];
        match question {
            Question::Enough => return self.close(),
            Question::Again => {
                self.outcome.again = true;
                return self.close();
            }
            Question::Slower => effects.push(Effect::Slower),
            _ => {}
        }
        let answer = recap::answer(&self.section, &self.outcome, question);
        effects.extend(self.say_and_wait(answer.unwrap_or_else(|| self.last_said.clone())));
        effects
    }

    /// A time was guessed; the last guess counts.
    fn guessed(&mut self, span: Ms) -> Vec<Effect> {
        if self.phase != Phase::Guessing {
            return vec![];
        }
        self.outcome.guessed = Some(span);
        let mut effects = vec![Effect::Disarm(Timer::Guessed)];
        effects.extend(self.say_and_wait(format!("{}.", spoken(span))));
        effects
    }

    /// Ask how long it took, where the candidate finished and can still be heard.
    fn ask_the_time(&mut self) -> Option<Vec<Effect>> {
        let finished = matches!(self.outcome.ended, Some((_, Ending::Finished)));
        (self.asks_time && finished && !self.deaf).then_some(())?;
        self.phase = Phase::Guessing;
        let mut effects = vec![Effect::Listen(self.spans())];
        effects.extend(self.say_and_wait(GUESS.into()));
        Some(effects)
    }

    /// Times that may be guessed: up to twice what is allowed or planned.
    fn spans(&self) -> Vocabulary {
        let plan: Ms = self.section.steps.iter().map(|s| s.target).sum();
        Vocabulary::spans(Ms(2 * self.section.limit().unwrap_or(plan).max(plan).0))
    }

    /// On from the guess: to the telling of a silent run, or to the second listen.
    fn guessed_enough(&mut self) -> Vec<Effect> {
        let mut effects = vec![Effect::Disarm(Timer::Guessed), Effect::Listen(Vocabulary::of(&self.section))];
        effects.extend(self.tell_or_search());
        effects
    }

    fn tell_or_search(&mut self) -> Vec<Effect> {
        if self.silent && self.outcome.started.is_some() {
            self.phase = Phase::Telling;
            return self.say_and_wait(TELL.into());
        }
        self.search()
    }

    /// Where the drilled drop comes: in the first phase, by its limit or by the plan of its steps.
    fn drop_at(&self) -> Option<Effect> {
        let share = self.drop.filter(|_| self.outcome.phases.len() == 1)?;
        let plan: Ms = self.section.steps.iter().filter(|s| s.phase == 0).map(|s| s.target).sum();
        let time = self.part().clock.limit.map_or(plan, |limit| if plan > Ms(0) { limit.min(plan) } else { limit });
        Some(Effect::Arm(Timer::Drop, self.reached(Ms(time.0 * share / 1000))))
    }

    /// The phase going on, or to be begun.
    fn part(&self) -> &Part {
        let begun = self.outcome.phases.len();
        let place =
            if matches!(self.phase, Phase::Reading(_) | Phase::Starting) { begun } else { begun.saturating_sub(1) };
        &self.section.phases[place.min(self.section.phases.len() - 1)]
    }

    /// Where the limit of the phase lies, pauses counted in.
    fn limit_at(&self) -> Option<SampleIndex> {
        Some(self.reached(self.part().clock.limit?))
    }

    /// Where the clock of this phase shows so much, pauses so far counted in.
    fn reached(&self, clock: Ms) -> SampleIndex {
        let paused = self.outcome.pauses.total().saturating_sub(self.paused_before);
        self.outcome.phases.last().map_or(SampleIndex(0), |phase| phase.0) + clock + paused
    }

    fn arm(&self) -> Vec<Effect> {
        let Some(limit) = self.limit_at() else { return vec![] };
        let warning = self.part().clock.warning_left.filter(|_| !self.warned);
        warning
            .map(|left| Effect::Arm(Timer::Warning, limit - left))
            .into_iter()
            .chain([Effect::Arm(Timer::Limit, limit)])
            .collect()
    }

    /// The gated step that waits for its cue in this phase, and whether all before it was called.
    fn gate(&self) -> Option<(usize, bool)> {
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
    fn so_far(&self) -> crate::section::Done {
        let says: Vec<&str> = self.outcome.called.iter().map(|c| c.say.as_str()).collect();
        let for_a_step = |say: &&str| self.section.steps.iter().any(|s| s.say.iter().any(|p| p == say));
        align_so_far(&self.section, &says.into_iter().filter(for_a_step).collect::<Vec<_>>()).done
    }

    fn await_cue(&mut self, at: SampleIndex) -> Vec<Effect> {
        if !self.section.steps.iter().any(|s| s.gate.is_some()) || self.phase != Phase::Running || self.cueing.is_some()
        {
            return vec![];
        }
        match self.gate() {
            // In a silent run the cue comes when the plan has what lies before it through.
            Some((step, _)) if self.silent => vec![Effect::Arm(Timer::Cue, self.planned(step).max(at))],
            Some((_, ready)) => vec![Effect::Arm(Timer::Cue, at + if ready { CUE.0 } else { CUE.1 })],
            None => vec![Effect::Disarm(Timer::Cue)],
        }
    }

    /// Where the plan has all of this phase through that must come before a step.
    fn planned(&self, step: usize) -> SampleIndex {
        let before = Order::of(&self.section).all_before();
        let ours = |s: &usize| before[step].has(*s) && self.section.steps[*s].phase == self.section.steps[step].phase;
        let plan: Ms = (0..self.section.steps.len()).filter(ours).map(|s| self.section.steps[s].target).sum();
        self.reached(plan)
    }

    fn cue(&mut self) -> Vec<Effect> {
        let Some((step, _)) = self.gate() else { return vec![] };
        let text = self.section.steps[step].gate.clone().unwrap_or_default();
        self.cueing = Some((self.next_id, step));
        vec![self.say(text, false)]
    }

    /// The step that is due now and was not hinted at, where the coach hints.
    fn due(&self) -> Option<usize> {
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

    /// A hint is due when the step at work has had its time and half as much again, and a little more.
    fn await_hint(&mut self, at: SampleIndex) -> Vec<Effect> {
        // Nothing is called in a silent run, so nothing is ever late.
        if self.mode != Mode::Coach || self.phase != Phase::Running || self.silent {
            return vec![];
        }
        let called = self.outcome.called.last();
        let at_work = called.and_then(|c| self.section.steps.iter().find(|s| s.say.contains(&c.say)));
        // A step that has no time of its own is never late.
        if at_work.is_some_and(|s| s.plan().is_none()) {
            return vec![Effect::Disarm(Timer::Hint)];
        }
        let target = at_work.map_or(Ms(0), |s| s.target);
        vec![Effect::Arm(Timer::Hint, at + target + Ms(target.0 / 2) + Ms(20_000))]
    }

    fn hint(&mut self) -> Vec<Effect> {
        let Some(step) = self.due().filter(|s| !self.hinted.contains(s)) else { return vec![] };
        self.hinted.push(step);
        let due = &self.section.steps[step];
        let text = due.hint.clone().unwrap_or_else(|| format!("Next: {}.", due.title));
        vec![self.say(text, false)]
    }

    fn fired(&mut self, at: SampleIndex, timer: Timer) -> Vec<Effect> {
        match (timer, self.phase) {
            (Timer::Gap, Phase::Reading(_)) => self.read(),
            (Timer::Gap, Phase::Starting) => self.say_and_wait(self.part().begin.clone()),
            (Timer::Warning, Phase::Running) => {
                self.warned = true;
                // A cue that the warning cuts off is said again behind it: the gated step waits for its end.
                let cue = self.cueing.and_then(|(cue, _)| self.unsaid.iter().find(|(id, _)| *id == cue).cloned());
                let mut effects = vec![self.say(self.part().clock.warning.clone(), true)];
                effects.extend(cue.map(|(id, text)| {
                    self.unsaid.push((id, text.clone()));
                    Effect::Speak { id, text, urgent: false }
                }));
                effects
            }
            (Timer::Limit, Phase::Running) => {
                let at = self.limit_at().unwrap_or(at);
                let mut effects = vec![self.say(self.part().clock.stop.clone(), true)];
                effects.extend(self.end_part(at, Ending::TimedOut));
                effects
            }
            (Timer::Cue, Phase::Running) => self.cue(),
            (Timer::Hint, Phase::Running) => self.hint(),
            (Timer::Drop, Phase::Running) => {
                self.drop = None;
                self.outcome.dropped.push(at);
                vec![self.say(DROP.into(), false)]
            }
            (Timer::Late, Phase::Closing) => self.ask_the_time().unwrap_or_else(|| self.tell_or_search()),
            (Timer::Guessed, Phase::Guessing) => self.guessed_enough(),
            (Timer::Asked, Phase::Asking) => self.close(),
            (Timer::Told, Phase::Telling) => self.recap(),
            _ => vec![],
        }
    }

    /// The second listen, where there is something to listen for; then the recap.
    fn search(&mut self) -> Vec<Effect> {
        let start = self.outcome.started.filter(|_| self.listens_again);
        let wanted = start.map(|start| sought(&self.section, &self.outcome.facts(), start)).unwrap_or_default();
        if wanted.is_empty() {
            return self.recap();
        }
        self.phase = Phase::Searching;
        vec![Effect::Speak { id: ASIDE, text: AGAIN.into(), urgent: false }, Effect::Search(wanted)]
    }

    fn recap(&mut self) -> Vec<Effect> {
        if self.unreported {
            return self.close();
        }
        self.phase = Phase::Recapping;
        let text = recap::spoken(&self.section, &self.outcome);
        let mut effects = vec![Effect::Disarm(Timer::Told)];
        effects.extend(self.say_and_wait(text));
        effects
    }

    /// The end of a phase: the next one, or the end of the section.
    fn end_part(&mut self, at: SampleIndex, how: Ending) -> Vec<Effect> {
        if self.outcome.phases.len() >= self.section.phases.len() {
            return self.end(at, how);
        }
        self.close_part(at, how);
        self.phase = Phase::Starting;
        self.cueing = None;
        let mut effects: Vec<Effect> = DEADLINES.into_iter().map(Effect::Disarm).collect();
        effects.extend(self.say_and_wait(self.part().begin.clone()));
        effects
    }

    fn close_part(&mut self, at: SampleIndex, how: Ending) {
        if let Some((_, end @ None)) = self.outcome.phases.last_mut() {
            *end = Some((at, how));
        }
    }

    fn end(&mut self, at: SampleIndex, how: Ending) -> Vec<Effect> {
        if self.phase == Phase::Telling && how == Ending::MicrophoneEnded {
            return self.recap();
        }
        let over = [
            Phase::Closing,
            Phase::Searching,
            Phase::Telling,
            Phase::Guessing,
            Phase::Recapping,
            Phase::Asking,
            Phase::Closed,
        ];
        if over.contains(&self.phase) {
            return vec![];
        }
        if let Phase::Paused(since) = self.phase {
            self.outcome.pauses.add(since, at);
        }
        self.close_part(at, how);
        self.phase = Phase::Closing;
        self.awaited = None;
        self.cueing = None;
        self.outcome.ended = Some((at, how));
        DEADLINES.into_iter().map(Effect::Disarm).chain([Effect::Arm(Timer::Late, at + LATE)]).collect()
    }

    /// End at once, without another spoken word.
    fn stop(&mut self, at: SampleIndex) -> Vec<Effect> {
        let mut effects = self.end(at, Ending::Stopped);
        self.outcome.broken_off |= self.phase == Phase::Telling;
        self.phase = Phase::Closed;
        effects.extend([Effect::Hush, Effect::Close]);
        effects
    }

    fn called(&mut self, at: SampleIndex, say: &str, heard: &Heard) -> Vec<Effect> {
        let called = Called { say: say.to_string(), at: heard.start };
        let started = self.outcome.started.filter(|s| heard.start >= *s);
        let between = self.phase == Phase::Starting
            && self.outcome.phases.last().is_some_and(|p| p.1.is_some_and(|(end, _)| heard.start >= end));
        let ended = between || self.outcome.ended.is_some_and(|(end, _)| heard.start >= end);
        match (self.phase, started) {
            (Phase::Closed | Phase::Recapping | Phase::Searching | Phase::Guessing | Phase::Asking, _) => vec![],
            (Phase::Telling, _) if self.outcome.told => {
                self.outcome.called.push(called);
                vec![Effect::Show(format!("told: {say}")), Effect::Arm(Timer::Told, at + TOLD)]
            }
            (Phase::Telling, _) => vec![],
            (_, Some(_)) if self.silent && !ended => {
                vec![Effect::Show(format!("a silent run: \"{say}\" doesn't count"))]
            }
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
            (_, Some(_)) => {
                self.outcome.called.push(called);
                self.outcome.called.sort_by_key(|c| c.at);
                let mut effects = vec![Effect::Show(self.stamped(heard.start, say))];
                effects.extend(self.await_cue(at));
                effects.extend(self.await_hint(at));
                effects
            }
        }
    }

    /// A line with its section time; in exam mode without one, since the room has no clock.
    fn stamped(&self, place: SampleIndex, line: &str) -> String {
        match self.mode {
            Mode::Coach => format!("{since:>6}  {line}", since = self.outcome.clock(place).to_string()),
            Mode::Exam => format!("        {line}"),
        }
    }

    fn ordered(&mut self, at: SampleIndex, command: Command, heard: &Heard) -> Vec<Effect> {
        let coach = self.mode == Mode::Coach;
        match (command, self.phase) {
            (Command::StopEverything, _) => self.stop(at),
            (Command::Pause, Phase::Running) => {
                self.phase = Phase::Paused(heard.start);
                let held = DEADLINES.into_iter().filter(|timer| *timer != Timer::Gap);
                held.map(Effect::Disarm).chain([self.say("Paused.".into(), false)]).collect()
            }
            (Command::Resume, Phase::Paused(since)) => {
                self.outcome.pauses.add(since, heard.start);
                self.phase = Phase::Running;
                let mut effects = vec![self.say("Going on.".into(), false)];
                effects.extend(self.arm());
                effects.extend(self.await_cue(at));
                effects.extend(self.await_hint(at));
                effects.extend(self.drop_at());
                effects
            }
            (Command::Finished, Phase::Telling) if self.outcome.told => self.recap(),
            (Command::Undo, Phase::Running | Phase::Telling) => match self.outcome.called.pop() {
                Some(last) => vec![Effect::Show(format!("taken back: {}", last.say))],
                None => vec![Effect::Show("there is nothing to take back".into())],
            },
            (Command::TimeLeft, Phase::Running) if coach => {
                let left = self.limit_at().map(|limit| limit.since(at));
                let text =
                    left.map_or_else(|| "This part is not timed.".into(), |left| format!("{} left.", spoken(left)));
                vec![self.say(text, false)]
            }
            (Command::Repeat, Phase::Running | Phase::Paused(_)) if coach => {
                vec![self.say(self.last_said.clone(), false)]
            }
            (Command::DroppedItem, Phase::Running) => {
                self.outcome.dropped.push(heard.start);
                vec![Effect::Show(self.stamped(heard.start, "dropped item"))]
            }
            (Command::Finished, Phase::Running) => self.end_part(heard.start, Ending::Finished),
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
