//! Notices as text: file, line and column, the source line underlined, what to do.
//!
//! In: notices and the sources that they point into. Out: a string; the caller prints it.

use std::fmt::Write;

use annotate_snippets::{Annotation, AnnotationKind, Group, Level, Renderer, Snippet};

use crate::notice::{Notice, Notices, Severity};
use crate::source::{Sources, Span};

/// How to render.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// With colours (ANSI), or plain.
    pub colour: bool,
    /// Width of the page in columns.
    pub width: usize,
}

impl Default for Look {
    fn default() -> Self {
        Self {
            colour: false,
            width: 100,
        }
    }
}

/// Renders all notices, an empty line after each, and a last line that counts them.
pub fn render_all(notices: &Notices, sources: &Sources, look: Look) -> String {
    let mut page = String::new();
    for notice in notices {
        page.push_str(&render(notice, sources, look));
        page.push_str("\n\n");
    }
    let errors = notices.errors();
    let advice = notices.len() - errors;
    let plural = if errors == 1 { "" } else { "s" };
    // Writing to a string cannot fail.
    let _ = writeln!(
        page,
        "{errors} error{plural}, {advice} piece{} of advice",
        if advice == 1 { "" } else { "s" }
    );
    page
}

/// Renders one notice, without a last line end.
pub fn render(notice: &Notice, sources: &Sources, look: Look) -> String {
    let level = match notice.severity {
        Severity::Error => Level::ERROR,
        Severity::Advice => Level::WARNING.with_name("advice"),
    };
    let mut group = Group::with_title(level.primary_title(&notice.message).id(notice.code));
    let primary = notice.primary.file;
    let here: Vec<_> = notice
        .labels
        .iter()
        .filter(|(span, _)| span.file == primary)
        .collect();
    let mut snippet =
        snippet(sources, notice.primary).annotation(mark(sources, notice.primary, None));
    for (span, text) in here {
        snippet = snippet.annotation(mark(sources, *span, Some(text)));
    }
    group = group.element(snippet);
    for (span, text) in notice
        .labels
        .iter()
        .filter(|(span, _)| span.file != primary)
    {
        group = group.element(self::snippet(sources, *span).annotation(mark(
            sources,
            *span,
            Some(text),
        )));
    }
    if let Some(help) = &notice.help {
        group =
            group.element(Level::HELP.message(annotate_snippets::normalize_untrusted_str(help)));
    }
    let renderer = if look.colour {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    renderer.term_width(look.width.max(20)).render(&[group])
}

fn snippet(sources: &Sources, span: Span) -> Snippet<'_, Annotation<'_>> {
    let file = sources.file(span.file);
    Snippet::source(&*file.text).path(&*file.name).fold(true)
}

/// An annotation over a span, clipped to the first line of it and to whole characters.
fn mark<'a>(sources: &'a Sources, span: Span, label: Option<&'a String>) -> Annotation<'a> {
    let text = &sources.file(span.file).text;
    let mut start = span.start.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let line_end = text[start..]
        .find(['\n', '\r'])
        .map_or(text.len(), |at| start + at);
    let mut end = span.end.min(line_end).max(start);
    while !text.is_char_boundary(end) {
        end += 1;
    }
    match label {
        Some(label) => AnnotationKind::Context
            .span(start..end)
            .label(label.as_str()),
        None => AnnotationKind::Primary.span(start..end),
    }
}
