//! Clocks.

use super::system;
use std::time::Duration;

/// How long the computer has slept since some moment that stays the same; zero where that can't be known.
pub fn asleep() -> Duration {
    system::asleep()
}
