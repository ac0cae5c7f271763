//! A page of text that grows line by line, wrapped to a width.
//!
//! In: a width and whether colour is wanted. Out: a string.
//!
//! ```
//! use seepwise::show::Page;
//! let mut page = Page::new(30, false);
//! page.heading("Next check");
//! page.item("-", "Shine the torch along the joint, all round.");
//! assert!(page.text().lines().all(|line| line.len() <= 30));
//! ```

use std::fmt::Write;

use anstyle::{AnsiColor, Style};
use textwrap::Options;

/// Text in the making.
#[derive(Debug, Clone)]
pub struct Page {
    text: String,
    width: usize,
    colour: bool,
}

impl Page {
    /// An empty page. Widths under 30 columns count as 30.
    pub fn new(width: usize, colour: bool) -> Self {
        Self {
            text: String::new(),
            width: width.max(30),
            colour,
        }
    }

    /// A heading with a blank line before it.
    pub fn heading(&mut self, text: &str) {
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        self.styled(Style::new().bold(), "", "", text);
    }

    /// A caution.
    pub fn caution(&mut self, text: &str) {
        self.styled(
            Style::new().bold().fg_color(Some(AnsiColor::Yellow.into())),
            "  ! ",
            "    ",
            text,
        );
    }

    /// A block: what must not be done.
    pub fn block(&mut self, text: &str) {
        self.styled(
            Style::new().bold().fg_color(Some(AnsiColor::Red.into())),
            "  STOP ",
            "       ",
            text,
        );
    }

    /// A paragraph.
    pub fn para(&mut self, text: &str) {
        self.styled(Style::new(), "", "", text);
    }

    /// An indented paragraph.
    pub fn indented(&mut self, text: &str) {
        self.styled(Style::new(), "    ", "    ", text);
    }

    /// A quieter, indented paragraph.
    pub fn aside(&mut self, text: &str) {
        self.styled(Style::new().dimmed(), "    ", "    ", text);
    }

    /// An item with its mark; further lines hang under the text.
    pub fn item(&mut self, mark: &str, text: &str) {
        let first = format!("  {mark} ");
        let hang = " ".repeat(textwrap::core::display_width(&first));
        self.styled(Style::new(), &first, &hang, text);
    }

    /// A blank line.
    pub fn blank(&mut self) {
        self.text.push('\n');
    }

    /// The text so far.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The text.
    pub fn into_text(self) -> String {
        self.text
    }

    fn styled(&mut self, style: Style, first: &str, hang: &str, text: &str) {
        let options = Options::new(self.width)
            .initial_indent(first)
            .subsequent_indent(hang);
        let plain = style == Style::new();
        // A figure and its per cent sign stay on one line.
        let text = text.replace(" %", "\u{a0}%");
        for line in textwrap::wrap(&text, options) {
            let line = line.trim_end().replace('\u{a0}', " ");
            if self.colour && !plain {
                // Writing to a string cannot fail.
                let _ = writeln!(self.text, "{style}{line}{style:#}");
            } else {
                self.text.push_str(&line);
                self.text.push('\n');
            }
        }
    }
}
