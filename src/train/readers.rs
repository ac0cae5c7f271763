//! Which signs read what: the arrows of a graph followed to the answers of checks.
//!
//! In: a vehicle's graph. Out: for a node, the signs that read it directly, each with what the
//! node alone would make it answer; for a cause, all signs that it can move at all.

use std::collections::{BTreeMap, BTreeSet};

use crate::graph::{CausalGraph, Cause, NodeKind};
use crate::ids::{Id, VarId};
use crate::infer::Family;

/// The arrows of a graph, from cause to effect.
pub(super) struct Readers<'a> {
    graph: &'a CausalGraph,
    children: Vec<Vec<VarId>>,
    /// Whether a node is a fault or hangs on one.
    hangs_on_fault: Vec<bool>,
}

impl<'a> Readers<'a> {
    pub fn new(graph: &'a CausalGraph) -> Self {
        let mut children = vec![Vec::new(); graph.network.len()];
        let mut hangs_on_fault = vec![false; graph.network.len()];
        for var in graph.network.ids() {
            hangs_on_fault[var.index()] =
                matches!(graph.node(var).kind, NodeKind::Fault(_) | NodeKind::Push(_));
            for parent in graph.network.parents(var) {
                children[parent.index()].push(var);
                hangs_on_fault[var.index()] |= hangs_on_fault[parent.index()];
            }
        }
        Self {
            graph,
            children,
            hangs_on_fault,
        }
    }

    /// Every sign that a node can move, through however many others.
    pub fn moved_by(&self, from: VarId) -> BTreeSet<VarId> {
        let below = self.below(from);
        let is_sign = |var: &VarId| matches!(self.graph.node(*var).kind, NodeKind::Sign { .. });
        below.into_iter().filter(is_sign).collect()
    }

    /// Whether what a sign reads there bears on a fault: the node hangs on one, or one on what the
    /// node hangs on, or another sign reads both.
    pub fn bears_on_a_fault(&self, sign: VarId, node: VarId) -> bool {
        let hangs = |var: &VarId| self.hangs_on_fault[var.index()];
        if hangs(&node) {
            return true;
        }
        let above = self.above(node);
        let mut beside = above.into_iter().flat_map(|var| self.below(var));
        beside.any(|var| var != sign && hangs(&var))
    }

    fn above(&self, from: VarId) -> BTreeSet<VarId> {
        let mut open = vec![from];
        let mut seen = BTreeSet::new();
        while let Some(var) = open.pop() {
            if seen.insert(var) {
                open.extend(self.graph.network.parents(var));
            }
        }
        seen
    }

    fn below(&self, from: VarId) -> BTreeSet<VarId> {
        let mut open = vec![from];
        let mut seen = BTreeSet::new();
        while let Some(var) = open.pop() {
            if seen.insert(var) {
                open.extend(&self.children[var.index()]);
            }
        }
        seen
    }

    /// The signs that read the fault of a cause itself, each with the chances of its answers when
    /// the fault is present and nothing else pushes.
    pub fn of_itself(&self, cause: &Cause) -> BTreeMap<VarId, Vec<f64>> {
        let mut found = BTreeMap::new();
        let mut open = vec![cause.fault];
        while let Some(var) = open.pop() {
            for &child in &self.children[var.index()] {
                match self.graph.node(child).kind {
                    NodeKind::Unless => open.push(child),
                    NodeKind::Sign { .. } => {
                        let pushed = self.pushed(child, var);
                        if let Some(present) = pushed.and_then(|mut pushed| pushed.present.pop()) {
                            found.insert(child, present);
                        }
                    }
                    _ => {}
                }
            }
        }
        found
    }

    /// The answers of a sign when nothing pushes it.
    pub fn background(&self, sign: VarId) -> Option<Vec<f64>> {
        match &self.graph.network.node(sign).family {
            Family::NoisyMax { background, .. } => Some(background.clone()),
            Family::Table { .. } => None,
        }
    }

    /// The answers of a sign without, and with a node in each of its states but the first, nothing else
    /// pushing.
    pub fn pushed(&self, sign: VarId, node: VarId) -> Option<Pushed> {
        let Family::NoisyMax { background, links } = &self.graph.network.node(sign).family else {
            return None;
        };
        let link = links.iter().find(|link| link.parent == node)?;
        let states = link.push.iter().skip(1);
        Some(Pushed {
            absent: background.clone(),
            present: states.map(|row| worst_of(background, row)).collect(),
        })
    }
}

/// The answers of a sign without and with one thing that pushes it.
pub(super) struct Pushed {
    pub absent: Vec<f64>,
    pub present: Vec<Vec<f64>>,
}

/// The distribution of the worse of two independent answers.
fn worst_of(one: &[f64], other: &[f64]) -> Vec<f64> {
    let (mut below_one, mut below_other, mut before) = (0.0, 0.0, 0.0);
    let each = one.iter().zip(other).map(|(p, q)| {
        below_one += p;
        below_other += q;
        let up_to = below_one * below_other;
        let here = up_to - before;
        before = up_to;
        here
    });
    each.collect()
}
