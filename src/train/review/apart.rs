//! Causes that nothing separates.
//!
//! Two causes can only be alike if they move the same signs, or are of one part and no sign that
//! reads either fault itself differs between them. Such pairs are few; for them all checks are
//! worked out exactly.

use std::collections::{BTreeMap, BTreeSet};

use crate::graph::CausalGraph;
use crate::ids::{FaultId, VarId};
use crate::notice::{Notice, Notices, codes};
use crate::rules::spots::Spots;
use crate::rules::{Layout, RuleBase};
use crate::train::TrainError;
use crate::train::alone::{Alone, divergence_bits};
use crate::train::readers::Readers;
use crate::train::twins::{is_listed, same_repair};

/// Two faults that are not told apart: on which layouts, and how near the best check comes.
type Found = BTreeMap<(FaultId, FaultId), (Vec<String>, String)>;

/// Pairs found so far, over all layouts.
#[derive(Default)]
pub(super) struct Unseparated {
    found: Found,
}

impl Unseparated {
    /// Looks at one layout.
    pub fn look(
        &mut self,
        vehicle @ (rules, layout, graph): (&RuleBase, &Layout, &CausalGraph),
        readers: &Readers<'_>,
    ) -> Result<(), TrainError> {
        let limit = rules.policy.review.told_apart_bits;
        let pairs = candidates(vehicle, readers);
        let causes: BTreeSet<usize> = pairs.iter().flat_map(|&(i, j)| [i, j]).collect();
        let causes: Vec<usize> = causes.into_iter().collect();
        let alone = Alone::of(vehicle, &causes)?;
        let position = |at: usize| causes.binary_search(&at).unwrap_or_default();
        for (i, j) in pairs {
            let best = alone.best(position(i), position(j));
            let bits = best.map_or(0.0, |(_, bits)| bits);
            if bits >= limit {
                continue;
            }
            let (one, other) = (graph.causes[i].place, graph.causes[j].place);
            let nearest = best.map_or_else(
                || "no check is possible there".to_owned(),
                |(task, bits)| {
                    let check = &rules.checks[graph.tasks[task].check];
                    format!("`{}` comes nearest with {bits:.3} bits", check.named.id)
                },
            );
            let entry = self.found.entry((one.fault, other.fault)).or_default();
            if !entry.0.contains(&layout.named.id) {
                entry.0.push(layout.named.id.clone());
            }
            if entry.1.is_empty() {
                entry.1 = nearest;
            }
        }
        Ok(())
    }

    /// Gives the advice.
    pub fn tell(self, rules: &RuleBase, spots: &Spots, notices: &mut Notices) {
        for ((one, other), (layouts, nearest)) in self.found {
            let name = |fault: FaultId| {
                let fault = &rules.faults[fault];
                format!("{}.{}", rules.kinds[fault.kind].named.id, fault.named.id)
            };
            let (first, second) = (name(one), name(other));
            let on = layouts.join("`, `");
            let message = format!("no check tells `{second}` from `{first}` on `{on}`: {nearest}");
            let help = format!(
                "add a check that reads one of them itself, as `seepwise rules twins {}` suggests; where one repair mends both, say so with `same_repair_as:`",
                layouts[0]
            );
            let notice = Notice::advice(codes::NOTHING_SEPARATES, spots.fault(other), message)
                .label(spots.fault(one), "the other one")
                .help(help);
            notices.push(notice);
        }
    }
}

/// Pairs of causes that might be alike.
fn candidates(
    (rules, layout, graph): (&RuleBase, &Layout, &CausalGraph),
    readers: &Readers<'_>,
) -> Vec<(usize, usize)> {
    let limit = rules.policy.review.told_apart_bits;
    let listed: Vec<usize> = (0..graph.causes.len())
        .filter(|&at| is_listed(rules, layout, graph.causes[at].place))
        .collect();
    let mut moved: BTreeMap<BTreeSet<VarId>, Vec<usize>> = BTreeMap::new();
    for &at in &listed {
        let signs = readers.moved_by(graph.causes[at].fault);
        moved.entry(signs).or_default().push(at);
    }
    let same_signs = moved.into_values().flat_map(|alike| pairs_of(&alike));
    let by_part =
        listed.chunk_by(|&a, &b| graph.causes[a].place.part == graph.causes[b].place.part);
    let of_one_part = by_part.flat_map(pairs_of).filter(|&(i, j)| {
        let (a, b) = (&graph.causes[i], &graph.causes[j]);
        let (one, other) = (readers.of_itself(a), readers.of_itself(b));
        let mut signs = one.keys().chain(other.keys());
        signs.all(|sign| {
            let background = readers.background(*sign).unwrap_or_default();
            let p = one.get(sign).unwrap_or(&background);
            let q = other.get(sign).unwrap_or(&background);
            divergence_bits(p, q) < limit
        })
    });
    let pairs: BTreeSet<(usize, usize)> = same_signs.chain(of_one_part).collect();
    let differ = |&(i, j): &(usize, usize)| {
        let (one, other) = (graph.causes[i].place, graph.causes[j].place);
        !same_repair(rules, one, other)
    };
    pairs.into_iter().filter(differ).collect()
}

/// All pairs, the lower position first.
fn pairs_of(positions: &[usize]) -> Vec<(usize, usize)> {
    let each = positions.iter().enumerate();
    each.flat_map(|(at, &one)| positions[at + 1..].iter().map(move |&other| (one, other)))
        .collect()
}
