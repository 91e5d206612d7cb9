//! The program: parse, call a command, exit code.

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::process::ExitCode;
use stepbell::command;
use stepbell::platform;
use stepbell::terminal::{self, Color, Failure, Kind, Purpose};

/// A spoken proctor and a patient listener for rehearsing a timed practical exam alone.
#[derive(Parser)]
#[command(version, after_help = Kind::listed())]
struct Arguments {
    /// When colour is used
    #[arg(long, global = true, value_enum, default_value_t = Color::Auto, value_name = "WHEN")]
    color: Color,
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    /// Check section files and mock exams
    Check {
        /// The files
        #[arg(required_unless_present = "explain")]
        files: Vec<PathBuf>,
        /// Say what the code of a problem means
        #[arg(long, value_name = "CODE", conflicts_with = "files")]
        explain: Option<String>,
        /// What is looked at besides the file
        #[command(flatten)]
        trials: command::check::Trials,
        /// Print it as JSON, after the schema that `schema --json` prints
        #[arg(long, conflicts_with_all = ["callouts", "wordings", "explain"])]
        json: bool,
    },
    /// Write a commented section file to start from
    New {
        /// The file to write
        file: PathBuf,
    },
    /// Show a section: its order, its numbers, what to pack
    Show {
        /// The section file
        file: PathBuf,
        /// Draw the order there as SVG
        #[arg(long, value_name = "SVG")]
        svg: Option<PathBuf>,
        /// What the proctor draws with
        #[arg(long, default_value_t = 0)]
        seed: u64,
        /// Print it as JSON, after the schema that `schema --json` prints
        #[arg(long)]
        json: bool,
    },
    /// List the sections that are here, by the names they can be rehearsed by
    Sections,
    /// Print the JSON Schema of section files, for editors
    Schema {
        /// That of an exported run instead
        #[arg(long)]
        run: bool,
        /// That of what `--json` prints instead
        #[arg(long, conflicts_with = "run")]
        json: bool,
    },
    /// Stand at the front desk, where everything is chosen by voice; the same without a verb
    Listen(command::desk::Options),
    /// Rehearse a section
    Rehearse(command::rehearse::Options),
    /// Go through a whole exam: its sections one after the other, one recap at the end
    Mock(command::mock::Options),
    /// Go on with a run that was cut off, or close it with its recap
    Resume(command::resume::Options),
    /// Show the recap of a run from its journal
    Recap(command::recap::Options),
    /// Show all that was said and heard in a run, from its journal
    Replay(command::recap::Options),
    /// List the microphones and loudspeakers that are here
    Devices,
    /// Show the settings that apply, and where they are from
    Settings,
    /// Check the microphone, the room and a few callouts, by voice and on screen
    Microphone(command::microphone::Options),
    /// Say each callout twice, so that they are understood better in your voice
    Enrol(command::enrol::Options),
    /// Try a model folder out, in a process that may be ended by it
    #[command(hide = true)]
    ProbeModel {
        /// The folder
        folder: PathBuf,
    },
    /// Write a run as an HTML page
    Page(command::page::Page),
    /// Write a run as JSON, CSV or WebVTT
    Export(command::page::Export),
    /// Show trends over many runs of a section
    History(command::history::Options),
    /// Say how ready you are for a section, and what holds you back
    Ready(command::history::Standing),
    /// Plan the minutes of a section from your own runs
    Plan(command::history::Planning),
    /// Say what of your runs a school may archive, or look at what you said
    Consent(command::consent::Options),
    /// Add many runs to a folder of Parquet files, for DuckDB, Apache Spark and the like
    Archive(command::archive::Options),
    /// Write a page on many people's runs, for their instructor
    Class(command::class::Options),
    /// Write a sheet to print for somebody who watches
    Sheet(command::observer::Sheet),
    /// Compare a run with the ticks of somebody who watched
    Agree(command::observer::Agree),
    /// Delete what runs left behind
    Forget(command::forget::Options),
    /// Print what a shell needs to complete verbs and options
    Completions {
        /// The shell
        #[arg(value_enum, ignore_case = true)]
        shell: clap_complete::Shell,
    },
    /// Print the manual page, or write one for each verb
    Manual {
        /// The folder to write a page for each verb to
        #[arg(long, value_name = "DIR")]
        to: Option<PathBuf>,
    },
}

impl Verb {
    /// Whether its reader may leave without a word.
    fn purpose(&self) -> Purpose {
        let prints = match self {
            Verb::Check { explain, .. } => explain.is_some(),
            Verb::Show { svg, .. } => svg.is_none(),
            Verb::Export(options) => options.out.is_none(),
            Verb::Manual { to } => to.is_none(),
            Verb::Recap(_) | Verb::Replay(_) | Verb::Schema { .. } => true,
            Verb::Sections | Verb::Devices | Verb::Settings | Verb::Completions { .. } => true,
            Verb::History(_) | Verb::Ready(_) | Verb::Plan(_) | Verb::Agree(_) => true,
            _ => false,
        };
        if prints { Purpose::Print } else { Purpose::Act }
    }

    /// Whether it listens for long.
    fn listens(&self) -> bool {
        use Verb::{Enrol, Listen, Microphone, Mock, Rehearse, Resume};
        matches!(self, Listen(_) | Rehearse(_) | Mock(_) | Resume(_) | Microphone(_) | Enrol(_))
    }

    /// With what the person's settings say where no flag does.
    fn settled(mut self) -> Result<Verb, Failure> {
        let settings = command::settings::read;
        match &mut self {
            Verb::Listen(options) => options.settle(&settings()?),
            Verb::Rehearse(options) => options.settle(&settings()?),
            Verb::Mock(options) => options.settle(&settings()?),
            Verb::Resume(options) => options.settle(&settings()?),
            Verb::Microphone(options) => options.settle(&settings()?),
            Verb::Enrol(options) => options.settle(&settings()?),
            _ => {}
        }
        Ok(self)
    }

    fn carry_out(self) -> Result<(), Failure> {
        match self {
            Verb::Check { explain: Some(code), .. } => command::check::explain(&code),
            Verb::Check { files, json: true, .. } => command::check::as_json(&files),
            Verb::Check { files, trials, .. } => command::check::run(&files, trials),
            Verb::New { file } => command::new::run(&file),
            Verb::Show { file, svg, seed, json } => command::show::run(&file, svg.as_ref(), seed, json),
            Verb::Schema { json: true, .. } => {
                command::json::schema();
                Ok(())
            }
            Verb::Schema { run, .. } => {
                command::page::schema(run);
                Ok(())
            }
            Verb::Sections => command::sections::run(),
            Verb::Devices => command::device_list::run(),
            Verb::Settings => command::settings::run(),
            Verb::Listen(options) => command::desk::run(&options),
            Verb::Rehearse(options) => command::rehearse::run(&options),
            Verb::Microphone(options) => command::microphone::run(&options),
            Verb::Enrol(options) => command::enrol::run(&options),
            Verb::Mock(options) => command::mock::run(&options),
            Verb::Resume(options) => command::resume::run(&options),
            Verb::Recap(told) => command::recap::recap(&told),
            Verb::Replay(told) => command::recap::replay(&told),
            Verb::ProbeModel { folder } => command::probe::run(&folder),
            Verb::Page(options) => command::page::page(&options),
            Verb::Export(options) => command::page::export(&options),
            Verb::History(options) => command::history::history(&options),
            Verb::Ready(options) => command::history::ready(&options),
            Verb::Plan(options) => command::history::plan(&options),
            Verb::Consent(options) => command::consent::run(&options),
            Verb::Archive(options) => command::archive::run(&options),
            Verb::Class(options) => command::class::run(&options),
            Verb::Sheet(options) => command::observer::sheet_of(&options),
            Verb::Agree(options) => command::observer::agree(&options),
            Verb::Forget(options) => command::forget::run(&options),
            Verb::Completions { shell } => {
                command::help::completions(command_line(), shell);
                Ok(())
            }
            Verb::Manual { to } => command::help::manual(command_line(), to.as_deref()),
        }
    }
}

fn command_line() -> clap::Command {
    command::help::grouped(Arguments::command())
}

fn main() -> ExitCode {
    let mut given: Vec<std::ffi::OsString> = std::env::args_os().collect();
    if command::desk::alone(given.len()) {
        given.push("listen".into());
    }
    let matches = command_line().try_get_matches_from(given);
    let arguments = match matches.and_then(|m| Arguments::from_arg_matches(&m)) {
        Ok(arguments) => arguments,
        Err(error) => return terminal::usage(&error),
    };
    if arguments.verb.listens() {
        platform::begin_anew_with_fast_sums();
    }
    terminal::choose(arguments.color);
    let purpose = arguments.verb.purpose();
    // A panic was told where it happened; what is left is its exit code.
    let result = catch_unwind(AssertUnwindSafe(|| arguments.verb.settled()?.carry_out()));
    terminal::ended(purpose, result.unwrap_or_else(|_| Err(Failure::bug("this should not have happened"))))
}
