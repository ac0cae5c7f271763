//! What can be wrong with a job.
//!
//! In: built where a name or an answer is looked up. Out: an error that reads by itself, or a
//! [`Notice`] for an entry that was read from a file.

use thiserror::Error;

use crate::notice::{Notice, codes};
use crate::rules::suggest::help_for;
use crate::source::Span;

/// One thing that is wrong with a job.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{}{message}{}", .entry.map(|entry| format!("entry {entry}: ")).unwrap_or_default(), .help.as_ref().map(|help| format!("; {help}")).unwrap_or_default())]
pub struct JobProblem {
    /// One of [`CODES`](crate::notice::CODES).
    pub code: &'static str,
    /// The number of the entry in the log, from 1, where it is one.
    pub entry: Option<usize>,
    /// Where the entry was read, if it was.
    pub at: Option<Span>,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
}

impl JobProblem {
    /// A problem of no particular entry.
    pub fn new(code: &'static str, message: impl Into<String>) -> Self {
        Self {
            code,
            entry: None,
            at: None,
            message: message.into(),
            help: None,
        }
    }

    /// Says what to do.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Says which entry it is about.
    #[must_use]
    pub fn of_entry(mut self, entry: usize, at: Option<Span>) -> Self {
        self.entry = Some(entry);
        self.at = at;
        self
    }

    /// A name that is none of those known.
    pub(super) fn unknown(what: &str, written: &str, known: &[&str]) -> Self {
        let problem = Self::new(
            codes::UNKNOWN_NAME,
            format!("there is no {what} `{written}`"),
        );
        match help_for(written, known) {
            Some(help) => problem.help(help),
            None => problem.help(format!(
                "write one of the {} ids that there are; `seepwise rules show` lists checks and faults, `seepwise rules show SECTION` blocks, conditions, tools and the rest, `seepwise layouts` places",
                known.len()
            )),
        }
    }

    /// As a notice, if it is known where the entry stands.
    pub fn notice(&self) -> Option<Notice> {
        let message = self.entry.map_or_else(
            || self.message.clone(),
            |entry| format!("entry {entry}: {}", self.message),
        );
        Some(Notice::error(self.code, self.at?, message).maybe_help(self.help.clone()))
    }
}
