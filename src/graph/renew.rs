//! A causal graph × a repair → the graph with the state after it.
//!
//! In: a [`CausalGraph`] and a [`Renewal`]: which faults are repaired, which neighbours it disturbs,
//! which conditions a refill renews, which places are wiped clean. Out: the same graph with more nodes. Nodes
//! that stood before stay as they are, with their ids, so that earlier findings keep speaking of
//! the earlier state; causes, leaks, conditions and tasks point at the newest nodes.
//!
//! Only what descends from a changed node is copied. Other faults, and every push already drawn,
//! are the same variables in both states: a place leaks by max(pushes of the repaired fault, the
//! rest) before, and by max(its new pushes, the same rest) after. Faults are never drawn anew from conditions or from
//! other faults.
//!
//! Marks that last read the worst of all states since the place was cleaned.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use petgraph::graph::NodeIndex;

use crate::graph::node::{Arrow, Node, NodeKind, Strength};
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

/// What repairs and repeated checks have replaced so far.
#[derive(Debug, Clone, Default)]
pub struct States {
    /// How many renewals there were.
    pub count: usize,
    /// Nodes that a newer one stands for.
    replaced: BTreeSet<VarId>,
    /// For a sign of a check that has been done and can be done again in the same state: that of the next
    /// time, …
    pub(super) next_time: BTreeMap<VarId, VarId>,
    /// … and the other way round.
    pub(super) time_before: BTreeMap<VarId, VarId>,
    /// For a current node at a place: its nodes since the place was cleaned, where there are more.
    since_cleaned: BTreeMap<VarId, Vec<VarId>>,
    /// For a sign of lasting marks that reads more than the current state: its links to the current
    /// one alone.
    pub(super) plain_links: BTreeMap<VarId, Vec<Link>>,
}

impl States {
    /// Whether a newer node stands for this one.
    pub fn is_replaced(&self, var: VarId) -> bool {
        self.replaced.contains(&var)
    }

    /// The sign that stands, or would stand, for this one the next time that its check is done, and so on:
    /// the newest in the same state.
    pub fn newest_time(&self, var: VarId) -> VarId {
        let next = |at: &VarId| self.next_time.get(at).copied();
        std::iter::successors(Some(var), next).last().unwrap_or(var)
    }

    /// How often the check was done in the same state before the time that this sign stands for.
    pub fn times_before(&self, var: VarId) -> usize {
        let before = |at: &VarId| self.time_before(*at);
        std::iter::successors(before(&var), before).count()
    }

    /// The sign of the time before in the same state.
    pub fn time_before(&self, var: VarId) -> Option<VarId> {
        self.time_before.get(&var).copied()
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

    /// Adds the node that stands for another from now on.
    pub(super) fn add_newer(
        &mut self,
        of: VarId,
        name: &str,
        since: &str,
        family: Family,
        arrows: Vec<(VarId, Arrow)>,
    ) -> Result<VarId, GraphError> {
        let Node {
            kind,
            label,
            states,
            ..
        } = self.node(of).clone();
        let first = SINCE.iter().find_map(|since| label.strip_suffix(since));
        let label = format!("{}{since}", first.unwrap_or(&label));
        let made = match family {
            Family::NoisyMax { background, links } => {
                self.network.add_noisy_max(name, background, links)?
            }
            Family::Table { parents, rows } => {
                self.network.add_table(name, states.len(), parents, rows)?
            }
        };
        let index = self.graph.add_node(Arc::new(Node {
            kind,
            name: name.to_owned(),
            label,
            states,
        }));
        debug_assert_eq!(index.index(), made.index());
        for (parent, arrow) in arrows {
            let from = NodeIndex::new(parent.index());
            self.graph.add_edge(from, index, arrow);
        }
        self.states.replaced.insert(of);
        Ok(made)
    }
}

/// What the labels of newer nodes end in.
pub(super) const SINCE: [&str; 4] = [
    ", since the repair",
    ", since the refill",
    ", since it was cleaned",
    ", done again",
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
            strength: Strength::Stays(odds.fails),
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
        if self.old.states.replaced.contains(&var) {
            return Ok(());
        }
        match &self.old.node(var).kind {
            NodeKind::Condition(_) | NodeKind::Fault(_) => return Ok(()),
            NodeKind::Push(_) => {}
            kind => match &self.old.network.node(var).family {
                Family::NoisyMax { background, links } if self.lasting(kind) => {
                    self.copy_marks(var, background, links)?;
                }
                family => self.copy_plain(var, family)?,
            },
        }
        self.note_marks(var, renewal);
        Ok(())
    }

    /// A node that reads the current state.
    fn copy_plain(&mut self, var: VarId, family: &Family) -> Result<(), GraphError> {
        let before: Vec<VarId> = self.old.network.parents(var).collect();
        let reads: Vec<VarId> = before
            .iter()
            .map(|&parent| self.newest_of(parent))
            .collect();
        if reads != before {
            let arrows = self.arrows(var, &before, &reads);
            self.add(var, with_parents(family, &reads), arrows)?;
        }
        Ok(())
    }

    /// A sign of marks that last: the worst of all states since the place was cleaned, so each of
    /// them pushes it.
    fn copy_marks(
        &mut self,
        var: VarId,
        background: &[f64],
        links: &[Link],
    ) -> Result<(), GraphError> {
        let mut plain = match self.old.states.plain_links.get(&var) {
            Some(plain) => plain.clone(),
            None => links.to_vec(),
        };
        let before: Vec<VarId> = plain.iter().map(|link| link.parent).collect();
        for link in &mut plain {
            link.parent = self.newest_of(link.parent);
        }
        let (mut reads, mut came_from) = (Vec::new(), Vec::new());
        for (link, &from) in plain.iter().zip(&before) {
            for parent in self.since_cleaned(link.parent) {
                let push = link.push.clone();
                reads.push(Link { parent, push });
                came_from.push(from);
            }
        }
        let same = links.iter().map(|link| link.parent);
        let mut made = var;
        if !same.eq(reads.iter().map(|link| link.parent)) {
            let now: Vec<VarId> = reads.iter().map(|link| link.parent).collect();
            let arrows = self.arrows(var, &came_from, &now);
            let family = Family::NoisyMax {
                background: background.to_vec(),
                links: reads.clone(),
            };
            made = self.add(var, family, arrows)?;
        }
        if reads.len() > plain.len() {
            self.graph.states.plain_links.insert(made, plain);
        }
        Ok(())
    }

    fn newest_of(&self, var: VarId) -> VarId {
        self.newest.get(&var).copied().unwrap_or(var)
    }

    /// A node's states since its place was cleaned, itself last.
    fn since_cleaned(&self, of: VarId) -> Vec<VarId> {
        let since = self.graph.states.since_cleaned.get(&of);
        since.cloned().unwrap_or_else(|| vec![of])
    }

    /// Keeps what marks at the node's place read from now on.
    fn note_marks(&mut self, before: VarId, renewal: &Renewal) {
        let Some(part) = self.marked_place(before) else {
            return;
        };
        let now = self.newest_of(before);
        let mut since = self.since_cleaned(before);
        self.graph.states.since_cleaned.remove(&before);
        if renewal.cleaned.contains(&part) {
            return;
        }
        if now != before {
            since.push(now);
        }
        if since.len() > 1 {
            self.graph.states.since_cleaned.insert(now, since);
        }
    }

    /// The place where something leaves its marks.
    fn marked_place(&self, var: VarId) -> Option<PartId> {
        match self.old.node(var).kind {
            NodeKind::Push(place) => Some(place.part),
            NodeKind::Seen(part) | NodeKind::HeldBack(part) => Some(part),
            // The first parent of a gate is its value.
            NodeKind::Unless => {
                let value = self.old.network.parents(var).next()?;
                self.marked_place(value)
            }
            _ => None,
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

    /// Arrows as before, from where they come from now: `before` are the parents as they were.
    fn arrows(&self, var: VarId, before: &[VarId], now: &[VarId]) -> Vec<(VarId, Arrow)> {
        let arrows = self.old.arrows_into(var);
        let arrow = |from: VarId| {
            let found = arrows.iter().find(|(parent, _)| *parent == from);
            found.map_or_else(Arrow::default, |(_, arrow)| (*arrow).clone())
        };
        (before.iter().zip(now))
            .map(|(&from, &now)| (now, arrow(from)))
            .collect()
    }

    /// Adds the node that stands for another from now on.
    fn add(
        &mut self,
        of: VarId,
        family: Family,
        arrows: Vec<(VarId, Arrow)>,
    ) -> Result<VarId, GraphError> {
        // The name of the first of its line, so that names do not grow.
        let stem = self.graph.node(of).name.split('~').next();
        let name = format!("{}~{}", stem.unwrap_or_default(), self.graph.states.count);
        let made = self
            .graph
            .add_newer(of, &name, self.since, family, arrows)?;
        self.newest.insert(of, made);
        Ok(made)
    }
    /// The graph with everything that can be asked for at its newest node.
    fn pointed_at_newest(self) -> CausalGraph {
        let Self {
            newest,
            rules,
            mut graph,
            ..
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
            let gauged = task.gauge.map(|gauge| gauge.node);
            let mut reads = task.signs.iter().copied().chain(gauged);
            if !reads.any(|var| newest.contains_key(&var)) {
                continue;
            }
            let task = Arc::make_mut(task);
            // In the new state it has not been done yet.
            task.is_done_again(rules, false);
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
