//! Does what was found account for what was lost?
//!
//! In: a case with a gauge log and a loss in numbers, and the sources that are certain or named.
//! Out: an [`Account`]. A gauge measures all leaks that are open in its set-up together; what it
//! does not see (a cap in whose place the tester sits, a leak that opens only hot) may be the rest.

use crate::advise::case::Case;
use crate::graph::{NodeKind, Place};
use crate::ids::{TaskId, VarId};
use crate::measure::balance::{Balance, MeasuredLeak, balance};
use crate::measure::plan::{PlanError, ReportedLoss, Scaling};

/// A hold as measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The number of its entry in the log, from 1.
    pub entry: usize,
    /// Whether it falls.
    pub falls: bool,
    /// Whether it holds, pumped to the limit: neither "can't tell yet" nor far below it.
    pub holds: bool,
    /// The leak, with its 95 % interval.
    pub leak: MeasuredLeak,
    /// Whether only parts listed apart (the tester) were held.
    pub only_apart: bool,
    /// The worst of the leaks that the gauge saw.
    pub gauge: VarId,
}

/// A loss as it was told in numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Lost {
    /// The number of its entry in the log, from 1.
    pub entry: usize,
    /// The figures.
    pub told: ReportedLoss,
    /// The question that it answers, if the rules have one.
    pub task: Option<TaskId>,
    /// The leaks by which it may have gone, each with the level that each of its states stands for.
    pub ways: Vec<(VarId, Vec<usize>)>,
}

/// What was found against what was lost.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// The sources that the gauge saw, by their position in the graph's causes.
    pub sources: Vec<usize>,
    /// The entry of the gauge log.
    pub entry: usize,
    /// The entry with which all was known that makes it evidence: the loss, the log, a source
    /// confirmed. None while no source that the gauge saw is confirmed.
    pub evidence_since: Option<usize>,
    /// The sums.
    pub balance: Balance,
}

impl Account {
    /// Weighs the last gauge log that falls against the loss, if a source that the gauge saw is
    /// confirmed in the log or `named` by the verdict. None where one of the three is missing, or
    /// where a repair lies between log and loss.
    ///
    /// # Errors
    /// Figures that make no sense.
    pub fn of(case: &Case<'_>, named: &[usize]) -> Result<Option<Self>, PlanError> {
        let Some((lost, hold)) = both(case) else {
            return Ok(None);
        };
        let seen = places_seen(case, hold.gauge);
        let measured = |cause: &usize| seen.contains(&case.graph.causes[*cause].place);
        let confirmed: Vec<(usize, usize)> = confirmed_in(case)
            .filter(|(_, cause)| measured(cause))
            .collect();
        let mut sources: Vec<usize> = named.iter().copied().filter(measured).collect();
        sources.extend(confirmed.iter().map(|(_, cause)| *cause));
        sources.sort_unstable();
        sources.dedup();
        if sources.is_empty() {
            return Ok(None);
        }
        let first = confirmed.iter().map(|(entry, _)| *entry).min();
        // The same pressure is taken for running as for the hold: caps and limits are alike.
        let scaling = &Scaling::HALF_ETHYLENE;
        let balance = balance(&[hold.leak], &lost.told, hold.leak.gauge_kpa, scaling)?;
        Ok(Some(Self {
            sources,
            entry: hold.entry,
            evidence_since: first.map(|entry| entry.max(lost.entry).max(hold.entry)),
            balance,
        }))
    }

    /// The leaks that may have lost coolant and that the gauge did not see, each with the level
    /// that each of its states stands for.
    pub fn unseen(case: &Case<'_>) -> Vec<(VarId, Vec<usize>)> {
        let Some((lost, hold)) = both(case) else {
            return Vec::new();
        };
        let seen = case.graph.gathered(hold.gauge);
        let unseen = |(var, levels): &(VarId, Vec<usize>)| {
            let mut levels = levels.clone();
            let by_gauge = seen.iter().find(|(of, _)| of == var);
            for (level, seen) in levels.iter_mut().zip(by_gauge.iter().flat_map(|of| &of.1)) {
                if *seen > 0 {
                    *level = 0;
                }
            }
            levels
                .iter()
                .any(|&level| level > 0)
                .then_some((*var, levels))
        };
        lost.ways.iter().filter_map(unseen).collect()
    }
}

/// The loss, and the last gauge log of the same state that falls and still counts.
fn both<'c>(case: &'c Case<'_>) -> Option<(&'c Lost, &'c Measured)> {
    let lost = case.loss.as_ref()?;
    let counts = |hold: &&Measured| {
        hold.falls
            && !hold.only_apart
            && case.repairs_before(hold.entry) == case.repairs_before(lost.entry)
            && case.found.iter().any(|found| found.entry == hold.entry)
    };
    Some((lost, case.measured.iter().rev().find(counts)?))
}

/// The faults whose leak a gauge sees.
fn places_seen(case: &Case<'_>, gauge: VarId) -> Vec<Place> {
    let seen = case.graph.gathered(gauge).into_iter();
    seen.filter_map(|(var, _)| match case.graph.node(var).kind {
        NodeKind::Push(place) => Some(place),
        _ => None,
    })
    .collect()
}

/// Causes that the log confirms: their push is known to leak.
pub(super) fn confirmed<'c>(case: &'c Case<'_>) -> impl Iterator<Item = usize> + 'c {
    confirmed_in(case).map(|(_, cause)| cause)
}

/// The same, each with its entry.
fn confirmed_in<'c>(case: &'c Case<'_>) -> impl Iterator<Item = (usize, usize)> + 'c {
    let certain = case.found.iter().filter(|found| found.task.is_none());
    let vars = certain.flat_map(|found| {
        let findings = found.findings.iter();
        findings.map(|finding| (found.entry, finding.var))
    });
    // A push of an earlier state counts as well: its leak was what was lost then.
    vars.filter_map(|(entry, var)| match case.graph.node(var).kind {
        NodeKind::Push(place) => (case.graph.causes.iter())
            .position(|cause| cause.place == place)
            .map(|cause| (entry, cause)),
        _ => None,
    })
}
