//! The voice on a thread of its own: what must be said now is made at once, what is said later meanwhile.

use super::{Cache, Speech, VoiceError};
use std::collections::VecDeque;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender, TryRecvError};
use std::time::Duration;

/// So long after the last word the voice is put away: it takes several times the memory that listening does.
const IDLE: Duration = Duration::from_secs(2);

enum Ask {
    Say(String, Sender<Result<Speech, VoiceError>>),
    Prepare(Vec<String>),
    Slower,
}

/// The voice, seen from who speaks. The thread ends when this is dropped.
pub struct Worker {
    asks: Sender<Ask>,
}

impl Worker {
    /// Start with what is kept.
    pub fn start(cache: Cache) -> Worker {
        let (asks, inbox) = mpsc::channel();
        std::thread::spawn(move || work(cache, &inbox));
        Worker { asks }
    }

    /// Make fixed announcements when nothing else is to be made, the first ones first.
    pub fn prepare(&self, announcements: Vec<String>) {
        let _ = self.asks.send(Ask::Prepare(announcements));
    }

    /// The sound of `text`, made now where it isn't kept.
    pub fn speech(&self, text: &str) -> Result<Speech, VoiceError> {
        let (reply, made) = mpsc::channel();
        let gone = || VoiceError::Unspeakable { text: text.into(), reason: "its thread has ended".into() };
        self.asks.send(Ask::Say(text.into(), reply)).map_err(|_| gone())?;
        made.recv().map_err(|_| gone())?
    }

    /// Speak more slowly from now on, as [`Cache::slower`] does.
    pub fn slower(&self) {
        let _ = self.asks.send(Ask::Slower);
    }
}

fn work(mut cache: Cache, inbox: &Receiver<Ask>) {
    let mut waiting: VecDeque<String> = VecDeque::new();
    loop {
        let ask = if waiting.is_empty() {
            match inbox.recv_timeout(IDLE) {
                Ok(ask) => ask,
                Err(RecvTimeoutError::Timeout) => {
                    cache.put_away();
                    let Ok(ask) = inbox.recv() else { return };
                    ask
                }
                Err(RecvTimeoutError::Disconnected) => return,
            }
        } else {
            match inbox.try_recv() {
                Ok(ask) => ask,
                Err(TryRecvError::Empty) => {
                    // One that can't be made is told when it is to be said.
                    if waiting.pop_front().is_some_and(|text| cache.fixed(&text).is_err()) {
                        waiting.clear();
                    }
                    continue;
                }
                Err(TryRecvError::Disconnected) => return,
            }
        };
        match ask {
            Ask::Say(text, reply) => {
                let fixed = waiting.iter().position(|t| *t == text).and_then(|k| waiting.remove(k)).is_some();
                let _ = reply.send(if fixed { cache.fixed(&text) } else { cache.speech(&text) });
            }
            Ask::Prepare(texts) => waiting.extend(texts),
            Ask::Slower => cache.slower(),
        }
    }
}
