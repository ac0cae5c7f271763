//! A file's content before anyone has looked at its meaning: maps, lists and scalars with spans.
//!
//! In: nothing (built by [`crate::rules::read`]). Out: [`Node`], and [`Fields`], which takes a map
//! apart key by key and reports what is missing, unknown or given twice.

mod fields;
mod sections;

use crate::source::Span;

pub use fields::Fields;
pub use sections::{Entry, LayoutFile, RawRules, Section, split};

/// A value and where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Node {
    /// A scalar: all of it. A map in block style: its first key. Else: from bracket to bracket.
    pub span: Span,
    /// What it holds.
    pub value: Value,
}

/// What a node holds. Scalars stay text: what `12`, `no` or `hot` means depends on where it
/// stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// Keys with values, in the order written; a key may occur twice.
    Map(Vec<(Key, Node)>),
    /// Values in the order written.
    List(Vec<Node>),
    /// One value.
    Scalar {
        /// Its text, without quotes. Empty and not quoted: nothing was written.
        text: String,
        /// Whether it was quoted or written as a block.
        quoted: bool,
    },
}

/// A key of a map.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Key {
    /// Its text.
    pub text: String,
    /// Where it stands.
    pub span: Span,
}

impl Node {
    /// The text of a scalar.
    pub fn text(&self) -> Option<&str> {
        match &self.value {
            Value::Scalar { text, .. } => Some(text),
            _ => None,
        }
    }

    /// Whether nothing was written here.
    pub fn is_nothing(&self) -> bool {
        matches!(&self.value, Value::Scalar { text, quoted: false } if text.is_empty())
    }

    /// The entries of a map.
    pub fn entries(&self) -> Option<&[(Key, Self)]> {
        match &self.value {
            Value::Map(entries) => Some(entries),
            _ => None,
        }
    }

    /// The items of a list.
    pub fn items(&self) -> Option<&[Self]> {
        match &self.value {
            Value::List(items) => Some(items),
            _ => None,
        }
    }

    /// The value under a key of a map, the first if there are several.
    pub fn get(&self, key: &str) -> Option<&Self> {
        self.entries()?
            .iter()
            .find(|(k, _)| k.text == key)
            .map(|(_, node)| node)
    }

    /// What kind of value this is, in words.
    pub fn kind_words(&self) -> &'static str {
        match &self.value {
            Value::Map(_) => "a map",
            Value::List(_) => "a list",
            Value::Scalar { .. } if self.is_nothing() => "nothing",
            Value::Scalar { .. } => "a single value",
        }
    }

    /// Calls a function for the span of this node, of its keys and of all nodes in it.
    pub fn each_span(&self, visit: &mut impl FnMut(Span)) {
        visit(self.span);
        match &self.value {
            Value::Map(entries) => {
                for (key, node) in entries {
                    visit(key.span);
                    node.each_span(visit);
                }
            }
            Value::List(items) => items.iter().for_each(|node| node.each_span(visit)),
            Value::Scalar { .. } => {}
        }
    }
}
