//! A network of variables with ordered states, the first being the normal one.
//!
//! In: nodes, parents before children. Out: a checked [`Network`].
//!
//! ```
//! use seepwise::infer::{Link, Network};
//! let mut net = Network::new();
//! let hose = net.add_noisy_max("hose aged", vec![0.7, 0.3], vec![])?;
//! let links = vec![Link { parent: hose, push: vec![vec![1.0, 0.0, 0.0], vec![0.8, 0.15, 0.05]] }];
//! let leak = net.add_noisy_max("leak", vec![0.99, 0.01, 0.0], links)?;
//! assert_eq!(net.node(leak).states, 3);
//! # Ok::<(), seepwise::infer::NetworkError>(())
//! ```

use std::sync::Arc;

use thiserror::Error;

use crate::ids::{Id, IdVec, VarId};

/// How far a distribution's sum may be from 1.
const SUM_TOLERANCE: f64 = 1e-9;

/// A parent's push on a noisy-MAX child.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// The parent.
    pub parent: VarId,
    /// `[parent state][child state]`: where the parent in that state pushes the child. Each row
    /// is a distribution; row 0 usually is all on state 0.
    pub push: Vec<Vec<f64>>,
}

/// How a variable depends on its parents.
#[derive(Debug, Clone, PartialEq)]
pub enum Family {
    /// The worst push wins: P(Y≤y|x) = background(≤y)·∏ push(≤y|x) (Pearl 1988; Henrion 1989;
    /// Díez 1993). With two states it is the noisy-OR. All rows are plain distributions.
    NoisyMax {
        /// The unnamed causes' distribution over the child's states.
        background: Vec<f64>,
        /// The named causes.
        links: Vec<Link>,
    },
    /// A table of P(child | parents): parents in order, first slowest, child fastest.
    Table {
        /// The parents.
        parents: Vec<VarId>,
        /// All rows, one after the other.
        rows: Vec<f64>,
    },
}

/// One variable.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// A name for messages and look-ups.
    pub name: String,
    /// Number of ordered states, at least 1.
    pub states: usize,
    /// How it depends on its parents.
    pub family: Family,
}

/// A node that can't be added.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("node `{name}`: {problem}")]
pub struct NetworkError {
    /// The node's name.
    pub name: String,
    /// What is wrong with it.
    pub problem: &'static str,
}

/// Nodes in topological order: parents are added before children.
/// A copy shares them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Network {
    nodes: IdVec<VarId, Arc<Node>>,
}

impl Network {
    /// A network without nodes.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a noisy-MAX node; it has as many states as `background` has entries.
    ///
    /// # Errors
    /// An unknown or repeated parent, a row of the wrong length, a row that is no distribution.
    pub fn add_noisy_max(
        &mut self,
        name: impl Into<String>,
        background: Vec<f64>,
        links: Vec<Link>,
    ) -> Result<VarId, NetworkError> {
        let name = name.into();
        let states = background.len();
        let check = || {
            self.check_parents(links.iter().map(|link| link.parent))?;
            check_row(&background)?;
            for link in &links {
                if link.push.len() != self.node(link.parent).states {
                    return Err("a link needs one row per state of its parent");
                }
                for row in &link.push {
                    if row.len() != states {
                        return Err("a link's row needs one number per state of the child");
                    }
                    check_row(row)?;
                }
            }
            Ok(())
        };
        match check() {
            Ok(()) => Ok(self.push(name, states, Family::NoisyMax { background, links })),
            Err(problem) => Err(NetworkError { name, problem }),
        }
    }

    /// Adds a node given by a table with `states` numbers per row.
    ///
    /// # Errors
    /// An unknown or repeated parent, a table of the wrong length, a row that is no distribution.
    pub fn add_table(
        &mut self,
        name: impl Into<String>,
        states: usize,
        parents: Vec<VarId>,
        rows: Vec<f64>,
    ) -> Result<VarId, NetworkError> {
        let name = name.into();
        let check = || {
            self.check_parents(parents.iter().copied())?;
            let configurations = parents.iter().try_fold(1_usize, |all, &parent| {
                all.checked_mul(self.node(parent).states)
            });
            let wanted = configurations.and_then(|all| all.checked_mul(states));
            if states == 0 || wanted != Some(rows.len()) {
                return Err("the table needs one row per combination of its parents' states");
            }
            rows.chunks_exact(states).try_for_each(check_row)
        };
        match check() {
            Ok(()) => Ok(self.push(name, states, Family::Table { parents, rows })),
            Err(problem) => Err(NetworkError { name, problem }),
        }
    }

    /// Adds a gate: `value`'s state if `guard` is in a state marked `open`, else state 0.
    ///
    /// # Errors
    /// Unknown or equal parents; not one flag per state of the guard.
    pub fn add_gate(
        &mut self,
        name: impl Into<String>,
        value: VarId,
        guard: VarId,
        open: &[bool],
    ) -> Result<VarId, NetworkError> {
        let name = name.into();
        if let Err(problem) = self.check_parents([value, guard].into_iter()) {
            return Err(NetworkError { name, problem });
        }
        if open.len() != self.node(guard).states {
            let problem = "a gate needs one flag per state of its guard";
            return Err(NetworkError { name, problem });
        }
        let states = self.node(value).states;
        let mut rows = vec![0.0; states * open.len() * states];
        for seen in 0..states {
            for (guarded, &is_open) in open.iter().enumerate() {
                let shown = if is_open { seen } else { 0 };
                rows[(seen * open.len() + guarded) * states + shown] = 1.0;
            }
        }
        self.add_table(name, states, vec![value, guard], rows)
    }

    /// The node with this id.
    ///
    /// # Panics
    /// If the id is another network's and past the end of this one.
    pub fn node(&self, var: VarId) -> &Node {
        &self.nodes[var]
    }

    /// Number of nodes.
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Whether there is no node.
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// All ids, parents before children.
    pub fn ids(&self) -> impl DoubleEndedIterator<Item = VarId> + ExactSizeIterator + use<> {
        self.nodes.ids()
    }

    /// The first node with this name. Linear time.
    pub fn find(&self, name: &str) -> Option<VarId> {
        self.nodes
            .enumerated()
            .find(|(_, node)| node.name == name)
            .map(|(var, _)| var)
    }

    /// The parents of a node, in the order given when it was added.
    pub fn parents(&self, var: VarId) -> impl Iterator<Item = VarId> + '_ {
        let (links, parents): (&[Link], &[VarId]) = match &self.node(var).family {
            Family::NoisyMax { links, .. } => (links, &[]),
            Family::Table { parents, .. } => (&[], parents),
        };
        links
            .iter()
            .map(|link| link.parent)
            .chain(parents.iter().copied())
    }

    fn push(&mut self, name: String, states: usize, family: Family) -> VarId {
        self.nodes.push(Arc::new(Node {
            name,
            states,
            family,
        }))
    }

    /// Adds a node of a network with the same ids.
    pub(super) fn add_shared(&mut self, of: &Self, var: VarId) {
        self.nodes.push(Arc::clone(&of.nodes[var]));
    }

    fn check_parents(&self, parents: impl Iterator<Item = VarId>) -> Result<(), &'static str> {
        let mut seen: Vec<VarId> = parents.collect();
        seen.sort_unstable();
        if seen.windows(2).any(|pair| pair[0] == pair[1]) {
            return Err("a parent stands in it twice");
        }
        match seen.last() {
            Some(last) if last.index() >= self.len() => Err("a parent must be added before"),
            _ => Ok(()),
        }
    }
}

fn check_row(row: &[f64]) -> Result<(), &'static str> {
    if row.is_empty() {
        return Err("a variable needs at least one state");
    }
    if !row.iter().all(|p| (0.0..=1.0).contains(p)) {
        return Err("a probability must lie between 0 and 1");
    }
    if (row.iter().sum::<f64>() - 1.0).abs() > SUM_TOLERANCE {
        return Err("the probabilities of a row must add up to 1");
    }
    Ok(())
}
