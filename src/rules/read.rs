//! YAML text → spanned tree: the only file that names the YAML crate.
//!
//! In: one file's text. Out: its one document as a [`Node`], or the one notice that says why it
//! can't be read. Scalars stay text, keys keep their order and their repeats. Anchors, aliases,
//! merge keys, tags and further documents are refused, and so is nesting over [`MAX_DEPTH`].
//!
//! ```
//! use seepwise::rules::read;
//! use seepwise::source::{SourceFile, Sources};
//! let mut sources = Sources::new();
//! let file = sources.add(SourceFile::new("a.yaml", "rules: 1\ntools: {torch: a torch}\n"));
//! let tree = read::tree(file, &sources).unwrap();
//! let torch = tree.get("tools").unwrap().get("torch").unwrap();
//! assert_eq!(torch.text(), Some("a torch"));
//! assert_eq!(sources.place(torch.span).line, 2);
//! ```

use serde_yaml::granit_parser::{
    ErrorKind, Event, Parser, ScalarStyle, ScanError, Span as YamlSpan,
};

use crate::notice::{Notice, codes};
use crate::rules::raw::{Key, Node, Value};
use crate::source::{MAX_BYTES, SourceId, Sources, Span};

/// Deepest nesting of maps and lists.
pub const MAX_DEPTH: usize = 24;

/// Reads a file's text into a tree. An empty file gives a node that is nothing.
///
/// # Errors
/// The first thing that keeps the file from being read, as a notice at its place.
pub fn tree(file: SourceId, sources: &Sources) -> Result<Node, Notice> {
    let source = sources.file(file);
    if source.text.len() > MAX_BYTES {
        let message = "the file is larger than 2 MiB";
        return Err(
            Notice::error(codes::TOO_LARGE, Span::new(file, 0, 0), message)
                .help("split it into several files"),
        );
    }
    if let Some((at, c)) = source.control_character() {
        let message = format!(
            "a control character (U+{:04X}) has no place in a file",
            u32::from(c)
        );
        let span = Span::new(file, at, at + c.len_utf8());
        return Err(Notice::error(codes::CONTROL_CHARACTER, span, message).help("delete it"));
    }
    let mut builder = Builder {
        file,
        text: &source.text,
        open: Vec::new(),
        done: None,
        documents: 0,
    };
    let mut parser = Parser::new_from_str(&source.text);
    while let Some(step) = parser.next_event() {
        let (event, span) = step.map_err(|error| builder.syntax(&error))?;
        builder.take(event, span)?;
    }
    let nothing = Value::Scalar {
        text: String::new(),
        quoted: false,
    };
    Ok(builder.done.unwrap_or(Node {
        span: Span::new(file, 0, 0),
        value: nothing,
    }))
}

/// A map or list that is not closed yet.
struct Open {
    start: Span,
    block: bool,
    content: Content,
}

enum Content {
    Map {
        entries: Vec<(Key, Node)>,
        key: Option<Key>,
    },
    List(Vec<Node>),
}

struct Builder<'t> {
    file: SourceId,
    text: &'t str,
    open: Vec<Open>,
    done: Option<Node>,
    documents: usize,
}

impl Builder<'_> {
    fn take(&mut self, event: Event<'_>, at: YamlSpan) -> Result<(), Notice> {
        let span = self.span(at);
        match event {
            Event::DocumentStart(..) => {
                self.documents += 1;
                if self.documents > 1 {
                    return Err(extra(
                        span,
                        "a second document",
                        "put it into a file of its own",
                    ));
                }
            }
            Event::Alias(_) | Event::UnresolvedAlias(_) | Event::Anchor(..) => {
                return Err(extra(span, "an alias or anchor", "write the value out"));
            }
            Event::Scalar(text, style, anchor, tag) => {
                Self::refuse_extras(span, anchor, tag.is_some())?;
                let quoted = style != ScalarStyle::Plain;
                if text == "<<" && !quoted && self.expects_key() {
                    return Err(extra(span, "a merge key", "write the keys out"));
                }
                let span = if quoted {
                    span
                } else {
                    trimmed(span, self.text)
                };
                // The parser gives "~" where nothing was written.
                let nothing = !quoted && span.start == span.end;
                let text = if nothing {
                    String::new()
                } else {
                    text.into_owned()
                };
                self.finish_scalar(Node {
                    span,
                    value: Value::Scalar { text, quoted },
                });
            }
            Event::SequenceStart(_, anchor, tag) => {
                Self::refuse_extras(span, anchor, tag.is_some())?;
                self.start(span, '[', Content::List(Vec::new()))?;
            }
            Event::MappingStart(_, anchor, tag) => {
                Self::refuse_extras(span, anchor, tag.is_some())?;
                self.start(
                    span,
                    '{',
                    Content::Map {
                        entries: Vec::new(),
                        key: None,
                    },
                )?;
            }
            Event::SequenceEnd | Event::MappingEnd => self.close(span),
            _ => {}
        }
        Ok(())
    }

    /// Whether the next node would be a key.
    fn expects_key(&self) -> bool {
        matches!(
            self.open.last(),
            Some(Open {
                content: Content::Map { key: None, .. },
                ..
            })
        )
    }

    fn start(&mut self, span: Span, bracket: char, content: Content) -> Result<(), Notice> {
        if self.open.len() >= MAX_DEPTH {
            return Err(too_deep(span));
        }
        if self.expects_key() {
            let message = "a key must be a single value, not a map or list";
            return Err(Notice::error(codes::WRONG_KIND, span, message));
        }
        let block = !self.text[span.start..].starts_with(bracket);
        self.open.push(Open {
            start: span,
            block,
            content,
        });
        Ok(())
    }

    fn close(&mut self, end: Span) {
        let Some(open) = self.open.pop() else { return };
        let first = match &open.content {
            Content::Map { entries, .. } => entries.first().map(|(key, _)| key.span),
            Content::List(items) => items.first().map(|node| node.span),
        };
        let span = if open.block {
            first.unwrap_or(open.start)
        } else {
            open.start.to(end)
        };
        let value = match open.content {
            Content::Map { entries, .. } => Value::Map(entries),
            Content::List(items) => Value::List(items),
        };
        self.add(Node { span, value });
    }

    fn finish_scalar(&mut self, node: Node) {
        if let Some(Open {
            content: Content::Map {
                key: key @ None, ..
            },
            ..
        }) = self.open.last_mut()
        {
            let Value::Scalar { text, .. } = node.value else {
                return;
            };
            *key = Some(Key {
                text,
                span: node.span,
            });
        } else {
            self.add(node);
        }
    }

    fn add(&mut self, mut node: Node) {
        match self.open.last_mut().map(|open| &mut open.content) {
            None => self.done = Some(node),
            Some(Content::List(items)) => items.push(node),
            Some(Content::Map { entries, key }) => {
                if let Some(key) = key.take() {
                    if node.is_nothing() {
                        // The parser puts an absent value wherever it noticed the absence.
                        node.span = Span::new(key.span.file, key.span.end, key.span.end);
                    }
                    entries.push((key, node));
                }
            }
        }
    }

    fn span(&self, at: YamlSpan) -> Span {
        let range = at.byte_range().unwrap_or_default();
        Span::new(
            self.file,
            range.start.min(self.text.len()),
            range.end.min(self.text.len()),
        )
    }

    fn refuse_extras(span: Span, anchor: usize, tagged: bool) -> Result<(), Notice> {
        if anchor != 0 {
            return Err(extra(
                span,
                "an anchor",
                "write the value out where it is needed",
            ));
        }
        if tagged {
            return Err(extra(
                span,
                "a tag",
                "leave it out; quote the value if it must be text",
            ));
        }
        Ok(())
    }

    fn syntax(&self, error: &ScanError) -> Notice {
        let at = error
            .marker()
            .byte_offset()
            .unwrap_or(0)
            .min(self.text.len());
        if *error.kind() == ErrorKind::RecursionLimitExceeded {
            return too_deep(Span::new(self.file, at, at));
        }
        let info = error.info();
        // Where tabs indent, the parser stumbles lines before or after them.
        if let Some(tab) = indenting_tab(self.text) {
            let message = "a tab indents this line, and YAML is indented by blanks only";
            return Notice::error(codes::SYNTAX, Span::new(self.file, tab, tab + 1), message)
                .help("put blanks in its place, as many as on the lines beside it");
        }
        let message = format!("this is not well-formed YAML: {info}");
        Notice::error(codes::SYNTAX, Span::new(self.file, at, at), message).help(help_with(&info))
    }
}

/// The first tab that stands where a line is indented.
fn indenting_tab(text: &str) -> Option<usize> {
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let indent = line.len() - line.trim_start_matches([' ', '\t']).len();
        if let Some(at) = line[..indent].find('\t') {
            return Some(start + at);
        }
        start += line.len();
    }
    None
}

/// What to look for, by what the parser says.
fn help_with(info: &str) -> &'static str {
    if info.contains("expected ':'") {
        "a key ends with a colon and a blank, as in `base: 0.2`: look at this line"
    } else if info.contains("mapping values are not allowed") {
        "is this line indented too far or too little, or does the one above lack its colon? A text with `: ` in it must be quoted"
    } else if info.contains("did not find expected key") || info.contains("'-' indicator") {
        "what belongs together begins in one column: compare where this line begins with the lines above it"
    } else {
        "texts with `: ` or ` #`, and those that begin with a quote, bracket or `*&!%@`, must be quoted"
    }
}

fn too_deep(span: Span) -> Notice {
    let message = format!("maps and lists stand more than {MAX_DEPTH} deep in one another");
    Notice::error(codes::TOO_DEEP, span, message)
        .help("nothing in the language nests so deep: look for a bracket too many")
}

fn extra(span: Span, what: &str, help: &str) -> Notice {
    Notice::error(
        codes::YAML_EXTRA,
        span,
        format!("{what} is not part of the language"),
    )
    .help(help)
}

/// A plain scalar's span without the blanks and line ends that follow it.
fn trimmed(span: Span, text: &str) -> Span {
    let written = text.get(span.start..span.end).unwrap_or("");
    Span::new(span.file, span.start, span.start + written.trim_end().len())
}
