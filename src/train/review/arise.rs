//! Faults that can't arise on a layout, though it has the kind of part.
//!
//! An attribute that a part does not state fits no `where:`. So a joint whose metal nobody wrote
//! down silently has none of the faults that depend on it.

use std::collections::BTreeMap;

use crate::ids::{AttributeId, FaultId, Id, PartId};
use crate::notice::{Notice, Notices, codes};
use crate::rules::base::{RuleBase, Where};
use crate::rules::layout::Layout;
use crate::rules::spots::LayoutSpots;

/// Gives advice on one layout.
pub(super) fn check(rules: &RuleBase, layout: &Layout, spots: &LayoutSpots, notices: &mut Notices) {
    for (id, part) in layout.parts.enumerated() {
        let kind = &rules.kinds[part.kind];
        let named: Vec<FaultId> = (kind.faults.iter().copied())
            .filter(|&fault| !rules.faults[fault].other)
            .collect();
        let fits = |fault: &FaultId| layout.holds(&rules.faults[*fault].only, Some(id));
        let mut lost: BTreeMap<AttributeId, Vec<&str>> = BTreeMap::new();
        for fault in named.iter().filter(|fault| !fits(fault)) {
            let fault = &rules.faults[*fault];
            if let Some(attribute) = unstated(layout, &fault.only, id) {
                lost.entry(attribute).or_default().push(&fault.named.id);
            }
        }
        for (attribute, faults) in &lost {
            let attribute = &rules.attributes[*attribute];
            let message = format!(
                "{} cannot arise at `{}`: it does not state its `{}`",
                quoted(faults),
                part.named.id,
                attribute.named.id
            );
            let help = format!(
                "{}: one of {}",
                attribute.named.name,
                attribute.values.join(", ")
            );
            let notice = Notice::advice(codes::CANNOT_ARISE, spots.part(id), message);
            notices.push(notice.help(help));
        }
        if lost.is_empty() && !named.is_empty() && !named.iter().any(fits) {
            let message = format!(
                "no named fault of `{}` can arise at `{}`",
                kind.named.id, part.named.id
            );
            let help =
                "mend its attributes or the `where:` of the faults, or give the part another kind";
            let notice = Notice::advice(codes::CANNOT_ARISE, spots.part(id), message);
            notices.push(notice.help(help));
        }
    }
    for (position, scale) in layout.scales.iter().enumerate() {
        let fault = &rules.faults[scale.fault];
        let somewhere = layout
            .parts
            .enumerated()
            .any(|(id, part)| part.kind == fault.kind && layout.holds(&fault.only, Some(id)));
        if !somewhere {
            let message = format!(
                "`{}` scales the fault `{}.{}`, which cannot arise there",
                layout.named.id, rules.kinds[fault.kind].named.id, fault.named.id
            );
            let help = "drop the item, or add the part that can have it";
            let notice = Notice::advice(codes::CANNOT_ARISE, spots.scale(position), message);
            notices.push(notice.help(help));
        }
    }
}

/// The first attribute of parts that a condition asks for and the part does not state, if all else
/// fits.
fn unstated(layout: &Layout, condition: &Where, part: PartId) -> Option<AttributeId> {
    let value = |attribute: AttributeId| {
        layout.parts[part].attributes[attribute.index()].or(layout.vehicle[attribute.index()])
    };
    let mut missing = None;
    for (attribute, allowed) in &condition.all_of {
        match value(*attribute) {
            Some(value) if !allowed.contains(&value) => return None,
            Some(_) => {}
            None => missing = missing.or(Some(*attribute)),
        }
    }
    missing
}

fn quoted(names: &[&str]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
    quoted.join(", ")
}
