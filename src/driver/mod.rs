//! The one loop, for a microphone, a recording and a replay alike: sound in, events to disk, then their effects.
//! Samples are the clock: every deadline is met at the first chunk that reaches it, so within 100 ms of its place.
//! One tokio task selects over the ears' thread and the keyboard. It decodes nothing and blocks on no device.

mod agenda;
mod desk;
mod standing;

pub use desk::{Measure, Reception};
pub use standing::{Remaining, Standing};

use crate::audio::CHUNK;
use crate::callout::Heard;
use crate::journal::{JournalError, Record, Writer};
use crate::listen::{Arrived, Listener, Voiced};
use crate::outcome::Absence;
use crate::session::{Effect, Event, Session, Sign};
use crate::time::{Ms, RATE, SampleIndex};
use crate::voice::Speech;
use agenda::Agenda;
use tokio::sync::mpsc::UnboundedReceiver;

/// How long the tool's voice lingers after it has ended: 0.1 s in the sound system, 0.25 s in the room (a guess).
const ROOM_TAIL: Ms = Ms(350);

/// An event is written at least this often, so that a run cut off loses no more of its clock.
const BEAT: Ms = Ms(5_000);

/// Said when the run can't be written down any more, and so is stopped.
pub const UNWRITTEN: &str = "The run can't be written down any more, so it stops here. What I announced is kept.";

/// Shown while it isn't known yet what the person at the keyboard wants.
const HELD: &str = "held: Ctrl-C once more within two seconds ends the run for good";

/// What the person asks for at the keyboard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Press {
    /// Stand still; another press follows, which says why.
    Hold,
    /// End the run for good.
    End,
    /// Leave it as it stands, to be gone on with.
    Leave,
}

/// What is asked for at the keyboard, as it comes.
pub type Interrupt = UnboundedReceiver<Press>;

/// Where the tool's voice goes.
pub trait Mouth {
    /// The sound of these words; silence of a like length where there is no voice.
    fn speech(&mut self, text: &str) -> Speech;
    /// Begin to play at this place.
    fn play(&mut self, at: SampleIndex, speech: &Speech);
    /// Stop playing at this place.
    fn hush(&mut self, at: SampleIndex);
    /// What is playing is heard to its end while the axis stands still, as long as it lasts.
    fn held(&mut self, _: Ms) {}
    /// Give a soft sign at this place; nothing waits for it, and nothing is masked for it.
    fn sign(&mut self, _: SampleIndex, _: Sign) {}
    /// Speak more slowly from now on.
    fn slower(&mut self) {}
    /// What was heard is listened to once more from now on, or no longer.
    fn listens_again(&mut self, _: bool) {}
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
    /// Whether the sound waits while the tool says that it goes on: a recording does, a room doesn't.
    pub waits: bool,
}

impl Driver<'_> {
    /// Run from the start to the end; gives the session as it ended, or as it stands where the person left it. `interrupt` gives what
    /// they ask for at the keyboard.
    pub async fn run(mut self, listener: impl Listener, interrupt: Interrupt) -> Result<Session, JournalError> {
        let mut agenda = Agenda::default();
        let at = SampleIndex(0);
        let begun = self.happened(at, Event::Opened, &mut agenda);
        self.ended(begun, listener, interrupt, at, agenda).await
    }

    /// Go on at `at` with a run that was cut off, after so long; `heard` are phrases found in the sound that was kept of it.
    pub async fn go_on(
        mut self,
        at: SampleIndex,
        remaining: Remaining,
        away: Option<Ms>,
        heard: Vec<Heard>,
        listener: impl Listener,
        interrupt: Interrupt,
    ) -> Result<Session, JournalError> {
        let Remaining(mut agenda) = remaining;
        let begun = self.came_back(at, away, heard, &mut agenda);
        self.ended(begun, listener, interrupt, at, agenda).await
    }

    fn came_back(
        &mut self,
        at: SampleIndex,
        away: Option<Ms>,
        heard: Vec<Heard>,
        agenda: &mut Agenda,
    ) -> Result<(), JournalError> {
        if agenda.unopened {
            return self.happened(at, Event::Opened, agenda);
        }
        if let Some(from) = agenda.masked_from.take() {
            self.happened(at, Event::Masked(from, at), agenda)?;
        }
        for phrase in heard {
            self.happened(at, Event::Heard(phrase), agenda)?;
        }
        self.happened(at, Event::Away(Absence::Restarted, away), agenda)?;
        if self.waits && self.session.running() { self.say_held(at, agenda) } else { Ok(()) }
    }

    /// All that is to be said, while sound and clock stand still: nothing of a recording goes unheard under it.
    fn say_held(&mut self, at: SampleIndex, agenda: &mut Agenda) -> Result<(), JournalError> {
        while let Some((id, until)) = agenda.speaking.take() {
            self.mouth.held(until.since(at));
            self.happened(at, Event::SpeechEnded(id), agenda)?;
            self.speak_next(at, agenda)?;
        }
        agenda.voiced.clear();
        agenda.unmask = None;
        match agenda.masked_from.take() {
            // Masked for no time at all: so the journal says, too.
            Some(from) => self.happened(at, Event::Masked(from, at), agenda),
            None => Ok(()),
        }
    }

    /// The loop to its end. A run that can't be written down any more is stopped, and that is said aloud.
    async fn ended(
        mut self,
        begun: Result<(), JournalError>,
        listener: impl Listener,
        interrupt: Interrupt,
        at: SampleIndex,
        mut agenda: Agenda,
    ) -> Result<Session, JournalError> {
        let mut at = at;
        let result = match begun {
            Ok(()) => self.listen(listener, interrupt, &mut at, &mut agenda).await,
            failed => failed,
        };
        if result.is_err() {
            self.mouth.hush(at);
            let notice = self.mouth.speech(UNWRITTEN);
            self.mouth.play(at, &notice);
        }
        self.mouth.finish();
        result.map(|()| self.session)
    }

    async fn listen(
        &mut self,
        mut listener: impl Listener,
        mut interrupt: Interrupt,
        place: &mut SampleIndex,
        agenda: &mut Agenda,
    ) -> Result<(), JournalError> {
        while !self.session.closed() {
            let at = *place;
            if let Some(vocabulary) = agenda.set_grammar.take() {
                listener.set_grammar(vocabulary).await;
            }
            if let Some(wanted) = agenda.search.take() {
                self.mouth.listens_again(true);
                let found = listener.search(wanted).await;
                self.mouth.listens_again(false);
                self.happened(at, Event::Searched(found), agenda)?;
                continue;
            }
            let arrived = tokio::select! {
                biased;
                Some(press) = interrupt.recv() => {
                    if self.pressed(press, &mut interrupt, at, agenda).await? {
                        continue;
                    }
                    return Ok(());
                }
                arrived = listener.next() => arrived,
            };
            match arrived {
                Arrived::Gone => self.happened(at, Event::MicrophoneLost, agenda)?,
                Arrived::Back(away) => self.happened(at, Event::Away(Absence::Microphone, Some(away)), agenda)?,
                Arrived::Slept(slept) => self.happened(at, Event::Away(Absence::Slept, Some(slept)), agenda)?,
                Arrived::Ended => {
                    for heard in listener.finish().await {
                        self.happened(at, Event::Heard(heard), agenda)?;
                    }
                    self.happened(at, Event::MicrophoneEnded, agenda)?;
                }
                Arrived::Chunk { lost } => {
                    *place = at + Ms(CHUNK as u64 * 1000 / RATE);
                    self.due(*place, agenda)?;
                    for heard in listener.decode(std::mem::take(&mut agenda.voiced)).await {
                        self.happened(*place, Event::Heard(heard), agenda)?;
                    }
                    if lost > 0 {
                        self.happened(*place, Event::Overflowed(lost), agenda)?;
                    }
                    if place.since(agenda.written) >= BEAT {
                        self.happened(*place, Event::Beat, agenda)?;
                    }
                }
            }
        }
        Ok(())
    }

    /// The person asked for something at the keyboard; false where they leave.
    async fn pressed(
        &mut self,
        press: Press,
        interrupt: &mut Interrupt,
        at: SampleIndex,
        agenda: &mut Agenda,
    ) -> Result<bool, JournalError> {
        let mut meant = Some(press);
        if press == Press::Hold && self.session.told_all() {
            // There is nothing left to go on with.
            meant = Some(Press::End);
        } else if press == Press::Hold {
            self.mouth.hush(at);
            (self.show)(HELD);
            meant = interrupt.recv().await;
        }
        let ends = meant == Some(Press::End);
        // Time stands where it stood: a beat says so to whoever goes on.
        self.happened(at, if ends { Event::Interrupted } else { Event::Beat }, agenda)?;
        Ok(ends)
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
                agenda.voiced.push(Voiced::Ended(at));
                if let Some(from) = agenda.masked_from.take() {
                    self.happened(at, Event::Spoke(from, at), agenda)?;
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
            agenda.masked_from = agenda.masked_from.or(Some(at));
            agenda.voiced.push(Voiced::Begins(at, speech.clone()));
        }
        self.happened(at, Event::SpeechStarted(id), agenda)?;
        self.mouth.play(at, &speech);
        Ok(())
    }

    /// Write, sync, then act. What to do follows from the event alone, so it is known before; nothing of it is done before.
    fn happened(&mut self, at: SampleIndex, event: Event, agenda: &mut Agenda) -> Result<(), JournalError> {
        let effects = self.session.handle(at, &event);
        let digest = self.journal.digest_due().then(|| self.session.digest());
        self.journal.append(&Record { at, event }, digest)?;
        agenda.written = at;
        for effect in effects {
            match effect {
                Effect::Show(line) => (self.show)(&line),
                Effect::Arm(timer, when) => agenda.arm(timer, when.max(at)),
                Effect::Disarm(timer) => agenda.disarm(timer),
                Effect::Search(wanted) => agenda.search = Some(wanted),
                Effect::Listen(vocabulary) => agenda.set_grammar = Some(vocabulary),
                // Over words it would only disturb.
                Effect::Sign(sign) if agenda.speaking.is_none() => self.mouth.sign(at, sign),
                Effect::Sign(_) => {}
                Effect::Slower => self.mouth.slower(),
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
            if !self.headset {
                agenda.unmask = Some(at + ROOM_TAIL);
                agenda.voiced.push(Voiced::Stops(at));
            }
        }
    }
}
