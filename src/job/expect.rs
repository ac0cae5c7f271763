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

/// A name that was looked up.
type Looked = Result<(), JobProblem>;

impl Expect {
    /// Whether nothing is expected at all.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

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
        let mut look = |under: &str, names: Vec<&String>, known: &dyn Fn(&str) -> Looked| {
            for name in names {
                if let Err(problem) = known(name) {
                    problems.push(JobProblem {
                        at: self.stands_at.of(under, name),
                        ..problem
                    });
                }
            }
        };
        look("first", self.first.iter().collect(), &place);
        let among = self.among_first.iter().flat_map(|(_, places)| places);
        look("among_first", among.collect(), &place);
        look("causes_at_least", named(&self.causes_at_least), &cause);
        look("causes_at_most", named(&self.causes_at_most), &cause);
        look("leaks_at_least", named(&self.leaks_at_least), &place);
        look("leaks_at_most", named(&self.leaks_at_most), &place);
        look(
            "conditions_at_least",
            named(&self.conditions_at_least),
            &condition,
        );
        look("sources_at_least", named(&self.sources_at_least), &source);
        look("next_among", self.next_among.iter().collect(), &task);
        look("blocked", self.blocked.iter().collect(), &block);
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
