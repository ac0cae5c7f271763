//! The chance that some place leaks, whichever it is.
//!
//! In: a [`Case`] and what is believed of it. Out: the chance that at least one of some places leaks.
//!
//! Example: with every place but one ruled out it is the chance of that one.

use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::Case;
use crate::chance::Chance;
use crate::ids::PartId;
use crate::infer::{Finding, InferError};

/// The chance that some place beside those of the named causes leaks, the tester left out.
pub(super) fn another_source(
    case: &Case<'_>,
    belief: &Belief,
    named: &[usize],
) -> Result<Chance, AdviseError> {
    chance_of_leak(case, belief, |part| {
        let here = |&at: &usize| case.graph.causes[at].place.part == part;
        let apart = case.rules.kinds[case.layout.parts[part].kind].apart;
        !apart && !named.iter().any(here)
    })
}

/// The chance that at least one of some places leaks: one minus the chance that no cause there
/// leaks.
pub(super) fn chance_of_leak(
    case: &Case<'_>,
    belief: &Belief,
    counts: impl Fn(PartId) -> bool,
) -> Result<Chance, AdviseError> {
    let with = belief.log_evidence();
    let mut quiet = case.evidence();
    let found = quiet.len();
    let causes = case.graph.causes.iter();
    for cause in causes.filter(|cause| counts(cause.place.part)) {
        let likelihood = cause
            .leaking
            .iter()
            .map(|&leaks| if leaks { 0.0 } else { 1.0 })
            .collect();
        quiet.push(Finding::soft(cause.push, likelihood));
    }
    if quiet.len() == found {
        return Ok(chance(0.0)?);
    }
    let without = match Belief::log_evidence_of(&case.graph, &quiet) {
        Ok(without) => without,
        Err(AdviseError::Infer(InferError::Impossible { .. })) => f64::NEG_INFINITY,
        Err(error) => return Err(error),
    };
    Ok(chance(1.0 - (without - with).exp().min(1.0))?)
}
