//! The text of files, and places in it.
//!
//! In: names and texts, from disk ([`disk`]) or from memory. Out: a table of [`SourceFile`]s and
//! [`Span`]s that point into them, with line and column for people.
//!
//! ```
//! use seepwise::source::{SourceFile, Sources, Span};
//! let mut sources = Sources::new();
//! let file = sources.add(SourceFile::new("a.yaml", "rules: 1\nabout: é x\n"));
//! let place = sources.place(Span::new(file, 19, 20));
//! assert_eq!((place.line, place.column), (2, 10));
//! assert_eq!(sources.slice(Span::new(file, 19, 20)), "x");
//! ```

pub mod disk;

use std::sync::Arc;

/// Largest file that is read, in bytes.
pub const MAX_BYTES: usize = 2 * 1024 * 1024;

/// One file: its name as shown to people, and its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// As shown: relative to the folder that was read, with `/` between folders.
    pub name: String,
    /// The whole text, without a byte-order mark.
    pub text: Arc<str>,
    starts: Vec<usize>,
}

impl SourceFile {
    /// A file of this name and text. A leading byte-order mark is dropped.
    pub fn new(name: impl Into<String>, text: &str) -> Self {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let starts = std::iter::once(0)
            .chain(text.match_indices('\n').map(|(at, _)| at + 1))
            .collect();
        Self {
            name: name.into(),
            text: Arc::from(text),
            starts,
        }
    }

    /// Line and column of a byte, both from 1, the column in characters. A byte past the end or
    /// inside a character counts as the next place that exists before it.
    pub fn place(&self, byte: usize) -> Place {
        let byte = floor_boundary(&self.text, byte);
        let line = self.starts.partition_point(|start| *start <= byte).max(1);
        let column = self.text[self.starts[line - 1]..byte].chars().count() + 1;
        Place { line, column }
    }

    /// The byte at a line and column (both from 1), clipped to the text.
    pub fn byte_at(&self, line: usize, column: usize) -> usize {
        let Some(start) = self.starts.get(line.saturating_sub(1)).copied() else {
            return self.text.len();
        };
        let rest = &self.text[start..];
        let rest = &rest[..rest.find('\n').unwrap_or(rest.len())];
        start
            + rest
                .char_indices()
                .nth(column.saturating_sub(1))
                .map_or(rest.len(), |(at, _)| at)
    }

    /// The first character that no file of ours may hold: a control character other than tab and
    /// line ends.
    pub fn control_character(&self) -> Option<(usize, char)> {
        self.text
            .char_indices()
            .find(|(_, c)| c.is_control() && !matches!(c, '\t' | '\n' | '\r'))
    }
}

/// The nearest character boundary at or before a byte.
fn floor_boundary(text: &str, byte: usize) -> usize {
    let mut at = byte.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// A file of a [`Sources`] table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SourceId(u32);

/// A stretch of a file's text, in bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The file.
    pub file: SourceId,
    /// The first byte.
    pub start: usize,
    /// The byte after the last.
    pub end: usize,
}

impl Span {
    /// A stretch of a file.
    pub fn new(file: SourceId, start: usize, end: usize) -> Self {
        Self {
            file,
            start,
            end: end.max(start),
        }
    }

    /// From the start of this to the end of another of the same file.
    #[must_use]
    pub fn to(self, end: Self) -> Self {
        Self::new(self.file, self.start, end.end)
    }
}

/// A place for people: line and column, both from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Line.
    pub line: usize,
    /// Column, in characters.
    pub column: usize,
}

/// All files read together.
#[derive(Debug, Clone, Default)]
pub struct Sources {
    files: Vec<SourceFile>,
}

impl Sources {
    /// No files yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a file.
    pub fn add(&mut self, file: SourceFile) -> SourceId {
        let id = SourceId(u32::try_from(self.files.len()).unwrap_or(u32::MAX));
        self.files.push(file);
        id
    }

    /// The files, in the order in which they were added.
    pub fn files(&self) -> &[SourceFile] {
        &self.files
    }

    /// The ids of the files, in order.
    pub fn ids(&self) -> impl Iterator<Item = SourceId> + use<> {
        let count = u32::try_from(self.files.len()).unwrap_or(u32::MAX);
        (0..count).map(SourceId)
    }

    /// One file.
    pub fn file(&self, id: SourceId) -> &SourceFile {
        &self.files[id.0 as usize]
    }

    /// Where a span starts.
    pub fn place(&self, span: Span) -> Place {
        self.file(span.file).place(span.start)
    }

    /// The text of a span, clipped to what exists.
    pub fn slice(&self, span: Span) -> &str {
        let text = &self.file(span.file).text;
        let start = floor_boundary(text, span.start);
        let end = floor_boundary(text, span.end).max(start);
        &text[start..end]
    }
}
