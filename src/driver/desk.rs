//! The loop of the front desk: sound in, what the desk does with it, its voice out. Samples are the clock here, too; nothing is written down.

use super::{Interrupt, Mouth, ROOM_TAIL};
use crate::audio::CHUNK;
use crate::callout::Meaning;
use crate::desk::{Choice, Desk, Effect, Event};
use crate::listen::{Arrived, Listener, Voiced};
use crate::time::{Ms, RATE, SampleIndex};
use crate::voice::Speech;
use std::collections::VecDeque;

/// What is measured of the sound, where nobody spoke from the first place to the second, and somebody from there to the third: what is wrong
/// with it, worst first; none where it can't be told.
pub type Measure<'a> = &'a mut dyn FnMut(SampleIndex, SampleIndex, SampleIndex) -> Option<Vec<String>>;

/// What the loop needs.
pub struct Reception<'a> {
    /// The desk.
    pub desk: &'a mut Desk,
    /// Where the voice goes.
    pub mouth: &'a mut dyn Mouth,
    /// Told each headline to show, and the lines under it.
    pub show: &'a mut dyn FnMut(&str, &[String]),
    /// Asked what the microphone and the room are like where somebody spoke.
    pub measure: Measure<'a>,
    /// Whether the tool's voice can't reach the microphone, so that nothing is masked.
    pub headset: bool,
}

/// What is going on at the desk.
#[derive(Default)]
struct Now {
    at: SampleIndex,
    /// What is still to be said; of an announcement, its last sentence has its number.
    waiting: VecDeque<(Option<u32>, Speech)>,
    speaking: Option<(Option<u32>, SampleIndex)>,
    unmask: Option<SampleIndex>,
    masked: bool,
    /// From where on neither the tool nor anybody understood spoke.
    quiet_from: SampleIndex,
    voiced: Vec<Voiced>,
    silent_at: Option<SampleIndex>,
    set_grammar: Option<crate::callout::Vocabulary>,
    begin: Option<Choice>,
}

impl Reception<'_> {
    /// Stand at the desk from a place on, with what happened first: until a run is to begin, or, none, until the evening is over. Gives
    /// where that was, too.
    pub async fn stand(
        mut self,
        at: SampleIndex,
        first: Event,
        mut listener: impl Listener,
        mut interrupt: Interrupt,
    ) -> (Option<Choice>, SampleIndex) {
        let mut now = Now { at, quiet_from: at, ..Now::default() };
        self.happened(&first, &mut now);
        while now.begin.is_none() && !self.desk.closed() {
            if let Some(vocabulary) = now.set_grammar.take() {
                listener.set_grammar(vocabulary).await;
            }
            let arrived = tokio::select! {
                biased;
                Some(_) = interrupt.recv() => {
                    self.happened(&Event::Interrupted, &mut now);
                    continue;
                }
                arrived = listener.next() => arrived,
            };
            match arrived {
                Arrived::Gone => self.happened(&Event::MicrophoneLost, &mut now),
                Arrived::Back(_) => self.happened(&Event::MicrophoneBack, &mut now),
                Arrived::Slept(_) => {}
                Arrived::Ended => {
                    for heard in listener.finish().await {
                        self.heard(heard.meaning, (heard.start, heard.end), &mut now);
                    }
                    self.happened(&Event::MicrophoneEnded, &mut now);
                }
                Arrived::Chunk { .. } => {
                    now.at = now.at + Ms(CHUNK as u64 * 1000 / RATE);
                    self.due(&mut now);
                    for heard in listener.decode(std::mem::take(&mut now.voiced)).await {
                        self.heard(heard.meaning, (heard.start, heard.end), &mut now);
                    }
                }
            }
        }
        (now.begin, now.at)
    }

    fn heard(&mut self, meaning: Meaning, (start, end): (SampleIndex, SampleIndex), now: &mut Now) {
        // What was said behind the words that begin a run, or end the evening, belongs to neither.
        let Meaning::Callout(phrase) = meaning else { return };
        self.happened(&Event::Heard(phrase), now);
        if let Some(advice) = (self.measure)(now.quiet_from, start, end) {
            self.happened(&Event::Sound(advice), now);
        }
        now.quiet_from = now.quiet_from.max(end);
    }

    /// Everything that is due up to now, in order of its place.
    fn due(&mut self, now: &mut Now) {
        loop {
            let spoken = now.speaking.map(|(_, at)| at);
            let next = [spoken, now.unmask, now.silent_at].into_iter().flatten().min();
            let Some(at) = next.filter(|at| *at <= now.at) else { return };
            if spoken == Some(at) {
                let (id, _) = now.speaking.take().expect("it has a place");
                now.unmask = Some(at + ROOM_TAIL).filter(|_| now.masked && now.waiting.is_empty());
                if let Some(id) = id {
                    self.happened(&Event::SpeechEnded(id), now);
                }
                self.speak_next(now);
            } else if now.unmask == Some(at) {
                now.unmask = None;
                now.masked = false;
                now.quiet_from = at;
                now.voiced.push(Voiced::Ended(at));
            } else {
                now.silent_at = None;
                // Nobody is silent who is spoken to.
                if now.speaking.is_none() {
                    self.happened(&Event::Silence, now);
                }
            }
        }
    }

    fn speak_next(&mut self, now: &mut Now) {
        if now.speaking.is_some() {
            return;
        }
        let Some((id, speech)) = now.waiting.pop_front() else { return };
        now.speaking = Some((id, now.at + speech.length()));
        if !self.headset {
            now.unmask = None;
            now.masked = true;
            now.voiced.push(Voiced::Begins(now.at, speech.clone()));
        }
        self.mouth.play(now.at, &speech);
    }

    fn happened(&mut self, event: &Event, now: &mut Now) {
        for effect in self.desk.handle(event) {
            match effect {
                Effect::Show(headline, lines) => (self.show)(&headline, &lines),
                Effect::Listen(vocabulary) => now.set_grammar = Some(vocabulary),
                Effect::Await(silence) => now.silent_at = Some(now.at + silence),
                Effect::Slower => self.mouth.slower(),
                Effect::Begin(choice) => now.begin = Some(choice),
                Effect::Close => {}
                Effect::Speak { id, text } => {
                    // Sentence by sentence, so that the first sounds while the others are made.
                    let sentences: Vec<&str> = text.split_inclusive(". ").map(str::trim).collect();
                    for (k, sentence) in sentences.iter().enumerate() {
                        let speech = self.mouth.speech(sentence);
                        now.waiting.push_back(((k + 1 == sentences.len()).then_some(id), speech));
                        self.speak_next(now);
                    }
                }
                Effect::Hush => {
                    now.waiting.clear();
                    if now.speaking.take().is_some() {
                        self.mouth.hush(now.at);
                        now.unmask = Some(now.at + ROOM_TAIL).filter(|_| now.masked);
                        if now.masked {
                            now.voiced.push(Voiced::Stops(now.at));
                        }
                    }
                }
            }
        }
    }
}
