//! Expands a rule base over a layout, layer by layer from conditions to signs.
//!
//! In: rule base and layout. Out: a [`CausalGraph`]. Nodes with the same parents are made once:
//! two occasions on which the same leaks are open share their gathers and their wetness.

mod faults;
mod leaks;
mod signs;
mod tasks;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use indexmap::IndexMap;
use petgraph::graph::{DiGraph, NodeIndex};

use self::leaks::Hole;
use crate::graph::node::{Arrow, Node, NodeKind};
use crate::graph::{CausalGraph, GraphError};
use crate::ids::{CheckId, Id, IdVec, PartId, VarId};
use crate::infer::{Link, Network};
use crate::rules::base::{RuleBase, Sign};
use crate::rules::layout::Layout;

impl CausalGraph {
    /// Expands the rules over one layout. Time and memory grow with the number of parts times
    /// the rules for each.
    ///
    /// # Errors
    /// Faults that raise each other in a circle across parts; strengths that make no valid table.
    pub fn expand(rules: &RuleBase, layout: &Layout) -> Result<Self, GraphError> {
        let mut builder = Builder::new(rules, layout);
        let condition_nodes = builder.conditions()?;
        let faults = builder.faults(&condition_nodes)?;
        let leaks = builder.leaks(&faults.causes);
        let leak_of = builder.leaking_places(&leaks)?;
        let tasks = builder.tasks(&condition_nodes, &faults, leaks)?;
        Ok(Self {
            graph: builder.graph,
            network: builder.network,
            causes: faults.causes,
            leak_of,
            feeding_nodes: condition_nodes.clone(),
            condition_nodes,
            tasks: tasks.into_iter().map(Arc::new).collect(),
            states: crate::graph::States::default(),
        })
    }
}

/// The graph while it grows.
struct Builder<'a> {
    rules: &'a RuleBase,
    layout: &'a Layout,
    graph: DiGraph<Arc<Node>, Arrow>,
    network: Network,
    names: StateNames,
    /// The names that nodes have.
    taken: BTreeSet<String>,
    /// Collecting nodes made so far, by what they collect.
    collected: BTreeMap<(Collects, Vec<Hole>), VarId>,
}

/// What a collecting node does with its parents.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Collects {
    /// The worst of them.
    Worst,
    /// Whether any is at a level or worse.
    AnyFrom(usize),
}

impl<'a> Builder<'a> {
    fn new(rules: &'a RuleBase, layout: &'a Layout) -> Self {
        let (graph, network) = (DiGraph::new(), Network::new());
        Self {
            rules,
            layout,
            graph,
            network,
            names: StateNames::of(rules),
            taken: BTreeSet::new(),
            collected: BTreeMap::new(),
        }
    }

    /// Adds a noisy-MAX node with its arrows. Links from one parent are merged: both push.
    fn noisy_max(
        &mut self,
        node: Node,
        background: Vec<f64>,
        links: Vec<(Link, Arrow)>,
    ) -> Result<VarId, GraphError> {
        let (links, arrows): (Vec<Link>, Vec<(VarId, Arrow)>) = merge(links).into_iter().unzip();
        let var = self.network.add_noisy_max(&node.name, background, links)?;
        self.graph_node(node, var, arrows);
        Ok(var)
    }

    /// Adds a node given by a table with its arrows.
    fn table(
        &mut self,
        node: Node,
        parents: Vec<(VarId, Arrow)>,
        rows: Vec<f64>,
    ) -> Result<VarId, GraphError> {
        let vars = parents.iter().map(|(var, _)| *var).collect();
        let var = self
            .network
            .add_table(&node.name, node.states.len(), vars, rows)?;
        self.graph_node(node, var, parents);
        Ok(var)
    }

    fn graph_node(&mut self, node: Node, var: VarId, arrows: Vec<(VarId, Arrow)>) {
        self.taken.insert(node.name.clone());
        let index = self.graph.add_node(Arc::new(node));
        debug_assert_eq!(index.index(), var.index());
        for (parent, arrow) in arrows {
            self.graph
                .add_edge(NodeIndex::new(parent.index()), index, arrow);
        }
    }

    fn node(&self, var: VarId) -> &Node {
        &self.graph[NodeIndex::new(var.index())]
    }

    /// Adds a gate: the value's state while the two-state guard is in its first state.
    fn gate(
        &mut self,
        kind: NodeKind,
        name: String,
        label: String,
        value: VarId,
        guard: VarId,
    ) -> Result<VarId, GraphError> {
        let states = self.node(value).states.clone();
        let mut rows = Vec::with_capacity(states.len() * 2 * states.len());
        for level in 0..states.len() {
            for shown in [level, 0] {
                rows.extend((0..states.len()).map(|state| if state == shown { 1.0 } else { 0.0 }));
            }
        }
        let node = Node {
            kind,
            name,
            label,
            states,
        };
        self.table(
            node,
            vec![(value, Arrow::default()), (guard, Arrow::default())],
            rows,
        )
    }

    /// All on one level.
    fn certain(&self, level: usize) -> Vec<f64> {
        let mut row = vec![0.0; self.rules.levels.len()];
        row[level] = 1.0;
        row
    }

    /// A node name that no node has yet.
    fn unused(&self, name: String) -> String {
        if !self.taken.contains(&name) {
            return name;
        }
        // One of the first so many numbers is free, since each node bears one name.
        (2..self.network.len() + 3)
            .map(|n| format!("{name}.{n}"))
            .find(|name| !self.taken.contains(name))
            .unwrap_or(name)
    }
}

/// Names of states that many nodes have, each kept once.
struct StateNames {
    absent_present: Arc<[String]>,
    no_yes: Arc<[String]>,
    levels: Arc<[String]>,
    /// Of the signs of checks, by their position.
    answers: BTreeMap<(CheckId, usize), Arc<[String]>>,
}

impl StateNames {
    fn of(rules: &RuleBase) -> Self {
        let names = |names: [&str; 2]| names.map(str::to_owned).into();
        let levels = rules.levels.iter().map(|level| level.named.id.clone());
        Self {
            absent_present: names(["absent", "present"]),
            no_yes: names(["no", "yes"]),
            levels: levels.collect(),
            answers: BTreeMap::new(),
        }
    }

    fn answers(&mut self, check: CheckId, position: usize, sign: &Sign) -> Arc<[String]> {
        let ids = || {
            sign.answers
                .iter()
                .map(|answer| answer.id.clone())
                .collect()
        };
        let known = self.answers.entry((check, position)).or_insert_with(ids);
        Arc::clone(known)
    }
}

/// Merges links from the same parent: the child's chance of staying at or below a state is the
/// product of theirs, which is again one link. The first arrow stays.
fn merge(links: Vec<(Link, Arrow)>) -> Vec<(Link, (VarId, Arrow))> {
    // Most nodes read each parent once.
    let mut parents: Vec<VarId> = links.iter().map(|(link, _)| link.parent).collect();
    parents.sort_unstable();
    if parents.windows(2).all(|pair| pair[0] != pair[1]) {
        let each = links.into_iter();
        return each
            .map(|(link, arrow)| {
                let parent = link.parent;
                (link, (parent, arrow))
            })
            .collect();
    }
    let mut merged: IndexMap<VarId, (Link, Arrow)> = IndexMap::new();
    for (link, arrow) in links {
        match merged.get_mut(&link.parent) {
            None => {
                merged.insert(link.parent, (link, arrow));
            }
            Some((first, _)) => {
                for (row, other) in first.push.iter_mut().zip(&link.push) {
                    *row = worst_of_two(row, other);
                }
            }
        }
    }
    merged
        .into_iter()
        .map(|(parent, (link, arrow))| (link, (parent, arrow)))
        .collect()
}

/// The distribution of the worse of two independent pushes.
fn worst_of_two(one: &[f64], other: &[f64]) -> Vec<f64> {
    let (mut below_one, mut below_other, mut before) = (0.0, 0.0, 0.0);
    one.iter()
        .zip(other)
        .map(|(p, q)| {
            below_one += p;
            below_other += q;
            let both = below_one * below_other;
            let here = both - before;
            before = both;
            here.max(0.0)
        })
        .collect()
}

/// One vector per part, filled with the same value.
fn per_part<T: Clone>(layout: &Layout, value: T) -> IdVec<PartId, T> {
    layout.parts.ids().map(|_| value.clone()).collect()
}
