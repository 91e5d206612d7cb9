//! The one type of failure that a verb ends with: its kind, what went wrong, why, and what to do next.

use std::error::Error;

/// What kind of failure; each has its exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// An authored file or settings.
    Authored,
    /// The arguments.
    Usage,
    /// A device, the voice or the recogniser.
    Device,
    /// Files and folders, standard output among them.
    Storage,
    /// A mistake in this program.
    Bug,
    /// A run was left as it stands, to be gone on with.
    Left,
}

impl Kind {
    /// Every kind, with what `--help` says of it.
    pub const ALL: [(Kind, &str); 6] = [
        (Kind::Authored, "a section, exam, recording or settings file is wrong"),
        (Kind::Usage, "the arguments are wrong"),
        (Kind::Device, "microphone, loudspeaker, voice or recogniser"),
        (Kind::Storage, "something can't be read, written or shown"),
        (Kind::Bug, "a mistake in Stepbell itself"),
        (Kind::Left, "a run was left as it stands by Ctrl-C; `resume` goes on with it"),
    ];

    /// The exit code.
    pub fn code(self) -> u8 {
        match self {
            Kind::Authored => 1,
            Kind::Usage => 2,
            Kind::Device => 3,
            Kind::Storage => 4,
            // EX_SOFTWARE of BSD's sysexits.h.
            Kind::Bug => 70,
            // What shells give a program that SIGINT ended.
            Kind::Left => 130,
        }
    }

    /// The exit codes as `--help` lists them.
    pub fn listed() -> String {
        let rows = Self::ALL.iter().map(|(kind, what)| format!("  {:>3}  {what}\n", kind.code()));
        format!("Exit codes:\n    0  done\n{}", rows.collect::<String>())
    }
}

/// A failure as the person is told it: what, and what next.
#[derive(Debug)]
pub struct Failure {
    /// Which exit code.
    pub kind: Kind,
    /// What went wrong, and where.
    pub message: String,
    /// Why, the nearest cause first.
    pub causes: Vec<String>,
    /// What to do next.
    pub hints: Vec<String>,
}

impl Failure {
    fn new(kind: Kind, message: impl ToString, hint: impl Into<String>) -> Failure {
        Failure { kind, message: message.to_string(), causes: vec![], hints: vec![hint.into()] }
    }

    /// Of an authored file or settings.
    pub fn authored(message: impl ToString, hint: impl Into<String>) -> Failure {
        Self::new(Kind::Authored, message, hint)
    }

    /// Of the arguments.
    pub fn usage(message: impl ToString, hint: impl Into<String>) -> Failure {
        Self::new(Kind::Usage, message, hint)
    }

    /// Of a device, the voice or the recogniser.
    pub fn device(message: impl ToString, hint: impl Into<String>) -> Failure {
        Self::new(Kind::Device, message, hint)
    }

    /// Of files and folders.
    pub fn storage(message: impl ToString, hint: impl Into<String>) -> Failure {
        Self::new(Kind::Storage, message, hint)
    }

    /// Of a run that isn't over.
    pub fn left(message: impl ToString, hint: impl Into<String>) -> Failure {
        Self::new(Kind::Left, message, hint)
    }

    /// Of this program.
    pub fn bug(message: impl ToString) -> Failure {
        Self::new(Kind::Bug, message, "the runs are kept; please report what you did and the lines above")
    }

    /// With what caused it, and what caused that.
    #[must_use]
    pub fn because(mut self, error: &dyn Error) -> Failure {
        let mut next = Some(error);
        while let Some(error) = next {
            self.causes.push(error.to_string());
            next = error.source();
        }
        self
    }

    /// With one more thing to do.
    #[must_use]
    pub fn or(mut self, hint: impl Into<String>) -> Failure {
        self.hints.push(hint.into());
        self
    }
}
