//! [`JobFile`] → job text. Reading it back gives the same job.
//!
//! In: a job. Out: YAML. Plain words stand as they are; every other text is put in double quotes
//! with escapes, so that it stays on one line and needs no further care.

use std::fmt::{Arguments, Write};

use crate::job::file::{AnswerGiven, Entry, Expect, Found, JobFile, Logged, Seen, Sure};
use crate::job::read::VERSION;
use crate::job::{write_measured, write_mended};

impl JobFile {
    /// The job as YAML text.
    pub fn write(&self) -> String {
        let mut page = format!("job: {VERSION}\n");
        line_of_text(&mut page, "title", &self.title);
        line(&mut page, format_args!("layout: {}", quoted(&self.layout)));
        line_of_text(&mut page, "complaint", &self.complaint);
        line_of_text(&mut page, "about", &self.about);
        if !self.log.is_empty() {
            page.push_str("log:\n");
        }
        for logged in &self.log {
            line(&mut page, format_args!("  - {}", self::logged(logged)));
        }
        if let Some(expect) = &self.expect {
            page.push_str(&expect_text(expect));
        }
        page
    }
}

/// Expectations as they stand at the end of a job.
pub(super) fn expect_text(expect: &Expect) -> String {
    let mut page = String::new();
    expected(&mut page, expect);
    page
}

fn line(page: &mut String, text: Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = writeln!(page, "{text}");
}

fn line_of_text(page: &mut String, key: &str, text: &str) {
    if !text.is_empty() {
        line(page, format_args!("{key}: {}", quoted(text)));
    }
}

/// An entry, and the repair before which it was so.
pub(super) fn logged(logged: &Logged) -> String {
    let written = entry(&logged.entry);
    match (logged.before_repair, written.strip_suffix('}')) {
        (Some(number), Some(open)) => format!("{open}, before_repair: {number}}}"),
        _ => written,
    }
}

fn entry(entry: &Entry) -> String {
    let fault = |key: &str, cause: &str, at: Option<&String>| match at {
        Some(at) => flow(&[(key, quoted(cause)), ("at", quoted(at))]),
        None => flow(&[(key, quoted(cause))]),
    };
    match entry {
        Entry::Found(found) => self::found(found),
        Entry::SetUp(values) => flow(&[("set_up", pairs(values))]),
        Entry::CoversOff(covers) => flow(&[("covers_off", words(covers))]),
        Entry::CoversOn(covers) => flow(&[("covers_on", words(covers))]),
        Entry::Confirmed { cause, at } => fault("confirmed", cause, at.as_ref()),
        Entry::RuledOut { cause, at } => fault("ruled_out", cause, at.as_ref()),
        Entry::Withdrawn(number) => flow(&[("withdrawn", number.to_string())]),
        Entry::Cleared(block) => flow(&[("cleared", quoted(block))]),
        Entry::Gauge(log) => write_measured::gauge(log),
        Entry::Coolant(reading) => write_measured::coolant(reading),
        Entry::Port(map) => write_measured::port(map),
        Entry::Loss(told) => write_measured::loss(told),
        Entry::Repaired(done) => write_mended::repaired(done),
        Entry::Refilled(filled) => write_mended::refilled(filled),
        Entry::Cleaned(places) => flow(&[("cleaned", words(places))]),
        Entry::ToppedUp(litres) => write_mended::topped_up(*litres),
        Entry::DrySpell(spell) => write_mended::dry_spell(spell),
        Entry::Waiting { why, until } => write_mended::said("waiting", why, "until", until),
        Entry::HandedOver { to, open } => {
            flow(&[("handed_over", quoted(to)), ("open", quoted(open))])
        }
        Entry::Closed { says, open } => write_mended::said("closed", says, "open", open),
        Entry::Note(text) => flow(&[("note", quoted(text))]),
    }
}

fn found(found: &Found) -> String {
    let mut fields = vec![("check", quoted(&found.check))];
    if let Some(at) = &found.at {
        fields.push(("at", quoted(at)));
    }
    let answer = match &found.answer {
        AnswerGiven::One(text) => quoted(text),
        AnswerGiven::Several(signs) => pairs(signs),
    };
    fields.push(("answer", answer));
    match found.sure {
        Sure::Sure => {}
        Sure::Fairly => fields.push(("sure", "fairly".to_owned())),
        Sure::Guess => fields.push(("sure", "guess".to_owned())),
    }
    match found.seen {
        Seen::Whole => {}
        Seen::InPart => fields.push(("seen", "in_part".to_owned())),
        Seen::Not => fields.push(("seen", "not".to_owned())),
    }
    if !found.except.is_empty() {
        fields.push(("except", pairs(&found.except)));
    }
    for (key, places) in [("not_seen", &found.not_seen), ("in_part", &found.in_part)] {
        if !places.is_empty() {
            fields.push((key, words(places)));
        }
    }
    if found.again {
        fields.push(("again", "yes".to_owned()));
    }
    flow(&fields)
}

fn expected(page: &mut String, expect: &Expect) {
    let mut lines: Vec<(&str, String)> = Vec::new();
    for (key, list) in [
        ("first", &expect.first),
        ("next_among", &expect.next_among),
        ("blocked", &expect.blocked),
    ] {
        if !list.is_empty() {
            lines.push((key, words(list)));
        }
    }
    if let Some((count, places)) = &expect.among_first {
        lines.push((
            "among_first",
            flow(&[("n", count.to_string()), ("places", words(places))]),
        ));
    }
    for (key, map) in [
        ("causes_at_least", &expect.causes_at_least),
        ("causes_at_most", &expect.causes_at_most),
        ("leaks_at_least", &expect.leaks_at_least),
        ("leaks_at_most", &expect.leaks_at_most),
        ("conditions_at_least", &expect.conditions_at_least),
        ("sources_at_least", &expect.sources_at_least),
    ] {
        if !map.is_empty() {
            let map: Vec<String> = map
                .iter()
                .map(|(name, percent)| format!("{}: {percent}", quoted(name)))
                .collect();
            lines.push((key, format!("{{{}}}", map.join(", "))));
        }
    }
    if lines.is_empty() {
        page.push_str("expect: {}\n");
        return;
    }
    page.push_str("expect:\n");
    for (key, value) in lines {
        line(page, format_args!("  {key}: {value}"));
    }
}

/// A map in one line, its values written already.
pub(super) fn flow(fields: &[(&str, String)]) -> String {
    let fields: Vec<String> = fields
        .iter()
        .map(|(key, value)| format!("{key}: {value}"))
        .collect();
    format!("{{{}}}", fields.join(", "))
}

/// A map in one line.
pub(super) fn pairs(pairs: &[(String, String)]) -> String {
    let pairs: Vec<String> = pairs
        .iter()
        .map(|(key, value)| format!("{}: {}", quoted(key), quoted(value)))
        .collect();
    format!("{{{}}}", pairs.join(", "))
}

/// A list in one line.
pub(super) fn words(words: &[String]) -> String {
    let words: Vec<String> = words.iter().map(|word| quoted(word)).collect();
    format!("[{}]", words.join(", "))
}

/// A text as a YAML scalar: as it is where it is a plain word, else in double quotes.
pub(super) fn quoted(text: &str) -> String {
    let letters = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '@' | '-' | '.');
    // Words that other YAML readers take for something else are quoted too.
    let taken = ["true", "false", "yes", "no", "on", "off", "null", "y", "n"];
    let plain = text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text.chars().all(letters)
        && !taken.contains(&text.to_ascii_lowercase().as_str());
    if plain {
        return text.to_owned();
    }
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            '\r' => out.push_str("\\r"),
            // Line and paragraph ends of Unicode, the byte-order mark and what is no character.
            '\u{2028}' | '\u{2029}' | '\u{feff}' | '\u{fffe}' | '\u{ffff}' => escape(&mut out, c),
            c if c.is_control() => escape(&mut out, c),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

fn escape(out: &mut String, c: char) {
    // Writing to a string cannot fail.
    let _ = write!(out, "\\u{:04X}", u32::from(c));
}
