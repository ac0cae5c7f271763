//! Raw sections → a rule base and layouts that hold only ids.
//!
//! In: the trees of all files. Out: the rule base and the layouts, and every problem found. Names
//! are collected first, so order and files do not matter; whatever is wrong is reported and
//! replaced by something harmless, so that the rest can still be checked. The checks of the whole
//! ([`whole`]) wait until the parts are right: they would only repeat what is known.

mod blocks;
mod causes;
mod checks;
mod context;
mod layouts;
mod leaks;
mod measured;
mod names;
mod repairs;
mod review;
mod scales;
mod set_ups;
mod signs;
mod values;
mod whole;
mod workshop;

use crate::notice::{Notice, Notices, codes};
use crate::rules::base::RuleBase;
use crate::rules::check::context::Context;
use crate::rules::check::layouts::ReadLayout;
use crate::rules::layout::Layout;
use crate::rules::raw::{Node, RawRules, split};
use crate::rules::spots::{LayoutSpots, Spots};

/// Checks the trees of all files together.
pub fn check(trees: &[Node], mut notices: Notices) -> (RuleBase, Vec<Layout>, Spots, Notices) {
    let (raw, layout_files) = split(trees, &mut notices);
    let mut context = Context::new(&raw, notices);
    let mut rules = RuleBase::default();
    context.read_strengths(&raw);
    context.read_attributes(&raw);
    context.read_scales(&raw, &mut rules);
    context.read_leaks(&raw, &mut rules);
    context.read_set_ups(&raw, &mut rules);
    context.read_repairs(&raw, &mut rules);
    context.read_causes(&raw, &mut rules);
    context.read_checks(&raw, &mut rules);
    context.read_blocks(&raw, &mut rules);
    context.read_retest(&raw, &mut rules);
    context.read_sizes(&raw, &mut rules);
    context.read_sheet(&raw, &mut rules);
    context.read_release(&raw, &mut rules);
    rules.attributes = context.attributes.clone();
    must_have(&raw, trees, &mut context);
    let mut layouts = Vec::new();
    for file in layout_files {
        layouts.push(context.layout(file, &rules));
    }
    context.layouts_apart(&layouts);
    context.read_shares(&raw, &mut rules, &layouts);
    if context.notices.errors() == 0 {
        whole::check(&mut context, &rules, &layouts);
    }
    let spots = spots(&mut context, &rules, &layouts);
    (
        rules,
        layouts.into_iter().map(|read| read.layout).collect(),
        spots,
        context.notices,
    )
}

/// Where things stand. Names are taken from the tables: the rule base may be one with errors.
fn spots(context: &mut Context, rules: &RuleBase, layouts: &[ReadLayout]) -> Spots {
    let tables = &context.tables;
    let of_layout = |read: &ReadLayout| LayoutSpots {
        at: read.at,
        parts: (read.layout.parts.ids())
            .map(|id| read.parts.span(id))
            .collect(),
        scales: read.scales.clone(),
    };
    Spots {
        conditions: (rules.conditions.ids())
            .map(|id| tables.conditions.span(id))
            .collect(),
        faults: context.faults.iter().map(|fault| fault.span).collect(),
        cautions: (rules.cautions.ids())
            .map(|id| tables.cautions.span(id))
            .collect(),
        ways: rules.ways.ids().map(|id| tables.ways.span(id)).collect(),
        way_steps: std::mem::take(&mut context.spots.way_steps),
        checks: (rules.checks.ids())
            .map(|id| tables.checks.span(id))
            .collect(),
        check_steps: std::mem::take(&mut context.spots.check_steps),
        share_rows: std::mem::take(&mut context.spots.share_rows),
        layouts: layouts.iter().map(of_layout).collect(),
    }
}

/// Reports sections without which nothing can be said.
fn must_have(raw: &RawRules, trees: &[Node], context: &mut Context) {
    let Some(first) = trees.iter().find(|tree| tree.get("rules").is_some()) else {
        return;
    };
    for (section, missing) in [
        ("levels", raw.levels.is_empty()),
        ("spaces", raw.spaces.is_empty()),
        ("leak_kinds", raw.leak_kinds.is_empty()),
        ("parts", raw.parts.is_empty()),
    ] {
        if missing {
            let message = format!("no file declares `{section}:`");
            context
                .notices
                .push(Notice::error(codes::MISSING_KEY, first.span, message));
        }
    }
}
