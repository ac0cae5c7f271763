//! Faults that nothing can show.
//!
//! A fault shows if a sign reads it, reads a leak that it can make, or reads a fault that it
//! raises. Attributes are not looked at: a fault that could be shown on some vehicle is let pass.

use crate::ids::{FaultId, Id, KindId, LeakKindId};
use crate::notice::{Notice, codes};
use crate::rules::base::{Check, Gather, Raiser, Reading, RuleBase, Scope};
use crate::rules::check::context::Context;
use crate::rules::check::layouts::ReadLayout;

/// Reports every fault that no sign can show.
pub fn check(context: &mut Context, rules: &RuleBase, layouts: &[ReadLayout]) {
    let mut shown = vec![false; rules.faults.len()];
    for check in &rules.checks {
        for reading in check.signs.iter().flat_map(|sign| &sign.reads) {
            for (id, _) in rules.faults.enumerated() {
                let so_far = &mut shown[id.index()];
                *so_far = *so_far || shows(rules, layouts, check, &reading.of, id);
            }
        }
    }
    // What raises something that shows, shows through it.
    loop {
        let mut more = false;
        for (id, fault) in rules.faults.enumerated() {
            if !shown[id.index()] {
                continue;
            }
            for raise in &fault.raised_by {
                for (by, candidate) in rules.faults.enumerated() {
                    let raises = match &raise.by {
                        Raiser::Condition(_) => false,
                        Raiser::Fault(from) => *from == by,
                        Raiser::Partner { fault, .. } => candidate.named.id == *fault,
                    };
                    if raises && !shown[by.index()] {
                        shown[by.index()] = true;
                        more = true;
                    }
                }
            }
        }
        if !more {
            break;
        }
    }
    for (id, fault) in rules.faults.enumerated() {
        if shown[id.index()] {
            continue;
        }
        let at = context.faults[id].span;
        let message = format!("nothing can show the fault `{}`", context.full_name(id));
        let help = if fault.leaks.is_empty() {
            "it makes no leak: let a sign read the fault itself"
        } else {
            "no sign reads a leak of its kind on an occasion when it is open"
        };
        context
            .notices
            .push(Notice::error(codes::NOTHING_SHOWS, at, message).help(help));
    }
}

fn shows(
    rules: &RuleBase,
    layouts: &[ReadLayout],
    check: &Check,
    reading: &Reading,
    fault: FaultId,
) -> bool {
    let this = &rules.faults[fault];
    let open: &[LeakKindId] = check.occasion.map_or(&[], |id| &rules.occasions[id].kinds);
    let leaks = this
        .leaks
        .iter()
        .any(|(kind, _, chance)| open.contains(kind) && *chance > 0.0);
    match reading {
        Reading::FaultHere(id) | Reading::FaultAnywhere(id) => *id == fault,
        Reading::FaultOf(_, name) => this.named.id == *name,
        Reading::LeakOf(_) => leaks,
        Reading::LeakHere => leaks && is_at(check, this.kind),
        Reading::WetHere => {
            leaks && (is_at(check, this.kind) || runs_to(layouts, check, this.kind))
        }
        Reading::Gather(id) => leaks && takes(rules, &rules.gathers[*id], this.kind),
        Reading::Condition(_) => false,
    }
}

fn is_at(check: &Check, kind: KindId) -> bool {
    matches!(&check.scope, Scope::Parts(kinds) if kinds.contains(&kind))
}

/// Whether on some layout wetness runs from a part of this kind to one that the check looks at.
fn runs_to(layouts: &[ReadLayout], check: &Check, kind: KindId) -> bool {
    layouts.iter().any(|read| {
        let parts = &read.layout.parts;
        let mut seen = vec![false; parts.len()];
        let mut open: Vec<_> = parts
            .enumerated()
            .filter(|(_, part)| part.kind == kind)
            .map(|(id, _)| id)
            .collect();
        while let Some(part) = open.pop() {
            if std::mem::replace(&mut seen[part.index()], true) {
                continue;
            }
            if is_at(check, parts[part].kind) {
                return true;
            }
            open.extend(parts[part].runs_down_to.iter().map(|(below, _)| *below));
        }
        false
    })
}

/// Whether a gather takes the leaks of a kind of part, whatever its attributes.
fn takes(rules: &RuleBase, gather: &Gather, kind: KindId) -> bool {
    let into = rules.kinds[kind].into;
    let enters = gather.enters.as_ref().is_none_or(|what| {
        let held = rules.spaces[into].holds.as_ref() == Some(what);
        let mut duties = 0..rules.duties.len();
        held && duties.any(|duty| {
            (gather.during.is_empty() || gather.during.contains(&duty)) && rules.enters(into, duty)
        })
    });
    enters
        && (gather.into.is_empty() || gather.into.contains(&into))
        && (gather.kinds.is_empty() || gather.kinds.contains(&kind))
        && !gather.except.contains(&kind)
}
