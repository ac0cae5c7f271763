//! Checks never worth asking.
//!
//! A reading is worth what the answer tells, at even odds, between a state of what is read and its
//! absence, when nothing else pushes: no finding on any vehicle can be worth more at even odds. A
//! check whose best reading is worth too little on every layout can be dropped. So can one that
//! another outdoes wherever it can be done: the other reads the same on the same occasion, each
//! state of it at least as well, needs no more of set-up, tools and minutes, and spoils no more.
//! Questions of the complaint cost nobody a step: they outdo nothing and nothing outdoes them.

use std::collections::BTreeMap;

use crate::graph::{CausalGraph, Task};
use crate::ids::{CheckId, Id, IdVec, TaskId, VarId};
use crate::notice::{Notice, Notices, codes};
use crate::rules::RuleBase;
use crate::rules::base::{Check, Scope};
use crate::rules::spots::Spots;
use crate::train::alone::divergence_bits;
use crate::train::readers::Readers;

/// Rounding when two readings are compared, bits.
const SAME: f64 = 1e-9;

/// What has been seen of each check over all layouts.
pub(super) struct Worth {
    /// The best reading so far, bits; `None` where no layout can do the check.
    best: IdVec<CheckId, Option<f64>>,
    /// The checks that outdid it wherever it could be done; `None` before the first.
    outdone_by: IdVec<CheckId, Option<Vec<CheckId>>>,
}

impl Worth {
    pub fn new(rules: &RuleBase) -> Self {
        let (mut best, mut outdone_by) = (IdVec::new(), IdVec::new());
        for _ in &rules.checks {
            best.push(None);
            outdone_by.push(None);
        }
        Self { best, outdone_by }
    }

    /// Looks at one layout.
    pub fn look(&mut self, rules: &RuleBase, graph: &CausalGraph, readers: &Readers<'_>) {
        let tasks: Vec<(TaskId, Readings)> = (graph.tasks.enumerated())
            .filter(|(_, task)| {
                let swept = matches!(rules.checks[task.check].scope, Scope::Sweep(_));
                !swept && task.cover_on.is_none()
            })
            .map(|(id, task)| (id, readings(graph, readers, task)))
            .collect();
        for (id, own) in &tasks {
            let task = &graph.tasks[*id];
            let bits = own.values().flatten().copied().fold(0.0, f64::max);
            let best = &mut self.best[task.check];
            *best = Some(best.map_or(bits, |best| best.max(bits)));
            let better: Vec<CheckId> = tasks
                .iter()
                .filter(|(other, read)| outdoes(rules, (&graph.tasks[*other], read), (task, own)))
                .map(|(other, _)| graph.tasks[*other].check)
                .collect();
            let outdone = &mut self.outdone_by[task.check];
            match outdone {
                Some(before) => before.retain(|check| better.contains(check)),
                None => *outdone = Some(better),
            }
        }
    }

    /// Gives the advice.
    pub fn tell(&self, rules: &RuleBase, spots: &Spots, notices: &mut Notices) {
        let least = rules.policy.review.worth_asking_bits;
        for (id, check) in rules.checks.enumerated() {
            let Some(bits) = self.best[id] else { continue };
            let outdone = self.outdone_by[id].as_ref().and_then(|by| by.first());
            let (message, help) = if bits < least {
                (
                    format!(
                        "`{}` is never worth asking: its best reading tells {bits:.3} bits at even odds",
                        check.named.id
                    ),
                    format!(
                        "less than {least} bits move nobody: drop it, or say what it shows more clearly"
                    ),
                )
            } else if let Some(by) = outdone {
                let by = &rules.checks[*by].named.id;
                (
                    format!(
                        "`{}` is never worth asking first: `{by}` reads the same at least as well and asks no more",
                        check.named.id
                    ),
                    "drop it, or say what it can that the other cannot".to_owned(),
                )
            } else {
                continue;
            };
            let notice = Notice::advice(codes::NOT_WORTH_ASKING, spots.check(id), message);
            notices.push(notice.help(help));
        }
    }
}

/// What each state of each node that a task reads is worth, bits, over all its signs.
type Readings = BTreeMap<VarId, Vec<f64>>;

fn readings(graph: &CausalGraph, readers: &Readers<'_>, task: &Task) -> Readings {
    let mut read = Readings::new();
    for &sign in &task.signs {
        for parent in graph.network.parents(sign) {
            if let Some(pushed) = readers.pushed(sign, parent)
                && readers.bears_on_a_fault(sign, parent)
            {
                let worth =
                    (pushed.present.iter()).map(|present| divergence_bits(&pushed.absent, present));
                let sums = read
                    .entry(parent)
                    .or_insert_with(|| vec![0.0; pushed.present.len()]);
                sums.iter_mut()
                    .zip(worth)
                    .for_each(|(sum, bits)| *sum += bits);
            }
        }
    }
    read
}

/// Whether one task makes another needless. Of two equals the earlier one does.
fn outdoes(
    rules: &RuleBase,
    (one, reads): (&Task, &Readings),
    (other, wanted): (&Task, &Readings),
) -> bool {
    let (by, of) = (&rules.checks[one.check], &rules.checks[other.check]);
    if one.check == other.check || wanted.is_empty() || one.part != other.part || of.intake {
        return false;
    }
    let as_well = |own: &Vec<f64>, bits: &Vec<f64>| {
        let mut states = own.iter().zip(bits);
        states.all(|(own, bits)| own + SAME >= *bits)
    };
    let reads_the_same = by.occasion == of.occasion
        && reads.keys().eq(wanted.keys())
        && reads
            .values()
            .zip(wanted.values())
            .all(|(own, bits)| as_well(own, bits));
    let needs_no_more = (one.needs.iter()).all(|(facet, values)| {
        let needed = other.needs.iter().find(|(known, _)| known == facet);
        needed.is_some_and(|(_, needed)| needed.iter().all(|value| values.contains(value)))
    });
    let covers = one.cover_off.is_none() || one.cover_off == other.cover_off;
    let quicker = one.minutes <= other.minutes && one.waiting <= other.waiting;
    let same_use = !by.intake && by.measured.is_some() >= of.measured.is_some();
    let equal = one.minutes >= other.minutes
        && one.waiting >= other.waiting
        && one.check.index() > other.check.index();
    reads_the_same
        && needs_no_more
        && covers
        && quicker
        && same_use
        && asks_no_more(by, of)
        && !equal
}

fn asks_no_more(by: &Check, of: &Check) -> bool {
    by.tools.iter().all(|tool| of.tools.contains(tool))
        && by.spoils.iter().all(|spoilt| of.spoils.contains(spoilt))
}
