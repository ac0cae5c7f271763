//! Several changed weights through a calibrated tree at once.
//!
//! In: up to [`LANES`] terms, each a list of slots with new weights. Out: for each term the sum of
//! the tree and of every followed event. Only cliques on the way from a changed slot to the root
//! are multiplied out again; everything else goes through the calibration's operators.
//!
//! Example: a term without changes gives back the calibration's own sums.

use crate::infer::kernel::{LANES, ONE, Piece, Wide, dot, project, total_where};
use crate::infer::passes::{Calibration, Event, all_but_one, each_state, times, weighted};
use crate::infer::tree::Tree;

/// New weights of some slots, ascending by slot.
pub(super) type Term = Vec<(usize, Vec<f64>)>;

/// What a batch works on.
pub(super) struct Batch<'a> {
    pub(super) tree: &'a Tree,
    pub(super) states: &'a [usize],
    pub(super) weights: &'a [Vec<f64>],
    pub(super) events: &'a [Event],
    pub(super) calibration: &'a Calibration,
}

/// A changed slot: its weight per state and term, and the state of each entry of its clique.
struct Changed {
    slot: usize,
    weights: Vec<Wide>,
    map: Vec<u32>,
}

/// The messages of one batch.
struct Messages {
    dirty: Vec<bool>,
    changed_at: Vec<Vec<Changed>>,
    up: Vec<Vec<Wide>>,
    down: Vec<Vec<Wide>>,
}

impl Batch<'_> {
    /// Per term the tree's sum, and per event the terms' sums; all in the calibration's unit.
    /// Events that aren't followed keep the value they have without changes.
    pub(super) fn run(&self, terms: &[&Term]) -> (Wide, Vec<Wide>) {
        let count = self.tree.cliques.len();
        let mut messages = Messages {
            dirty: vec![false; count],
            changed_at: self.changed_slots(terms),
            up: vec![Vec::new(); count],
            down: vec![Vec::new(); count],
        };
        for &index in self.tree.top_down.iter().rev() {
            messages.dirty[index] |= !messages.changed_at[index].is_empty();
            if let (true, Some(parent)) = (messages.dirty[index], self.tree.cliques[index].parent) {
                messages.dirty[parent] = true;
            }
        }
        let root = self.tree.top_down[0];
        let mut sums: Vec<Wide> = self
            .calibration
            .sums
            .iter()
            .map(|&sum| [sum; LANES])
            .collect();
        if !messages.dirty[root] {
            return ([self.calibration.total; LANES], sums);
        }
        for &index in self.tree.top_down.iter().rev() {
            if messages.dirty[index] {
                messages.up[index] = self.inward(index, &messages);
            }
        }
        messages.down[root] = vec![ONE];
        for &index in &self.tree.top_down {
            // No message has come down where nothing is followed, or where a sum was direct.
            if self.calibration.followed[index].is_empty() || messages.down[index].is_empty() {
                continue;
            }
            if messages.dirty[index] {
                self.outward_dirty(index, &mut messages, &mut sums);
            } else {
                self.outward_clean(index, &mut messages, &mut sums);
            }
        }
        (messages.up[root][0], sums)
    }

    /// Per clique, the slots homed there that any term changes.
    fn changed_slots(&self, terms: &[&Term]) -> Vec<Vec<Changed>> {
        let mut slots: Vec<usize> = terms
            .iter()
            .flat_map(|term| term.iter().map(|(slot, _)| *slot))
            .collect();
        slots.sort_unstable();
        slots.dedup();
        let mut at: Vec<Vec<Changed>> = self.tree.cliques.iter().map(|_| Vec::new()).collect();
        for slot in slots {
            let mut weights: Vec<Wide> = self.weights[slot].iter().map(|&w| [w; LANES]).collect();
            for (lane, term) in terms.iter().enumerate() {
                if let Ok(place) = term.binary_search_by_key(&slot, |(s, _)| *s) {
                    for (entry, &w) in weights.iter_mut().zip(&term[place].1) {
                        entry[lane] = w;
                    }
                }
            }
            let home = self.tree.home[slot];
            let clique = &self.tree.cliques[home];
            let mut map = vec![0; clique.table.len()];
            each_state(self.states, clique, slot, |entry, state| {
                map[entry] = u32::try_from(state).unwrap_or(u32::MAX);
            });
            at[home].push(Changed { slot, weights, map });
        }
        at
    }

    /// A dirty clique's table times its own unchanged weights.
    fn plain(&self, index: usize, messages: &Messages) -> Vec<f64> {
        let here = &messages.changed_at[index];
        let is_changed = |slot: usize| here.iter().any(|changed| changed.slot == slot);
        let mut plain = weighted(self.tree, self.states, index, self.weights, is_changed);
        let scale = self.calibration.scale[index];
        for x in &mut plain {
            *x *= scale;
        }
        plain
    }

    fn inward(&self, index: usize, messages: &Messages) -> Vec<Wide> {
        let clique = &self.tree.cliques[index];
        let mut plain = self.plain(index, messages);
        let mut pieces: Vec<Piece<'_>> = (messages.changed_at[index].iter())
            .map(|changed| (&changed.weights[..], &changed.map[..]))
            .collect();
        for &child in &clique.children {
            let map = &self.tree.cliques[child].from_parent;
            if messages.dirty[child] {
                pieces.push((&messages.up[child], map));
            } else {
                times(&mut plain, &self.calibration.up[child], map);
            }
        }
        project(
            &plain,
            &pieces,
            &clique.to_separator,
            clique.separator_entries,
        )
    }

    fn outward_clean(&self, index: usize, messages: &mut Messages, sums: &mut [Wide]) {
        let clique = &self.tree.cliques[index];
        let above = std::mem::take(&mut messages.down[index]);
        if let Some(tables) = &self.calibration.direct[index] {
            for (&event, table) in self.calibration.followed[index].iter().zip(tables) {
                sums[event] = dot(table, &above);
            }
            return;
        }
        for &child in &clique.children {
            let Some(operator) = &self.calibration.operators[child] else {
                continue;
            };
            if self.calibration.followed[child].is_empty() {
                continue;
            }
            let count = self.tree.cliques[child].separator_entries;
            let pieces = [(&above[..], &operator.from_above[..])];
            messages.down[child] = project(&operator.table, &pieces, &operator.to_below, count);
        }
        for &event in &self.calibration.events_at[index] {
            if self.calibration.followed[index].contains(&event) {
                sums[event] = dot(&self.calibration.readouts[event].1, &above);
            }
        }
    }

    fn outward_dirty(&self, index: usize, messages: &mut Messages, sums: &mut [Wide]) {
        let cliques = &self.tree.cliques;
        let clique = &cliques[index];
        let mut plain = self.plain(index, messages);
        let above = std::mem::take(&mut messages.down[index]);
        let followed = |child: usize| !self.calibration.followed[child].is_empty();
        let mut own: Vec<Piece<'_>> = (messages.changed_at[index].iter())
            .map(|changed| (&changed.weights[..], &changed.map[..]))
            .collect();
        if clique.parent.is_some() {
            own.push((&above, &clique.to_separator));
        }
        let mut dirty: Vec<usize> = Vec::new();
        let mut clean: Vec<usize> = Vec::new();
        for &child in &clique.children {
            if messages.dirty[child] {
                dirty.push(child);
            } else if followed(child) {
                clean.push(child);
            } else {
                times(
                    &mut plain,
                    &self.calibration.up[child],
                    &cliques[child].from_parent,
                );
            }
        }
        let with_all_but = |skip: Option<usize>| {
            let others = dirty.iter().copied().filter(|&child| Some(child) != skip);
            let theirs =
                others.map(|child| (&messages.up[child][..], &cliques[child].from_parent[..]));
            own.iter()
                .copied()
                .chain(theirs)
                .collect::<Vec<Piece<'_>>>()
        };
        let from_clean: Vec<(&[f64], &[u32])> = clean
            .iter()
            .map(|&child| {
                (
                    &self.calibration.up[child][..],
                    &cliques[child].from_parent[..],
                )
            })
            .collect();
        let mut full = plain.clone();
        for (message, map) in &from_clean {
            times(&mut full, message, map);
        }
        let mut down = Vec::new();
        let to_child = |child: usize, table: &[f64], pieces: &[Piece<'_>]| {
            let below = &cliques[child];
            (
                child,
                project(table, pieces, &below.from_parent, below.separator_entries),
            )
        };
        for &child in dirty.iter().filter(|&&child| followed(child)) {
            down.push(to_child(child, &full, &with_all_but(Some(child))));
        }
        let all = with_all_but(None);
        all_but_one(&plain, &from_clean, 0, &mut |number, others| {
            down.push(to_child(clean[number], others, &all));
        });
        for &event in &self.calibration.events_at[index] {
            if self.calibration.followed[index].contains(&event) {
                let mut flags = vec![false; full.len()];
                let Event { slot, states } = &self.events[event];
                each_state(self.states, clique, *slot, |entry, state| {
                    flags[entry] = states[state];
                });
                sums[event] = total_where(&full, &all, &flags);
            }
        }
        for (child, message) in down {
            messages.down[child] = message;
        }
    }
}
