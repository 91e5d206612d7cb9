//! Stepbell: a spoken proctor and a patient listener for rehearsing a timed practical exam alone.
//! DEVELOPERS.md follows one spoken word through these modules and says what each may use.

pub mod acoustic;
pub mod audio;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod authoring;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod callout;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod class;
pub mod command;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod desk;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod drawing;
pub mod driver;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod history;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod intent;
pub mod journal;
pub mod listen;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod outcome;
pub mod platform;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod problem;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod recap;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod review;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod section;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod session;
pub mod terminal;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod text;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod time;
pub mod voice;
#[deny(clippy::disallowed_methods, clippy::disallowed_types)]
pub mod words;
