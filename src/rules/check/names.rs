//! Names and what they stand for.

use std::collections::BTreeMap;
use std::marker::PhantomData;

use crate::ids::Id;
use crate::notice::{Notice, Notices, codes};
use crate::rules::raw::{Key, Node};
use crate::rules::suggest::help_for;
use crate::source::Span;

/// The names of one kind of thing, in order; the position is the id.
#[derive(Debug, Clone)]
pub struct Names<I> {
    /// What they name ("space").
    what: &'static str,
    list: Vec<(String, Span)>,
    index: BTreeMap<String, usize>,
    id: PhantomData<I>,
}

impl<I: Id> Names<I> {
    /// From keys in order. Keys that are no ids are reported.
    pub fn new<'k>(
        what: &'static str,
        keys: impl Iterator<Item = &'k Key>,
        notices: &mut Notices,
    ) -> Self {
        let mut names = Self {
            what,
            list: Vec::new(),
            index: BTreeMap::new(),
            id: PhantomData,
        };
        for key in keys {
            if !is_name(&key.text) {
                notices.push(bad_name(&key.text, key.span, what));
            }
            names.index.insert(key.text.clone(), names.list.len());
            names.list.push((key.text.clone(), key.span));
        }
        names
    }

    /// The id of a name.
    pub fn get(&self, name: &str) -> Option<I> {
        self.index.get(name).map(|at| I::from_index(*at))
    }

    /// Where the thing was named.
    pub fn span(&self, id: I) -> Span {
        self.list[id.index()].1
    }

    /// The name as written.
    pub fn name(&self, id: I) -> &str {
        &self.list[id.index()].0
    }

    /// All names, in order.
    pub fn words(&self) -> Vec<&str> {
        self.list.iter().map(|(name, _)| name.as_str()).collect()
    }

    /// The id of a name that must exist.
    pub fn find(&self, name: &str, at: Span, notices: &mut Notices) -> Option<I> {
        let found = self.get(name);
        if found.is_none() {
            notices.push(unknown(self.what, name, at, &self.words()));
        }
        found
    }

    /// The id of the name that a node holds.
    pub fn find_node(&self, node: &Node, notices: &mut Notices) -> Option<I> {
        if let Some(text) = node.text() {
            return self.find(text, node.span, notices);
        }
        let message = format!(
            "the name of a {} belongs here, not {}",
            self.what,
            node.kind_words()
        );
        notices.push(Notice::error(codes::WRONG_KIND, node.span, message));
        None
    }
}

/// The notice for a name that nobody declared.
pub fn unknown(what: &str, name: &str, at: Span, known: &[&str]) -> Notice {
    // "fault of `hose`": the name belongs after the noun.
    let message = match what.split_once(" of ") {
        Some((noun, owner)) => format!("there is no {noun} `{name}` of {owner}"),
        None => format!("there is no {what} `{name}`"),
    };
    Notice::error(codes::UNKNOWN_NAME, at, message).maybe_help(help_for(name, known))
}

/// The notice for a name that is no id.
pub fn bad_name(name: &str, at: Span, what: &str) -> Notice {
    let help = "small letters, digits and underscores, starting with a letter";
    Notice::error(
        codes::BAD_NAME,
        at,
        format!("`{name}` cannot be the name of a {what}"),
    )
    .help(help)
}

/// Whether a text can be an id.
pub fn is_name(text: &str) -> bool {
    let mut letters = text.chars();
    letters.next().is_some_and(|c| c.is_ascii_lowercase())
        && letters.all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}
