//! ALSA writes what it tried to the terminal, past the place that prints; the person needs what came of it, not that.

/// Keep what ALSA has to say on this thread from the terminal.
pub(super) fn alsa() {
    // It goes to a buffer that the next call replaces. Where there is no memory for one, the lines are seen.
    let _ = alsa::Output::local_error_handler();
}
