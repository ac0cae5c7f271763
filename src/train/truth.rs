//! How drawn vehicles differ from what the rules say.
//!
//! In: a causal graph and a [`Strain`]. Out: a [`Truth`], which gives each node the family that it
//! is really drawn by. Without strain that is the graph's own: then a drill tests the code. With
//! strain it tests how far the rules may be wrong.
//!
//! Noise is added to the log-odds of every base rate and strength. It belongs to the rule, not to
//! the place: a check that misses leaks more often than written does so everywhere.

use std::borrow::Cow;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::graph::{CausalGraph, NodeKind};
use crate::ids::{Id, PartId, VarId};
use crate::infer::{Family, Link};

/// In what ways the rules are wrong.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Strain {
    /// Standard deviation of the noise on the log-odds of strengths and base rates.
    pub noise: f64,
    /// Whether in each vehicle the looks at one place, drawn at random, see nothing of its leaks.
    pub hidden_place: bool,
    /// The chance that an answer is wrong, each other one being as likely.
    pub wrong_answers: f64,
}

/// What vehicles are really drawn by.
#[derive(Debug, Clone)]
pub struct Truth {
    /// How the rules are wrong.
    pub strain: Strain,
    seed: u64,
    /// The strained families of the nodes that every job begins with.
    families: Vec<Family>,
}

impl Truth {
    /// The truth about a graph. The same seed gives the same noise. Time and memory: those of a
    /// copy of the network, if there is noise.
    pub fn of(graph: &CausalGraph, strain: Strain, seed: u64) -> Self {
        let mut truth = Self {
            strain,
            seed,
            families: Vec::new(),
        };
        if strain.noise > 0.0 {
            let strained = |var| truth.strained(graph, var);
            truth.families = graph.network.ids().map(strained).collect();
        }
        truth
    }

    /// What a node of the graph, or of one that renews it, is drawn by, if the looks at a place
    /// see nothing.
    pub fn family<'g>(
        &'g self,
        graph: &'g CausalGraph,
        var: VarId,
        hidden: Option<PartId>,
    ) -> Cow<'g, Family> {
        let node = graph.network.node(var);
        match graph.node(var).kind {
            NodeKind::Seen(part) if Some(part) == hidden => {
                let background = (0..node.states).map(|at| if at == 0 { 1.0 } else { 0.0 });
                Cow::Owned(Family::NoisyMax {
                    background: background.collect(),
                    links: Vec::new(),
                })
            }
            _ if self.strain.noise <= 0.0 => Cow::Borrowed(&node.family),
            _ => (self.families.get(var.index()))
                .map_or_else(|| Cow::Owned(self.strained(graph, var)), Cow::Borrowed),
        }
    }

    /// A family with noise on what is a strength or a base rate in it.
    fn strained(&self, graph: &CausalGraph, var: VarId) -> Family {
        let family = &graph.network.node(var).family;
        let Some(owner) = rule_of(graph, var) else {
            return family.clone();
        };
        match family {
            Family::NoisyMax { background, links } => Family::NoisyMax {
                background: moved(background, 0, self.shift(&[owner.as_str()])),
                links: (links.iter())
                    .map(|link| {
                        let from = rule_of(graph, link.parent).unwrap_or_default();
                        let shift = self.shift(&[owner.as_str(), from.as_str()]);
                        let rows = link.push.iter().map(|row| moved(row, 0, shift));
                        Link {
                            parent: link.parent,
                            push: rows.collect(),
                        }
                    })
                    .collect(),
            },
            // A push: absent, present without leaking, leaks.
            Family::Table { parents, rows }
                if matches!(graph.node(var).kind, NodeKind::Push(_)) =>
            {
                let states = graph.network.node(var).states;
                let shift = self.shift(&[owner.as_str()]);
                Family::Table {
                    parents: parents.clone(),
                    rows: (rows.chunks_exact(states))
                        .flat_map(|row| moved(row, 1, shift))
                        .collect(),
                }
            }
            Family::Table { .. } => family.clone(),
        }
    }

    /// The noise of one rule, in log-odds.
    fn shift(&self, rule: &[&str]) -> f64 {
        // FNV-1a (Fowler, Noll, Vo 1991), so that the noise depends on names alone.
        let bytes = rule.iter().flat_map(|part| part.bytes().chain([b'/']));
        let hash = bytes.fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        let mut random = ChaCha8Rng::seed_from_u64(hash ^ self.seed);
        let noise: f64 = StandardNormal.sample(&mut random);
        self.strain.noise * noise
    }
}

/// The rule that a node's figures come from, the same at every place; none where they follow from
/// the language itself.
fn rule_of(graph: &CausalGraph, var: VarId) -> Option<String> {
    Some(match graph.node(var).kind {
        NodeKind::Condition(condition) => format!("condition {}", condition.index()),
        NodeKind::Fault(place) => format!("fault {}", place.fault.index()),
        NodeKind::Push(place) => format!("leak of {}", place.fault.index()),
        NodeKind::Seen(_) => "seen".to_owned(),
        NodeKind::Sign { task, sign } => {
            format!("sign {} {sign}", graph.tasks[task].check.index())
        }
        NodeKind::Leak(_)
        | NodeKind::PressureGone
        | NodeKind::HeldBack(_)
        | NodeKind::Gather
        | NodeKind::Unless => return None,
    })
}

/// A distribution whose log-odds of being in any state but `normal` are shifted; what lies between
/// the others stays in proportion. What is certain stays certain.
fn moved(row: &[f64], normal: usize, shift: f64) -> Vec<f64> {
    let other = 1.0 - row[normal];
    if row[normal] <= 0.0 || other <= 0.0 || row[normal] >= 1.0 {
        return row.to_vec();
    }
    let odds = (other / row[normal]) * shift.exp();
    let to = odds / (1.0 + odds);
    (row.iter().enumerate())
        .map(|(state, p)| {
            if state == normal {
                1.0 - to
            } else {
                p * to / other
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: odds 1 : 4 times e^ln 4 are 1 : 1; the other states keep their proportion.
    #[test]
    fn noise_moves_the_odds_and_keeps_proportions() {
        let moved = moved(&[0.8, 0.15, 0.05], 0, 4.0_f64.ln());
        for (got, wanted) in moved.iter().zip([0.5, 0.375, 0.125]) {
            assert!((got - wanted).abs() < 1e-12);
        }
        assert_eq!(super::moved(&[1.0, 0.0], 0, 1.0), [1.0, 0.0]);
    }
}
