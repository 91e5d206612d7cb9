//! The one loop, for a microphone, a recording and a replay alike: sound in, events to disk, then their effects.
//! Samples are the clock: every deadline is met at the first chunk that reaches it, so within 100 ms of its place.
//! One tokio task selects over the ears' thread and the keyboard. It decodes nothing and blocks on no device.

use crate::audio::{CHUNK, Source};
use crate::journal::{JournalError, Record, Writer};
use crate::listen::{EarThread, Ears};
use crate::session::{Effect, Event, Session, Timer};
use crate::time::{Ms, RATE, SampleIndex};
use crate::voice::Speech;
use std::collections::VecDeque;
use std::future::Future;
use std::pin::Pin;

/// How long the tool's voice lingers after it has ended: 0.1 s in the sound system, 0.25 s in the room (a guess).
const ROOM_TAIL: Ms = Ms(350);

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
    /// Where the voice goes.
    pub mouth: &'a mut dyn Mouth,
    /// Told each line to show.
    pub show: &'a mut dyn FnMut(&str),
    /// Whether the tool's voice can't reach the microphone, so that nothing is masked.
    pub headset: bool,
}

/// What is still to come, by place, and what is going on.
#[derive(Default)]
struct Agenda {
    timers: Vec<(SampleIndex, Timer)>,
    waiting: VecDeque<(u32, Speech)>,
    speaking: Option<(u32, SampleIndex)>,
    masked_from: Option<SampleIndex>,
    unmask: Option<SampleIndex>,
    /// Masks for the ears to be told of, before they decode: begun (true) or ended, and where.
    masks: Vec<(bool, SampleIndex)>,
}

impl Driver<'_> {
    /// Run to the end; gives the session as it ended. `interrupt` resolves when the person asks to end at the keyboard.
    pub async fn run(
        mut self,
        ears: Ears,
        source: Box<dyn Source>,
        mut interrupt: Pin<&mut impl Future<Output = ()>>,
    ) -> Result<Session, JournalError> {
        let mut agenda = Agenda::default();
        let mut thread = EarThread::start(ears, source);
        let mut interrupted = false;
        let mut at = SampleIndex(0);
        self.happened(at, Event::Opened, &mut agenda)?;
        while !self.session.closed() {
            let arrived = tokio::select! {
                biased;
                () = &mut interrupt, if !interrupted => {
                    interrupted = true;
                    self.happened(at, Event::Interrupted, &mut agenda)?;
                    continue;
                }
                arrived = thread.next() => arrived,
            };
            if arrived.ended {
                for heard in thread.finish().await {
                    self.happened(at, Event::Heard(heard), &mut agenda)?;
                }
                self.happened(at, Event::MicrophoneEnded, &mut agenda)?;
            }
            at = at + Ms(CHUNK as u64 * 1000 / RATE);
            self.due(at, &mut agenda)?;
            for heard in thread.decode(std::mem::take(&mut agenda.masks)).await {
                self.happened(at, Event::Heard(heard), &mut agenda)?;
            }
            if arrived.lost > 0 {
                self.happened(at, Event::Overflowed(arrived.lost), &mut agenda)?;
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
                agenda.masks.push((false, at));
                if let Some(from) = agenda.masked_from.take() {
                    self.happened(at, Event::Masked(from, at), agenda)?;
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
            if agenda.masked_from.is_none() {
                agenda.masked_from = Some(at);
                agenda.masks.push((true, at));
            }
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
