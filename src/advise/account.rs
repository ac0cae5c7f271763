//! Does what was found account for what was lost?
//!
//! In: a case with a gauge log and a loss in numbers, and the sources that are certain or named.
//! Out: an [`Account`]. A gauge measures all leaks that are open in its set-up together.

use crate::advise::case::Case;
use crate::graph::NodeKind;
use crate::measure::balance::{Balance, MeasuredLeak, balance};
use crate::measure::plan::{PlanError, Scaling};

/// A hold as measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The number of its entry in the log, from 1.
    pub entry: usize,
    /// Whether it falls.
    pub falls: bool,
    /// The leak, with its 95 % interval.
    pub leak: MeasuredLeak,
    /// Whether only parts listed apart (the tester) were held.
    pub only_apart: bool,
}

/// What was found against what was lost.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// The sources, by their position in the graph's causes.
    pub sources: Vec<usize>,
    /// The entry of the gauge log.
    pub entry: usize,
    /// The sums.
    pub balance: Balance,
}

impl Account {
    /// Weighs the last gauge log that falls against the loss, if a source is confirmed in the log
    /// or `named` by the verdict. None where one of the three is missing.
    ///
    /// # Errors
    /// Figures that make no sense.
    pub fn of(case: &Case<'_>, named: &[usize]) -> Result<Option<Self>, PlanError> {
        let counts = |hold: &&Measured| {
            hold.falls
                && !hold.only_apart
                && case.found.iter().any(|found| found.entry == hold.entry)
        };
        let (Some(loss), Some(hold)) = (&case.loss, case.measured.iter().rev().find(counts)) else {
            return Ok(None);
        };
        let mut sources: Vec<usize> = named.to_vec();
        sources.extend(confirmed(case));
        sources.sort_unstable();
        sources.dedup();
        if sources.is_empty() {
            return Ok(None);
        }
        // The same pressure is taken for running as for the hold: caps and limits are alike.
        let scaling = &Scaling::HALF_ETHYLENE;
        let balance = balance(&[hold.leak], loss, hold.leak.gauge_kpa, scaling)?;
        Ok(Some(Self {
            sources,
            entry: hold.entry,
            balance,
        }))
    }
}

/// Causes that the log confirms: their push is known to leak.
pub(super) fn confirmed<'c>(case: &'c Case<'_>) -> impl Iterator<Item = usize> + 'c {
    let certain = case.found.iter().filter(|found| found.task.is_none());
    let vars = certain
        .flat_map(|found| &found.findings)
        .map(|finding| finding.var);
    // A push of an earlier state counts as well: its leak was what was lost then.
    vars.filter_map(|var| match case.graph.node(var).kind {
        NodeKind::Push(place) => (case.graph.causes.iter()).position(|cause| cause.place == place),
        _ => None,
    })
}
