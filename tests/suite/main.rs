//! One integration binary: every suite of checks that runs the crate from outside.

mod review;
mod section;
mod session;
