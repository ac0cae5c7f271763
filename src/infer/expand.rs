//! Signs that stand outside the tree, as products of weights on variables inside it.
//!
//! In: weights on open signs, e.g. "at most state 1". Out: a sum of products of weights on
//! variables inside the model that equals P(signs so | those variables). Open signs, and all hidden
//! nodes that only they need, thus never enter the tree.
//!
//! Example: "a noisy-OR sign is absent" is one product; a sign below a four-state gather outside
//! the tree takes at most four.

use std::collections::{BTreeMap, BTreeSet};

use crate::ids::{Id, VarId};
use crate::infer::columns::{cumulative, differences, link_columns, spell_out};
use crate::infer::{Family, Network};

/// A weight per state of some variables.
pub(super) type Weights = BTreeMap<VarId, Vec<f64>>;

/// One product of a sum.
#[derive(Debug, Clone)]
pub(super) struct Product {
    pub(super) factor: f64,
    pub(super) weights: Weights,
}

impl Product {
    fn multiply(&mut self, var: VarId, by: Vec<f64>) {
        match self.weights.get_mut(&var) {
            Some(weight) => weight.iter_mut().zip(&by).for_each(|(w, b)| *w *= b),
            None => {
                self.weights.insert(var, by);
            }
        }
    }
}

/// Expands weights on any variables to weights on variables inside.
pub(super) struct Expander<'a> {
    pub(super) net: &'a Network,
    pub(super) inside: &'a [bool],
    /// Most products of one sum.
    pub(super) most: usize,
    /// Variables at which a product was split in several.
    pub(super) splits: BTreeSet<VarId>,
}

impl Expander<'_> {
    /// The sum, or `None` if it has more than `most` products.
    pub(super) fn expand(&mut self, start: Weights) -> Option<Vec<Product>> {
        let mut done = Vec::new();
        let mut pending = vec![Product {
            factor: 1.0,
            weights: start,
        }];
        while let Some(mut product) = pending.pop() {
            let outside = |var: &&VarId| !self.inside[var.index()];
            // Children come after their parents, so nothing will be put on this one later.
            let Some(var) = product.weights.keys().rev().find(outside).copied() else {
                if product.factor != 0.0 {
                    done.push(product);
                }
                continue;
            };
            let weight = product.weights.remove(&var).unwrap_or_default();
            let before = pending.len();
            self.sum_out(var, &weight, product, &mut pending);
            if pending.len() > before + 1 {
                self.splits.insert(var);
            }
            if pending.len() + done.len() > self.most {
                return None;
            }
        }
        Some(done)
    }

    fn sum_out(&self, var: VarId, weight: &[f64], mut product: Product, out: &mut Vec<Product>) {
        let states = self.net.node(var).states;
        match &self.net.node(var).family {
            Family::NoisyMax { background, links } if links.len() <= 1 => {
                let rows = spell_out(background, links);
                let sums = rows
                    .chunks_exact(states)
                    .map(|row| dot(row, weight))
                    .collect();
                put(&mut product, links.first().map(|link| link.parent), sums);
                out.push(product);
            }
            Family::NoisyMax { background, links } => {
                let base = cumulative(background);
                let levels = differences(weight);
                for y in (0..states).filter(|&y| levels[y] != 0.0 && base[y] != 0.0) {
                    let mut term = product.clone();
                    term.factor *= levels[y] * base[y];
                    for link in links {
                        put(
                            &mut term,
                            Some(link.parent),
                            link_columns(link).swap_remove(y),
                        );
                    }
                    out.push(term);
                }
            }
            Family::Table { parents, rows } => {
                let sums = rows
                    .chunks_exact(states)
                    .map(|row| dot(row, weight))
                    .collect();
                self.split_table(parents, sums, product, out);
            }
        }
    }

    /// A function of several parents as a sum of products.
    fn split_table(
        &self,
        parents: &[VarId],
        mut table: Vec<f64>,
        mut product: Product,
        out: &mut Vec<Product>,
    ) {
        let mut open: Vec<VarId> = parents.to_vec();
        for &parent in parents {
            if open.len() > 1 && self.is_private_root(parent, &open, &product) {
                self.fold_root(&mut open, &mut table, parent, &mut product);
            }
        }
        // The parent with most states keeps a weight vector; the others are taken state by state.
        let Some(free) = (0..open.len()).max_by_key(|&i| (self.states(open[i]), open.len() - i))
        else {
            put(&mut product, None, table);
            out.push(product);
            return;
        };
        let counts: Vec<usize> = open.iter().map(|&p| self.states(p)).collect();
        let mut groups: Vec<(Vec<f64>, Vec<usize>)> = Vec::new();
        let others: usize = table.len() / counts[free];
        let inner: usize = counts[free + 1..].iter().product();
        for other in 0..others {
            let start = (other / inner) * inner * counts[free] + other % inner;
            let vector: Vec<f64> = (0..counts[free])
                .map(|state| table[start + state * inner])
                .collect();
            let place = groups
                .iter()
                .position(|(v, _)| open.len() == 2 && *v == vector);
            match place {
                Some(place) => groups[place].1.push(other),
                None => groups.push((vector, vec![other])),
            }
        }
        let rest: Vec<usize> = (0..open.len()).filter(|&i| i != free).collect();
        for (vector, members) in groups {
            let mut term = product.clone();
            put(&mut term, Some(open[free]), vector);
            if members.len() < others {
                for (place, &i) in rest.iter().enumerate() {
                    let below: usize = rest[place + 1..].iter().map(|&j| counts[j]).product();
                    let mut flags = vec![0.0; counts[i]];
                    for &member in &members {
                        flags[member / below % counts[i]] = 1.0;
                    }
                    put(&mut term, Some(open[i]), flags);
                }
            }
            let dead = |w: &Vec<f64>| w.iter().all(|&x| x == 0.0);
            if !term.weights.values().any(dead) {
                out.push(term);
            }
        }
    }

    fn states(&self, var: VarId) -> usize {
        self.net.node(var).states
    }

    /// A root outside the tree that no other pending variable depends on.
    fn is_private_root(&self, var: VarId, parents: &[VarId], product: &Product) -> bool {
        if self.inside[var.index()] || self.net.parents(var).next().is_some() {
            return false;
        }
        let mut stack: Vec<VarId> = product
            .weights
            .keys()
            .chain(parents)
            .copied()
            .filter(|&other| other > var)
            .collect();
        let mut seen = BTreeSet::new();
        while let Some(at) = stack.pop() {
            if self.inside[at.index()] || at < var || !seen.insert(at) {
                continue;
            }
            for parent in self.net.parents(at) {
                if parent == var {
                    return false;
                }
                stack.push(parent);
            }
        }
        true
    }

    /// Sums a root out of a table.
    fn fold_root(
        &self,
        open: &mut Vec<VarId>,
        table: &mut Vec<f64>,
        root: VarId,
        product: &mut Product,
    ) {
        let Some(place) = open.iter().position(|&p| p == root) else {
            return;
        };
        let (Family::NoisyMax {
            background: prior, ..
        }
        | Family::Table { rows: prior, .. }) = &self.net.node(root).family;
        let mut weight = prior.clone();
        if let Some(put) = product.weights.remove(&root) {
            weight.iter_mut().zip(&put).for_each(|(w, p)| *w *= p);
        }
        let inner: usize = open[place + 1..].iter().map(|&p| self.states(p)).product();
        let count = weight.len();
        let folded = (0..table.len() / count).map(|at| {
            let start = (at / inner) * inner * count + at % inner;
            (0..count)
                .map(|state| weight[state] * table[start + state * inner])
                .sum()
        });
        *table = folded.collect();
        open.remove(place);
    }
}

/// Multiplies a weight onto a parent; a constant one goes into the factor.
fn put(product: &mut Product, parent: Option<VarId>, weight: Vec<f64>) {
    let first = weight[0];
    match parent {
        Some(parent) if weight.iter().any(|&w| w.to_bits() != first.to_bits()) => {
            product.multiply(parent, weight);
        }
        _ => product.factor *= first,
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
