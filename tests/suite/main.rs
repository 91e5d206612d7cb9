//! One integration binary: every suite of checks that runs the crate from outside.

mod acoustic;
mod afterwards;
mod answers;
mod archive;
mod broken;
mod bulletin;
mod class;
mod clock;
mod coach;
mod demo;
mod desk;
mod drill;
mod edge;
mod emergency;
mod enrol;
mod fade;
mod faults;
mod files;
mod forget;
mod held;
mod help;
mod history;
mod house;
mod intents;
mod journals;
mod kill;
mod laws;
mod mock;
mod names;
mod observer;
mod oracle;
mod own_voice;
mod page;
mod questions;
mod recap;
mod recogniser;
mod review;
mod rules;
mod section;
mod session;
mod settings;
mod snapshot;
mod sound;
mod terminal;
mod verdict;
mod weeks;
mod wording;

/// Print a figure for `tests/show`, and hold it to its target.
pub fn figure(name: &str, value: impl std::fmt::Display, target: &str, met: bool) {
    println!("\nfigure|{name}|{value}|{target}|{}", u8::from(!met));
    assert!(met, "{name}: {value}, but {target} is wanted");
}
