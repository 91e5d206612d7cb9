//! The ears' own thread: libvosk blocks, so it has no place on the driver's task. It goes no further than it is asked,
//! so that a run depends on the sound alone and not on which thread was faster.

use super::{Arrived, Ears, Listener, Voiced};
use crate::audio::{CHUNK, Piece, Source};
use crate::callout::{Heard, Vocabulary};
use crate::review::SearchTarget;
use crate::time::SampleIndex;
use std::sync::mpsc;
use tokio::sync::mpsc as replies;

enum Ask {
    Next,
    Decode(Vec<Voiced>),
    Finish,
    SetGrammar(Vocabulary),
    Search(Vec<SearchTarget>),
}

enum Reply {
    Arrived(Arrived),
    Heard(Vec<Heard>),
    Found(Vec<(usize, SampleIndex)>),
}

/// The thread, seen from the driver.
pub struct EarThread {
    asks: mpsc::Sender<Ask>,
    replies: replies::Receiver<Reply>,
    asked: bool,
    dead: bool,
}

impl EarThread {
    /// Start listening to `source` with `ears`. The thread ends when this is dropped.
    pub fn start(mut ears: Ears, mut source: Box<dyn Source>) -> EarThread {
        let (asks, inbox) = mpsc::channel();
        let (outbox, replies) = replies::channel(4);
        std::thread::spawn(move || {
            let mut chunk = None;
            let mut over = false;
            while let Ok(ask) = inbox.recv() {
                let reply = match ask {
                    // After the last sound, silence carries the clock on through the recap.
                    Ask::Next if over => Reply::Arrived(Arrived::Chunk { lost: 0 }),
                    Ask::Next => Reply::Arrived(match source.next() {
                        Some(Piece::Sound(sound)) => {
                            chunk = Some(sound);
                            Arrived::Chunk { lost: source.overflowed() }
                        }
                        Some(Piece::Gone) => Arrived::Gone,
                        Some(Piece::Back(away)) => Arrived::Back(away),
                        Some(Piece::Slept(slept)) => Arrived::Slept(slept),
                        None => {
                            over = true;
                            Arrived::Ended
                        }
                    }),
                    Ask::Decode(voiced) => {
                        voiced.into_iter().for_each(|voiced| ears.tell(voiced));
                        Reply::Heard(ears.feed(&chunk.take().unwrap_or_else(|| vec![0.0; CHUNK])))
                    }
                    Ask::SetGrammar(vocabulary) => {
                        ears.set_grammar(vocabulary);
                        Reply::Heard(vec![])
                    }
                    Ask::Finish => Reply::Heard(ears.finish()),
                    Ask::Search(wanted) => Reply::Found(ears.search(&wanted)),
                };
                if outbox.blocking_send(reply).is_err() {
                    return;
                }
            }
        });
        EarThread { asks, replies, asked: false, dead: false }
    }

    async fn heard(&mut self, ask: Ask) -> Vec<Heard> {
        let _ = self.asks.send(ask);
        match self.replies.recv().await {
            Some(Reply::Heard(heard)) => heard,
            _ => vec![],
        }
    }
}

impl Listener for EarThread {
    async fn next(&mut self) -> Arrived {
        if !self.asked {
            self.asked = self.asks.send(Ask::Next).is_ok();
        }
        let reply = self.replies.recv().await;
        self.asked = false;
        match reply {
            Some(Reply::Arrived(arrived)) => arrived,
            // The recogniser's thread died: its sound is over, and the run must still end with a recap.
            _ if std::mem::replace(&mut self.dead, true) => Arrived::Chunk { lost: 0 },
            _ => Arrived::Ended,
        }
    }

    async fn decode(&mut self, voiced: Vec<Voiced>) -> Vec<Heard> {
        self.heard(Ask::Decode(voiced)).await
    }

    async fn finish(&mut self) -> Vec<Heard> {
        self.heard(Ask::Finish).await
    }

    async fn set_grammar(&mut self, vocabulary: Vocabulary) {
        self.heard(Ask::SetGrammar(vocabulary)).await;
    }

    async fn search(&mut self, wanted: Vec<SearchTarget>) -> Vec<(usize, SampleIndex)> {
        let _ = self.asks.send(Ask::Search(wanted));
        match self.replies.recv().await {
            Some(Reply::Found(found)) => found,
            _ => vec![],
        }
    }
}
