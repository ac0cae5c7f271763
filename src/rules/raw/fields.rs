//! Takes a map apart key by key.

use crate::notice::{Notice, Notices, codes};
use crate::rules::raw::{Key, Node, Value};
use crate::rules::suggest::closest;
use crate::source::Span;

/// A map whose keys are taken one after the other. Whatever is left at the end is unknown.
///
/// ```
/// use seepwise::notice::Notices;
/// use seepwise::rules::raw::Fields;
/// use seepwise::rules::read;
/// use seepwise::source::{SourceFile, Sources};
/// let mut sources = Sources::new();
/// let file = sources.add(SourceFile::new("a.yaml", "name: x\nminuts: 3\n"));
/// let tree = read::tree(file, &sources).unwrap();
/// let mut notices = Notices::new();
/// let mut fields = Fields::of(&tree, tree.span, "a check", &mut notices).unwrap();
/// assert!(fields.take("name").is_some());
/// assert!(fields.need("minutes", &mut notices).is_none());
/// fields.finish(&mut notices);
/// assert_eq!(notices.len(), 2); // `minutes` is missing, `minuts` is unknown
/// ```
#[derive(Debug)]
pub struct Fields<'n> {
    what: &'static str,
    at: Span,
    entries: Vec<(&'n Key, &'n Node, bool)>,
    asked: Vec<&'static str>,
}

impl<'n> Fields<'n> {
    /// Opens a map. `at` is where missing keys are reported, `what` says what the map describes
    /// ("a check"). `None`, with a notice, if it is no map. Nothing written counts as no entries.
    pub fn of(node: &'n Node, at: Span, what: &'static str, notices: &mut Notices) -> Option<Self> {
        let entries = match &node.value {
            Value::Map(entries) => entries.as_slice(),
            _ if node.is_nothing() => &[],
            _ => {
                let message = format!(
                    "{what} is a map of keys and values, not {}",
                    node.kind_words()
                );
                notices.push(Notice::error(codes::WRONG_KIND, node.span, message));
                return None;
            }
        };
        report_repeats(entries, notices);
        let mut open: Vec<(&Key, &Node, bool)> = Vec::with_capacity(entries.len());
        for (key, node) in entries {
            if open.iter().all(|(known, _, _)| known.text != key.text) {
                open.push((key, node, false));
            }
        }
        Some(Self {
            what,
            at,
            entries: open,
            asked: Vec::new(),
        })
    }

    /// Where missing keys are reported.
    pub fn at(&self) -> Span {
        self.at
    }

    /// Takes the value of a key, if there is one.
    pub fn take(&mut self, key: &'static str) -> Option<&'n Node> {
        self.take_entry(key).map(|(_, node)| node)
    }

    /// Takes a key with its value, if there is one.
    pub fn take_entry(&mut self, key: &'static str) -> Option<(&'n Key, &'n Node)> {
        if !self.asked.contains(&key) {
            self.asked.push(key);
        }
        let entry = self.entries.iter_mut().find(|(k, _, _)| k.text == key)?;
        entry.2 = true;
        Some((entry.0, entry.1))
    }

    /// Takes the value of a key that must be there.
    pub fn need(&mut self, key: &'static str, notices: &mut Notices) -> Option<&'n Node> {
        let found = self.take(key);
        if found.is_none() {
            let message = format!("{} needs `{key}:`", self.what);
            let notice = Notice::error(codes::MISSING_KEY, self.at, message);
            notices.push(notice.help(format!("add a line `{key}: …` to it")));
        }
        found
    }

    /// All keys with their values, each key once.
    pub fn into_entries(self) -> Vec<(&'n Key, &'n Node)> {
        self.entries
            .into_iter()
            .map(|(key, node, _)| (key, node))
            .collect()
    }

    /// Whether a key is there, taken or not.
    pub fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|(k, _, _)| k.text == key)
    }

    /// Reports the keys that nobody took.
    pub fn finish(self, notices: &mut Notices) {
        for (key, _, _) in self.entries.iter().filter(|(_, _, taken)| !taken) {
            let message = format!("unknown key `{}` in {}", key.text, self.what);
            let help = match closest(&key.text, self.asked.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("known keys here: {}", self.asked.join(", ")),
            };
            notices.push(Notice::error(codes::UNKNOWN_KEY, key.span, message).help(help));
        }
    }
}

/// Reports every key that occurs twice in one map, with a label at the first.
pub fn report_repeats(entries: &[(Key, Node)], notices: &mut Notices) {
    let mut keys: Vec<&Key> = entries.iter().map(|(key, _)| key).collect();
    // Equal keys keep the order in which they stand.
    keys.sort_by_key(|key| &key.text);
    for same in keys.chunk_by(|one, other| one.text == other.text) {
        for again in &same[1..] {
            let message = format!("`{}` is given twice", again.text);
            notices.push(
                Notice::error(codes::DUPLICATE_NAME, again.span, message)
                    .label(same[0].span, "first given here"),
            );
        }
    }
}
