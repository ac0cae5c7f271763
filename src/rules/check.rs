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
mod scales;
mod set_ups;
mod signs;
mod values;
mod whole;
mod workshop;

use crate::notice::{Notice, Notices, codes};
use crate::rules::base::RuleBase;
use crate::rules::check::context::Context;
use crate::rules::layout::Layout;
use crate::rules::raw::{Node, RawRules, split};

/// Checks the trees of all files together.
pub fn check(trees: &[Node], mut notices: Notices) -> (RuleBase, Vec<Layout>, Notices) {
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
    if context.notices.errors() == 0 {
        whole::check(&mut context, &rules, &layouts);
    }
    (
        rules,
        layouts.into_iter().map(|read| read.layout).collect(),
        context.notices,
    )
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
