//! The names in what a scenario expects: whether this vehicle has them.
//!
//! In: an [`Expect`] and the rules, layout and graph of its vehicle. Out: a problem for each name that
//! nothing there bears, for which nothing could come out as expected.

use std::collections::BTreeSet;

use crate::graph::CausalGraph;
use crate::job::file::Expect;
use crate::job::find::{find_block, find_cause, find_check, find_condition, find_part, find_task};
use crate::job::problem::JobProblem;
use crate::rules::base::RuleBase;
use crate::rules::layout::Layout;

impl Expect {
    /// Every name that nothing on this vehicle bears.
    ///
    /// # Errors
    /// One problem for each, at its line where the job was read from a file.
    pub fn check(
        &self,
        rules: &RuleBase,
        layout: &Layout,
        graph: &CausalGraph,
    ) -> Result<(), Vec<JobProblem>> {
        let place = |name: &str| find_part(layout, name).map(|_| ());
        let cause = |name: &str| find_cause(rules, layout, graph, name, None).map(|_| ());
        let condition = |name: &str| find_condition(rules, name).map(|_| ());
        let block = |name: &str| find_block(rules, name).map(|_| ());
        let source = |name: &str| {
            if name.contains('@') {
                return cause(name);
            }
            place(name).or_else(|problem| cause(name).map_err(|_| problem))
        };
        let task = |name: &str| match name.split_once('@') {
            None => find_check(rules, name).map(|_| ()),
            at => {
                let (check, at) = at.unwrap_or_default();
                let none_off = BTreeSet::new();
                find_task(rules, layout, graph, check, Some(at), &none_off).map(|_| ())
            }
        };
        let mut problems = Vec::new();
        let mut look = |names: Vec<&String>, known: &dyn Fn(&str) -> Result<(), JobProblem>| {
            for name in names {
                if let Err(problem) = known(name) {
                    problems.push(JobProblem {
                        at: self.stands_at.of(name),
                        ..problem
                    });
                }
            }
        };
        look(self.first.iter().collect(), &place);
        let among = self.among_first.iter();
        look(among.flat_map(|(_, places)| places).collect(), &place);
        look(named(&self.causes_at_least), &cause);
        look(named(&self.causes_at_most), &cause);
        look(named(&self.leaks_at_least), &place);
        look(named(&self.leaks_at_most), &place);
        look(named(&self.conditions_at_least), &condition);
        look(named(&self.sources_at_least), &source);
        look(self.next_among.iter().collect(), &task);
        look(self.blocked.iter().collect(), &block);
        if problems.is_empty() {
            Ok(())
        } else {
            Err(problems)
        }
    }
}

/// The names in a map of percentages.
fn named(percentages: &[(String, f64)]) -> Vec<&String> {
    percentages.iter().map(|(name, _)| name).collect()
}
