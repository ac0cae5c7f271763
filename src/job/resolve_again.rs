//! Checks that are done again in the same state: of which time an answer speaks, and signs for the next.
//!
//! In: an entry that has been read. Out: the graph with signs for the next time of what it has told of. They are made
//! at once, so that nodes stand in the order of the log.

use crate::graph::Task;
use crate::ids::VarId;
use crate::job::problem::JobProblem;
use crate::job::walk::Walk;
use crate::notice::codes;
use crate::rules::base::Repeats;

impl Walk<'_> {
    /// The signs of a task that an answer speaks of: those of the last time that it was done, unless it
    /// was done again.
    pub(super) fn signs_meant(&self, of: &Task) -> Vec<VarId> {
        let states = &self.case.graph.states;
        let meant = |&sign: &VarId| {
            let before = states.time_before(sign).filter(|_| !self.again);
            before.unwrap_or(sign)
        };
        of.signs.iter().map(meant).collect()
    }

    /// Whether a task that has been done may show something else the next time: what glows goes on
    /// glowing until it is wiped.
    pub(super) fn may_show_otherwise(&self, of: &Task, normal: bool) -> bool {
        let rules = self.case.rules;
        let check = &rules.checks[of.check];
        let lasting = check.occasion.is_some_and(|at| rules.occasions[at].lasting);
        check.repeats != Repeats::Same && (normal || !lasting)
    }

    /// Makes signs for the next time of what this entry has told of.
    pub(super) fn signs_for_next_time(&mut self) -> Result<(), JobProblem> {
        self.again = false;
        let told = std::mem::take(&mut self.told_now);
        if told.is_empty() {
            return Ok(());
        }
        let (rules, layout) = (self.case.rules, self.case.layout);
        let graph = self.case.graph.to_mut();
        graph.can_be_done_again(rules, told).map_err(|error| {
            let message = format!("this check can't be done again: {error}");
            JobProblem::new(codes::OUT_OF_RANGE, message)
        })?;
        graph.zones_done_again(rules, layout, &self.case.set_up.covers_off);
        Ok(())
    }
}
