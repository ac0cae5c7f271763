//! Names as typed → ids.
//!
//! In: a name from a job file or from the command line. Out: what it names, or a [`JobProblem`]
//! that says what was meant most likely. Ids are compared exactly, names of things without regard
//! to capitals.

use std::collections::BTreeSet;

use crate::graph::CausalGraph;
use crate::ids::{
    BlockId, CheckId, ConditionId, CoverId, FacetId, Id, IdVec, PartId, TaskId, ToolId, ZoneId,
};
use crate::job::problem::JobProblem;
use crate::notice::codes;
use crate::rules::base::{Named, RuleBase, Scope};
use crate::rules::layout::Layout;

/// The position of a name among things with an id and a name.
pub(super) fn position<'n>(
    what: &str,
    written: &str,
    known: impl Iterator<Item = &'n Named> + Clone,
) -> Result<usize, JobProblem> {
    let written = written.trim();
    let by_id = known.clone().position(|named| named.id == written);
    let by_name = || {
        known
            .clone()
            .position(|named| named.name.eq_ignore_ascii_case(written))
    };
    by_id.or_else(by_name).ok_or_else(|| {
        let ids: Vec<&str> = known.map(|named| named.id.as_str()).collect();
        JobProblem::unknown(what, written, &ids)
    })
}

fn in_table<I: Id, T>(
    what: &str,
    written: &str,
    table: &IdVec<I, T>,
    named: fn(&T) -> &Named,
) -> Result<I, JobProblem> {
    position(what, written, table.iter().map(named)).map(I::from_index)
}

/// A part of a layout.
///
/// # Errors
/// There is none of this name.
pub fn find_part(layout: &Layout, written: &str) -> Result<PartId, JobProblem> {
    in_table("place", written, &layout.parts, |part| &part.named)
}

fn find_zone(layout: &Layout, written: &str) -> Result<ZoneId, JobProblem> {
    in_table("zone", written, &layout.zones, |zone| &zone.named)
}

/// A cover of a layout.
///
/// # Errors
/// There is none of this name.
pub fn find_cover(layout: &Layout, written: &str) -> Result<CoverId, JobProblem> {
    in_table("cover", written, &layout.covers, |cover| &cover.named)
}

/// A check of the rules.
///
/// # Errors
/// There is none of this name.
pub fn find_check(rules: &RuleBase, written: &str) -> Result<CheckId, JobProblem> {
    in_table("check", written, &rules.checks, |check| &check.named)
}

/// A condition of the rules.
///
/// # Errors
/// There is none of this name.
pub fn find_condition(rules: &RuleBase, written: &str) -> Result<ConditionId, JobProblem> {
    in_table("condition", written, &rules.conditions, |condition| {
        &condition.named
    })
}

/// A block of the rules.
///
/// # Errors
/// There is none of this name.
pub fn find_block(rules: &RuleBase, written: &str) -> Result<BlockId, JobProblem> {
    in_table("block", written, &rules.blocks, |block| &block.named)
}

/// A tool of the rules.
pub(super) fn find_tool(rules: &RuleBase, written: &str) -> Result<ToolId, JobProblem> {
    in_table("tool", written, &rules.tools, |tool| tool)
}

/// A facet of the set-up and one of its values.
///
/// # Errors
/// There is no such facet, or it has no such value.
pub fn find_facet_value(
    rules: &RuleBase,
    facet: &str,
    value: &str,
) -> Result<(FacetId, usize), JobProblem> {
    let id = in_table("facet of the set-up", facet, &rules.facets, |facet| {
        &facet.named
    })?;
    let values = rules.facets[id].values.iter().map(|value| &value.named);
    Ok((id, position(&format!("value of `{facet}`"), value, values)?))
}

/// A cause, as its position in the graph's causes. The fault is written `fault`, `kind.fault` or
/// `fault@place`; the place may be left out where only one has the fault.
///
/// # Errors
/// No such fault, no such place, no such fault at the place, or several places to choose from.
pub fn find_cause(
    rules: &RuleBase,
    layout: &Layout,
    graph: &CausalGraph,
    fault: &str,
    at: Option<&str>,
) -> Result<usize, JobProblem> {
    let (fault, at) = match (fault.split_once('@'), at) {
        (Some((fault, at)), None) => (fault.trim(), Some(at)),
        _ => (fault.trim(), at),
    };
    let part = at.map(|at| find_part(layout, at)).transpose()?;
    let here = |cause: usize| part.is_none_or(|part| graph.causes[cause].place.part == part);
    let ids = |cause: usize| {
        let of = &rules.faults[graph.causes[cause].place.fault];
        (
            of.named.id.as_str(),
            format!("{}.{}", rules.kinds[of.kind].named.id, of.named.id),
        )
    };
    let all = 0..graph.causes.len();
    let matching: Vec<usize> = all
        .clone()
        .filter(|cause| here(*cause))
        .filter(|cause| {
            let (short, full) = ids(*cause);
            short == fault || full == fault
        })
        .collect();
    match matching[..] {
        [cause] => Ok(cause),
        [] => {
            let known: BTreeSet<&str> = all
                .filter(|cause| here(*cause))
                .map(|cause| ids(cause).0)
                .collect();
            let known: Vec<&str> = known.into_iter().collect();
            let what = part.map_or_else(
                || "fault".to_owned(),
                |part| format!("fault at {}:", layout.parts[part].named.name),
            );
            Err(JobProblem::unknown(&what, fault, &known))
        }
        _ => {
            let places: Vec<&str> = matching
                .iter()
                .map(|&cause| {
                    layout.parts[graph.causes[cause].place.part]
                        .named
                        .id
                        .as_str()
                })
                .collect();
            let message = format!("`{fault}` can be at {} places", places.len());
            Err(JobProblem::new(codes::MISSING_KEY, message)
                .help(format!("add `at:` with one of {}", list(&places))))
        }
    }
}

/// The task of a check at a place, in a zone (for a sweep) or of the whole vehicle. Where a cover
/// is over the place: the task with the cover off if it is off, else the one with the cover on,
/// else, if there is none, the one that needs it off.
///
/// # Errors
/// No such check or place, a place missing or too many, or a check that cannot be done there.
pub fn find_task(
    rules: &RuleBase,
    layout: &Layout,
    graph: &CausalGraph,
    check: &str,
    at: Option<&str>,
    covers_off: &BTreeSet<CoverId>,
) -> Result<TaskId, JobProblem> {
    let id = find_check(rules, check)?;
    let mine: Vec<TaskId> = graph
        .tasks
        .enumerated()
        .filter(|(_, task)| task.check == id)
        .map(|(task, _)| task)
        .collect();
    let of_vehicle = rules.checks[id].scope == Scope::Vehicle;
    if mine.is_empty() {
        let message = format!(
            "`{check}` cannot be done on this vehicle ({})",
            layout.named.name
        );
        return Err(JobProblem::new(codes::NOT_HERE, message)
            .help("take the entry out, or choose the vehicle's own layout"));
    }
    let places = || -> Vec<&str> {
        let mut ids: Vec<&str> = Vec::new();
        for &task in &mine {
            let of = &graph.tasks[task];
            let part = of.part.map(|part| layout.parts[part].named.id.as_str());
            let zone = of.zone.map(|zone| layout.zones[zone].named.id.as_str());
            ids.extend(part.or(zone).filter(|place| !ids.contains(place)));
        }
        ids
    };
    let at = match (at, of_vehicle) {
        (None, true) => return Ok(mine[0]),
        (Some(at), true) => {
            let message = format!("`{check}` is done once for the whole vehicle, not at `{at}`");
            return Err(JobProblem::new(codes::NOT_HERE, message).help("leave out `at:`"));
        }
        (None, false) => {
            let message = format!("`{check}` needs a place");
            return Err(JobProblem::new(codes::MISSING_KEY, message)
                .help(format!("add `at:` with one of {}", list(&places()))));
        }
        (Some(at), false) => at,
    };
    let (part, zone) = if matches!(rules.checks[id].scope, Scope::Sweep(_)) {
        (None, Some(find_zone(layout, at)?))
    } else {
        (Some(find_part(layout, at)?), None)
    };
    let mut there = mine.iter().copied().filter(|&task| match zone {
        Some(_) => graph.tasks[task].zone == zone,
        None => graph.tasks[task].part == part,
    });
    // Smaller is better; of equals the first is taken.
    let rank = |task: &TaskId| match (graph.tasks[*task].cover_off, graph.tasks[*task].cover_on) {
        (Some(cover), _) if covers_off.contains(&cover) => 0,
        (None, Some(cover)) if covers_off.contains(&cover) => 3,
        (None, None) => 0,
        (_, Some(_)) => 1,
        (Some(_), None) => 2,
    };
    there.by_ref().min_by_key(rank).ok_or_else(|| {
        JobProblem::new(
            codes::NOT_HERE,
            format!("`{check}` cannot be done at `{at}`"),
        )
        .help(elsewhere_or_otherwise(rules, graph, part, &places()))
    })
}

/// Where else a check can be done, and what can be done at the place instead.
fn elsewhere_or_otherwise(
    rules: &RuleBase,
    graph: &CausalGraph,
    part: Option<PartId>,
    places: &[&str],
) -> String {
    let here = graph
        .tasks
        .iter()
        .filter(|task| task.part.is_some() && task.part == part);
    let mut checks: Vec<&str> = here
        .map(|task| &rules.checks[task.check].named.id[..])
        .collect();
    checks.dedup();
    let places = list(places);
    if checks.is_empty() {
        return format!("it can be done at {places}");
    }
    format!(
        "what can be done there: {}; it can itself be done at {places}",
        list(&checks)
    )
}

/// Some names, in words; a long list is cut.
pub(super) fn list(names: &[&str]) -> String {
    const SHOWN: usize = 12;
    let more = names.len().saturating_sub(SHOWN);
    let shown = names[..names.len() - more].join(", ");
    if more == 0 {
        shown
    } else {
        format!("{shown} and {more} more")
    }
}
