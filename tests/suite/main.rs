//! One integration binary: every suite of checks that runs the crate from outside.

mod demo;
mod house;
mod recogniser;
mod review;
mod section;
mod session;
