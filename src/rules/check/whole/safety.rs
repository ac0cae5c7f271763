//! No dangerous step without its warning, its block and its permission.

use crate::ids::{FacetId, Id};
use crate::notice::{Notice, codes};
use crate::rules::base::{RuleBase, SetUpNeeds};
use crate::rules::check::context::Context;

/// Checks every check and every way.
pub fn check(context: &mut Context, rules: &RuleBase) {
    for (id, check) in rules.checks.enumerated() {
        let at = context.spots.check_needs[id.index()];
        if let Some(never) = forbidden(rules, &check.needs) {
            let message = format!("`{}` needs a set-up that must never be", check.named.id);
            context.notices.push(refusal(
                context,
                rules,
                never,
                Notice::error(codes::FORBIDDEN_SET_UP, at, message),
            ));
        }
        for (facet, value) in values(&check.needs) {
            let of = &rules.facets[facet];
            let (set_up, value_of) = (
                format!("{}: {}", of.named.id, of.values[value].named.id),
                &of.values[value],
            );
            if value_of.hazard && value_of.caution.is_none() && check.cautions.is_empty() {
                let message = format!(
                    "`{}` needs the hazardous `{set_up}` and gives no caution",
                    check.named.id
                );
                let help = "add `cautions:` to the check, or `caution:` to the value of the facet";
                context
                    .notices
                    .push(Notice::error(codes::NO_CAUTION, at, message).help(help));
            }
            if value_of.blockable && !is_blocked(rules, facet, value) {
                let message = format!(
                    "`{}` needs `{set_up}`, and no block can forbid it",
                    check.named.id
                );
                let help = format!("add a block that `forbids: {{{set_up}}}`");
                context
                    .notices
                    .push(Notice::error(codes::NO_BLOCK, at, message).help(help));
            }
        }
    }
    for (id, way) in rules.ways.enumerated() {
        let mut after: SetUpNeeds = way.needs.clone();
        after.retain(|(facet, _)| way.to.iter().all(|(changed, _)| changed != facet));
        after.extend(way.to.iter().map(|(facet, value)| (*facet, vec![*value])));
        if let Some(never) = forbidden(rules, &after) {
            let message = format!(
                "the way `{}` leads to a set-up that must never be",
                way.named.id
            );
            let at = context.tables.ways.span(id);
            context.notices.push(refusal(
                context,
                rules,
                never,
                Notice::error(codes::FORBIDDEN_SET_UP, at, message),
            ));
        }
    }
}

fn values(needs: &SetUpNeeds) -> Vec<(FacetId, usize)> {
    needs
        .iter()
        .flat_map(|(facet, values)| values.iter().map(|value| (*facet, *value)))
        .collect()
}

fn is_blocked(rules: &RuleBase, facet: FacetId, value: usize) -> bool {
    rules
        .blocks
        .iter()
        .any(|block| values(&block.forbids).contains(&(facet, value)))
}

/// The item of `never:` that forbids every set-up that fits the needs.
pub fn forbidden(rules: &RuleBase, needs: &SetUpNeeds) -> Option<usize> {
    rules.never.iter().position(|never| {
        never.set_up.iter().all(|(facet, banned)| {
            let needed = needs.iter().find(|(known, _)| known == facet);
            needed.is_some_and(|(_, values)| values.iter().all(|value| banned.contains(value)))
        })
    })
}

/// Adds where and why a set-up must never be.
pub fn refusal(context: &Context, rules: &RuleBase, never: usize, notice: Notice) -> Notice {
    notice
        .label(context.spots.never[never], "never this")
        .help(rules.never[never].because.clone())
}
