//! A finding about an authored file, as data: code, place, message and help. Drawing it is the terminal's work.

use std::ops::Range;

/// How much a problem matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// The file can't be used.
    Error,
    /// The file can be used, with care.
    Warning,
}

/// One problem in a file's text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Stable code: `S` and three digits.
    pub code: &'static str,
    /// Whether the file can still be used.
    pub level: Level,
    /// What is wrong.
    pub message: String,
    /// Where, in bytes of the text.
    pub span: Range<usize>,
    /// What to do next.
    pub help: Option<String>,
}

impl Problem {
    /// An error at `span`.
    pub fn error(code: &'static str, span: Range<usize>, message: impl Into<String>) -> Self {
        Problem { code, level: Level::Error, message: message.into(), span, help: None }
    }

    /// A warning at `span`.
    pub fn warning(code: &'static str, span: Range<usize>, message: impl Into<String>) -> Self {
        Problem { level: Level::Warning, ..Problem::error(code, span, message) }
    }

    /// The same with help.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
}
