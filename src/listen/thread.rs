//! The ears' own thread: libvosk blocks, so it has no place on the driver's task. It goes no further than it is asked,
//! so that a run depends on the sound alone and not on which thread was faster.

use super::Ears;
use crate::audio::{CHUNK, Source};
use crate::callout::Heard;
use crate::time::SampleIndex;
use std::sync::mpsc;
use tokio::sync::mpsc as replies;

enum Ask {
    Next,
    Decode(Vec<(bool, SampleIndex)>),
    Finish,
}

enum Reply {
    Arrived(Arrived),
    Heard(Vec<Heard>),
}

/// A chunk of sound has come, or the time for one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Arrived {
    /// Whether this is the first chunk after the last sound: from here on there is silence.
    pub ended: bool,
    /// Samples lost since the last chunk.
    pub lost: u64,
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
                    Ask::Next => {
                        chunk = if over { None } else { source.next() };
                        let ended = chunk.is_none() && !over;
                        over |= ended;
                        Reply::Arrived(Arrived { ended, lost: source.overflowed() })
                    }
                    Ask::Decode(masks) => {
                        for (begins, at) in masks {
                            if begins { ears.mask(at) } else { ears.unmask(at) }
                        }
                        // After the last sound, silence carries the clock on through the recap.
                        Reply::Heard(ears.feed(&chunk.take().unwrap_or_else(|| vec![0.0; CHUNK])))
                    }
                    Ask::Finish => Reply::Heard(ears.finish()),
                };
                if outbox.blocking_send(reply).is_err() {
                    return;
                }
            }
        });
        EarThread { asks, replies, asked: false, dead: false }
    }

    /// Wait for the next chunk. May be dropped and called again.
    pub async fn next(&mut self) -> Arrived {
        if !self.asked {
            self.asked = self.asks.send(Ask::Next).is_ok();
        }
        let reply = self.replies.recv().await;
        self.asked = false;
        match reply {
            Some(Reply::Arrived(arrived)) => arrived,
            // The recogniser's thread died: its sound is over, and the run must still end with a recap.
            _ => Arrived { ended: !std::mem::replace(&mut self.dead, true), lost: 0 },
        }
    }

    /// Decode the chunk that has come, told first of the masks begun (true) and ended since.
    pub async fn decode(&mut self, masks: Vec<(bool, SampleIndex)>) -> Vec<Heard> {
        self.heard(Ask::Decode(masks)).await
    }

    /// What was still being decided when the sound ended.
    pub async fn finish(&mut self) -> Vec<Heard> {
        self.heard(Ask::Finish).await
    }

    async fn heard(&mut self, ask: Ask) -> Vec<Heard> {
        let _ = self.asks.send(ask);
        match self.replies.recv().await {
            Some(Reply::Heard(heard)) => heard,
            _ => vec![],
        }
    }
}
