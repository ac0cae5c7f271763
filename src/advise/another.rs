//! The chance that some place leaks, whichever it is.
//!
//! In: a [`Case`] and what is believed of it. Out: the chance that at least one of some places leaks.
//!
//! Example: with every place but one ruled out it is the chance of that one.

use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::Case;
use crate::advise::suspect::{event, leaking};
use crate::advise::world::World;
use crate::chance::Chance;
use crate::ids::PartId;
use crate::infer::{InferError, Target};

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
    let causes = &case.graph.causes;
    let counted = |at: usize| counts(causes[at].place.part);
    if !(0..causes.len()).any(counted) {
        return Ok(chance(0.0)?);
    }
    let targets: Vec<Target> = causes.iter().map(leaking).collect();
    let findings = case.evidence();
    let open = |at: usize| !counted(at);
    let quiet = World::quiet_but(&case.graph.network, &targets, open, &[], &findings);
    let without = match quiet.map(|quiet| quiet.log_with(&findings)) {
        Some(Ok(without)) => without,
        // A thin network can be the harder one to find an order for.
        Some(Err(InferError::TooDense { .. })) => {
            let shut = targets.iter().enumerate().filter(|(at, _)| counted(*at));
            let shut = shut.map(|(_, target)| event(target, false));
            match Belief::log_evidence_with(case, shut.collect()) {
                Ok(without) => without,
                Err(AdviseError::Infer(InferError::Impossible { .. })) => f64::NEG_INFINITY,
                Err(error) => return Err(error),
            }
        }
        Some(Err(error)) => return Err(AdviseError::Infer(error)),
        None => f64::NEG_INFINITY,
    };
    Ok(chance(
        1.0 - (without - belief.log_evidence()).exp().min(1.0),
    )?)
}
