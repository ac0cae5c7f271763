//! What a check would have to go by that told two causes apart.
//!
//! In: two causes of a vehicle's graph. Out: what they share and in what they differ, as the rules
//! have it: the place, the space that they leak into, when and how much they leak, what brings
//! them about, and whether any check looks at either itself.

use std::collections::BTreeMap;

use crate::graph::{CausalGraph, Cause};
use crate::ids::{CheckId, ConditionId, LeakKindId, LevelId, SpaceId};
use crate::infer::Family;
use crate::rules::base::Raiser;
use crate::rules::{Layout, RuleBase};
use crate::train::readers::Readers;

/// Shares of leaks that differ by less than this are no difference that a check could go by.
const NOTABLE: f64 = 0.2;

/// What two causes share and in what they differ.
#[derive(Debug, Clone, PartialEq)]
pub struct Lacking {
    /// Both are of one part.
    pub same_place: bool,
    /// Where each leaks to, if not to the same space.
    pub into: Option<(SpaceId, SpaceId)>,
    /// The kind of leak in which they differ most, with the share of it in each one's leaks.
    pub when: Option<(LeakKindId, f64, f64)>,
    /// The level in which they differ most, with its share in each one's leaks.
    pub how_much: Option<(LevelId, f64, f64)>,
    /// Conditions that feed the one and not the other.
    pub fed_by: (Vec<ConditionId>, Vec<ConditionId>),
    /// Checks that look at the one itself, not at its leak; and at the other.
    pub looks: (Vec<CheckId>, Vec<CheckId>),
}

/// Compares two causes.
pub(super) fn lacking(
    (rules, layout, graph): (&RuleBase, &Layout, &CausalGraph),
    readers: &Readers<'_>,
    one: &Cause,
    other: &Cause,
) -> Lacking {
    let into = |cause: &Cause| rules.kinds[layout.parts[cause.place.part].kind].into;
    let spaces = (into(one), into(other));
    let (a, b) = (leaks(graph, one), leaks(graph, other));
    let fed = |cause: &Cause, against: &Cause| {
        let others = feeding(rules, against);
        let own = feeding(rules, cause).into_iter();
        own.filter(|condition| !others.contains(condition))
            .collect()
    };
    let looks = |cause: &Cause| {
        let signs = readers.of_itself(cause).into_keys();
        let mut checks: Vec<CheckId> = signs
            .filter_map(|sign| match graph.node(sign).kind {
                crate::graph::NodeKind::Sign { task, .. } => Some(graph.tasks[task].check),
                _ => None,
            })
            .collect();
        checks.sort_unstable();
        checks.dedup();
        checks
    };
    Lacking {
        same_place: one.place.part == other.place.part,
        into: (spaces.0 != spaces.1).then_some(spaces),
        when: widest(&by(&a, |(kind, _)| kind), &by(&b, |(kind, _)| kind)),
        how_much: widest(&by(&a, |(_, level)| level), &by(&b, |(_, level)| level)),
        fed_by: (fed(one, other), fed(other, one)),
        looks: (looks(one), looks(other)),
    }
}

/// The chance of each kind and level, given that the cause leaks.
fn leaks(graph: &CausalGraph, cause: &Cause) -> Vec<((LeakKindId, LevelId), f64)> {
    // The push when the fault is present, its parent's last state.
    let chances = match &graph.network.node(cause.push).family {
        Family::NoisyMax { links, .. } => links.first().and_then(|link| link.push.last().cloned()),
        Family::Table { rows, .. } => {
            let row = rows.chunks_exact(cause.leaks.len()).last();
            row.map(<[f64]>::to_vec)
        }
    };
    let chances = chances.unwrap_or_default();
    let each = cause.leaks.iter().zip(&chances);
    let kept: Vec<_> = each.filter_map(|(leak, p)| Some(((*leak)?, *p))).collect();
    let all: f64 = kept.iter().map(|(_, p)| p).sum();
    kept.into_iter().map(|(leak, p)| (leak, p / all)).collect()
}

fn by<K: Ord>(
    leaks: &[((LeakKindId, LevelId), f64)],
    key: impl Fn((LeakKindId, LevelId)) -> K,
) -> BTreeMap<K, f64> {
    let mut sums = BTreeMap::new();
    for (leak, p) in leaks {
        *sums.entry(key(*leak)).or_insert(0.0) += p;
    }
    sums
}

/// Where two distributions differ most, if notably.
fn widest<K: Ord + Copy>(
    one: &BTreeMap<K, f64>,
    other: &BTreeMap<K, f64>,
) -> Option<(K, f64, f64)> {
    let share = |of: &BTreeMap<K, f64>, key: &K| of.get(key).copied().unwrap_or(0.0);
    let keys = one.keys().chain(other.keys());
    keys.map(|key| (*key, share(one, key), share(other, key)))
        .filter(|(_, p, q)| (p - q).abs() >= NOTABLE)
        .max_by(|(_, p, q), (_, r, s)| (p - q).abs().total_cmp(&(r - s).abs()))
}

/// The conditions that feed a fault.
fn feeding(rules: &RuleBase, cause: &Cause) -> Vec<ConditionId> {
    let raised = rules.faults[cause.place.fault].raised_by.iter();
    raised
        .filter_map(|raise| match raise.by {
            Raiser::Condition(condition) => Some(condition),
            _ => None,
        })
        .collect()
}
