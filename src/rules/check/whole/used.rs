//! Checks, kinds and faults that no layout has a use for.

use crate::ids::Id;
use crate::notice::{Notice, codes};
use crate::rules::base::{Check, RuleBase, Scope, Where};
use crate::rules::check::context::Context;
use crate::rules::check::layouts::ReadLayout;
use crate::rules::layout::Layout;

/// Gives advice on what no layout uses.
pub fn check(context: &mut Context, rules: &RuleBase, layouts: &[ReadLayout]) {
    let layouts: Vec<&Layout> = layouts.iter().map(|read| &read.layout).collect();
    let mut used = vec![false; rules.kinds.len()];
    for part in layouts.iter().flat_map(|layout| layout.parts.iter()) {
        used[part.kind.index()] = true;
    }
    for (id, kind) in rules.kinds.enumerated() {
        if !used[id.index()] {
            let message = format!("no layout has a part of the kind `{}`", kind.named.id);
            let at = context.tables.kinds.span(id);
            context.notices.push(
                Notice::advice(codes::UNUSED_KIND, at, message)
                    .help("add one to a layout, or drop the kind"),
            );
        }
    }
    for (id, fault) in rules.faults.enumerated() {
        let here = |layout: &&Layout| {
            let mut parts = layout.parts.enumerated();
            parts.any(|(part, it)| it.kind == fault.kind && layout.holds(&fault.only, Some(part)))
        };
        if used[fault.kind.index()] && !layouts.iter().any(here) {
            let message = format!(
                "the fault `{}` is possible on no layout",
                context.full_name(id)
            );
            let help = format!("no part fits its `where: {}`", words(rules, &fault.only));
            let at = context.faults[id].span;
            context
                .notices
                .push(Notice::advice(codes::IMPOSSIBLE_FAULT, at, message).help(help));
        }
    }
    for (id, check) in rules.checks.enumerated() {
        if !layouts.iter().any(|layout| usable(rules, layout, check)) {
            let message = format!("no layout can use the check `{}`", check.named.id);
            let help = match &check.scope {
                Scope::Sweep(_) => {
                    "no layout has two places of the swept check in one zone".to_owned()
                }
                _ if check.only == Where::default() => {
                    "no layout has a part of these kinds".to_owned()
                }
                _ => format!("nothing fits its `where: {}`", words(rules, &check.only)),
            };
            let at = context.tables.checks.span(id);
            context
                .notices
                .push(Notice::advice(codes::UNUSED_CHECK, at, message).help(help));
        }
    }
}

fn usable(rules: &RuleBase, layout: &Layout, check: &Check) -> bool {
    let fitting = |check: &Check| -> Vec<_> {
        let Scope::Parts(kinds) = &check.scope else {
            return Vec::new();
        };
        let parts = layout.parts.enumerated();
        let fits = parts.filter(|(id, part)| {
            kinds.contains(&part.kind) && layout.holds(&check.only, Some(*id))
        });
        fits.map(|(_, part)| part.zone).collect()
    };
    match &check.scope {
        Scope::Vehicle => layout.holds(&check.only, None),
        Scope::Parts(_) => !fitting(check).is_empty(),
        Scope::Sweep(of) => {
            let zones = fitting(&rules.checks[*of]);
            let twice = |zone| zones.iter().filter(|known| **known == Some(zone)).count() >= 2;
            layout.holds(&check.only, None) && layout.zones.ids().any(twice)
        }
    }
}

/// A `where:` as written.
fn words(rules: &RuleBase, condition: &Where) -> String {
    let one = |(attribute, values): &(crate::ids::AttributeId, Vec<usize>)| {
        let attribute = &rules.attributes[*attribute];
        let values: Vec<&str> = values
            .iter()
            .map(|value| attribute.values[*value].as_str())
            .collect();
        format!("{}: [{}]", attribute.named.id, values.join(", "))
    };
    format!(
        "{{{}}}",
        condition
            .all_of
            .iter()
            .map(one)
            .collect::<Vec<_>>()
            .join(", ")
    )
}
