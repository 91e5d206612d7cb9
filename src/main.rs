//! The program: parse, call a command, exit code.

use clap::{Parser, Subcommand};
use std::path::PathBuf;
use std::process::ExitCode;
use stepbell::command;

/// A spoken proctor and a patient listener for rehearsing a timed practical exam alone.
#[derive(Parser)]
#[command(version)]
struct Arguments {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    /// Check section files
    Check {
        /// The files
        #[arg(required = true)]
        files: Vec<PathBuf>,
    },
    /// Rehearse a section
    Rehearse(command::rehearse::Options),
    /// Show the recap of a run from its journal
    Recap(command::recap::Which),
    /// Show all that was said and heard in a run, from its journal
    Replay(command::recap::Which),
}

fn main() -> ExitCode {
    let result = match Arguments::parse().verb {
        Verb::Check { files } => command::check::run(&files),
        Verb::Rehearse(options) => command::rehearse::run(&options),
        Verb::Recap(which) => command::recap::recap(&which),
        Verb::Replay(which) => command::recap::replay(&which),
    };
    result.map_or_else(|failure| failure.report(), |()| ExitCode::SUCCESS)
}
