//! A causal graph made ready for repairs: the same distribution, with what no repair touches apart.
//!
//! In: a [`CausalGraph`] and the causes that repairs will change. Out: the same graph, in which a
//! node that collects the worst of many splits into the worst of what stays as it is and the few
//! that a repair changes: L = max(rest, changed). Each state then shares the rest, so that a second
//! state of a whole-vehicle gather costs next to nothing. Nodes get new ids: split before
//! anything is found.

use std::collections::BTreeSet;

use petgraph::graph::{DiGraph, NodeIndex};

use crate::graph::node::{Arrow, Node, NodeKind};
use crate::graph::{CausalGraph, GraphError};
use crate::ids::{Id, IdVec, PartId, TaskId, VarId};
use crate::infer::{Family, Link, Network};

impl CausalGraph {
    /// The graph, split by what changes with these causes (positions in
    /// [`CausalGraph::causes`]). Time and memory: those of a copy.
    ///
    /// # Errors
    /// None that the graph itself does not have.
    pub fn split(&self, changed: &BTreeSet<usize>) -> Result<Self, GraphError> {
        let affected = self.affected(changed);
        let mut splitting = Splitting {
            graph: DiGraph::new(),
            network: Network::new(),
            now: IdVec::new(),
        };
        for var in self.network.ids() {
            splitting.node(self, var, &affected)?;
        }
        let Splitting {
            graph,
            network,
            now,
        } = splitting;
        let mut split = Self {
            graph,
            network,
            ..self.clone()
        };
        split.renumber(&now);
        Ok(split)
    }

    /// What a change of these causes reaches. Faults and other pushes are never drawn anew.
    fn affected(&self, changed: &BTreeSet<usize>) -> BTreeSet<VarId> {
        let mut affected: BTreeSet<VarId> = (changed.iter())
            .map(|&cause| &self.causes[cause])
            .flat_map(|cause| [cause.fault, cause.push])
            .collect();
        for var in self.network.ids() {
            let stays = matches!(
                self.node(var).kind,
                NodeKind::Condition(_) | NodeKind::Fault(_) | NodeKind::Push(_)
            );
            if !stays && self.network.parents(var).any(|of| affected.contains(&of)) {
                affected.insert(var);
            }
        }
        affected
    }

    fn renumber(&mut self, now: &IdVec<VarId, VarId>) {
        for cause in &mut self.causes {
            (cause.fault, cause.push) = (now[cause.fault], now[cause.push]);
        }
        let parts: Vec<PartId> = self.leak_of.ids().collect();
        for part in parts {
            self.leak_of[part] = self.leak_of[part].map(|leak| now[leak]);
        }
        let conditions = self.condition_nodes.iter_mut();
        for node in conditions.chain(&mut self.feeding_nodes).flatten() {
            *node = now[*node];
        }
        let tasks: Vec<TaskId> = self.tasks.ids().collect();
        for task in tasks {
            let task = &mut self.tasks[task];
            task.signs.iter_mut().for_each(|sign| *sign = now[*sign]);
            if let Some(gauge) = &mut task.gauge {
                gauge.node = now[gauge.node];
            }
        }
    }
}

struct Splitting {
    graph: DiGraph<Node, Arrow>,
    network: Network,
    /// Old node → its number now.
    now: IdVec<VarId, VarId>,
}

impl Splitting {
    fn node(
        &mut self,
        old: &CausalGraph,
        var: VarId,
        affected: &BTreeSet<VarId>,
    ) -> Result<(), GraphError> {
        let node = old.node(var).clone();
        let arrows: Vec<(VarId, Arrow)> = (old.arrows_into(var).into_iter())
            .map(|(from, arrow)| (from, arrow.clone()))
            .collect();
        let collects = matches!(
            node.kind,
            NodeKind::Leak(..) | NodeKind::LeakHere(_) | NodeKind::Gather | NodeKind::PressureGone
        );
        let made = match &old.network.node(var).family {
            Family::Table { parents, rows } => {
                let parents = parents.iter().map(|of| self.now[*of]).collect();
                let states = node.states.len();
                let made = self
                    .network
                    .add_table(&node.name, states, parents, rows.clone())?;
                self.add(node, made, arrows.iter());
                made
            }
            Family::NoisyMax { background, links } => {
                let (touched, rest): (Vec<&Link>, Vec<&Link>) = links
                    .iter()
                    .partition(|link| affected.contains(&link.parent));
                let mut kept: Vec<Link> = links.iter().map(|link| self.moved(link)).collect();
                let splits = collects && !touched.is_empty() && rest.len() > 1;
                if splits {
                    kept = touched.iter().map(|link| self.moved(link)).collect();
                    let apart = self.rest(&node, background, &rest, &arrows)?;
                    kept.push(apart);
                }
                let rest_of = kept.last().map(|link| link.parent).filter(|_| splits);
                let made = self
                    .network
                    .add_noisy_max(&node.name, background.clone(), kept)?;
                let own = arrows
                    .iter()
                    .filter(|(from, _)| !splits || affected.contains(from));
                self.add(node, made, own);
                if let Some(rest) = rest_of {
                    let ends = (NodeIndex::new(rest.index()), NodeIndex::new(made.index()));
                    self.graph.add_edge(ends.0, ends.1, Arrow::default());
                }
                made
            }
        };
        self.now.push(made);
        Ok(())
    }

    /// The worst of what no repair touches, as a link that passes it on as it is.
    fn rest(
        &mut self,
        node: &Node,
        background: &[f64],
        rest: &[&Link],
        arrows: &[(VarId, Arrow)],
    ) -> Result<Link, GraphError> {
        let states = background.len();
        let row = |at: usize| (0..states).map(move |s| if s == at { 1.0 } else { 0.0 });
        let links = rest.iter().map(|link| self.moved(link)).collect();
        let apart = Node {
            kind: NodeKind::Gather,
            name: format!("{}.rest", node.name),
            label: node.label.clone(),
            states: node.states.clone(),
        };
        let made = self
            .network
            .add_noisy_max(&apart.name, row(0).collect(), links)?;
        let stays = |from: &VarId| rest.iter().any(|link| link.parent == *from);
        self.add(apart, made, arrows.iter().filter(|(from, _)| stays(from)));
        Ok(Link {
            parent: made,
            push: (0..states).map(|state| row(state).collect()).collect(),
        })
    }

    fn moved(&self, link: &Link) -> Link {
        Link {
            parent: self.now[link.parent],
            push: link.push.clone(),
        }
    }

    fn add<'a>(
        &mut self,
        node: Node,
        made: VarId,
        arrows: impl Iterator<Item = &'a (VarId, Arrow)>,
    ) {
        let index = self.graph.add_node(node);
        debug_assert_eq!(index.index(), made.index());
        for (from, arrow) in arrows {
            let from = NodeIndex::new(self.now[*from].index());
            self.graph.add_edge(from, index, arrow.clone());
        }
    }
}
