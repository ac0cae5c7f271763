//! What is wrong with a file, and where.
//!
//! In: problems as they are found. Out: a sorted list of them, as text with the source line
//! underlined ([`render`]) or as data for a program ([`NoticeView`]).

pub mod codes;
pub mod render;

use std::collections::BTreeSet;

use serde::Serialize;

use crate::source::{Sources, Span};

pub use codes::CODES;

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Must be mended.
    Error,
    /// Worth a look.
    Advice,
}

/// One problem at one place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Stable words for programs and for looking it up: one of [`CODES`].
    pub code: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// What is wrong, in one sentence without a full stop.
    pub message: String,
    /// Where.
    pub primary: Span,
    /// Other places that matter, and why.
    pub labels: Vec<(Span, String)>,
    /// What to do about it.
    pub help: Option<String>,
}

impl Notice {
    /// An error.
    pub fn error(code: &'static str, primary: Span, message: impl Into<String>) -> Self {
        Self {
            code,
            severity: Severity::Error,
            message: message.into(),
            primary,
            labels: Vec::new(),
            help: None,
        }
    }

    /// Advice.
    pub fn advice(code: &'static str, primary: Span, message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Advice,
            ..Self::error(code, primary, message)
        }
    }

    /// Adds another place that matters.
    #[must_use]
    pub fn label(mut self, span: Span, text: impl Into<String>) -> Self {
        self.labels.push((span, text.into()));
        self
    }

    /// Says what to do.
    #[must_use]
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = Some(text.into());
        self
    }

    /// Says what to do, if there is something to say.
    #[must_use]
    pub fn maybe_help(mut self, text: Option<String>) -> Self {
        self.help = text.or(self.help);
        self
    }
}

/// A notice as data for a program.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NoticeView {
    /// One of [`CODES`].
    pub code: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// The file's shown name.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong.
    pub message: String,
    /// What to do about it.
    pub help: Option<String>,
}

/// All notices of one run.
#[derive(Debug, Clone, Default)]
pub struct Notices {
    items: Vec<Notice>,
}

impl Notices {
    /// None yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds one.
    pub fn push(&mut self, notice: Notice) {
        self.items.push(notice);
    }

    /// Adds all of another list.
    pub fn append(&mut self, other: Self) {
        self.items.extend(other.items);
    }

    /// Puts them in order of file, line and column, and drops exact repeats.
    pub fn sort(&mut self) {
        self.items.sort_by(|a, b| {
            (a.primary, a.severity, a.code, &a.message)
                .cmp(&(b.primary, b.severity, b.code, &b.message))
        });
        self.items.dedup();
    }

    /// The notices, in order.
    pub fn iter(&self) -> std::slice::Iter<'_, Notice> {
        self.items.iter()
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.items.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// How many are errors.
    pub fn errors(&self) -> usize {
        self.items
            .iter()
            .filter(|notice| notice.severity == Severity::Error)
            .count()
    }

    /// The codes that occur.
    pub fn codes(&self) -> BTreeSet<&'static str> {
        self.items.iter().map(|notice| notice.code).collect()
    }

    /// As data for a program.
    pub fn views(&self, sources: &Sources) -> Vec<NoticeView> {
        let view = |notice: &Notice| {
            let place = sources.place(notice.primary);
            NoticeView {
                code: notice.code,
                severity: notice.severity,
                file: sources.file(notice.primary.file).name.clone(),
                line: place.line,
                column: place.column,
                message: notice.message.clone(),
                help: notice.help.clone(),
            }
        };
        self.items.iter().map(view).collect()
    }
}

impl<'a> IntoIterator for &'a Notices {
    type Item = &'a Notice;
    type IntoIter = std::slice::Iter<'a, Notice>;
    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}
