//! Why the program ends with another code than 0.

use std::fmt;
use std::process::ExitCode;

/// Exit code when an input failed; the others were still reported.
const INPUT: u8 = 1;
/// Exit code when the command line, a settings file or a product file was wrong.
const USAGE: u8 = 2;
/// Exit code with `--gate` when something needs drying.
const NEEDS_DRYING: u8 = 10;
/// Exit code with `--gate` when something is undecided.
const UNDECIDED: u8 = 11;

/// Exit code when the run was interrupted (the shells' convention, 128 + SIGINT).
const STOPPED: u8 = 130;

impl From<lees::batch::JournalError> for Failure {
    fn from(fault: lees::batch::JournalError) -> Self {
        match fault {
            lees::batch::JournalError::NotOne { .. } => Self::usage(fault),
            _ => Self::input(fault),
        }
    }
}

/// A failure that ends the run, with its one-line message.
#[derive(Debug)]
pub(crate) struct Failure {
    code: u8,
    message: String,
}

impl Failure {
    /// An input or output could not be dealt with.
    pub(crate) fn input(message: impl fmt::Display) -> Self {
        Self { code: INPUT, message: message.to_string() }
    }

    /// The chemist asked for something that cannot be meant.
    pub(crate) fn usage(message: impl fmt::Display) -> Self {
        Self { code: USAGE, message: message.to_string() }
    }

    /// Whoever read the output has seen enough: not worth a word, and no failure.
    pub(crate) const fn closed() -> Self {
        Self { code: 0, message: String::new() }
    }

    /// Whether it is only that nobody reads the output any more.
    pub(crate) const fn is_closed(&self) -> bool {
        self.code == 0
    }

    /// The exit code.
    pub(crate) fn code(&self) -> ExitCode {
        ExitCode::from(self.code)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

/// How a run ended that was able to start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ending {
    /// Everything read and checked.
    Well,
    /// At least one input failed.
    SomeFailed,
    /// `--gate`: something needs drying.
    NeedsDrying,
    /// `--gate`: something is undecided.
    Undecided,
    /// Interrupted before everything was done.
    Stopped,
}

impl Ending {
    /// The exit code.
    pub(crate) fn code(self) -> ExitCode {
        ExitCode::from(match self {
            Self::Well => 0,
            Self::SomeFailed => INPUT,
            Self::NeedsDrying => NEEDS_DRYING,
            Self::Undecided => UNDECIDED,
            Self::Stopped => STOPPED,
        })
    }
}
