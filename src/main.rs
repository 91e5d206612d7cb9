//! The program: parse, call a command, exit code.

fn main() {}
