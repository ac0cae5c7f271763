//! A case: one vehicle and what has been found on it so far.
//!
//! In: built by `job`. Out: plain data; the order of `found` is the order of the log.

use std::collections::BTreeSet;

use crate::advise::account::Measured;
use crate::advise::set_up::SetUp;
use crate::graph::{CausalGraph, Task};
use crate::ids::{BlockId, FacetId, TaskId, ToolId};
use crate::infer::Finding;
use crate::measure::plan::ReportedLoss;
use crate::rules::base::RuleBase;
use crate::rules::layout::Layout;

/// Kilopascals in one psi.
const KPA_PER_PSI: f64 = 6.894_757;

/// One finding as the log has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Answered {
    /// The number of its entry in the log, from 1.
    pub entry: usize,
    /// The task it answers; none for a fault confirmed or ruled out.
    pub task: Option<TaskId>,
    /// In words ("look at the cap seat: crust").
    pub words: String,
    /// What it says of the graph.
    pub findings: Vec<Finding>,
    /// Whether every sign showed its normal answer.
    pub normal: bool,
}

/// What a shop lacks; kept once, not per job.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Shop {
    /// Tools that it does not have.
    pub lacks: BTreeSet<ToolId>,
    /// Set-up values that it cannot make.
    pub cannot: BTreeSet<(FacetId, usize)>,
}

/// One vehicle and what has been found on it.
#[derive(Debug, Clone)]
pub struct Case<'a> {
    /// The rules.
    pub rules: &'a RuleBase,
    /// The vehicle.
    pub layout: &'a Layout,
    /// Its causal graph.
    pub graph: &'a CausalGraph,
    /// The findings, in the order of the log.
    pub found: Vec<Answered>,
    /// Holds that were measured with a gauge, in the order of the log.
    pub measured: Vec<Measured>,
    /// The loss in numbers, if it was given.
    pub loss: Option<ReportedLoss>,
    /// Tasks that cannot be done here, or that nobody could tell.
    pub passed_over: BTreeSet<TaskId>,
    /// Tasks whose evidence something has destroyed since.
    pub spoiled: BTreeSet<TaskId>,
    /// Blocks that are up.
    pub blocks: Vec<BlockId>,
    /// The set-up as it is now.
    pub set_up: SetUp,
    /// What the shop lacks.
    pub shop: Shop,
    /// What a minute of waiting counts, in hands-on minutes.
    pub waiting_counts: f64,
}

impl Case<'_> {
    /// All findings for the inference engine.
    pub fn evidence(&self) -> Vec<Finding> {
        self.found
            .iter()
            .flat_map(|found| found.findings.iter().cloned())
            .collect()
    }

    /// Whether doing a task destroys what another would have shown: at the same place, or of the
    /// whole vehicle for either. A task never spoils itself.
    pub fn spoils(&self, task: &Task, other: &Task) -> bool {
        let itself =
            other.check == task.check && other.part == task.part && other.zone == task.zone;
        let here = task.part.is_none() || other.part.is_none() || task.part == other.part;
        !itself && here && self.rules.checks[task.check].spoils.contains(&other.check)
    }

    /// A text of a task's check with `{place}`, `{zone}` and `{limit}` filled in.
    pub fn filled(&self, task: &Task, text: &str) -> String {
        let mut text = text.to_owned();
        if text.contains("{limit}") {
            text = text.replace("{limit}", &self.limit_words());
        }
        if let Some(part) = task.part {
            text = text.replace("{place}", &self.layout.parts[part].named.name);
        }
        let zone = task.part.and_then(|part| self.layout.parts[part].zone);
        if let Some(zone) = task.zone.or(zone) {
            text = text.replace("{zone}", &self.layout.zones[zone].named.name);
        }
        text
    }

    /// The test-pressure limit in words: "13 psi (90 kPa)".
    pub fn limit_words(&self) -> String {
        self.limit_psi().map_or_else(
            || "the limit on the plate or in the handbook".to_owned(),
            |(psi, _)| format!("{psi:.0} psi ({:.0} kPa)", psi * KPA_PER_PSI),
        )
    }

    /// The tasks that have an answer.
    pub fn answered(&self) -> BTreeSet<TaskId> {
        self.found.iter().filter_map(|found| found.task).collect()
    }

    /// The test-pressure limit in psi gauge and what states it: the lowest stated, else the
    /// rule base's safe limit.
    pub fn limit_psi(&self) -> Option<(f64, String)> {
        let stated = self
            .layout
            .limits_psi
            .iter()
            .min_by(|a, b| a.1.total_cmp(&b.1));
        stated.map(|(what, psi)| (*psi, what.clone())).or_else(|| {
            let safe = self.rules.safe_limit_psi.as_ref()?;
            Some((
                *safe.pick(|case| self.layout.holds(case, None)),
                "no rating stated".to_owned(),
            ))
        })
    }
}
