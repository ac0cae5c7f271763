//! Splits the trees of all files into the sections of the language.
//!
//! In: one tree per file. Out: [`RawRules`], each section with the entries of all files in order,
//! and the layout files. Unknown sections and names given twice are reported here.

use std::collections::BTreeMap;

use crate::notice::{Notice, Notices, codes};
use crate::rules::raw::fields::report_repeats;
use crate::rules::raw::{Fields, Key, Node, Value};
use crate::source::Span;

/// The version of the language that is understood.
const VERSION: &str = "1";

/// A named thing as written.
#[derive(Debug, Clone, Copy)]
pub struct Entry<'n> {
    /// Its name.
    pub key: &'n Key,
    /// What is said of it.
    pub node: &'n Node,
}

/// The entries of one section from all files, each name once.
pub type Section<'n> = Vec<Entry<'n>>;

/// All rules files, by section.
#[derive(Debug, Default)]
#[expect(
    missing_docs,
    reason = "each field is the section of that name in the language"
)]
pub struct RawRules<'n> {
    pub about: Option<Entry<'n>>,
    pub levels: Section<'n>,
    pub strengths: Section<'n>,
    pub certainty: Option<Entry<'n>>,
    pub policy: Option<Entry<'n>>,
    pub attributes: Section<'n>,
    pub duties: Section<'n>,
    pub spaces: Section<'n>,
    pub leak_kinds: Section<'n>,
    pub occasions: Section<'n>,
    pub gathers: Section<'n>,
    pub visibility: Option<Entry<'n>>,
    pub trail: Option<Entry<'n>>,
    pub facets: Section<'n>,
    pub ways: Section<'n>,
    pub never: Vec<&'n Node>,
    pub blocks: Section<'n>,
    pub cautions: Section<'n>,
    pub tools: Section<'n>,
    pub safe_limit_psi: Option<Entry<'n>>,
    pub conditions: Section<'n>,
    pub parts: Section<'n>,
    pub checks: Section<'n>,
    pub repairs: Option<Entry<'n>>,
    pub retest: Section<'n>,
    pub sizes: Section<'n>,
    pub repair_sheet: Option<Entry<'n>>,
    pub release: Option<Entry<'n>>,
    pub shares: Section<'n>,
}

/// One layout file.
#[derive(Debug)]
pub struct LayoutFile<'n> {
    /// Its keys; the version has been taken.
    pub fields: Fields<'n>,
}

/// Splits the trees of all files. Files whose first key is no known version are reported and
/// left out.
pub fn split<'n>(trees: &'n [Node], notices: &mut Notices) -> (RawRules<'n>, Vec<LayoutFile<'n>>) {
    let mut splitter = Splitter {
        notices,
        scales: BTreeMap::new(),
    };
    let mut rules = RawRules::default();
    let mut layouts = Vec::new();
    for tree in trees {
        match splitter.kind_of(tree) {
            Some("rules") => splitter.rules(tree, &mut rules),
            Some(_) => {
                if let Some(mut fields) = Fields::of(tree, tree.span, "a layout", splitter.notices)
                {
                    fields.take("layout");
                    layouts.push(LayoutFile { fields });
                }
            }
            None => {}
        }
    }
    (rules, layouts)
}

struct Splitter<'a, 'n> {
    notices: &'a mut Notices,
    /// Where each ordered scale has been declared.
    scales: BTreeMap<&'static str, &'n Key>,
}

impl<'n> Splitter<'_, 'n> {
    /// What a file says it is, from its first key.
    fn kind_of(&mut self, tree: &'n Node) -> Option<&'n str> {
        let help = "begin the file with `rules: 1` or `layout: 1`";
        let first = match &tree.value {
            Value::Map(entries) => entries.first(),
            _ => None,
        };
        let Some((key, version)) =
            first.filter(|(key, _)| matches!(key.text.as_str(), "rules" | "layout"))
        else {
            let message = "the file does not say what it is";
            self.notices
                .push(Notice::error(codes::UNKNOWN_VERSION, tree.span, message).help(help));
            return None;
        };
        if version.text() != Some(VERSION) {
            let message = format!("this version of `{}` is not known", key.text);
            let help = format!("the known version is {VERSION}");
            self.notices
                .push(Notice::error(codes::UNKNOWN_VERSION, version.span, message).help(help));
            return None;
        }
        Some(&key.text)
    }

    fn rules(&mut self, tree: &'n Node, rules: &mut RawRules<'n>) {
        let Some(mut fields) = Fields::of(tree, tree.span, "a rules file", self.notices) else {
            return;
        };
        fields.take("rules");
        self.single(&mut fields, "about", &mut rules.about);
        self.scale(&mut fields, "levels", &mut rules.levels);
        self.section(&mut fields, "strengths", &mut rules.strengths);
        self.single(&mut fields, "certainty", &mut rules.certainty);
        self.single(&mut fields, "policy", &mut rules.policy);
        self.section(&mut fields, "attributes", &mut rules.attributes);
        self.scale(&mut fields, "duties", &mut rules.duties);
        self.section(&mut fields, "spaces", &mut rules.spaces);
        self.section(&mut fields, "leak_kinds", &mut rules.leak_kinds);
        self.section(&mut fields, "occasions", &mut rules.occasions);
        self.section(&mut fields, "gathers", &mut rules.gathers);
        self.single(&mut fields, "visibility", &mut rules.visibility);
        self.single(&mut fields, "trail", &mut rules.trail);
        self.section(&mut fields, "facets", &mut rules.facets);
        self.section(&mut fields, "ways", &mut rules.ways);
        if let Some(node) = fields.take("never") {
            match node.items() {
                Some(items) => rules.never.extend(items),
                None if node.is_nothing() => {}
                None => self.wrong_kind("never", "a list", node),
            }
        }
        self.section(&mut fields, "blocks", &mut rules.blocks);
        self.section(&mut fields, "cautions", &mut rules.cautions);
        self.section(&mut fields, "tools", &mut rules.tools);
        self.single(&mut fields, "safe_limit_psi", &mut rules.safe_limit_psi);
        self.section(&mut fields, "conditions", &mut rules.conditions);
        self.section(&mut fields, "parts", &mut rules.parts);
        self.section(&mut fields, "checks", &mut rules.checks);
        self.single(&mut fields, "repairs", &mut rules.repairs);
        self.scale(&mut fields, "retest", &mut rules.retest);
        self.section(&mut fields, "sizes", &mut rules.sizes);
        self.single(&mut fields, "repair_sheet", &mut rules.repair_sheet);
        self.single(&mut fields, "release", &mut rules.release);
        self.section(&mut fields, "shares", &mut rules.shares);
        fields.finish(self.notices);
    }

    fn wrong_kind(&mut self, section: &str, wanted: &str, node: &Node) {
        let message = format!("`{section}:` is {wanted}, not {}", node.kind_words());
        self.notices
            .push(Notice::error(codes::WRONG_KIND, node.span, message));
    }

    /// Adds the entries of a file's section to those of earlier files.
    fn section(&mut self, fields: &mut Fields<'n>, name: &'static str, into: &mut Section<'n>) {
        let Some(node) = fields.take(name) else {
            return;
        };
        let Some(entries) = node.entries() else {
            if !node.is_nothing() {
                self.wrong_kind(name, "a map from name to what is said of it", node);
            }
            return;
        };
        report_repeats(entries, self.notices);
        let earlier: BTreeMap<&str, Span> = into
            .iter()
            .map(|entry| (entry.key.text.as_str(), entry.key.span))
            .collect();
        let mut here: Vec<&str> = Vec::new();
        for (key, node) in entries {
            if let Some(first) = earlier.get(key.text.as_str()) {
                let message = format!("`{}` is declared twice", key.text);
                self.notices.push(
                    Notice::error(codes::DUPLICATE_NAME, key.span, message)
                        .label(*first, "first declared here"),
                );
            } else if !here.contains(&key.text.as_str()) {
                here.push(&key.text);
                into.push(Entry { key, node });
            }
        }
    }

    /// Takes a section that may stand in one file only.
    fn single(
        &mut self,
        fields: &mut Fields<'n>,
        name: &'static str,
        into: &mut Option<Entry<'n>>,
    ) {
        let Some((key, node)) = fields.take_entry(name) else {
            return;
        };
        match into {
            Some(first) => {
                let first = first.key.span;
                self.twice(name, key.span, first);
            }
            None => *into = Some(Entry { key, node }),
        }
    }

    /// Takes a section whose order counts, and which may therefore stand in one file only.
    fn scale(&mut self, fields: &mut Fields<'n>, name: &'static str, into: &mut Section<'n>) {
        let Some((key, _)) = fields.take_entry(name) else {
            return;
        };
        if let Some(first) = self.scales.get(name) {
            self.twice(name, key.span, first.span);
        } else {
            self.scales.insert(name, key);
            self.section(fields, name, into);
        }
    }

    fn twice(&mut self, name: &str, span: Span, first: Span) {
        let message = format!("`{name}:` stands in two files, and belongs in one");
        self.notices.push(
            Notice::error(codes::DECLARED_TWICE, span, message)
                .label(first, "first here")
                .help("keep one of them"),
        );
    }
}
