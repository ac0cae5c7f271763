//! `rules show SECTION`: the ids of one section of the rule language, with what they stand for.
//!
//! In: the rules and the name of a section, as it is written in the files. Out: one row for each id.

use serde_json::{Value, json};

use crate::ids::{KindId, LeakKindId};
use crate::rules::RuleBase;
use crate::rules::base::{Gather, Named};
use crate::show::{Page, anywhere};

/// The sections of which the ids can be listed.
pub(super) const SECTIONS: [&str; 13] = [
    "attributes",
    "blocks",
    "cautions",
    "checks",
    "conditions",
    "duties",
    "facets",
    "gathers",
    "leak_kinds",
    "occasions",
    "spaces",
    "tools",
    "ways",
];

/// An id, and what it stands for.
pub(super) struct Row {
    id: String,
    says: String,
}

impl Row {
    fn of(named: &Named) -> Self {
        Self::with(named, named.name.clone())
    }

    fn with(named: &Named, says: String) -> Self {
        Self {
            id: named.id.clone(),
            says,
        }
    }
}

/// The rows of a section; none if it is no section that can be listed.
pub(super) fn rows(rules: &RuleBase, section: &str) -> Option<Vec<Row>> {
    let kinds_open = |kinds: &[LeakKindId]| {
        let ids = kinds.iter().map(|&kind| &*rules.leak_kinds[kind].named.id);
        ids.collect::<Vec<_>>().join(", ")
    };
    let rows = match section {
        "attributes" => (rules.attributes.iter())
            .map(|of| {
                let whose = if of.of_vehicle { "vehicle" } else { "part" };
                Row::with(
                    &of.named,
                    format!(
                        "{}, of the {whose}: {}",
                        of.named.name,
                        of.values.join(", ")
                    ),
                )
            })
            .collect(),
        "blocks" => rules.blocks.iter().map(|of| Row::of(&of.named)).collect(),
        "cautions" => (rules.cautions.iter())
            .map(|of| Row::with(&of.named, anywhere(&of.short)))
            .collect(),
        "checks" => (rules.checks.iter())
            .map(|of| Row::with(&of.named, anywhere(&of.named.name)))
            .collect(),
        "conditions" => rules
            .conditions
            .iter()
            .map(|of| Row::of(&of.named))
            .collect(),
        "duties" => rules.duties.iter().map(Row::of).collect(),
        "facets" => (rules.facets.iter())
            .map(|of| {
                let values: Vec<&str> = of.values.iter().map(|of| of.named.id.as_str()).collect();
                Row::with(
                    &of.named,
                    format!("{}: {}", of.named.name, values.join(", ")),
                )
            })
            .collect(),
        "gathers" => (rules.gathers.iter())
            .map(|of| Row::with(&of.named, gather_words(rules, of)))
            .collect(),
        "leak_kinds" => rules
            .leak_kinds
            .iter()
            .map(|of| Row::of(&of.named))
            .collect(),
        "occasions" => (rules.occasions.iter())
            .map(|of| {
                Row::with(
                    &of.named,
                    format!("{}; open: {}", of.named.name, kinds_open(&of.kinds)),
                )
            })
            .collect(),
        "spaces" => (rules.spaces.iter())
            .map(|of| {
                let holds = of.holds.as_ref();
                let holds = holds.map_or_else(String::new, |what| format!("; holds {what}"));
                Row::with(&of.named, format!("{}{holds}", of.named.name))
            })
            .collect(),
        "tools" => rules.tools.iter().map(Row::of).collect(),
        "ways" => rules.ways.iter().map(|of| Row::of(&of.named)).collect(),
        _ => return None,
    };
    Some(rows)
}

/// The section in which an id stands.
pub(super) fn section_of(rules: &RuleBase, id: &str) -> Option<&'static str> {
    SECTIONS.into_iter().find(|section| {
        let rows = rows(rules, section).unwrap_or_default();
        rows.iter().any(|row| row.id == id)
    })
}

/// A gather with what a new part must match to be taken in.
fn gather_words(rules: &RuleBase, gather: &Gather) -> String {
    let mut words = gather.named.name.clone();
    let mut add = |what: &str, ids: Vec<&str>| {
        if !ids.is_empty() {
            words.push_str("; ");
            words.push_str(what);
            words.push(' ');
            words.push_str(&ids.join(", "));
        }
    };
    let kinds = |of: &[KindId]| -> Vec<&str> {
        of.iter()
            .map(|&kind| &*rules.kinds[kind].named.id)
            .collect()
    };
    add(
        "into:",
        (gather.into.iter())
            .map(|&space| &*rules.spaces[space].named.id)
            .collect(),
    );
    add("enters:", gather.enters.as_deref().into_iter().collect());
    add("kinds:", kinds(&gather.kinds));
    add("except:", kinds(&gather.except));
    let only = gather.only.all_of.iter();
    add(
        "where:",
        only.map(|(attribute, _)| &*rules.attributes[*attribute].named.id)
            .collect(),
    );
    words
}

/// Shows the rows.
pub(super) fn text(page: &mut Page, section: &str, rows: &[Row]) {
    page.heading(&format!("`{section}:` ({})", rows.len()));
    for row in rows {
        page.item("·", &format!("{}: {}", row.id, row.says));
    }
}

/// The same for scripts.
pub(super) fn as_json(section: &str, rows: &[Row]) -> Value {
    let rows: Vec<Value> = rows
        .iter()
        .map(|row| json!({"id": row.id, "says": row.says}))
        .collect();
    json!({ section: rows })
}
