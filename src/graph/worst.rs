//! A node for the worst of some leaks that no rule gathers.

use std::sync::Arc;

use crate::graph::node::{Arrow, Node, NodeKind};
use crate::graph::{CausalGraph, GraphError};
use crate::ids::{Id, VarId};
use crate::infer::Link;

impl CausalGraph {
    /// The graph with one more gather, and that gather: the worst of `leaks`, each with the level
    /// that each of its states stands for, as [`CausalGraph::gathered`] gives them. `levels` names
    /// the levels, none first. Time and memory: those of a copy.
    ///
    /// # Errors
    /// A level that has no name, or a name that is taken.
    pub fn with_worst(
        &self,
        name: &str,
        label: &str,
        levels: &[String],
        leaks: &[(VarId, Vec<usize>)],
    ) -> Result<(Self, VarId), GraphError> {
        let certain = |of: usize| {
            (0..levels.len())
                .map(|at| f64::from(u8::from(at == of)))
                .collect()
        };
        let links = leaks.iter().map(|(parent, of)| Link {
            parent: *parent,
            push: of.iter().map(|&level| certain(level)).collect(),
        });
        self.with_gather(name, label, levels.into(), (certain(0), links.collect()))
    }

    /// The graph with one more gather, by its background and links, and that gather.
    pub(super) fn with_gather(
        &self,
        name: &str,
        label: &str,
        states: Arc<[String]>,
        (background, links): (Vec<f64>, Vec<Link>),
    ) -> Result<(Self, VarId), GraphError> {
        let mut graph = self.clone();
        let parents: Vec<VarId> = links.iter().map(|link| link.parent).collect();
        let made = graph.network.add_noisy_max(name, background, links)?;
        let node = graph.graph.add_node(Arc::new(Node {
            kind: NodeKind::Gather,
            name: name.to_owned(),
            label: label.to_owned(),
            states,
        }));
        for parent in parents {
            let parent = petgraph::graph::NodeIndex::new(parent.index());
            graph.graph.add_edge(parent, node, Arrow::default());
        }
        Ok((graph, made))
    }
}
