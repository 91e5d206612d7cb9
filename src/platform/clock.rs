//! Clocks.

use rustix::time::{ClockId, clock_gettime};
use std::time::Duration;

/// How long the computer has slept since it was started: one clock counts sleep, the other doesn't.
pub fn asleep() -> Duration {
    let since = |id| {
        let at = clock_gettime(id);
        Duration::new(at.tv_sec.unsigned_abs(), at.tv_nsec.unsigned_abs() as u32)
    };
    since(ClockId::Boottime).saturating_sub(since(ClockId::Monotonic))
}
