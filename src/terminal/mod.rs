//! The only place that prints. What comes from elsewhere is written out harmlessly; colour is used where a terminal reads it.
//!
//! Printing never fails where it is called, so a run goes on without its terminal and no verb can forget an error: the first one
//! is remembered, and [`ended`] tells it and makes it the exit code, as gnulib's `closeout` does. It decides nothing else.

mod failure;
mod problem;
mod progress;
mod table;

pub use failure::{Failure, Kind};
pub use problem::{drawn, show as show_problems};
pub use progress::Progress;
pub use table::table;

use crate::platform;
use crate::text::harmless;
use anstyle::{AnsiColor, Style};
use std::fmt;
use std::io::{self, ErrorKind, IsTerminal, Write};
use std::process::ExitCode;
use std::sync::{Mutex, OnceLock};

/// When colour is used.
#[derive(clap::ValueEnum, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Color {
    /// On a terminal, unless NO_COLOR is set
    #[default]
    Auto,
    /// In pipes and files, too
    Always,
    /// Not at all
    Never,
}

/// What a verb is for: one that only prints may be left by its reader, as `head` does, without a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// What it prints is all that it does.
    Print,
    /// It does, writes or judges something besides.
    Act,
}

/// The first error in writing to standard output.
static UNPRINTED: Mutex<Option<io::Error>> = Mutex::new(None);

/// When colour is used; asked for once, at the start.
static COLOR: OnceLock<Color> = OnceLock::new();

const RED: Style = AnsiColor::Red.on_default().bold();
const YELLOW: Style = AnsiColor::Yellow.on_default().bold();
const CYAN: Style = AnsiColor::Cyan.on_default().bold();

/// A line for the person on standard output, in the manner of `println!`.
macro_rules! outln {
    () => { $crate::terminal::print(format_args!("\n")) };
    ($($arg:tt)*) => { $crate::terminal::print(format_args!("{}\n", format_args!($($arg)*))) };
}
/// Text for the person on standard output, in the manner of `print!`.
macro_rules! out {
    ($($arg:tt)*) => { $crate::terminal::print(format_args!($($arg)*)) };
}
pub(crate) use {out, outln};

/// Choose when colour is used. Only the first choice counts.
pub fn choose(color: Color) {
    platform::colours();
    let _ = COLOR.set(color);
}

/// Whether colour is used on a stream that is a terminal or not (<https://no-color.org>: any value but an empty one says no).
fn colored(terminal: bool) -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|v| !v.is_empty());
    let dumb = || std::env::var_os("TERM").is_some_and(|t| t == "dumb");
    match COLOR.get().copied().unwrap_or_default() {
        Color::Always => true,
        Color::Never => false,
        Color::Auto => terminal && !set("NO_COLOR") && !dumb(),
    }
}

/// Text on standard output; what steers a terminal in it is written out.
pub fn print(text: fmt::Arguments) {
    data(harmless(&text.to_string()).as_bytes());
}

/// A line on standard output, as the proctor shows it in a run.
pub fn tell(line: &str) {
    outln!("{line}");
}

/// Whether somebody sits at the terminal: it is read from and written to.
pub fn attended() -> bool {
    io::stdin().is_terminal() && io::stdout().is_terminal()
}

/// A headline for somebody across the room, in letters of twice the width where the terminal knows how (DECDWL of the VT100; others show it in
/// plain letters), and lines under it.
pub fn headline(headline: &str, lines: &[String]) {
    let wide = if colored(io::stdout().is_terminal()) { "\x1b#6" } else { "" };
    data(format!("\n{wide}{}\n", harmless(headline)).as_bytes());
    lines.iter().for_each(|line| outln!("  {line}"));
}

/// Data for other programs on standard output, byte for byte.
pub fn data(bytes: &[u8]) {
    remember(io::stdout().write_all(bytes));
}

fn remember(written: io::Result<()>) {
    if let Err(error) = written {
        UNPRINTED.lock().unwrap_or_else(|e| e.into_inner()).get_or_insert(error);
    }
}

/// A line on standard error, beside what was asked for. Where nobody reads that either, nobody can be told.
pub fn note(line: &str) {
    let _ = writeln!(io::stderr(), "{}", harmless(line));
}

/// Something to know on standard error, and what to do next.
pub fn warn(message: impl fmt::Display, next: &str) {
    lines(YELLOW, &message.to_string(), &[("next", next)]);
}

/// A failure on standard error: what, why, and what next.
pub fn report(failure: &Failure) {
    let why = failure.causes.iter().map(|c| ("because", c.as_str()));
    let next = failure.hints.iter().map(|h| ("next", h.as_str()));
    lines(RED, &failure.message, &why.chain(next).collect::<Vec<_>>());
}

fn lines(style: Style, message: &str, more: &[(&str, &str)]) {
    let colored = colored(io::stderr().is_terminal());
    let paint = |style: Style, text: &str| if colored { format!("{style}{text}{style:#}") } else { text.to_string() };
    let mut out = format!("{} {}\n", paint(style, "stepbell:"), harmless(message));
    for (lead, text) in more.iter().filter(|(_, text)| !text.is_empty()) {
        out += &format!("  {} {}\n", paint(CYAN, &format!("{lead}:")), harmless(text));
    }
    let _ = io::stderr().write_all(out.as_bytes());
}

/// Help, version or a mistake in the arguments, as clap words it; help and version go to standard output.
pub fn usage(error: &clap::Error) -> ExitCode {
    let text = error.render();
    if error.use_stderr() {
        let colored = colored(io::stderr().is_terminal());
        let text = if colored { text.ansi().to_string() } else { harmless(&text.to_string()).into_owned() };
        let _ = io::stderr().write_all(text.as_bytes());
        return ExitCode::from(Kind::Usage.code());
    }
    let colored = colored(io::stdout().is_terminal());
    data(if colored { text.ansi().to_string() } else { text.to_string() }.as_bytes());
    ended(Purpose::Print, Ok(()))
}

/// The end of the program: its failure is told, and so is what could not be printed. Gives the exit code.
pub fn ended(purpose: Purpose, result: Result<(), Failure>) -> ExitCode {
    remember(io::stdout().flush());
    if let Err(failure) = result {
        report(&failure);
        return ExitCode::from(failure.kind.code());
    }
    let Some(error) = UNPRINTED.lock().unwrap_or_else(|e| e.into_inner()).take() else { return ExitCode::SUCCESS };
    match (error.kind() == ErrorKind::BrokenPipe, purpose) {
        (true, Purpose::Print) => ExitCode::SUCCESS,
        // All was done that was asked for; only its reader left.
        (true, Purpose::Act) => {
            warn("nobody read the rest of what was shown", "nothing; all else was done");
            ExitCode::SUCCESS
        }
        (false, _) => {
            let hint = match purpose {
                Purpose::Print => "free some space there, or send the output elsewhere",
                Purpose::Act => "send the output elsewhere the next time; all else was done",
            };
            let failure = Failure::storage("not all could be shown on standard output", hint).because(&error);
            report(&failure);
            ExitCode::from(failure.kind.code())
        }
    }
}
