//! How far long work is, on a terminal that somebody watches. Elsewhere, and where it is done within a moment, nothing is shown.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Work that is done sooner shows nothing.
const MOMENT: Duration = Duration::from_millis(500);

/// How often the line is drawn anew where nothing is counted.
const TICK: Duration = Duration::from_millis(120);

/// Whether a line is shown already: work within work shows none of its own.
static SHOWN: AtomicBool = AtomicBool::new(false);

/// Work that goes on. Its line goes away when it is dropped.
pub struct Progress {
    what: String,
    total: Option<u64>,
    done: u64,
    began: Instant,
    bar: Option<ProgressBar>,
}

impl Progress {
    /// Work on so many things.
    pub fn of(what: &str, total: usize) -> Progress {
        Progress { what: what.into(), total: Some(total as u64), done: 0, began: Instant::now(), bar: None }
    }

    /// Work of which nobody knows how much it is: shown at once, and seen to go on.
    pub fn going_on(what: &str) -> Progress {
        let mut progress = Progress { what: what.into(), total: None, done: 0, began: Instant::now(), bar: None };
        progress.bar = progress.shown();
        progress.bar.iter().for_each(|bar| bar.enable_steady_tick(TICK));
        progress
    }

    /// So many more are done.
    pub fn advance(&mut self, more: usize) {
        self.done += more as u64;
        if self.bar.is_none() && self.began.elapsed() > MOMENT {
            self.bar = self.shown();
        }
        self.bar.iter().for_each(|bar| bar.set_position(self.done));
    }

    fn shown(&self) -> Option<ProgressBar> {
        if !std::io::stderr().is_terminal() || SHOWN.swap(true, Ordering::Relaxed) {
            return None;
        }
        let bar = ProgressBar::with_draw_target(self.total, ProgressDrawTarget::stderr());
        let template =
            if self.total.is_some() { "{msg}: {pos} of {len} {wide_bar}" } else { "{spinner} {msg} {elapsed}" };
        let style = ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar());
        bar.set_style(style.progress_chars("=> ").tick_chars("-\\|/ "));
        bar.set_message(self.what.clone());
        Some(bar)
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
            SHOWN.store(false, Ordering::Relaxed);
        }
    }
}
