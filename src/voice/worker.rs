//! The voice on a thread of its own: what must be said now is made at once, what is said later meanwhile.

use super::{Cache, Speech, VoiceError};
use std::collections::VecDeque;
use std::sync::mpsc::{self, Receiver, Sender, TryRecvError};
use std::thread::JoinHandle;

enum Ask {
    Say(String, Sender<Result<Speech, VoiceError>>),
    Prepare(Vec<String>),
    Slower,
}

/// The voice, seen from who speaks. Dropped, it waits for the announcement that is being made, so that no half-written file is left.
pub struct Worker {
    /// None once it is being dropped.
    asks: Option<Sender<Ask>>,
    thread: Option<JoinHandle<()>>,
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.asks = None;
        let _ = self.thread.take().map(JoinHandle::join);
    }
}

impl Worker {
    /// Start with what is kept.
    pub fn start(cache: Cache) -> Worker {
        let (asks, inbox) = mpsc::channel();
        let thread = std::thread::spawn(move || work(cache, &inbox));
        Worker { asks: Some(asks), thread: Some(thread) }
    }

    /// Whether the thread can be asked; it can't where it broke.
    fn ask(&self, ask: Ask) -> bool {
        self.asks.as_ref().is_some_and(|asks| asks.send(ask).is_ok())
    }

    /// Make fixed announcements when nothing else is to be made, the first ones first.
    pub fn prepare(&self, announcements: Vec<String>) {
        self.ask(Ask::Prepare(announcements));
    }

    /// The sound of `text`, made now where it isn't kept.
    pub fn speech(&self, text: &str) -> Result<Speech, VoiceError> {
        let (reply, made) = mpsc::channel();
        let gone = || VoiceError::Unspeakable { text: text.into(), reason: "its thread has ended".into() };
        self.ask(Ask::Say(text.into(), reply));
        // Where nobody was asked, the reply is gone, and so is its other end.
        made.recv().map_err(|_| gone())?
    }

    /// Speak more slowly from now on, as [`Cache::slower`] does.
    pub fn slower(&self) {
        self.ask(Ask::Slower);
    }
}

fn work(mut cache: Cache, inbox: &Receiver<Ask>) {
    let mut waiting: VecDeque<String> = VecDeque::new();
    loop {
        let ask = if waiting.is_empty() {
            let Ok(ask) = inbox.recv() else { return };
            ask
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
