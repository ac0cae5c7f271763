//! Entries of repair and what follows it, as job text.

use crate::job::mended::{DrySpell, Filled, RepairDone};
use crate::job::read_mended::UNKNOWN;
use crate::job::write::{flow, quoted, words};

pub(super) fn repaired(done: &RepairDone) -> String {
    let faults = match &done.faults[..] {
        [one] => quoted(one),
        several => words(several),
    };
    let mut fields = vec![("repaired", faults)];
    if !done.how.is_empty() {
        fields.push(("how", quoted(&done.how)));
    }
    if let Some(filled) = &done.refilled {
        fields.extend(filled_fields(filled));
    }
    if let Some(places) = &done.cleaned {
        fields.push(("cleaned", words(places)));
    }
    flow(&fields)
}

pub(super) fn refilled(filled: &Filled) -> String {
    flow(&filled_fields(filled))
}

fn filled_fields(filled: &Filled) -> [(&'static str, String); 2] {
    let percent = filled.percent;
    [
        ("refilled", litres(filled.litres)),
        (
            "percent",
            percent.map_or_else(|| UNKNOWN.to_owned(), |percent| percent.to_string()),
        ),
    ]
}

fn litres(litres: f64) -> String {
    quoted(&format!("{litres} L"))
}

pub(super) fn topped_up(amount: f64) -> String {
    flow(&[("topped_up", litres(amount))])
}

pub(super) fn dry_spell(spell: &DrySpell) -> String {
    flow(&[
        ("dry_spell", quoted(&spell.check)),
        ("days", spell.days.to_string()),
    ])
}

/// A key with a text, and a second one if it says anything.
pub(super) fn said(key: &str, text: &str, beside: &str, more: &str) -> String {
    let mut fields = vec![(key, quoted(text))];
    if !more.is_empty() {
        fields.push((beside, quoted(more)));
    }
    flow(&fields)
}
