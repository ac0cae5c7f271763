//! Which causes can show in which node.
//!
//! In: a [`CausalGraph`]. Out: for each node the causes above it. Time: arrows × causes / 64.

use crate::graph::CausalGraph;
use crate::ids::{Id, VarId};

/// For each node the causes whose fault or push is above it.
pub(super) struct Influence {
    causes_above: Vec<Vec<u64>>,
}

impl Influence {
    /// Walks the graph once, causes before effects.
    pub fn of(graph: &CausalGraph) -> Self {
        let words = graph.causes.len().div_ceil(64);
        let mut own: Vec<Vec<usize>> = vec![Vec::new(); graph.network.len()];
        for (position, cause) in graph.causes.iter().enumerate() {
            own[cause.fault.index()].push(position);
            own[cause.push.index()].push(position);
        }
        let mut causes_above: Vec<Vec<u64>> = Vec::with_capacity(graph.network.len());
        for var in graph.network.ids() {
            let mut above = vec![0; words];
            for cause in &own[var.index()] {
                above[cause / 64] |= 1 << (cause % 64);
            }
            for parent in graph.network.parents(var) {
                for (bits, more) in above.iter_mut().zip(&causes_above[parent.index()]) {
                    *bits |= more;
                }
            }
            causes_above.push(above);
        }
        Self { causes_above }
    }

    /// Whether a cause can show in a node.
    pub fn shows(&self, cause: usize, var: VarId) -> bool {
        self.causes_above[var.index()][cause / 64] >> (cause % 64) & 1 == 1
    }

    /// How many causes can show in a node.
    pub fn count(&self, var: VarId) -> u32 {
        let bits = self.causes_above[var.index()].iter();
        bits.map(|bits| bits.count_ones()).sum()
    }
}
