//! What a source explains if it is the only one.
//!
//! In: a [`Case`] and sources. Out: for each abnormal finding that a cause can show in, how many
//! times likelier each source makes it than a system in which nothing leaks.

use crate::advise::belief::AdviseError;
use crate::advise::case::Case;
use crate::advise::influence::Influence;
use crate::advise::suspect::{Suspect, event, leaking};
use crate::advise::world::World;
use crate::cores;
use crate::infer::{Finding, Target};

/// A finding is explained if it is at least this many times likelier than if nothing leaked.
pub(super) const EXPLAINED_FROM: f64 = 2.0;

/// For each finding that asks for a cause (its position in [`Case::found`]): how many times
/// likelier it is with each source than with nothing leaking.
pub(super) fn times_likelier(
    case: &Case<'_>,
    sources: &[Vec<Suspect>],
    influence: &Influence,
) -> Result<Vec<(usize, Vec<f64>)>, AdviseError> {
    let asks = |&at: &usize| {
        let found = &case.found[at];
        let shows = |finding: &Finding| influence.count(finding.var) > 0;
        !found.normal && found.task.is_some() && found.findings.iter().any(shows)
    };
    let asking: Vec<usize> = (0..case.found.len()).filter(asks).collect();
    let groups: Vec<&[Finding]> = asking
        .iter()
        .map(|&at| case.found[at].findings.as_slice())
        .collect();
    let mut all = vec![Vec::new()];
    all.extend_from_slice(sources);
    let chances = cores::on_all(&all, |source| chances(case, source, &groups));
    let chances = chances.into_iter().collect::<Result<Vec<_>, _>>()?;
    let tight = &chances[0];
    let times = |with: &Option<Vec<f64>>, at: usize| match (with, tight) {
        (Some(with), Some(tight)) if tight[at] > 0.0 => with[at] / tight[at],
        (Some(with), _) if with[at] > 0.0 => f64::INFINITY,
        _ => 0.0,
    };
    let each = asking.iter().enumerate().map(|(at, &found)| {
        let of_sources = chances[1..].iter().map(|with| times(with, at)).collect();
        (found, of_sources)
    });
    Ok(each.collect())
}

/// The chance of each finding where exactly this leaks; `None` where that can't be.
fn chances(
    case: &Case<'_>,
    source: &[Suspect],
    groups: &[&[Finding]],
) -> Result<Option<Vec<f64>>, AdviseError> {
    match only(case, source, &[]) {
        Some(world) => world.chances(groups).map_err(AdviseError::Infer),
        None => Ok(None),
    }
}

/// The world in which all of these leak and nothing else does.
pub(super) fn only(case: &Case<'_>, source: &[Suspect], findings: &[Finding]) -> Option<World> {
    let graph = &case.graph;
    let targets: Vec<Target> = graph.causes.iter().map(leaking).collect();
    let events = source.iter().filter_map(|of| of.target(graph));
    let also: Vec<Finding> = events.map(|target| event(&target, true)).collect();
    let open = |cause: usize| source.iter().any(|of| of.includes(graph, cause));
    World::quiet_but(&graph.network, &targets, open, &also, findings)
}
