//! A quick look at what checks might tell, to pick those whose exact gain is worth working out.
//!
//! In: the graph and the belief. Out: bits for a question, a rough figure. What is believed of faults, of
//! how bad they leak and of all that findings hang on is exact; what lies between them and a sign is
//! worked out downwards, as if leaks excluded each other and all else were independent. A loss has
//! one source mostly: that some place leaks is no news, which one is, and what speaks for it speaks
//! against all others. Several signs, as of a sweep, are added up. Time: each node of the graph at most once, times its states.
//!
//! Example: a look at a place that leaks for certain, or surely does not, promises nothing.

use std::rc::Rc;

use crate::advise::belief::Belief;
use crate::graph::{Asked, CausalGraph, NodeKind};
use crate::ids::{Id, VarId};
use crate::infer::{Family, Link};

/// What knowing a condition for certain tells of the causes, as a share of its own uncertainty:
/// conditions feed many faults, each a little. Author's judgement.
const SHARE_OF_CONDITION: f64 = 0.05;
/// A cause less likely than this is no rival that anything can be told of.
const RIVAL_FROM: f64 = 0.005;

/// Estimates of what signs might tell.
pub(super) struct Outlook<'a> {
    graph: &'a CausalGraph,
    belief: &'a Belief,
    /// The distribution of each node, once worked out.
    means: Vec<Option<Vec<f64>>>,
    /// For each node whether it counts as not normal, by state, where that is not every state but
    /// the first: a push that leaks.
    leaking: Vec<Option<&'a [bool]>>,
    /// For each node whether it counts; all but the pushes of causes that don't.
    worth_telling: Vec<bool>,
    /// For each node that is a fault: the share of its chance in which it causes a loss.
    causing: Vec<f64>,
    /// For each node what knowing it promises, once worked out.
    promised: Vec<Option<f64>>,
    /// For each node the causes that show in it, in order, once looked up.
    shows: Vec<Option<Rc<[usize]>>>,
    /// The cause whose push a node is.
    pushes: Vec<Option<usize>>,
    /// The causes worth telling about that are likely enough to be a rival, with their chance.
    rivals: Vec<(usize, f64)>,
}

impl<'a> Outlook<'a> {
    /// Starts with what is believed; `counts` says which causes are worth telling about.
    pub fn of(graph: &'a CausalGraph, belief: &'a Belief, counts: &[bool]) -> Self {
        let mut causing = vec![0.0; graph.network.len()];
        let mut leaking: Vec<Option<&[bool]>> = vec![None; graph.network.len()];
        let mut worth_telling = vec![true; graph.network.len()];
        let mut pushes = vec![None; graph.network.len()];
        let mut rivals = Vec::new();
        let chances = belief.causes.iter().zip(&belief.present).zip(counts);
        for (at, (cause, ((&causes, &present), &counts))) in
            graph.causes.iter().zip(chances).enumerate()
        {
            pushes[cause.push.index()] = Some(at);
            if counts && causes >= RIVAL_FROM {
                rivals.push((at, causes));
            }
            leaking[cause.push.index()] = Some(&cause.leaking);
            worth_telling[cause.push.index()] = counts;
            if counts && present > 0.0 {
                causing[cause.fault.index()] = causes / present;
            }
        }
        Self {
            graph,
            belief,
            means: vec![None; graph.network.len()],
            leaking,
            worth_telling,
            causing,
            promised: vec![None; graph.network.len()],
            shows: vec![None; graph.network.len()],
            pushes,
            rivals,
        }
    }

    /// What a question might tell of the causes, bits.
    pub fn bits(&mut self, asked: &Asked) -> f64 {
        match asked.question.signs[..] {
            [sign] => self.of_node(sign) + self.of_rivals(sign),
            // What several signs tell overlaps: that makes up for what they tell of rivals.
            ref several => several.iter().map(|&sign| self.of_node(sign)).sum(),
        }
    }

    /// What a sign tells of the causes that don't show in it, bits: a loss has one source mostly, so
    /// what speaks for one place speaks against all others.
    fn of_rivals(&mut self, sign: VarId) -> f64 {
        let graph = self.graph;
        let Family::NoisyMax { background, links } = &graph.network.node(sign).family else {
            return 0.0;
        };
        let parts = self.parts(links);
        let weights: Vec<f64> = (0..links.len())
            .map(|link| {
                if parts.excludes[link] {
                    self.weight_for_rivals(links[link].parent)
                } else {
                    0.0
                }
            })
            .collect();
        if weights.iter().all(|&weight| weight == 0.0) {
            return 0.0;
        }
        let joint = joint(background, &parts);
        told(&joint, self.belief.marginal(sign), &weights)
    }

    /// What a bit about a leak, or about what gathers some, is worth in bits about the causes elsewhere.
    fn weight_for_rivals(&mut self, var: VarId) -> f64 {
        let own = normal_or_not(self.mean(var));
        let leaks = not_normal(self.mean(var));
        if own <= 0.0 || leaks <= 0.0 {
            return 0.0;
        }
        let shown = self.shown_in(var);
        let elsewhere = |(cause, _): &&(usize, f64)| shown.binary_search(cause).is_err();
        let others: f64 = self.rivals.iter().filter(elsewhere).map(|(_, p)| p).sum();
        if others <= 0.0 {
            return 0.0;
        }
        // Together with this they can't be likelier than certain.
        let scale = ((1.0 - leaks) / others).min(1.0);
        let told = self.rivals.iter().filter(elsewhere).map(|(_, p)| {
            let absent = 1.0 - scale * p;
            let leaks = (leaks / absent).min(1.0);
            (own - absent * entropy_bits_of(&[leaks, 1.0 - leaks])).max(0.0)
        });
        told.sum::<f64>() / own
    }

    /// The causes that show in a node, by their position in the graph, in order.
    fn shown_in(&mut self, var: VarId) -> Rc<[usize]> {
        if let Some(known) = &self.shows[var.index()] {
            return Rc::clone(known);
        }
        let mut causes: Vec<usize> = self.pushes[var.index()].into_iter().collect();
        if causes.is_empty() {
            let graph = self.graph;
            match &graph.network.node(var).family {
                Family::NoisyMax { links, .. } => {
                    for link in links {
                        causes.extend_from_slice(&self.shown_in(link.parent));
                    }
                }
                Family::Table { parents, .. } => {
                    for &parent in parents {
                        causes.extend_from_slice(&self.shown_in(parent));
                    }
                }
            }
            causes.sort_unstable();
            causes.dedup();
        }
        let causes: Rc<[usize]> = causes.into();
        self.shows[var.index()] = Some(Rc::clone(&causes));
        causes
    }

    /// What knowing a node for certain would tell of the causes, bits.
    fn of_node(&mut self, node: VarId) -> f64 {
        if let Some(known) = self.promised[node.index()] {
            return known;
        }
        let graph = self.graph;
        let bits = match &graph.network.node(node).family {
            Family::NoisyMax { background, links } => {
                let parts = self.parts(links);
                let weights = links.iter().map(|link| self.weight(link.parent));
                let weights: Vec<f64> = weights.collect();
                told(
                    &joint(background, &parts),
                    self.belief.marginal(node),
                    &weights,
                )
            }
            Family::Table { parents, rows } => {
                let weights: Vec<f64> = parents.iter().map(|&at| self.weight(at)).collect();
                let states = graph.network.node(node).states;
                told_by_table(&self.means_of(parents), rows, states, &weights)
            }
        };
        self.promised[node.index()] = Some(bits);
        bits
    }

    /// What a bit about a node is worth in bits about causes.
    fn weight(&mut self, var: VarId) -> f64 {
        match self.graph.node(var).kind {
            NodeKind::Condition(_) => SHARE_OF_CONDITION,
            NodeKind::Fault(_) => self.causing[var.index()],
            NodeKind::Push(_) => f64::from(u8::from(self.worth_telling[var.index()])),
            // What lies between passes on what it knows itself.
            _ => {
                let own = normal_or_not(self.mean(var));
                if own > 0.0 {
                    (self.of_node(var) / own).min(1.0)
                } else {
                    0.0
                }
            }
        }
    }

    fn parts(&mut self, links: &[Link]) -> Parts {
        for link in links {
            self.mean(link.parent);
        }
        let states = links.first().map_or(0, |link| link.push[0].len());
        let mut parts = Parts {
            states,
            normal: vec![0.0; links.len() * states],
            other: vec![0.0; links.len() * states],
            excludes: Vec::with_capacity(links.len()),
        };
        let rows = parts.normal.chunks_exact_mut(states.max(1));
        let rows = rows.zip(parts.other.chunks_exact_mut(states.max(1)));
        for (link, (normal, other)) in links.iter().zip(rows) {
            let mean = self.means[link.parent.index()].as_deref().unwrap_or(&[]);
            let leaking = self.leaking[link.parent.index()];
            for (state, (chance, row)) in mean.iter().zip(&link.push).enumerate() {
                let is_other = leaking.map_or(state > 0, |leaking| leaking[state]);
                let sums = if is_other { &mut *other } else { &mut *normal };
                for (sum, push) in sums.iter_mut().zip(row) {
                    *sum += chance * push;
                }
            }
            add_up(normal);
            add_up(other);
            parts.excludes.push(matches!(
                self.graph.node(link.parent).kind,
                NodeKind::Push(_)
                    | NodeKind::Leak(_)
                    | NodeKind::HeldBack(_)
                    | NodeKind::Gather
                    | NodeKind::Seen(_)
            ));
        }
        parts
    }

    fn means_of(&mut self, vars: &[VarId]) -> Vec<Vec<f64>> {
        vars.iter().map(|&var| self.mean(var).to_vec()).collect()
    }

    fn mean(&mut self, var: VarId) -> &[f64] {
        if self.means[var.index()].is_none() {
            let mean = self.belief.marginal(var).unwrap_or_else(|| self.guess(var));
            self.means[var.index()] = Some(mean);
        }
        self.means[var.index()].as_deref().unwrap_or(&[])
    }

    fn guess(&mut self, var: VarId) -> Vec<f64> {
        let graph = self.graph;
        match &graph.network.node(var).family {
            Family::NoisyMax { background, links } => {
                let parts = self.parts(links);
                differences(&joint(background, &parts).whole)
            }
            Family::Table { parents, rows } => {
                let states = graph.network.node(var).states;
                mixed(&self.means_of(parents), rows, states)
            }
        }
    }
}

/// What each parent does to a sign, a row of its states per parent: P(its push is at most this, and the
/// parent is normal), and the same for a parent that is anything else, which is a leak's case.
struct Parts {
    states: usize,
    normal: Vec<f64>,
    other: Vec<f64>,
    /// Per parent: leaks exclude each other.
    excludes: Vec<bool>,
}

impl Parts {
    fn row<'r>(&self, rows: &'r [f64], parent: usize) -> &'r [f64] {
        &rows[parent * self.states..][..self.states]
    }

    /// The parents that exclude each other.
    fn excluding(&self) -> impl Iterator<Item = usize> {
        (0..self.excludes.len()).filter(|&parent| self.excludes[parent])
    }

    /// The chance that a parent is not normal.
    fn chance(&self, parent: usize) -> f64 {
        last(self.row(&self.other, parent))
    }

    /// P(push at most this | normal).
    fn quiet(&self, parent: usize, state: usize) -> f64 {
        let row = self.row(&self.normal, parent);
        match last(row) {
            0.0 => 1.0,
            normal => row[state] / normal,
        }
    }
}

/// A sign's distribution, cumulative: all of it, and a row for each parent with the part in which that
/// parent is not normal.
struct Joint {
    whole: Vec<f64>,
    with_other: Vec<f64>,
}

/// The sign as the worst push of its parents and its background: one of the excluding parents at most is
/// not normal.
fn joint(background: &[f64], parts: &Parts) -> Joint {
    let chances: f64 = parts.excluding().map(|parent| parts.chance(parent)).sum();
    // Together they can't be likelier than certain.
    let scale = 1.0 / chances.max(1.0);
    let mut whole = background.to_vec();
    add_up(&mut whole);
    let mut with_other = vec![0.0; parts.other.len()];
    for (state, all) in whole.iter_mut().enumerate() {
        let either = |parent: usize| {
            parts.row(&parts.normal, parent)[state] + parts.row(&parts.other, parent)[state]
        };
        let alone = |parent: usize| match parts.quiet(parent, state) {
            0.0 => 0.0,
            quiet => scale * parts.row(&parts.other, parent)[state] / quiet,
        };
        let base = (0..parts.excludes.len()).fold(*all, |base, parent| {
            base * if parts.excludes[parent] {
                parts.quiet(parent, state)
            } else {
                either(parent)
            }
        });
        let some: f64 = parts.excluding().map(alone).sum();
        *all = base * (1.0 - scale * chances + some).max(0.0);
        for (parent, &excludes) in parts.excludes.iter().enumerate() {
            with_other[parent * parts.states + state] = if excludes {
                base * alone(parent)
            } else {
                match either(parent) {
                    0.0 => 0.0,
                    both => *all * parts.row(&parts.other, parent)[state] / both,
                }
            };
        }
    }
    Joint { whole, with_other }
}

/// The mutual information between each parent (normal or not) and the sign, weighted and added up.
/// Where the sign's own distribution is known, the joint one is brought to it.
fn told(joint: &Joint, known: Option<Vec<f64>>, weights: &[f64]) -> f64 {
    let guessed = differences(&joint.whole);
    let whole = known.unwrap_or_else(|| guessed.clone());
    let brought: Vec<f64> = (whole.iter().zip(&guessed))
        .map(|(known, guessed)| if *guessed > 0.0 { known / guessed } else { 0.0 })
        .collect();
    let entropy = entropy_bits_of(&whole);
    let (mut normal, mut other) = (whole.clone(), whole.clone());
    let mut bits = 0.0;
    let with_other = joint.with_other.chunks_exact(whole.len());
    for (with, weight) in with_other.zip(weights) {
        let mut before = 0.0;
        for (state, &below) in with.iter().enumerate() {
            other[state] = (below - before).max(0.0) * brought[state];
            normal[state] = (whole[state] - other[state]).max(0.0);
            before = below;
        }
        let given = entropy_within(&normal) + entropy_within(&other);
        bits += weight * (entropy - given).max(0.0);
    }
    bits
}

/// The entropy of what a part of a distribution looks like by itself, times the part's chance.
fn entropy_within(part: &[f64]) -> f64 {
    let chance: f64 = part.iter().sum();
    if chance <= 0.0 {
        return 0.0;
    }
    let bits = |&p: &f64| plogp(p / chance);
    chance * part.iter().map(bits).sum::<f64>()
}

fn last(cumulative: &[f64]) -> f64 {
    cumulative.last().copied().unwrap_or(0.0)
}

/// The same for a sign given by a table over all its parents' states.
fn told_by_table(means: &[Vec<f64>], rows: &[f64], states: usize, weights: &[f64]) -> f64 {
    let whole = entropy_bits_of(&mixed(means, rows, states));
    let mut bits = 0.0;
    for (parent, weight) in weights.iter().enumerate() {
        let given = (means[parent].iter().enumerate()).filter(|(_, chance)| **chance > 0.0);
        let given = given.map(|(state, chance)| {
            let mut known = means.to_vec();
            known[parent] = certain(state, means[parent].len());
            chance * entropy_bits_of(&mixed(&known, rows, states))
        });
        bits += weight * (whole - given.sum::<f64>()).max(0.0);
    }
    bits
}

/// The rows of a table, weighted by its parents' chances.
fn mixed(means: &[Vec<f64>], rows: &[f64], states: usize) -> Vec<f64> {
    let mut weights = vec![1.0];
    for mean in means {
        let spread = |weight: &f64| mean.iter().map(|p| weight * p).collect::<Vec<_>>();
        weights = weights.iter().flat_map(spread).collect();
    }
    let mut sum = vec![0.0; states];
    for (weight, row) in weights.iter().zip(rows.chunks_exact(states)) {
        for (all, one) in sum.iter_mut().zip(row) {
            *all += weight * one;
        }
    }
    sum
}

fn certain(state: usize, states: usize) -> Vec<f64> {
    (0..states)
        .map(|s| f64::from(u8::from(s == state)))
        .collect()
}

/// Makes chances cumulative.
fn add_up(chances: &mut [f64]) {
    let mut sum = 0.0;
    for chance in chances {
        sum += *chance;
        *chance = sum;
    }
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
    chances.iter().map(|&p| plogp(p)).sum()
}

/// The chance that a node is not normal.
fn not_normal(mean: &[f64]) -> f64 {
    1.0 - mean.first().copied().unwrap_or(1.0)
}

/// The entropy of whether a node is normal.
fn normal_or_not(mean: &[f64]) -> f64 {
    let other = not_normal(mean);
    entropy_bits_of(&[other, 1.0 - other])
}

/// What a state of this chance adds to an entropy, bits.
fn plogp(p: f64) -> f64 {
    if p > 0.0 { -p * p.log2() } else { 0.0 }
}
