//! Stepbell: a spoken proctor and a patient listener for rehearsing a timed practical exam alone.
//! DEVELOPERS.md follows one spoken word through these modules and says what each may use.

pub mod acoustic;
pub mod audio;
pub mod authoring;
pub mod callout;
pub mod class;
pub mod command;
pub mod drawing;
pub mod driver;
pub mod history;
pub mod journal;
pub mod listen;
pub mod outcome;
pub mod platform;
pub mod problem;
pub mod recap;
pub mod review;
pub mod section;
pub mod session;
pub mod terminal;
pub mod text;
pub mod time;
pub mod voice;
pub mod words;
