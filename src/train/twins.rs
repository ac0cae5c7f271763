//! Faults that the checks can hardly tell apart.
//!
//! In: a vehicle's graph. Out: pairs of causes, the least separated first, each with the check that
//! tells most between the two and with what a further check would have to go by. For every cause
//! the vehicle is thought of as having it alone (see [`Alone`]).

use crate::graph::{CausalGraph, Place};
use crate::ids::{PartId, TaskId};
use crate::rules::{Layout, RuleBase};
use crate::train::TrainError;
use crate::train::alone::Alone;
use crate::train::lacking::{Lacking, lacking};
use crate::train::readers::Readers;

/// Two causes and what separates them.
#[derive(Debug, Clone, PartialEq)]
pub struct Twins {
    /// One cause.
    pub one: Place,
    /// The other.
    pub other: Place,
    /// The check that tells most between them, and how many bits at even odds.
    pub best: Option<(TaskId, f64)>,
    /// How far all checks together leave them alike: 1 not told apart at all, 0 surely.
    pub alike: f64,
    /// Whether the rules say that one repair mends both.
    pub same_repair: bool,
    /// What a further check would have to go by.
    pub lacking: Lacking,
}

/// The `count` pairs that are told apart least; of a part only those that it has a hand in. Time: an
/// engine for each cause.
///
/// # Errors
/// [`TrainError::Infer`].
pub fn twins(
    vehicle @ (rules, layout, graph): (&RuleBase, &Layout, &CausalGraph),
    at: Option<PartId>,
    count: usize,
) -> Result<Vec<Twins>, TrainError> {
    let listed: Vec<usize> = (0..graph.causes.len())
        .filter(|&at| is_listed(rules, layout, graph.causes[at].place))
        .collect();
    let alone = Alone::of(vehicle, &listed)?;
    let mut pairs = Vec::new();
    let here = |i: usize| at.is_none_or(|part| graph.causes[listed[i]].place.part == part);
    for i in 0..listed.len() {
        for j in (i + 1..listed.len()).filter(|&j| here(i) || here(j)) {
            pairs.push((alone.alike(i, j), i, j));
        }
    }
    pairs.sort_by(|(a, ..), (b, ..)| b.total_cmp(a));
    pairs.truncate(count);
    let readers = Readers::new(graph);
    let twins = pairs.into_iter().map(|(alike, i, j)| {
        let (one, other) = (&graph.causes[listed[i]], &graph.causes[listed[j]]);
        Twins {
            one: one.place,
            other: other.place,
            best: alone.best(i, j),
            alike,
            same_repair: same_repair(rules, one.place, other.place),
            lacking: lacking(vehicle, &readers, one, other),
        }
    });
    Ok(twins.collect())
}

/// Whether a cause is one of the vehicle's own with a name.
pub(super) fn is_listed(rules: &RuleBase, layout: &Layout, place: Place) -> bool {
    let apart = rules.kinds[layout.parts[place.part].kind].apart;
    !apart && !rules.faults[place.fault].other
}

/// Whether the rules say that one repair mends both faults of one part.
pub(super) fn same_repair(rules: &RuleBase, one: Place, other: Place) -> bool {
    let stands_for = |fault| rules.faults[fault].same_repair.unwrap_or(fault);
    one.part == other.part && stands_for(one.fault) == stands_for(other.fault)
}
