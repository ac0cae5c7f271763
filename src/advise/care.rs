//! What to take care of before a check.
//!
//! In: a [`Case`], what is believed of it, a task and the way to its set-up. Out: cautions, each once.

use std::collections::BTreeSet;

use crate::advise::belief::Belief;
use crate::advise::case::Case;
use crate::advise::journey::{Journey, Step};
use crate::advise::set_up::meets;
use crate::ids::{CautionId, FacetId, TaskId};
use crate::rules::base::{SetUpNeeds, WhenLikely};

/// Cautions called for by what is likely, though no finding shows it: the chances of the places that
/// lead into its spaces add up to what its rule asks.
pub(super) fn likely_cautions(case: &Case<'_>, belief: &Belief) -> Vec<CautionId> {
    let likely = |when: &WhenLikely| {
        let leaks = belief.leaks.enumerated().filter_map(|(part, leaks)| {
            let kind = &case.rules.kinds[case.layout.parts[part].kind];
            leaks.filter(|_| !kind.apart && when.into.contains(&kind.into))
        });
        // No less than the chance that one of them leaks.
        leaks.sum::<f64>() >= when.at_least
    };
    let cautions = case.rules.cautions.enumerated();
    cautions
        .filter(|(_, caution)| caution.when_likely.as_ref().is_some_and(likely))
        .map(|(id, _)| id)
        .collect()
}

/// Cautions of the set-up, of the steps that lead there, and of the check; then those of `likely` that
/// the set-up, or the way there, calls for, and those of a guard that is off.
pub(super) fn cautions_of(
    case: &Case<'_>,
    task: TaskId,
    journey: &Journey,
    likely: &[CautionId],
) -> Vec<CautionId> {
    let task = &case.graph.tasks[task];
    // A question to the owner hurts nobody.
    if case.rules.checks[task.check].intake {
        return Vec::new();
    }
    let facets = case.rules.facets.iter().zip(&journey.to.values);
    let of_set_up = facets.filter_map(|(facet, &value)| facet.values[value].caution);
    let of_steps = journey.steps.iter().filter_map(|step| match step {
        Step::Way(way) => Some(case.rules.ways[*way].cautions.iter().copied()),
        Step::Cover(_) => None,
    });
    let of_check = case.rules.checks[task.check].cautions.iter().copied();
    let comes_before = |before: &SetUpNeeds| {
        let passes = |step: &Step| match step {
            Step::Way(way) => passes_through(&case.rules.ways[*way].to, before),
            Step::Cover(_) => false,
        };
        meets(&journey.to.values, before) || journey.steps.iter().any(passes)
    };
    let called_for = likely.iter().copied().filter(|&caution| {
        let when = case.rules.cautions[caution].when_likely.as_ref();
        when.is_some_and(|when| comes_before(&when.before))
    });
    let guard_off = (case.set_up.covers_off.iter()).any(|&cover| case.layout.covers[cover].guard);
    let for_guard = case.rules.cautions.enumerated().filter(|(_, caution)| {
        let before = &caution.guard_off_before;
        guard_off && !before.is_empty() && comes_before(before)
    });
    let mut all: Vec<CautionId> = of_set_up
        .chain(of_steps.flatten())
        .chain(of_check)
        .chain(called_for)
        .chain(for_guard.map(|(id, _)| id))
        .collect();
    let mut seen = BTreeSet::new();
    all.retain(|caution| seen.insert(*caution));
    all
}

/// Whether a way brings about what a caution is given before.
fn passes_through(to: &[(FacetId, usize)], before: &SetUpNeeds) -> bool {
    before.iter().all(|(facet, values)| {
        let mut to = to.iter();
        to.any(|(changed, value)| changed == facet && values.contains(value))
    })
}
