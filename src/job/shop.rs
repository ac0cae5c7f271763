//! The shop file: who works there and what it lacks. Kept once, not per job.
//!
//! In: its text. Out: a [`ShopFile`], its text again, and the [`Shop`] that the advice reads.

use crate::advise::Shop;
use crate::job::find::{find_facet_value, find_tool};
use crate::job::problem::JobProblem;
use crate::job::read::{Reader, VERSION};
use crate::job::write::{quoted, words};
use crate::notice::Notices;
use crate::rules::base::RuleBase;
use crate::rules::raw::{Fields, Node};
use crate::source::{SourceId, Sources};

/// Who is at work: how much is explained.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Role {
    /// Learns the trade.
    #[default]
    Apprentice,
    /// Knows it.
    Technician,
    /// Teaches it.
    Trainer,
}

const ROLES: [(&str, Role); 3] = [
    ("technician", Role::Technician),
    ("apprentice", Role::Apprentice),
    ("trainer", Role::Trainer),
];

/// A shop file, with names as written.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ShopFile {
    /// Who is at work.
    pub role: Role,
    /// Tools that it does not have.
    pub lacks: Vec<String>,
    /// Set-up values that it cannot make: facet, values.
    pub cannot: Vec<(String, Vec<String>)>,
}

impl ShopFile {
    /// Reads a shop file.
    ///
    /// # Errors
    /// Everything that is not understood, in order of place.
    pub fn read(file: SourceId, sources: &Sources) -> Result<Self, Notices> {
        let mut reader = Reader::default();
        let tree = reader
            .open(file, sources, "shop")
            .ok_or_else(|| reader.notices.clone())?;
        let shop = Self::of(&mut reader, &tree);
        reader.finish(shop)
    }

    fn of(reader: &mut Reader, tree: &Node) -> Option<Self> {
        let mut fields = Fields::of(tree, tree.span, "a shop file", &mut reader.notices)?;
        fields.take("shop");
        let (role, lacks, cannot) = (
            fields.take("role"),
            fields.take("lacks"),
            fields.take("cannot"),
        );
        fields.finish(&mut reader.notices);
        let mut read = Self {
            role: reader.one_of(role, &ROLES),
            lacks: reader.words(lacks, "tools"),
            cannot: Vec::new(),
        };
        if let Some(cannot) = cannot {
            let facets = Fields::of(
                cannot,
                cannot.span,
                "what the shop cannot do",
                &mut reader.notices,
            )?;
            for (facet, values) in facets.into_entries() {
                read.cannot.push((
                    facet.text.clone(),
                    reader.words(Some(values), "values of the facet"),
                ));
            }
        }
        Some(read)
    }

    /// The shop file as YAML text.
    pub fn write(&self) -> String {
        let role = ROLES
            .iter()
            .find(|(_, role)| *role == self.role)
            .map_or("technician", |(word, _)| word);
        let cannot: Vec<String> = self
            .cannot
            .iter()
            .map(|(facet, values)| format!("{}: {}", quoted(facet), words(values)))
            .collect();
        let (lacks, cannot) = (words(&self.lacks), cannot.join(", "));
        format!("shop: {VERSION}\nrole: {role}\nlacks: {lacks}\ncannot: {{{cannot}}}\n")
    }

    /// Looks up the names.
    ///
    /// # Errors
    /// Every tool, facet and value that the rules do not have.
    pub fn resolve(&self, rules: &RuleBase) -> Result<Shop, Vec<JobProblem>> {
        let (mut shop, mut problems) = (Shop::default(), Vec::new());
        for tool in &self.lacks {
            match find_tool(rules, tool) {
                Ok(tool) => _ = shop.lacks.insert(tool),
                Err(problem) => problems.push(problem),
            }
        }
        for (facet, value) in self
            .cannot
            .iter()
            .flat_map(|(facet, values)| values.iter().map(move |value| (facet, value)))
        {
            match find_facet_value(rules, facet, value) {
                Ok(found) => _ = shop.cannot.insert(found),
                Err(problem) => problems.push(problem),
            }
        }
        if problems.is_empty() {
            Ok(shop)
        } else {
            Err(problems)
        }
    }
}
