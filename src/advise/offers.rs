//! What can be done next, before anything is weighed.
//!
//! In: a [`Case`]. Out: [`Offers`]: every task that still has something to tell, with the cheapest
//! legal way to its set-up; what a block forbids is named apart.

use std::collections::BTreeSet;

use crate::advise::case::Case;
use crate::advise::journey::{Journey, Reach, Step};
use crate::graph::{Asked, Task};
use crate::ids::{BlockId, CoverId, TaskId, ToolId};
use crate::rules::base::{Scope, SetUpNeeds};

/// A task that can be done, and the way to its set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// The task as a question.
    pub asked: Asked,
    /// The way to its set-up.
    pub journey: Journey,
}

impl Offer {
    /// Minutes of the task and the way to it, waiting weighted; never under half a minute.
    pub fn minutes(&self, case: &Case<'_>) -> f64 {
        let task = &case.graph.tasks[self.asked.task];
        case.minutes(task) + self.journey.cost(case.waiting_counts)
    }
}

/// What can be done next, before anything is weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct Offers {
    /// Tasks that can be done.
    pub open: Vec<Offer>,
    /// Questions of the complaint that have no answer yet, in the order of the rules.
    pub intake: Vec<TaskId>,
    /// Tasks that a block forbids now, with the block.
    pub blocked: Vec<(TaskId, BlockId)>,
    /// Tasks for which the shop lacks a tool, with the first that it lacks.
    pub lacking: Vec<(TaskId, ToolId)>,
}

/// So often a check is offered in one state of the vehicle. The rules count each time anew; in a workshop
/// misses and false alarms of one check have something in common, and nobody watches for bubbles ten times.
const MOST_TIMES: usize = 4;

/// What a task needs, and the cover that must be off for it.
type Goal<'a> = (&'a SetUpNeeds, Option<CoverId>);

/// Everything that still has something to tell, with the cheapest legal way to it. What the shop
/// can't do is left out.
pub fn offers(case: &Case<'_>) -> Offers {
    let reach = Reach::search(case);
    // Many tasks take the same set-up: each is looked up once.
    let mut ways: Vec<(Goal<'_>, Option<Journey>)> = Vec::new();
    // With every tool at hand: what can be reached only so is left out for want of one.
    let equipped = (!case.shop.lacks.is_empty()).then(|| {
        let mut equipped = case.clone();
        equipped.shop.lacks.clear();
        equipped
    });
    let with_all_tools = equipped.as_ref().map(Reach::search);
    let mut quickest = |needs, cover_off| {
        let known = ways.iter().find(|(to, _)| *to == (needs, cover_off));
        if let Some((_, way)) = known {
            return way.clone();
        }
        let way = reach.to(needs, cover_off);
        ways.push(((needs, cover_off), way.clone()));
        way
    };
    let mut offers = Offers {
        open: Vec::new(),
        intake: Vec::new(),
        blocked: Vec::new(),
        lacking: Vec::new(),
    };
    for asked in open_tasks(case) {
        let task = &case.graph.tasks[asked.task];
        let check = &case.rules.checks[task.check];
        if check.intake {
            // The complaint speaks of what was so before any repair: it is asked no more.
            if case.mended().next().is_some() {
                continue;
            }
            offers.intake.push(asked.task);
        }
        let lacks = |tool: &&ToolId| case.shop.lacks.contains(*tool);
        if let Some(&tool) = check.tools.iter().find(lacks) {
            offers.lacking.push((asked.task, tool));
            continue;
        }
        if let Some(block) = case.forbidding(&check.meanwhile) {
            offers.blocked.push((asked.task, block));
        } else if let Some(journey) = quickest(&task.needs, asked.cover_off) {
            offers.open.push(Offer { asked, journey });
        } else if let Some(block) = blocking(case, task) {
            offers.blocked.push((asked.task, block));
        } else if let Some(way) =
            (with_all_tools.as_ref()).and_then(|reach| reach.to(&task.needs, asked.cover_off))
        {
            let tools = way.steps.iter().flat_map(|&step| tools_of(case, step));
            let lacks = tools.filter(|tool| case.shop.lacks.contains(*tool)).min();
            offers.lacking.extend(lacks.map(|&tool| (asked.task, tool)));
        }
    }
    offers
}

/// The tools that a step on a way takes.
fn tools_of<'a>(case: &Case<'a>, step: Step) -> &'a [ToolId] {
    match step {
        Step::Way(way) => &case.rules.ways[way].tools,
        Step::Cover(_) => &[],
    }
}

/// The block that keeps a task from being done, if one does.
fn blocking(case: &Case<'_>, task: &Task) -> Option<BlockId> {
    let forbids = |block: &&BlockId| {
        case.rules.blocks[**block]
            .forbids
            .iter()
            .any(|(facet, not)| {
                task.needs.iter().any(|(needed, values)| {
                    needed == facet && values.iter().all(|value| not.contains(value))
                })
            })
    };
    case.blocks.iter().find(forbids).copied()
}

/// The questions of the complaint that are open, in the order of the rules.
pub fn open_intake(case: &Case<'_>) -> Vec<Asked> {
    let intake = |asked: &Asked| case.rules.checks[case.graph.tasks[asked.task].check].intake;
    let open = if case.mended().next().is_some() {
        Vec::new()
    } else {
        open_tasks(case)
    };
    open.into_iter().filter(intake).collect()
}

/// Whether a check was done so often in the present state that it is offered no more.
pub(super) fn is_used_up(case: &Case<'_>, task: TaskId) -> bool {
    let task = &case.graph.tasks[task];
    let first_sign = task.signs.first().filter(|_| task.again);
    first_sign.is_some_and(|&sign| case.graph.states.times_before(sign) >= MOST_TIMES)
}

/// The tasks that still have something to tell.
fn open_tasks(case: &Case<'_>) -> Vec<Asked> {
    // What can't be done, or can't be done any more; and beside it what has been done.
    let shut: BTreeSet<TaskId> = case.passed_over.union(&case.spoiled).copied().collect();
    let gone: BTreeSet<TaskId> = case.answered().union(&shut).copied().collect();
    let tasks = case.graph.tasks.ids();
    let shut: BTreeSet<TaskId> = tasks
        .filter(|&task| is_used_up(case, task))
        .chain(shut)
        .collect();
    let repaired = case.mended().next().is_some();
    let mut open = Vec::new();
    for (id, task) in case.graph.tasks.enumerated() {
        let check = &case.rules.checks[task.check];
        if check.once_repaired && !repaired {
            continue;
        }
        let gone = if task.again { &shut } else { &gone };
        if gone.contains(&id) {
            continue;
        }
        // With its cover off a place is looked at as it is; with the cover on nobody
        // looks at it as if it were off.
        if task
            .cover_on
            .is_some_and(|cover| case.set_up.covers_off.contains(&cover))
        {
            continue;
        }
        let (rules, layout) = (case.rules, case.layout);
        let covers_off = &case.set_up.covers_off;
        let asked = (case.graph).ask_uncovering(rules, layout, id, covers_off, gone);
        if matches!(check.scope, Scope::Sweep(_)) && asked.places.len() < 2 {
            continue;
        }
        open.push(asked);
    }
    open
}
