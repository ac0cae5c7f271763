//! A quick look at what checks might tell, to pick those whose exact gain is worth working out.
//!
//! In: the graph and the belief. Out: bits for a question, a rough figure. Each sign is read as if
//! its parents were independent of each other, given the findings: what is believed of faults and
//! of how bad they leak is exact; what lies between them and the sign is worked out downwards.
//! A sweep's signs are added up. Time: each node of the graph at most once, times its states.
//!
//! Example: a look at a place that leaks for certain, or surely does not, promises nothing.

use crate::advise::belief::Belief;
use crate::graph::{Asked, CausalGraph, NodeKind};
use crate::ids::{Id, VarId};
use crate::infer::{Family, Link};

/// What knowing a condition for certain tells of the causes, as a share of its own uncertainty:
/// conditions feed many faults, each a little. Author's judgement.
const SHARE_OF_CONDITION: f64 = 0.05;

/// Estimates of what signs might tell.
pub(super) struct Outlook<'a> {
    graph: &'a CausalGraph,
    belief: &'a Belief,
    /// The distribution of each node, once worked out.
    means: Vec<Option<Vec<f64>>>,
    /// For each node whether it counts as not normal, by state, where that is not every state but
    /// the first: a push that leaks.
    leaking: Vec<Option<&'a [bool]>>,
    /// For each node that is a fault: the share of its chance in which it causes a loss.
    causing: Vec<f64>,
    /// For each sign what it promises, once worked out.
    promised: Vec<Option<f64>>,
}

impl<'a> Outlook<'a> {
    /// Starts with what is believed.
    pub fn of(graph: &'a CausalGraph, belief: &'a Belief) -> Self {
        let mut causing = vec![0.0; graph.network.len()];
        let mut leaking: Vec<Option<&[bool]>> = vec![None; graph.network.len()];
        for cause in &graph.causes {
            leaking[cause.push.index()] = Some(&cause.leaking);
        }
        let chances = belief.causes.iter().zip(&belief.present);
        for (cause, (&causes, &present)) in graph.causes.iter().zip(chances) {
            causing[cause.fault.index()] = if present > 0.0 { causes / present } else { 0.0 };
        }
        Self {
            graph,
            belief,
            means: vec![None; graph.network.len()],
            leaking,
            causing,
            promised: vec![None; graph.network.len()],
        }
    }

    /// What a question might tell of the causes, bits.
    pub fn bits(&mut self, asked: &Asked) -> f64 {
        let signs = asked.question.signs.iter();
        signs.map(|&sign| self.of_sign(sign)).sum()
    }

    fn of_sign(&mut self, sign: VarId) -> f64 {
        if let Some(known) = self.promised[sign.index()] {
            return known;
        }
        let graph = self.graph;
        let bits = match &graph.network.node(sign).family {
            Family::NoisyMax { background, links } => {
                let groups: Vec<[Vec<f64>; 2]> =
                    links.iter().map(|link| self.split(link)).collect();
                let weights = links.iter().map(|link| self.weight(link.parent));
                let weights: Vec<f64> = weights.collect();
                told(background, &groups, &weights)
            }
            // A sign given by a table has few parents; what it can tell at most is good enough.
            Family::Table { .. } => entropy_bits_of(&self.mean(sign)),
        };
        self.promised[sign.index()] = Some(bits);
        bits
    }

    /// What a bit about a node is worth in bits about causes.
    fn weight(&self, var: VarId) -> f64 {
        match self.graph.node(var).kind {
            NodeKind::Condition(_) => SHARE_OF_CONDITION,
            NodeKind::Fault(_) => self.causing[var.index()],
            _ => 1.0,
        }
    }

    /// A link's push, weighted by the parent's chance of being normal and of being anything else.
    fn split(&mut self, link: &Link) -> [Vec<f64>; 2] {
        let mean = self.mean(link.parent);
        let mut parts = [vec![0.0; link.push[0].len()], vec![0.0; link.push[0].len()]];
        let leaking = self.leaking[link.parent.index()];
        for (state, (chance, row)) in mean.iter().zip(&link.push).enumerate() {
            let other = leaking.map_or(state > 0, |leaking| leaking[state]);
            for (sum, push) in parts[usize::from(other)].iter_mut().zip(row) {
                *sum += chance * push;
            }
        }
        parts
    }

    fn mean(&mut self, var: VarId) -> Vec<f64> {
        if let Some(known) = &self.means[var.index()] {
            return known.clone();
        }
        let graph = self.graph;
        let mean =
            self.belief
                .marginal(var)
                .unwrap_or_else(|| match &graph.network.node(var).family {
                    Family::NoisyMax { background, links } => {
                        let mut below = cumulative(background);
                        for link in links {
                            let [normal, other] = self.split(link);
                            let push: Vec<f64> =
                                normal.iter().zip(&other).map(|(a, b)| a + b).collect();
                            for (all, one) in below.iter_mut().zip(cumulative(&push)) {
                                *all *= one;
                            }
                        }
                        differences(&below)
                    }
                    Family::Table { parents, rows } => {
                        let means: Vec<Vec<f64>> =
                            parents.iter().map(|&at| self.mean(at)).collect();
                        let mut weights = vec![1.0];
                        for mean in &means {
                            let spread =
                                |weight: &f64| mean.iter().map(|p| weight * p).collect::<Vec<_>>();
                            weights = weights.iter().flat_map(spread).collect();
                        }
                        let states = graph.network.node(var).states;
                        let mut sum = vec![0.0; states];
                        for (weight, row) in weights.iter().zip(rows.chunks_exact(states)) {
                            for (all, one) in sum.iter_mut().zip(row) {
                                *all += weight * one;
                            }
                        }
                        sum
                    }
                });
        self.means[var.index()] = Some(mean.clone());
        mean
    }
}

/// The mutual information between each parent (normal or not) and the sign, weighted and added up.
/// `groups`: for each parent its push, weighted by the chance of being normal and of not.
fn told(background: &[f64], groups: &[[Vec<f64>; 2]], weights: &[f64]) -> f64 {
    let below: Vec<[Vec<f64>; 2]> = groups
        .iter()
        .map(|[normal, other]| [cumulative(normal), cumulative(other)])
        .collect();
    let both = |parts: &[Vec<f64>; 2], state: usize| parts[0][state] + parts[1][state];
    let mut all = cumulative(background);
    for (state, sum) in all.iter_mut().enumerate() {
        *sum *= below
            .iter()
            .map(|parts| both(parts, state))
            .product::<f64>();
    }
    let whole = entropy_bits_of(&differences(&all));
    let mut bits = 0.0;
    for (parts, weight) in below.iter().zip(weights) {
        let mut given = 0.0;
        for part in parts {
            let chance = part[part.len() - 1];
            if chance <= 0.0 {
                continue;
            }
            let joint: Vec<f64> = (all.iter().zip(part).enumerate())
                .map(|(state, (sum, own))| match both(parts, state) {
                    0.0 => 0.0,
                    shared => sum * own / shared / chance,
                })
                .collect();
            given += chance * entropy_bits_of(&differences(&joint));
        }
        bits += weight * (whole - given).max(0.0);
    }
    bits
}

fn cumulative(chances: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let next = |chance: &f64| {
        sum += chance;
        sum
    };
    chances.iter().map(next).collect()
}

fn differences(below: &[f64]) -> Vec<f64> {
    let before = std::iter::once(&0.0).chain(below);
    below
        .iter()
        .zip(before)
        .map(|(to, from)| (to - from).max(0.0))
        .collect()
}

fn entropy_bits_of(chances: &[f64]) -> f64 {
    let bits = |&p: &f64| if p > 0.0 { -p * p.log2() } else { 0.0 };
    chances.iter().map(bits).sum()
}
