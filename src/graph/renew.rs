//! A causal graph × a repair → the graph with the state after it.
//!
//! In: a [`CausalGraph`] and a [`Renewal`]: which faults are repaired, which neighbours it disturbs,
//! which conditions a refill renews, which places are wiped clean. Out: the same graph with more nodes. Nodes
//! that stood before stay as they are, with their ids, so that earlier findings keep speaking of
//! the earlier state; causes, leaks, conditions and tasks point at the newest nodes.
//!
//! Only what descends from a changed node is copied. Other faults, and every push already drawn,
//! are the same variables in both states: L = max(pushes of the repaired fault, the rest) and
//! L' = max(its new pushes, the same rest). Faults are never drawn anew from conditions or from
//! other faults.
//!
//! Marks that last read the worst of all states since the place was cleaned.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::graph::NodeIndex;

use crate::graph::node::{Arrow, Node, NodeKind};
use crate::graph::{CausalGraph, GraphError};
use crate::ids::{ConditionId, Id, PartId, TaskId, VarId};
use crate::infer::{Family, Link};
use crate::rules::base::{Reason, RuleBase};

/// How something stands after a change, by how it stood before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Odds {
    /// P(there after | there before).
    pub fails: f64,
    /// P(there after | not there before).
    pub new: f64,
}

/// A fault that a repair changes.
#[derive(Debug, Clone, PartialEq)]
pub struct Renewed {
    /// Its position in the graph's causes.
    pub cause: usize,
    /// How it stands afterwards.
    pub odds: Odds,
    /// Whether it was repaired: what is left of it leaks as newly drawn. A neighbour that was only
    /// disturbed keeps the leak that it had.
    pub repaired: bool,
    /// Why this is believed.
    pub reason: Reason,
}

/// What was changed at one point of the log.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Renewal {
    /// Faults, each at most once.
    pub faults: Vec<Renewed>,
    /// Conditions that a refill renews.
    pub conditions: Vec<(ConditionId, Odds)>,
    /// Places wiped clean: what shows there later is new.
    pub cleaned: BTreeSet<PartId>,
}

/// What repairs have replaced so far.
#[derive(Debug, Clone, Default)]
pub struct States {
    /// How many renewals there were.
    pub count: usize,
    /// Nodes that a newer one stands for.
    replaced: BTreeSet<VarId>,
    /// For a current node at a place: its nodes since the place was cleaned, where there are more.
    since_cleaned: BTreeMap<VarId, Vec<VarId>>,
    /// For a sign of lasting marks that reads more than the current state: what it would read
    /// without.
    plain_parents: BTreeMap<VarId, Vec<VarId>>,
    /// Nodes made to collect marks, by what they collect.
    collected: BTreeMap<(VarId, Vec<VarId>), VarId>,
}

impl States {
    /// Whether a newer node stands for this one.
    pub fn is_replaced(&self, var: VarId) -> bool {
        self.replaced.contains(&var)
    }
}

impl CausalGraph {
    /// The graph after a renewal. Time and memory: those of a copy, and of what is renewed.
    ///
    /// # Errors
    /// Odds that are no probabilities.
    pub fn renew(&self, rules: &RuleBase, renewal: &Renewal) -> Result<Self, GraphError> {
        let mut graph = self.clone();
        graph.states.count += 1;
        let since = if !renewal.faults.is_empty() {
            SINCE[0]
        } else if !renewal.conditions.is_empty() {
            SINCE[1]
        } else {
            SINCE[2]
        };
        let renewing = Renewing {
            since,
            old: self,
            rules,
            newest: BTreeMap::new(),
            graph,
        };
        renewing.run(renewal)
    }
}

/// What the labels of newer nodes end in.
const SINCE: [&str; 4] = [
    ", since the repair",
    ", since the refill",
    ", since it was cleaned",
    ", at any time since it was cleaned",
];

struct Renewing<'a> {
    /// What the labels of the new nodes end in.
    since: &'static str,
    /// As it was.
    old: &'a CausalGraph,
    rules: &'a RuleBase,
    /// Old current node → the node that stands for it now.
    newest: BTreeMap<VarId, VarId>,
    graph: CausalGraph,
}

impl Renewing<'_> {
    fn run(mut self, renewal: &Renewal) -> Result<CausalGraph, GraphError> {
        for &(condition, odds) in &renewal.conditions {
            if let Some(before) = self.old.condition_nodes[condition.index()] {
                self.two_state(before, odds, None)?;
            }
        }
        for renewed in &renewal.faults {
            self.fault(renewed)?;
        }
        for var in self.old.network.ids() {
            self.copy(var, renewal)?;
        }
        Ok(self.pointed_at_newest())
    }

    /// A two-state node as it stands afterwards.
    fn two_state(
        &mut self,
        before: VarId,
        odds: Odds,
        reason: Option<&Reason>,
    ) -> Result<VarId, GraphError> {
        let rows = vec![1.0 - odds.new, odds.new, 1.0 - odds.fails, odds.fails];
        let arrow = Arrow {
            strength: format!("stays {}", super::expand::percent(odds.fails)),
            reason: reason.cloned(),
        };
        let family = Family::Table {
            parents: vec![before],
            rows,
        };
        self.add(before, family, vec![(before, arrow)])
    }

    /// A fault and its push. The push of a repaired fault is drawn anew where it is still, or
    /// newly, there; a neighbour that was only disturbed keeps the push that it had.
    fn fault(&mut self, renewed: &Renewed) -> Result<(), GraphError> {
        let cause = &self.old.causes[renewed.cause];
        let after = self.two_state(cause.fault, renewed.odds, Some(&renewed.reason))?;
        let original = self.original_push(cause.push);
        let states = cause.leaking.len();
        let drawn = &original[states..];
        let arrow = Arrow::default();
        if renewed.repaired {
            let family = Family::Table {
                parents: vec![after],
                rows: original.clone(),
            };
            self.add(cause.push, family, vec![(after, arrow)])?;
            return Ok(());
        }
        let certain = |state: usize| (0..states).map(move |at| if at == state { 1.0 } else { 0.0 });
        let mut rows = Vec::with_capacity(states * 2 * states);
        for before in 0..states {
            rows.extend(certain(0));
            if before == 0 {
                rows.extend_from_slice(drawn);
            } else {
                rows.extend(certain(before));
            }
        }
        let family = Family::Table {
            parents: vec![cause.push, after],
            rows,
        };
        self.add(
            cause.push,
            family,
            vec![(cause.push, arrow.clone()), (after, arrow)],
        )?;
        Ok(())
    }

    /// The rows by which a push was first drawn: absent, present.
    fn original_push(&self, push: VarId) -> Vec<f64> {
        let mut at = push;
        loop {
            match &self.graph.network.node(at).family {
                Family::Table { parents, rows } if parents.len() == 1 => return rows.clone(),
                // A disturbed neighbour's: its first parent is the push before it.
                Family::Table { parents, .. } if !parents.is_empty() => at = parents[0],
                // No push is anything else.
                _ => return Vec::new(),
            }
        }
    }

    /// Copies a node if it is current and something that it reads has changed.
    fn copy(&mut self, var: VarId, renewal: &Renewal) -> Result<(), GraphError> {
        if self.old.states.replaced.contains(&var) || self.newest.contains_key(&var) {
            return Ok(());
        }
        let kind = &self.old.node(var).kind;
        if matches!(
            kind,
            NodeKind::Condition(_) | NodeKind::Fault(_) | NodeKind::Push(_)
        ) {
            return Ok(());
        }
        let mut plain: Vec<VarId> = match self.old.states.plain_parents.get(&var) {
            Some(plain) => plain.clone(),
            None => self.old.network.parents(var).collect(),
        };
        for parent in &mut plain {
            *parent = self.newest.get(parent).copied().unwrap_or(*parent);
        }
        let reads = if self.lasting(kind) {
            let reads: Result<Vec<VarId>, GraphError> =
                plain.iter().map(|&parent| self.marks(parent)).collect();
            reads?
        } else {
            plain.clone()
        };
        let made = if self.old.network.parents(var).eq(reads.iter().copied()) {
            var
        } else {
            let family = with_parents(&self.old.network.node(var).family, &reads);
            let arrows = self.arrows(var, &reads);
            self.add(var, family, arrows)?
        };
        if reads != plain {
            self.graph.states.plain_parents.insert(made, plain);
        }
        self.note_marks(var, made, renewal);
        Ok(())
    }

    /// Keeps what marks at the node's place read from now on.
    fn note_marks(&mut self, before: VarId, now: VarId, renewal: &Renewal) {
        let (NodeKind::Leak(part, _) | NodeKind::LeakHere(part) | NodeKind::Wet(part)) =
            self.old.node(before).kind
        else {
            return;
        };
        let since = self.graph.states.since_cleaned.remove(&before);
        if renewal.cleaned.contains(&part) {
            return;
        }
        let mut since = since.unwrap_or_else(|| vec![before]);
        if now != before {
            since.push(now);
        }
        if since.len() > 1 {
            self.graph.states.since_cleaned.insert(now, since);
        }
    }

    /// Whether a sign reads marks that last.
    fn lasting(&self, kind: &NodeKind) -> bool {
        let NodeKind::Sign { task, .. } = kind else {
            return false;
        };
        let occasion = self.rules.checks[self.old.tasks[*task].check].occasion;
        occasion.is_some_and(|occasion| self.rules.occasions[occasion].lasting)
    }

    /// What marks read in place of a current node: the worst of its states since cleaning.
    fn marks(&mut self, of: VarId) -> Result<VarId, GraphError> {
        let kind = self.graph.node(of).kind.clone();
        let parents: Vec<VarId> = match kind {
            NodeKind::Leak(..) | NodeKind::LeakHere(_) | NodeKind::Wet(_) => {
                return match self.graph.states.since_cleaned.get(&of).cloned() {
                    Some(since) => self.worst(of, since),
                    None => Ok(of),
                };
            }
            NodeKind::Seen(_) | NodeKind::Unless | NodeKind::Gather => {
                self.graph.network.parents(of).collect()
            }
            _ => return Ok(of),
        };
        // The first parent of a gate is its value; all parents of a gather are leaks.
        let values = if kind == NodeKind::Gather {
            parents.len()
        } else {
            1
        };
        let mut reads = parents.clone();
        for read in &mut reads[..values] {
            *read = self.marks(*read)?;
        }
        if reads == parents {
            return Ok(of);
        }
        let key = (of, reads.clone());
        if let Some(&made) = self.graph.states.collected.get(&key) {
            return Ok(made);
        }
        let family = with_parents(&self.graph.network.node(of).family, &reads);
        let arrows = reads.iter().map(|&read| (read, Arrow::default())).collect();
        let made = self.collecting(of, family, arrows)?;
        self.graph.states.collected.insert(key, made);
        Ok(made)
    }

    /// The worst of a node's states.
    fn worst(&mut self, of: VarId, states: Vec<VarId>) -> Result<VarId, GraphError> {
        let key = (of, states.clone());
        if let Some(&made) = self.graph.states.collected.get(&key) {
            return Ok(made);
        }
        let levels = self.graph.network.node(of).states;
        let row = |at: usize| (0..levels).map(move |l| if l == at { 1.0 } else { 0.0 });
        let push: Vec<Vec<f64>> = (0..levels).map(|level| row(level).collect()).collect();
        let links = states.iter().map(|&parent| Link {
            parent,
            push: push.clone(),
        });
        let family = Family::NoisyMax {
            background: row(0).collect(),
            links: links.collect(),
        };
        let arrows = states.iter().map(|&at| (at, Arrow::default())).collect();
        let made = self.collecting(of, family, arrows)?;
        self.graph.states.collected.insert(key, made);
        Ok(made)
    }

    /// Arrows as before, from where they come from now.
    fn arrows(&self, var: VarId, reads: &[VarId]) -> Vec<(VarId, Arrow)> {
        let before = self.old.network.parents(var);
        let arrows = self.old.arrows_into(var);
        let arrow = |from: VarId| {
            let found = arrows.iter().find(|(parent, _)| *parent == from);
            found.map_or_else(Arrow::default, |(_, arrow)| (*arrow).clone())
        };
        before
            .zip(reads)
            .map(|(from, &now)| (now, arrow(from)))
            .collect()
    }

    /// Adds the node that stands for another from now on.
    fn add(
        &mut self,
        of: VarId,
        family: Family,
        arrows: Vec<(VarId, Arrow)>,
    ) -> Result<VarId, GraphError> {
        let suffix = format!("~{}", self.graph.states.count);
        let made = self.node(of, &suffix, self.since, family, arrows)?;
        self.graph.states.replaced.insert(of);
        self.newest.insert(of, made);
        Ok(made)
    }

    /// Adds a node that collects marks of several states. It stands for no other, and the next
    /// renewal builds its own.
    fn collecting(
        &mut self,
        of: VarId,
        family: Family,
        arrows: Vec<(VarId, Arrow)>,
    ) -> Result<VarId, GraphError> {
        let suffix = format!("~marks{}", self.graph.states.count);
        let made = self.node(of, &suffix, SINCE[3], family, arrows)?;
        self.graph.states.replaced.insert(made);
        Ok(made)
    }

    fn node(
        &mut self,
        of: VarId,
        suffix: &str,
        since: &str,
        family: Family,
        arrows: Vec<(VarId, Arrow)>,
    ) -> Result<VarId, GraphError> {
        let Node {
            kind,
            name,
            label,
            states,
        } = self.graph.node(of).clone();
        // The name of the first of its line, so that names do not grow.
        let stem = name.split('~').next().unwrap_or_default();
        let name = format!("{stem}{suffix}");
        let first = SINCE.iter().find_map(|since| label.strip_suffix(since));
        let label = format!("{}{since}", first.unwrap_or(&label));
        let network = &mut self.graph.network;
        let made = match family {
            Family::NoisyMax { background, links } => {
                network.add_noisy_max(&name, background, links)?
            }
            Family::Table { parents, rows } => {
                network.add_table(&name, states.len(), parents, rows)?
            }
        };
        let index = self.graph.graph.add_node(Node {
            kind,
            name,
            label,
            states,
        });
        debug_assert_eq!(index.index(), made.index());
        for (parent, arrow) in arrows {
            let from = NodeIndex::new(parent.index());
            self.graph.graph.add_edge(from, index, arrow);
        }
        Ok(made)
    }

    /// The graph with everything that can be asked for at its newest node.
    fn pointed_at_newest(self) -> CausalGraph {
        let Self {
            newest, mut graph, ..
        } = self;
        let to_newest = |var: &mut VarId| {
            if let Some(&now) = newest.get(var) {
                *var = now;
            }
        };
        for cause in &mut graph.causes {
            to_newest(&mut cause.fault);
            to_newest(&mut cause.push);
        }
        let parts: Vec<PartId> = graph.leak_of.ids().collect();
        for part in parts {
            graph.leak_of[part].as_mut().map(to_newest);
        }
        for node in graph.condition_nodes.iter_mut().flatten() {
            to_newest(node);
        }
        let tasks: Vec<TaskId> = graph.tasks.ids().collect();
        for task in tasks {
            let task = &mut graph.tasks[task];
            task.signs.iter_mut().for_each(to_newest);
            if let Some(gauge) = &mut task.gauge {
                to_newest(&mut gauge.node);
            }
        }
        graph
    }
}

/// A family that reads other nodes, in the same order.
fn with_parents(family: &Family, reads: &[VarId]) -> Family {
    match family {
        Family::NoisyMax { background, links } => Family::NoisyMax {
            background: background.clone(),
            links: links
                .iter()
                .zip(reads)
                .map(|(link, &parent)| Link {
                    parent,
                    push: link.push.clone(),
                })
                .collect(),
        },
        Family::Table { rows, .. } => Family::Table {
            parents: reads.to_vec(),
            rows: rows.clone(),
        },
    }
}
