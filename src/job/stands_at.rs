//! Where the names of an expectation were read.
//!
//! In: lists and maps of names, as read from a file. Out: for a name the place where it stands first.

use crate::rules::raw::{Node, Value};
use crate::source::Span;

/// Where names stand. Two are equal wherever that is.
#[derive(Debug, Clone, Default)]
pub struct StandsAt(Vec<(String, Span)>);

impl StandsAt {
    /// Takes in the names of a list, or the keys of a map.
    pub(super) fn take_in(&mut self, node: Option<&Node>) {
        match node.map(|node| &node.value) {
            Some(Value::List(items)) => {
                let named = items
                    .iter()
                    .filter_map(|item| Some((item.text()?, item.span)));
                self.0.extend(named.map(|(name, at)| (name.to_owned(), at)));
            }
            Some(Value::Map(entries)) => {
                let keys = entries.iter().map(|(key, _)| (key.text.clone(), key.span));
                self.0.extend(keys);
            }
            Some(Value::Scalar { .. }) | None => {}
        }
    }

    /// Where a name stands first.
    pub(super) fn of(&self, name: &str) -> Option<Span> {
        let mut known = self.0.iter();
        known.find(|(known, _)| known == name).map(|(_, at)| *at)
    }
}

impl PartialEq for StandsAt {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}
