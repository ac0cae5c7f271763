//! Where the names of an expectation were read.
//!
//! In: lists and maps of names, as read from a file. Out: for a name the place where it stands first.

use crate::rules::raw::{Node, Value};
use crate::source::Span;

/// Where names stand. Two are equal wherever that is.
#[derive(Debug, Clone, Default)]
pub struct StandsAt(Vec<(&'static str, String, Span)>);

impl StandsAt {
    /// Takes in the names of a list, or the keys of a map, that stand under a key of the expectation.
    pub(super) fn take_in(&mut self, under: &'static str, node: Option<&Node>) {
        match node.map(|node| &node.value) {
            Some(Value::List(items)) => {
                let named = items
                    .iter()
                    .filter_map(|item| Some((item.text()?, item.span)));
                self.0
                    .extend(named.map(|(name, at)| (under, name.to_owned(), at)));
            }
            Some(Value::Map(entries)) => {
                let keys = entries.iter();
                self.0
                    .extend(keys.map(|(key, _)| (under, key.text.clone(), key.span)));
            }
            Some(Value::Scalar { .. }) | None => {}
        }
    }

    /// Where a name stands first under a key.
    pub(super) fn of(&self, under: &str, name: &str) -> Option<Span> {
        let mut known = self.0.iter();
        let found = known.find(|(key, known, _)| *key == under && known == name);
        found.map(|(.., at)| *at)
    }
}

impl PartialEq for StandsAt {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}
