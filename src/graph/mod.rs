//! The causal graph of one vehicle: the rule base expanded over its layout.
//!
//! In: a [`RuleBase`](crate::rules::RuleBase) and a [`Layout`](crate::rules::Layout). Out: a
//! [`CausalGraph`]: nodes and arrows in `petgraph`, the same nodes as an inference network (node
//! and variable have the same number), the causes that can be named and the tasks that can be done.
//!
//! ```
//! use seepwise::{graph::CausalGraph, rules};
//! let loaded = rules::load_embedded();
//! let base = loaded.rules.expect("the built-in rules have no errors");
//! let graph = CausalGraph::expand(&base, &loaded.layouts[0])?;
//! assert_eq!(graph.graph.node_count(), graph.network.len());
//! # Ok::<(), seepwise::graph::GraphError>(())
//! ```

mod again;
mod ask;
mod expand;
pub mod export;
mod node;
mod renew;
mod somewhere;
mod task;
mod worst;

use std::sync::Arc;

use petgraph::graph::DiGraph;
use thiserror::Error;

use crate::ids::{Id, IdVec, PartId, TaskId, VarId};
use crate::infer::{Family, Link, Network, NetworkError};

pub use ask::{AnswerOption, Asked};
pub use node::{Arrow, Cause, Node, NodeKind, Place, Strength};
pub use renew::{Odds, Renewal, Renewed, States};
pub use somewhere::Looked;
pub use task::{Gauged, Setting, Task};

/// The causal graph of one vehicle. A copy shares nodes and tasks.
#[derive(Debug, Clone)]
pub struct CausalGraph {
    /// Nodes and arrows. Arrows run from cause to effect; parents come before children.
    pub graph: DiGraph<Arc<Node>, Arrow>,
    /// The same nodes with their families.
    pub network: Network,
    /// Every fault that can cause a loss, in the order of the layout and the rules.
    pub causes: Vec<Cause>,
    /// For each part the node that tells whether it leaks, if it can.
    pub leak_of: IdVec<PartId, Option<VarId>>,
    /// For each condition of the rule base its node, if the vehicle can have it.
    pub condition_nodes: Vec<Option<VarId>>,
    /// The same as faults were drawn from: no refill changes these.
    pub feeding_nodes: Vec<Option<VarId>>,
    /// Every task.
    pub tasks: IdVec<TaskId, Arc<Task>>,
    /// What repairs have replaced so far. The fields above point at the newest nodes.
    pub states: States,
}

/// A layout that can't be expanded.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum GraphError {
    /// Faults that raise each other in a circle.
    #[error(
        "layout `{layout}`: faults raise each other in a circle at {part}: break the circle in `raised_by`"
    )]
    Cycle {
        /// The layout.
        layout: String,
        /// A part in the circle.
        part: String,
    },
    /// A family that makes no probabilities.
    #[error("the rules make no valid table here: {0}: mend the strengths of that rule")]
    Network(#[from] NetworkError),
}

impl CausalGraph {
    /// The node of a variable.
    pub fn node(&self, var: VarId) -> &Node {
        &self.graph[petgraph::graph::NodeIndex::new(var.index())]
    }

    /// What a gather takes: each node with the level that each of its states stands for.
    pub fn gathered(&self, gather: VarId) -> Vec<(VarId, Vec<usize>)> {
        let Family::NoisyMax { links, .. } = &self.network.node(gather).family else {
            return Vec::new();
        };
        let level = |row: &Vec<f64>| row.iter().rposition(|&p| p > 0.0).unwrap_or(0);
        let taken = |link: &Link| (link.parent, link.push.iter().map(level).collect());
        links.iter().map(taken).collect()
    }

    /// The nodes an arrow leads from to this one, with the arrows, in order.
    pub fn arrows_into(&self, var: VarId) -> Vec<(VarId, &Arrow)> {
        use petgraph::visit::EdgeRef;
        let index = petgraph::graph::NodeIndex::new(var.index());
        let mut arrows: Vec<(VarId, &Arrow)> = self
            .graph
            .edges_directed(index, petgraph::Direction::Incoming)
            .map(|edge| (VarId::from_index(edge.source().index()), edge.weight()))
            .collect();
        arrows.sort_by_key(|(var, _)| *var);
        arrows
    }
}
