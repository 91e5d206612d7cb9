//! The proctor as a state machine: an event in, effects out. It reads no clock; time comes with each event.
//! Phases are gone through one after the other; gates get their cue when what comes before them was called, or late.

mod asking;
mod closing;
mod coach;
mod confirming;
mod deadlines;
mod effect;
mod event;
mod held;
mod reading;
mod running;
mod settings;
mod state;
mod waiting;
mod wording;

pub use effect::{Effect, Sign};
pub use event::{Event, Timer};
pub use settings::{Settings, Tell};
pub use state::STATE;

use crate::callout::Meaning;
use crate::outcome::{Ending, Outcome};
use crate::section::Section;
use crate::time::{Ms, SampleIndex};
use serde::Serialize;

/// How long after the end results may still come in for what was said before it.
pub const LATE: Ms = Ms(4000);

/// Where a session is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
enum Stage {
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
    /// Before the recap: whether steps were called that were perhaps called.
    Confirming,
    Recapping,
    /// After the recap: questions are answered.
    Asking,
    Closed,
}

/// The proctor of one run.
#[derive(Clone, Debug)]
pub struct Session {
    section: Section,
    settings: Settings,
    stage: Stage,
    next_id: u32,
    awaited: Option<u32>,
    /// The cue being said: its announcement, and the gated step.
    cueing: Option<(u32, usize)>,
    warned: bool,
    paused_before: Ms,
    hinted: Vec<usize>,
    /// The onset of the wait that was announced as long enough.
    waited: Option<SampleIndex>,
    last_said: String,
    /// The name of the step that was asked about last.
    topic: Option<String>,
    /// Whether the sound has come to its end.
    deaf: bool,
    /// Whether all was to stop at once.
    stopped: bool,
    /// When the proctor says that an item was dropped, in thousandths of the time.
    drop: Option<u64>,
    /// Whether the proctor was told to wait while no clock runs.
    held: bool,
    /// Where what was said last began.
    voice: Option<SampleIndex>,
    /// Where it ended; none while it sounds.
    voice_ended: Option<SampleIndex>,
    /// Steps, by place, that are still to be asked about.
    doubtful: Vec<usize>,
    /// Announcements asked for that have not ended yet, in order.
    unsaid: Vec<(u32, String)>,
    outcome: Outcome,
}

impl Session {
    /// A session that waits for [`Event::Opened`].
    pub fn new(section: Section, settings: impl Into<Settings>) -> Session {
        let settings = settings.into();
        Session {
            section,
            stage: Stage::Reading(0),
            next_id: 0,
            awaited: None,
            cueing: None,
            warned: false,
            paused_before: Ms(0),
            hinted: vec![],
            waited: None,
            last_said: String::new(),
            topic: None,
            drop: settings.drop(),
            settings,
            deaf: false,
            stopped: false,
            held: false,
            voice: None,
            voice_ended: None,
            doubtful: vec![],
            unsaid: vec![],
            outcome: Outcome::default(),
        }
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
        self.stage == Stage::Closed
    }

    /// Whether everything was to stop, and not only what went on.
    pub fn stopped(&self) -> bool {
        self.stopped
    }

    /// Whether the clock runs.
    pub fn running(&self) -> bool {
        self.stage == Stage::Running
    }

    /// Whether all is known, and only the recap and questions are left.
    pub fn told_all(&self) -> bool {
        matches!(self.stage, Stage::Recapping | Stage::Asking | Stage::Closed)
    }

    /// Take in one event that was known at `at`.
    pub fn handle(&mut self, at: SampleIndex, event: &Event) -> Vec<Effect> {
        match event {
            Event::Opened => self.read(),
            Event::SpeechStarted(_) => {
                (self.voice, self.voice_ended) = (Some(at), None);
                vec![]
            }
            Event::SpeechEnded(id) => {
                self.voice_ended = Some(at);
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
                Meaning::Question(question) | Meaning::Asked { question: Some(question), .. } => self.asked(question),
                Meaning::Asked { nearest, .. } => self.unclear(nearest.as_ref()),
                Meaning::Span(span) => self.guessed(*span),
                Meaning::Afterwards(said) => self.afterwards(said),
            },
            Event::Masked(from, to) => {
                self.outcome.masked = self.outcome.masked + to.since(*from);
                vec![]
            }
            Event::Spoke(..) => vec![],
            Event::Overflowed(samples) => {
                self.outcome.lost_samples = self.outcome.lost_samples.saturating_add(*samples);
                vec![Effect::Show(format!("{samples} samples of sound were lost: the computer was too busy"))]
            }
            Event::Searched(found) if self.stage == Stage::Searching => {
                self.outcome.perhaps.clone_from(found);
                self.confirm()
            }
            Event::Searched(_) => vec![],
            Event::MicrophoneEnded => {
                self.deaf = true;
                match self.stage {
                    // What is being said is said to its end.
                    Stage::Guessing | Stage::Asking | Stage::Confirming if self.awaited.is_some() => vec![],
                    Stage::Confirming => self.unanswered(),
                    Stage::Guessing => self.guessed_enough(),
                    Stage::Asking => self.close(),
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

    fn say_and_wait(&mut self, text: String) -> Vec<Effect> {
        self.awaited = Some(self.next_id);
        vec![self.say(text, false)]
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
        (self.awaited, self.held) = (None, false);
        match self.stage {
            Stage::Reading(done) => self.read_out(at, done),
            Stage::Starting => self.start(at),
            Stage::Telling => self.told(at),
            Stage::Guessing => self.asked_for_a_guess(at),
            Stage::Confirming => self.asked_for_an_answer(at),
            Stage::Recapping => self.questions(),
            Stage::Asking => self.answered(at),
            _ => vec![],
        }
    }
}
