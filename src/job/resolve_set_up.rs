//! What follows from a check having been done: the set-up that it leaves, what it spoils, the blocks that it
//! raises, the covers that are off.
//!
//! In: a task and its answer. Out: the state of the vehicle after it, in the case.

use crate::advise::{Case, nearest};
use crate::graph::{Asked, Task};
use crate::ids::{CheckId, FacetId, Id, TaskId};
use crate::job::file::Entry;
use crate::job::walk::Walk;

impl Walk<'_> {
    /// What follows from a check having been done: the set-up it needs, and what it spoils.
    pub(super) fn done(&mut self, of: &Task) {
        if self.case.rules.checks[of.check].intake {
            return;
        }
        self.case.set_up.covers_off.extend(of.cover_off);
        match nearest(&self.case, &of.needs) {
            Some(values) => self.case.set_up.values = values,
            None => self.set_up_all_the_same(of),
        }
        self.left_as(&self.case.rules.checks[of.check].leaves);
        self.spoil(of);
    }

    /// The set-up as somebody left it.
    pub(super) fn left_as(&mut self, leaves: &[(FacetId, usize)]) {
        for &(facet, value) in leaves {
            self.case.set_up.values[facet.index()] = value;
        }
    }

    /// The set-up of a check that was done although no legal way leads to it.
    fn set_up_all_the_same(&mut self, of: &Task) {
        let values = &mut self.case.set_up.values;
        for (facet, allowed) in &of.needs {
            let value = &mut values[facet.index()];
            if !allowed.contains(value) {
                *value = allowed.first().copied().unwrap_or(*value);
            }
        }
        // Nobody leaves the rest in a state that must never be: it was put back first.
        for never in &self.case.rules.never {
            if never
                .set_up
                .iter()
                .all(|(facet, bad)| bad.contains(&values[facet.index()]))
            {
                let free = |facet| of.needs.iter().all(|(needed, _)| *needed != facet);
                let back = never
                    .set_up
                    .iter()
                    .find(|(facet, bad)| free(*facet) && !bad.contains(&0));
                if let Some((facet, _)) = back {
                    values[facet.index()] = 0;
                }
            }
        }
    }

    /// Marks the open tasks whose evidence a task destroys: at its place, or of the whole vehicle
    /// for either.
    pub(super) fn spoil(&mut self, of: &Task) {
        let answered = self.case.answered();
        let tasks = self.case.graph.tasks.enumerated();
        let open = |id: TaskId, other: &Task| other.again || !answered.contains(&id);
        let spoiled: Vec<TaskId> = tasks
            .filter(|(id, other)| self.case.spoils(of, other) && open(*id, other))
            .map(|(id, _)| id)
            .collect();
        self.case.spoiled.extend(spoiled);
    }
    /// The blocks that an answer raises.
    pub(super) fn raise_blocks(&mut self, check: CheckId, states: &[(usize, usize)]) {
        for (id, block) in self.case.rules.blocks.enumerated() {
            let raised = block.raised_by.iter().any(|(by, sign, answers)| {
                *by == check
                    && states
                        .iter()
                        .any(|(shown, state)| shown == sign && answers.contains(state))
            });
            if raised && !self.case.blocks.contains(&id) {
                self.case.blocks.push(id);
            }
        }
    }
}

/// The entry that a cover has come off, if what is asked needs that and it is still on.
pub fn uncovered(case: &Case<'_>, asked: &Asked) -> Option<Entry> {
    let cover = asked.cover_off?;
    let id = &case.layout.covers[cover].named.id;
    (!case.set_up.covers_off.contains(&cover)).then(|| Entry::CoversOff(vec![id.clone()]))
}
