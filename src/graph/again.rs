//! A causal graph × checks that have been done and can be done again in the same state → the graph with
//! what they would show then.
//!
//! In: a [`CausalGraph`] and tasks of checks whose repeats are independent. Out: the same graph with a
//! newer node for each sign of these tasks: it reads what the earlier one reads, and its misses and false
//! alarms are drawn anew. The tasks point at the newer nodes; earlier findings keep speaking of the earlier.
//!
//! Example: a level that was marked for a week is marked for a second one.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::graph::node::Arrow;
use crate::graph::renew::SINCE;
use crate::graph::{CausalGraph, GraphError, Task};
use crate::ids::{CoverId, TaskId, VarId};
use crate::rules::base::{Repeats, RuleBase, Scope};
use crate::rules::layout::Layout;

impl Task {
    /// Says whether it has been done in the present state: whether it takes the time of a repeat.
    pub(super) fn is_done_again(&mut self, rules: &RuleBase, again: bool) {
        let Repeats::Independent { after } = rules.checks[self.check].repeats else {
            return;
        };
        match (self.again, again) {
            (false, true) => self.waiting += after,
            (true, false) => self.waiting -= after,
            _ => {}
        }
        self.again = again;
    }
}

impl CausalGraph {
    /// Makes signs for the next time that tasks are done. Time and memory: those of the signs.
    ///
    /// # Errors
    /// As for the families of the signs; none that stand in a graph are refused.
    pub fn can_be_done_again(
        &mut self,
        rules: &RuleBase,
        tasks: impl IntoIterator<Item = TaskId>,
    ) -> Result<(), GraphError> {
        for id in tasks {
            let mut task = (*self.tasks[id]).clone();
            task.is_done_again(rules, true);
            for sign in &mut task.signs {
                *sign = self.next_time(*sign)?;
            }
            self.tasks[id] = Arc::new(task);
        }
        Ok(())
    }

    /// Looks over a zone have no signs of their own: one is done again once every place of it that can be
    /// seen has been looked at.
    pub fn zones_done_again(
        &mut self,
        rules: &RuleBase,
        layout: &Layout,
        covers_off: &BTreeSet<CoverId>,
    ) {
        let sweeps: Vec<TaskId> = self.tasks.ids().collect();
        for id in sweeps {
            let check = &rules.checks[self.tasks[id].check];
            let (Scope::Sweep(swept), Repeats::Independent { .. }) = (&check.scope, check.repeats)
            else {
                continue;
            };
            let places = self.places_of(layout, &self.tasks[id], *swept, covers_off);
            let again = !places.is_empty() && places.iter().all(|&at| self.tasks[at].again);
            if again != self.tasks[id].again {
                Arc::make_mut(&mut self.tasks[id]).is_done_again(rules, again);
            }
        }
    }

    /// The sign of the next time.
    fn next_time(&mut self, sign: VarId) -> Result<VarId, GraphError> {
        let family = self.network.node(sign).family.clone();
        let arrows: Vec<(VarId, Arrow)> = (self.arrows_into(sign).into_iter())
            .map(|(from, arrow)| (from, arrow.clone()))
            .collect();
        let name = format!("{}+", self.node(sign).name);
        let next = self.add_newer(sign, &name, SINCE[3], family, arrows)?;
        self.states.next_time.insert(sign, next);
        self.states.time_before.insert(next, sign);
        if let Some(plain) = self.states.plain_links.get(&sign).cloned() {
            self.states.plain_links.insert(next, plain);
        }
        Ok(next)
    }
}
