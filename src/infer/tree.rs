//! The junction tree: cliques, separators and the index maps between their tables.
//!
//! In: slots, factors and an elimination order. Out: a rooted [`Tree`] of maximal cliques, each
//! with the product of its factors (Lauritzen & Spiegelhalter 1988; Jensen, Lauritzen & Olesen
//! 1990). Tables are row-major; slots that are summed out last vary slowest.
//!
//! Example: factors on (a, b) and (b, c) make two cliques with the separator (b).

use crate::cores;
use crate::infer::compile::{Factor, Model};
use crate::infer::fill::{Part, fill};
use crate::infer::fuse::fuse;
use crate::infer::order::Order;
use crate::infer::projection::Projection;
use crate::infer::support::prune;

/// Trees of so many entries are filled on two cores.
const WORTH_A_CORE: usize = 100_000;

/// One clique.
#[derive(Debug, Clone)]
pub(super) struct Clique {
    pub(super) slots: Vec<usize>,
    /// Product of the factors that live here, without the slots' weights; zeros are left out
    /// (Jensen & Andersen 1990).
    pub(super) table: Vec<f64>,
    /// The numbers of these factors in the model.
    pub(super) factors: Vec<usize>,
    /// Entry → its place in the full row-major table over `slots`.
    pub(super) kept: Vec<u32>,
    pub(super) parent: Option<usize>,
    pub(super) children: Vec<usize>,
    /// Slots shared with the parent, in this clique's order.
    pub(super) separator: Vec<usize>,
    /// Entries of the separator; 1 at the root.
    pub(super) separator_entries: usize,
    /// Entry of the full row-major table over `separator` → its number, if it is left.
    pub(super) separator_numbers: Vec<u32>,
    /// Own entry → separator entry.
    pub(super) to_separator: Vec<u32>,
    /// Parent's entry → separator entry; empty at the root.
    pub(super) from_parent: Vec<u32>,
    /// Slots whose weights live here.
    pub(super) homed: Vec<usize>,
}

impl Clique {
    /// A clique over some slots, not yet joined to others.
    pub(super) fn over(slots: Vec<usize>) -> Self {
        Self {
            slots,
            table: Vec::new(),
            factors: Vec::new(),
            kept: Vec::new(),
            parent: None,
            children: Vec::new(),
            separator: Vec::new(),
            separator_entries: 1,
            separator_numbers: Vec::new(),
            to_separator: Vec::new(),
            from_parent: Vec::new(),
            homed: Vec::new(),
        }
    }
}

/// A rooted junction tree; a forest's parts are joined by empty separators.
#[derive(Debug, Clone)]
pub(super) struct Tree {
    pub(super) cliques: Vec<Clique>,
    /// Parents before children; the root first.
    pub(super) top_down: Vec<usize>,
    /// Per slot: the clique that holds its weight.
    pub(super) home: Vec<usize>,
}

/// Product of the states of some slots.
pub(super) fn entries(states: &[usize], slots: &[usize]) -> usize {
    slots.iter().map(|&slot| states[slot]).product()
}

impl Tree {
    /// Builds the tree. The root is the clique with most neighbours.
    pub(super) fn new(model: &Model, order: &Order) -> Self {
        let states = &model.states;
        let (mut cliques, links) = maximal_cliques(states, order);
        let root = hang_up(&mut cliques, &links, states);
        fuse(&mut cliques, states);
        let mut top_down = vec![root];
        let mut next = 0;
        while let Some(&at) = top_down.get(next) {
            top_down.extend_from_slice(&cliques[at].children);
            next += 1;
        }
        let mut tree = Self {
            home: homes(states.len(), &cliques, states),
            top_down,
            cliques,
        };
        tree.add_tables(model);
        tree.add_maps(states);
        prune(&mut tree);
        for (slot, &home) in tree.home.iter().enumerate() {
            tree.cliques[home].homed.push(slot);
        }
        tree
    }

    /// Multiplies each factor into the smallest clique that holds its slots.
    fn add_tables(&mut self, model: &Model) {
        let sizes: Vec<usize> = self
            .cliques
            .iter()
            .map(|clique| entries(&model.states, &clique.slots))
            .collect();
        let mut holders: Vec<Vec<usize>> = vec![Vec::new(); model.states.len()];
        for (index, clique) in self.cliques.iter().enumerate() {
            clique
                .slots
                .iter()
                .for_each(|&slot| holders[slot].push(index));
        }
        let mut assigned: Vec<Vec<(&Factor, bool)>> = vec![Vec::new(); self.cliques.len()];
        let mut living: Vec<Vec<usize>> = vec![Vec::new(); self.cliques.len()];
        for (number, factor) in model.factors.iter().enumerate() {
            let fits = |index: &&usize| {
                factor
                    .slots
                    .iter()
                    .all(|slot| self.cliques[**index].slots.contains(slot))
            };
            // Of its slots the one in the fewest cliques leaves the fewest to look through.
            let each = factor.slots.iter().map(|&slot| &holders[slot][..]);
            let candidates = each.min_by_key(|held| held.len()).unwrap_or(&[]);
            let Some(&home) = candidates.iter().filter(fits).min_by_key(|&&i| sizes[i]) else {
                unreachable!("every factor lies in a clique");
            };
            assigned[home].push((factor, true));
            living[home].push(number);
            // What a factor rules out can be left out of every clique that sees it.
            if factor.table.contains(&0.0) {
                for &other in candidates
                    .iter()
                    .filter(fits)
                    .filter(|&&other| other != home)
                {
                    assigned[other].push((factor, false));
                }
            }
        }
        let filled = |(clique, factors): (&Clique, &Vec<(&Factor, bool)>)| {
            let fixed = |slot: &&usize| !model.replaceable[**slot];
            let ruled_out = clique
                .slots
                .iter()
                .filter(fixed)
                .map(|slot| (std::slice::from_ref(slot), &model.weights[*slot][..], false));
            let parts: Vec<Part<'_>> = factors
                .iter()
                .map(|(factor, whole)| (&factor.slots[..], &factor.table[..], *whole))
                .chain(ruled_out.filter(|(_, weight, _)| weight.contains(&0.0)))
                .map(|(slots, values, whole)| Part {
                    slots,
                    values,
                    support_only: !whole,
                })
                .collect();
            fill(&model.states, &clique.slots, &parts)
        };
        // Every other clique on another core.
        let every_other = |first: usize| {
            let pairs = self.cliques.iter().zip(&assigned);
            pairs.skip(first).step_by(2).map(filled).collect::<Vec<_>>()
        };
        let few = sizes.iter().sum::<usize>() < WORTH_A_CORE;
        let (even, odd) = if few {
            (every_other(0), every_other(1))
        } else {
            cores::both(|| every_other(0), || every_other(1))
        };
        let mut halves = [even.into_iter(), odd.into_iter()];
        for (index, (clique, living)) in self.cliques.iter_mut().zip(living).enumerate() {
            clique.factors = living;
            if let Some((kept, table)) = halves[index % 2].next() {
                (clique.kept, clique.table) = (kept, table);
            }
        }
    }

    fn add_maps(&mut self, states: &[usize]) {
        for index in 0..self.cliques.len() {
            let clique = &self.cliques[index];
            let onto_separator = |from: &Clique| {
                Projection::new(states, &from.slots, &clique.separator).of(&from.kept)
            };
            let to_separator = onto_separator(clique);
            let from_parent = clique
                .parent
                .map_or_else(Vec::new, |parent| onto_separator(&self.cliques[parent]));
            let clique = &mut self.cliques[index];
            clique.separator_entries = entries(states, &clique.separator);
            clique.to_separator = to_separator;
            clique.from_parent = from_parent;
        }
    }
}

/// The cliques that lie in no other, and the tree's edges between them.
fn maximal_cliques(states: &[usize], order: &Order) -> (Vec<Clique>, Vec<(usize, usize)>) {
    let count = order.sequence.len();
    let mut step = vec![0; count];
    for (at, &slot) in order.sequence.iter().enumerate() {
        step[slot] = at;
    }
    let parent: Vec<Option<usize>> = (order.neighbours.iter())
        .map(|around| around.iter().map(|&slot| step[slot]).min())
        .collect();
    // A clique inside that of one of its children is merged into the first such child.
    let mut merged: Vec<usize> = (0..count).collect();
    for (at, up) in parent
        .iter()
        .enumerate()
        .filter_map(|(at, up)| Some((at, (*up)?)))
    {
        if merged[up] == up && order.neighbours[at].len() == order.neighbours[up].len() + 1 {
            merged[up] = at;
        }
    }
    for at in 0..count {
        // Children come first, so one look suffices: merged[at] is already final.
        merged[at] = merged[merged[at]];
    }
    let mut number = vec![usize::MAX; count];
    let mut cliques = Vec::new();
    for at in (0..count).filter(|&at| merged[at] == at) {
        number[at] = cliques.len();
        let mut slots = order.neighbours[at].clone();
        slots.push(order.sequence[at]);
        slots.sort_by_key(|&slot| std::cmp::Reverse(step[slot]));
        cliques.push(Clique::over(slots));
    }
    if cliques.is_empty() {
        debug_assert!(states.is_empty());
        cliques.push(Clique::over(Vec::new()));
    }
    let edge = |at: usize| {
        let (a, b) = (merged[at], merged[parent[at]?]);
        (a != b).then(|| (number[a], number[b]))
    };
    let links = (0..count).filter_map(edge).collect();
    (cliques, links)
}

fn homes(count: usize, cliques: &[Clique], states: &[usize]) -> Vec<usize> {
    let mut home: Vec<Option<(usize, usize)>> = vec![None; count];
    for (index, clique) in cliques.iter().enumerate() {
        let size = entries(states, &clique.slots);
        for &slot in &clique.slots {
            if home[slot].is_none_or(|(_, best)| size < best) {
                home[slot] = Some((index, size));
            }
        }
    }
    home.into_iter()
        .map(|found| found.map_or(0, |(index, _)| index))
        .collect()
}

/// Roots the tree at the clique with most neighbours, sets parents, children and separators, and returns the
/// root.
fn hang_up(cliques: &mut [Clique], links: &[(usize, usize)], states: &[usize]) -> usize {
    let mut around: Vec<Vec<usize>> = vec![Vec::new(); cliques.len()];
    for &(a, b) in links {
        around[a].push(b);
        around[b].push(a);
    }
    let mut by_size: Vec<usize> = (0..cliques.len()).collect();
    let weight = |c: usize| (around[c].len(), entries(states, &cliques[c].slots));
    by_size.sort_by_key(|&c| (std::cmp::Reverse(weight(c)), c));
    let mut placed = vec![false; cliques.len()];
    let mut top_down = Vec::with_capacity(cliques.len());
    for &start in &by_size {
        if placed[start] {
            continue;
        }
        placed[start] = true;
        if let Some(&root) = top_down.first() {
            // Another part of a forest: an empty separator joins it to the root.
            attach(cliques, start, root);
        }
        let mut next = top_down.len();
        top_down.push(start);
        while next < top_down.len() {
            let parent = top_down[next];
            next += 1;
            for &child in &around[parent] {
                if !placed[child] {
                    placed[child] = true;
                    attach(cliques, child, parent);
                    top_down.push(child);
                }
            }
        }
    }
    top_down[0]
}

fn attach(cliques: &mut [Clique], child: usize, parent: usize) {
    let shared = cliques[child].slots.iter().copied();
    let separator = shared
        .filter(|slot| cliques[parent].slots.contains(slot))
        .collect();
    cliques[child].separator = separator;
    cliques[child].parent = Some(parent);
    cliques[parent].children.push(child);
}
