//! What the system's terminal and its sound libraries need to be told.

use super::system;

/// Have the terminal understand colours.
pub fn colours() {
    system::colours();
}

/// Keep what the sound libraries have to say on this thread from the terminal.
pub fn quiet() {
    system::quiet();
}
