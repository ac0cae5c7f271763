//! Single values: texts, numbers, percentages, lists of names, and values that vary.

use crate::ids::Id;
use crate::notice::{Notice, Notices, codes};
use crate::rules::base::{Reason, Source, Vary, Where};
use crate::rules::check::context::{Context, Tables};
use crate::rules::check::names::{Names, unknown};
use crate::rules::raw::{Fields, Node, Value};
use crate::rules::suggest::closest;
use crate::source::Span;

/// A month, minutes: nobody waits longer for the answer to a check.
const LONGEST_WAIT_MINUTES: f64 = 43_200.0;

/// How a number that is written with a per cent sign or a comma is to be written.
fn written_otherwise(text: &str) -> Option<String> {
    let plain = text.trim_end_matches('%').trim().replace(',', ".");
    let number = plain
        .parse::<f64>()
        .ok()
        .filter(|number| number.is_finite())?;
    Some(if text.ends_with('%') {
        format!("leave the sign out: `{number}`")
    } else {
        format!("write a point for the comma: `{number}`")
    })
}

/// What a percentage may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bounds {
    /// 0 to 100, both included.
    Closed,
    /// Strictly between 0 and 100: strengths on signs.
    Sign,
}

/// What the attributes in a `where:` may belong to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// A part, or the vehicle it is in.
    Part,
    /// The vehicle alone: there is no part here.
    Vehicle,
}

impl Context {
    /// A text. Not text, or empty: a notice and an empty text. No node: an empty text (that it
    /// is missing has been said).
    pub fn text_or_empty(&mut self, node: Option<&Node>) -> String {
        let Some(node) = node else {
            return String::new();
        };
        match node.text() {
            Some(text) if text.trim().is_empty() => {
                self.error(codes::EMPTY_TEXT, node.span, "a text belongs here");
                String::new()
            }
            Some(text) => text.trim().to_owned(),
            None => {
                self.wrong_kind("a text", node);
                String::new()
            }
        }
    }

    /// Says that a value is of the wrong kind.
    pub fn wrong_kind(&mut self, wanted: &str, node: &Node) {
        let mut message = format!("{wanted} belongs here, not {}", node.kind_words());
        if let Value::Scalar { text, .. } = &node.value
            && !node.is_nothing()
        {
            message = format!("{wanted} belongs here, not `{text}`");
        }
        let mut notice = Notice::error(codes::WRONG_KIND, node.span, message);
        if wanted == "a text" && node.entries().is_some() {
            notice = notice.help("a text with `: ` in it must be quoted");
        }
        self.notices.push(notice);
    }

    /// The items of a list; one single value counts as a list of one.
    pub fn list<'n>(&mut self, node: Option<&'n Node>) -> Vec<&'n Node> {
        match node.map(|node| (node, &node.value)) {
            None => Vec::new(),
            Some((_, Value::List(items))) => items.iter().collect(),
            Some((node, _)) if node.is_nothing() => Vec::new(),
            Some((node, Value::Scalar { .. })) => vec![node],
            Some((node, Value::Map(_))) => {
                self.wrong_kind("a list", node);
                Vec::new()
            }
        }
    }

    /// A list of texts that must not be empty.
    pub fn steps(&mut self, node: Option<&Node>) -> Vec<String> {
        let items = self.list(node);
        if let (Some(node), true) = (node, items.is_empty()) {
            self.error(
                codes::EMPTY_TEXT,
                node.span,
                "at least one step belongs here",
            );
        }
        items
            .into_iter()
            .map(|item| self.text_or_empty(Some(item)))
            .collect()
    }

    /// Where the items of a list stand.
    pub fn step_spans(&mut self, node: Option<&Node>) -> Vec<Span> {
        let items = self.list(node);
        items.into_iter().map(|item| item.span).collect()
    }

    /// `yes` or `no`; no node: no.
    pub fn yes(&mut self, node: Option<&Node>) -> bool {
        let Some(node) = node else { return false };
        match node.text() {
            Some("yes") => true,
            Some("no") => false,
            _ => {
                self.wrong_kind("yes or no", node);
                false
            }
        }
    }

    /// A number; a notice and `None` if it is none.
    pub fn number(&mut self, node: &Node) -> Option<f64> {
        let Some(text) = node.text().map(str::trim).filter(|_| !node.is_nothing()) else {
            self.wrong_kind("a number", node);
            return None;
        };
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() => Some(number),
            Ok(_) => self.not_finite(text, node),
            Err(_) if is_not_finite(text) => self.not_finite(text, node),
            Err(_) => {
                match written_otherwise(text) {
                    Some(help) => {
                        let message = format!("a number belongs here, not `{text}`");
                        self.error_help(codes::WRONG_KIND, node.span, message, &help);
                    }
                    None => self.wrong_kind("a number", node),
                }
                None
            }
        }
    }

    fn not_finite(&mut self, text: &str, node: &Node) -> Option<f64> {
        let message = format!("`{text}` is no number that can be used here");
        self.error_help(
            codes::NOT_A_NUMBER,
            node.span,
            message,
            "write a plain number such as 12 or 0.3",
        );
        None
    }

    /// A number from `low` to `high`; a notice and `low` if it is none.
    pub fn number_in(&mut self, node: &Node, low: f64, high: f64, what: &str) -> f64 {
        match self.number(node) {
            Some(number) if (low..=high).contains(&number) => number,
            Some(number) => {
                let range = format!("{low} to {high}");
                self.error(
                    codes::OUT_OF_RANGE,
                    node.span,
                    format!("{what} must be {range}, not {number}"),
                );
                low
            }
            None => low,
        }
    }

    /// A number above 0; a notice and 1 if it is none.
    pub fn positive(&mut self, node: Option<&Node>, what: &str) -> f64 {
        let Some(node) = node else { return 1.0 };
        match self.number(node) {
            Some(number) if number > 0.0 => number,
            Some(number) => {
                self.error(
                    codes::OUT_OF_RANGE,
                    node.span,
                    format!("{what} must be above 0, not {number}"),
                );
                1.0
            }
            None => 1.0,
        }
    }

    /// Minutes, from 0 to a month.
    pub fn minutes(&mut self, node: &Node) -> f64 {
        self.number_in(node, 0.0, LONGEST_WAIT_MINUTES, "minutes")
    }

    /// A percentage, or a word of the scale, as a fraction; 0.5, with a notice, if it is none.
    pub fn percent(&mut self, node: &Node, bounds: Bounds) -> f64 {
        let fraction = match node.text().and_then(|text| self.strength_word(text)) {
            Some(fraction) => Some(fraction),
            None if self.is_strange_word(node) => None,
            None => self.number(node).map(|percent| percent / 100.0),
        };
        let Some(fraction) = fraction else { return 0.5 };
        let shown = fraction * 100.0;
        if !(0.0..=1.0).contains(&fraction) {
            let written = node.text().unwrap_or_default();
            let message = format!("a chance lies between 0 and 100 per cent, not at {written}");
            let help = "write per cent, as in `5`, or a word of the scale; `seepwise rules show` lists the words";
            self.error_help(codes::OUT_OF_RANGE, node.span, message, help);
            return 0.5;
        }
        if bounds == Bounds::Sign && (fraction <= 0.0 || fraction >= 1.0) {
            let message = format!("a sign is never certain: {shown:.0} is no strength for it");
            let help = if fraction > 0.5 {
                "99 is the most that can be known"
            } else {
                "say how rare it is, such as 0.1; a leak that it never shows is left out of `reads:`"
            };
            self.error_help(codes::CERTAIN_SIGN, node.span, message, help);
            return 0.5;
        }
        fraction
    }

    fn strength_word(&self, text: &str) -> Option<f64> {
        self.strengths
            .iter()
            .find(|(word, _)| word == text)
            .map(|(_, fraction)| *fraction)
    }

    /// Reports a word that is neither a number nor of the scale.
    fn is_strange_word(&mut self, node: &Node) -> bool {
        let Some(text) = node.text() else {
            return false;
        };
        let is_word = text.starts_with(|c: char| c.is_ascii_alphabetic()) && !is_not_finite(text);
        if is_word {
            let known: Vec<&str> = self
                .strengths
                .iter()
                .map(|(word, _)| word.as_str())
                .collect();
            let notice = unknown("word for a strength", text, node.span, &known);
            self.notices.push(notice);
        }
        is_word
    }

    /// A value that may vary: `cases:` and `otherwise:`, or the value itself.
    pub fn vary<'n, T>(
        &mut self,
        node: &'n Node,
        owner: Owner,
        mut value: impl FnMut(&mut Self, &'n Node) -> T,
    ) -> Vary<T> {
        let varies = node.get("cases").is_some() || node.get("otherwise").is_some();
        if !varies {
            return Vary::always(value(self, node));
        }
        let Some(mut fields) = self.fields(node, node.span, "a value that varies") else {
            return Vary::always(value(self, node));
        };
        let cases_node = fields.need("cases", &mut self.notices);
        let otherwise = fields.need("otherwise", &mut self.notices);
        let mut cases = Vec::new();
        for case in self.list(cases_node) {
            let Some(mut parts) = self.fields(case, case.span, "a case") else {
                continue;
            };
            let condition = parts.need("where", &mut self.notices);
            let condition = self.condition(condition, owner);
            if let Some(is) = parts.need("is", &mut self.notices) {
                cases.push((condition, value(self, is)));
            }
            parts.finish(&mut self.notices);
        }
        fields.finish(&mut self.notices);
        Vary {
            cases,
            otherwise: value(self, otherwise.unwrap_or(node)),
        }
    }

    /// A `where:`; no node: always.
    pub fn condition(&mut self, node: Option<&Node>, owner: Owner) -> Where {
        let mut all_of = Vec::new();
        let Some(node) = node else {
            return Where::default();
        };
        if self.fields(node, node.span, "`where:`").is_none() {
            return Where::default();
        }
        for (key, wanted) in node.entries().unwrap_or_default() {
            let Some(id) = self
                .tables
                .attributes
                .find(&key.text, key.span, &mut self.notices)
            else {
                continue;
            };
            if owner == Owner::Vehicle && self.attributes.get(id).is_some_and(|it| !it.of_vehicle) {
                let message = format!(
                    "`{}` is an attribute of parts, and there is no part here",
                    key.text
                );
                self.error_help(
                    codes::WRONG_OWNER,
                    key.span,
                    message,
                    "only attributes of the vehicle can count here",
                );
            }
            let mut values = Vec::new();
            for item in self.list(Some(wanted)) {
                values.extend(self.attribute_value(id, item));
            }
            if values.is_empty() && wanted.items().is_some_and(<[Node]>::is_empty) {
                self.error(
                    codes::EMPTY_TEXT,
                    wanted.span,
                    "an empty list of values never fits",
                );
            }
            all_of.push((id, values));
        }
        Where { all_of }
    }

    /// The position of an attribute's value.
    pub fn attribute_value(&mut self, id: crate::ids::AttributeId, node: &Node) -> Option<usize> {
        let Some(text) = node.text().map(str::to_owned) else {
            self.wrong_kind("a value of the attribute", node);
            return None;
        };
        let attribute = self.attributes.get(id)?;
        let found = attribute.values.iter().position(|value| *value == text);
        if found.is_none() && !attribute.values.is_empty() {
            let message = format!("`{text}` is no value of `{}`", attribute.named.id);
            let all = attribute.values.join(", ");
            let help = match closest(&text, attribute.values.iter().map(String::as_str)) {
                Some(near) => format!("did you mean `{near}`? (permitted: {all})"),
                None => format!("permitted: {all}"),
            };
            self.error_help(codes::WRONG_VALUE, node.span, message, help);
        }
        found
    }

    /// The ids that a list of names stands for.
    pub fn ids<I: Id>(
        &mut self,
        node: Option<&Node>,
        table: impl Fn(&Tables) -> &Names<I>,
    ) -> Vec<I> {
        let mut found: Vec<I> = Vec::new();
        for item in self.list(node) {
            let Some(id) = table(&self.tables).find_node(item, &mut self.notices) else {
                continue;
            };
            if found.contains(&id) {
                let message = format!("`{}` is listed twice", item.text().unwrap_or_default());
                self.error(codes::DUPLICATE_NAME, item.span, message);
            } else {
                found.push(id);
            }
        }
        found
    }

    /// `because:` and `source:`, both needed.
    pub fn reason(&mut self, fields: &mut Fields<'_>) -> Reason {
        let because = fields.need("because", &mut self.notices);
        let because = self.text_or_empty(because);
        let source = fields.need("source", &mut self.notices);
        Reason {
            because: because.into(),
            source: source
                .and_then(|node| self.source(node))
                .unwrap_or_default(),
        }
    }

    /// `because:` and `source:` of a link, each taken from what it stands in when left out.
    pub fn reason_or(&mut self, fields: &mut Fields<'_>, inherited: &Reason) -> Reason {
        let because = fields.take("because");
        let source = fields.take("source");
        Reason {
            because: match because {
                Some(node) => self.text_or_empty(Some(node)).into(),
                None => inherited.because.clone(),
            },
            source: source
                .and_then(|node| self.source(node))
                .unwrap_or_else(|| inherited.source.clone()),
        }
    }

    fn source(&mut self, node: &Node) -> Option<Source> {
        let text = self.text_or_empty(Some(node));
        let known = match text.as_str() {
            "" => return None,
            "judgement" => Some(Source::Judgement),
            "practice" => Some(Source::Practice),
            "memory" => Some(Source::Memory),
            other => {
                let cited = other.strip_prefix("published:").map(str::trim);
                cited
                    .filter(|cited| !cited.is_empty())
                    .map(|cited| Source::Published(cited.into()))
            }
        };
        if known.is_none() {
            let help = "one of `judgement`, `practice`, `memory`, or \"published: AUTHOR YEAR …\" in quotes";
            self.error_help(
                codes::UNKNOWN_SOURCE,
                node.span,
                format!("`{text}` is no kind of source"),
                help,
            );
        }
        known
    }

    /// Says that nothing is left over in a map.
    pub fn finish(&mut self, fields: Fields<'_>) {
        let notices: &mut Notices = &mut self.notices;
        fields.finish(notices);
    }
}

/// Whether a text is one of YAML's ways to write infinity or "not a number".
fn is_not_finite(text: &str) -> bool {
    let bare = text
        .trim_start_matches(['+', '-', '.'])
        .to_ascii_lowercase();
    matches!(bare.as_str(), "nan" | "inf" | "infinity")
}
