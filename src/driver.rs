//! The one loop, for a microphone, a recording and a replay alike: sound in, events to disk, then their effects.
//! Samples are the clock: every deadline is met at the first chunk that reaches it, so within 100 ms of its place.

use crate::journal::{JournalError, Record, Writer};
use crate::listen::Ears;
use crate::session::{Effect, Event, Session, Timer};
use crate::time::{Ms, SampleIndex};
use crate::voice::Speech;
use std::collections::VecDeque;

/// How long the tool's voice lingers after it has ended: 0.1 s in the sound system, 0.25 s in the room (a guess).
const ROOM_TAIL: Ms = Ms(350);

/// Where sound comes from: chunks of [`crate::audio::CHUNK`] samples at 16 kHz.
pub trait Source {
    /// The next chunk, when it is due; none once there will be no more.
    fn next(&mut self) -> Option<Vec<f32>>;
    /// Samples lost since this was last asked.
    fn overflowed(&mut self) -> u64 {
        0
    }
}

/// Where the tool's voice goes.
pub trait Mouth {
    /// The sound of these words; silence of a like length where there is no voice.
    fn speech(&mut self, text: &str) -> Speech;
    /// Begin to play at this place.
    fn play(&mut self, at: SampleIndex, speech: &Speech);
    /// Stop playing at this place.
    fn hush(&mut self, at: SampleIndex);
    /// Let what is playing come to its end.
    fn finish(&mut self) {}
}

/// What the loop needs.
pub struct Driver<'a> {
    /// The proctor.
    pub session: Session,
    /// Where events are written before their effects.
    pub journal: &'a mut Writer,
    /// The recogniser.
    pub ears: Ears,
    /// Where sound comes from.
    pub source: &'a mut dyn Source,
    /// Where the voice goes.
    pub mouth: &'a mut dyn Mouth,
    /// Told each line to show.
    pub show: &'a mut dyn FnMut(&str),
    /// Whether the tool's voice can't reach the microphone, so that nothing is masked.
    pub headset: bool,
}

/// What is still to come, by place.
#[derive(Default)]
struct Agenda {
    timers: Vec<(SampleIndex, Timer)>,
    waiting: VecDeque<(u32, Speech)>,
    speaking: Option<(u32, SampleIndex)>,
    unmask: Option<SampleIndex>,
}

impl Driver<'_> {
    /// Run to the end; gives the session as it ended.
    pub fn run(mut self) -> Result<Session, JournalError> {
        let mut agenda = Agenda::default();
        self.happened(SampleIndex(0), Event::Opened, &mut agenda)?;
        let mut listening = true;
        while !self.session.closed() {
            let chunk = if listening { self.source.next() } else { None };
            if listening && chunk.is_none() {
                listening = false;
                let at = self.ears.fed();
                for heard in self.ears.finish() {
                    self.happened(at, Event::Heard(heard), &mut agenda)?;
                }
                self.happened(at, Event::MicrophoneEnded, &mut agenda)?;
            }
            // After the recording's end, silence carries the clock on through the recap.
            let chunk = chunk.unwrap_or_else(|| vec![0.0; crate::audio::CHUNK]);
            let end = self.ears.fed() + Ms(chunk.len() as u64 * 1000 / crate::time::RATE);
            self.due(end, &mut agenda)?;
            for heard in self.ears.feed(&chunk) {
                self.happened(end, Event::Heard(heard), &mut agenda)?;
            }
            let lost = self.source.overflowed();
            if lost > 0 {
                self.happened(end, Event::Overflowed(lost), &mut agenda)?;
            }
        }
        self.mouth.finish();
        Ok(self.session)
    }

    /// Everything on the agenda up to `end`, in order of its place.
    fn due(&mut self, end: SampleIndex, agenda: &mut Agenda) -> Result<(), JournalError> {
        loop {
            let timer = agenda.timers.iter().copied().min().map(|(at, _)| at);
            let spoken = agenda.speaking.map(|(_, at)| at);
            let Some(at) = [timer, spoken, agenda.unmask].into_iter().flatten().min().filter(|at| *at <= end) else {
                return Ok(());
            };
            if agenda.unmask == Some(at) {
                agenda.unmask = None;
                if let Some((from, to)) = self.ears.unmask(at) {
                    self.happened(at, Event::Masked(from, to), agenda)?;
                }
            } else if spoken == Some(at) {
                let (id, _) = agenda.speaking.take().expect("it has a place");
                agenda.unmask = Some(at + ROOM_TAIL).filter(|_| !self.headset && agenda.waiting.is_empty());
                self.happened(at, Event::SpeechEnded(id), agenda)?;
                self.speak_next(at, agenda)?;
            } else {
                let next = agenda.timers.iter().position(|t| t.0 == at).expect("a timer is due");
                let (_, timer) = agenda.timers.remove(next);
                self.happened(at, Event::TimerFired(timer), agenda)?;
            }
        }
    }

    fn speak_next(&mut self, at: SampleIndex, agenda: &mut Agenda) -> Result<(), JournalError> {
        if agenda.speaking.is_some() {
            return Ok(());
        }
        let Some((id, speech)) = agenda.waiting.pop_front() else { return Ok(()) };
        agenda.speaking = Some((id, at + speech.length()));
        if !self.headset {
            agenda.unmask = None;
            self.ears.mask(at);
        }
        self.happened(at, Event::SpeechStarted(id), agenda)?;
        self.mouth.play(at, &speech);
        Ok(())
    }

    /// Write, sync, then act.
    fn happened(&mut self, at: SampleIndex, event: Event, agenda: &mut Agenda) -> Result<(), JournalError> {
        self.journal.append(&Record { at, event: event.clone() })?;
        for effect in self.session.handle(at, &event) {
            match effect {
                Effect::Show(line) => (self.show)(&line),
                Effect::Arm(timer, when) => {
                    agenda.timers.retain(|t| t.1 != timer);
                    agenda.timers.push((when.max(at), timer));
                }
                Effect::Disarm(timer) => agenda.timers.retain(|t| t.1 != timer),
                Effect::Hush => self.hush(at, agenda),
                Effect::Close => {}
                Effect::Speak { id, text, urgent } => {
                    if urgent {
                        self.hush(at, agenda);
                    }
                    let speech = self.mouth.speech(&text);
                    agenda.waiting.push_back((id, speech));
                    self.speak_next(at, agenda)?;
                }
            }
        }
        Ok(())
    }

    fn hush(&mut self, at: SampleIndex, agenda: &mut Agenda) {
        agenda.waiting.clear();
        if agenda.speaking.take().is_some() {
            self.mouth.hush(at);
            agenda.unmask = Some(at + ROOM_TAIL).filter(|_| !self.headset);
        }
    }
}
