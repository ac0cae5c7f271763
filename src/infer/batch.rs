//! Several changed weights through a calibrated tree at once.
//!
//! In: up to [`super::real::LANES`] terms, each a list of slots with new weights. Out: for each term the sum of
//! the tree and of every followed event. Only cliques on the way from a changed slot to the root
//! are multiplied out again; everything else goes through the calibration's operators.
//!
//! Example: a term without changes gives back the calibration's own sums.

use std::collections::BTreeMap;

use crate::infer::compile::Model;
use crate::infer::kernel::{Piece, dot, project, total_where};
use crate::infer::passes::{Calibration, Event, each_state, times, weighted};
use crate::infer::real::{Real, Wide};
use crate::infer::tree::Tree;

/// New weights of some slots, ascending by slot.
pub(super) type Term = Vec<(usize, Vec<f64>)>;

/// What batches work on, and the tables that they share.
pub(super) struct Batch<'a, R: Real> {
    tree: &'a Tree,
    model: &'a Model,
    events: &'a [Event],
    calibration: &'a Calibration<R>,
    /// Whether events are followed; else only the tree's sums are wanted.
    follows: bool,
    /// Per slot: some term changes a weight of 0, so that no factor can lead to the new one.
    set_free: Vec<bool>,
    /// Per slot that a term changes: the state of each entry of its clique.
    state_maps: BTreeMap<usize, Vec<u32>>,
    /// By clique and a set of its children (a bit each, by their place): its table times its
    /// weights, but those set free, times the unchanged messages of these children.
    joined: BTreeMap<(usize, u64), Vec<R>>,
    /// Per clique: memory of the messages of earlier batches, up and down.
    used: Vec<UpAndDown<R::Wide>>,
}

/// A message to the parent and one from it.
type UpAndDown<W> = (Vec<W>, Vec<W>);

/// What a batch changes in one clique: per slot the factor by state and term.
type Changed<W> = Vec<(usize, Vec<W>)>;

/// The messages of one batch.
struct Messages<W> {
    dirty: Vec<bool>,
    changed_at: Vec<Changed<W>>,
    up: Vec<Vec<W>>,
    down: Vec<Vec<W>>,
}

impl<'a, R: Real> Batch<'a, R> {
    /// Prepares for these terms; `follows` says whether what becomes of events is wanted, too.
    pub(super) fn new(
        tree: &'a Tree,
        model: &'a Model,
        (events, follows): (&'a [Event], bool),
        calibration: &'a Calibration<R>,
        terms: &[Term],
    ) -> Self {
        let mut set_free = vec![false; model.weights.len()];
        let mut state_maps = BTreeMap::new();
        for (slot, _) in terms.iter().flatten() {
            set_free[*slot] = model.weights[*slot].contains(&0.0);
            state_maps.entry(*slot).or_insert_with(|| {
                let clique = &tree.cliques[tree.home[*slot]];
                let mut map = vec![0; clique.table.len()];
                each_state(&model.states, clique, *slot, |entry, state| {
                    map[entry] = u32::try_from(state).unwrap_or(u32::MAX);
                });
                map
            });
        }
        Self {
            tree,
            model,
            events,
            calibration,
            follows,
            set_free,
            state_maps,
            joined: BTreeMap::new(),
            used: tree.cliques.iter().map(|_| Default::default()).collect(),
        }
    }

    /// Up to [`super::real::LANES`] of the terms. Per term the tree's sum, and per event the terms' sums; all in
    /// the calibration's unit. Events that aren't followed keep the value they have without changes;
    /// there are no sums where none is followed.
    pub(super) fn run(&mut self, terms: &[&Term]) -> (R::Wide, Vec<R::Wide>) {
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
        // What lies above all changes has not changed: there the calibration's own message does.
        let top = if self.follows {
            root
        } else {
            self.top_of_changes(&mut messages)
        };
        let unchanged = self.calibration.sums.iter().filter(|_| self.follows);
        let mut sums: Vec<R::Wide> = unchanged.map(|&sum| R::Wide::all(sum)).collect();
        if !messages.dirty[top] {
            return (R::Wide::all(self.calibration.total), sums);
        }
        // The slots set free weigh in wherever their clique is gone through again.
        for (&slot, _) in self
            .state_maps
            .iter()
            .filter(|(slot, _)| self.set_free[**slot])
        {
            let here = &mut messages.changed_at[self.tree.home[slot]];
            if messages.dirty[self.tree.home[slot]] && here.iter().all(|(s, _)| *s != slot) {
                let weights = self.model.weights[slot].iter();
                let weights = weights.map(|&w| R::Wide::all(w.into())).collect();
                here.push((slot, weights));
            }
        }
        for &index in self.tree.top_down.iter().rev() {
            if messages.dirty[index] {
                messages.up[index] = self.inward(index, &messages);
            }
        }
        messages.down[root] = vec![R::Wide::all(1.0.into())];
        let tree = self.tree;
        let downwards: &[usize] = if self.follows { &tree.top_down } else { &[] };
        for &index in downwards {
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
        let total = dot(&self.calibration.down[top], &messages.up[top]);
        for (index, up) in messages
            .up
            .into_iter()
            .enumerate()
            .filter(|(_, m)| !m.is_empty())
        {
            self.used[index].0 = up;
        }
        (total, sums)
    }

    /// The lowest clique below which all changes lie and to which a message has come down. Those above it
    /// need not be gone through again.
    fn top_of_changes(&self, messages: &mut Messages<R::Wide>) -> usize {
        let mut top = self.tree.top_down[0];
        loop {
            let children = self.tree.cliques[top].children.iter();
            let mut changed = children.copied().filter(|&child| messages.dirty[child]);
            match (changed.next(), changed.next()) {
                (Some(below), None)
                    if messages.changed_at[top].is_empty()
                        && !self.calibration.down[below].is_empty() =>
                {
                    messages.dirty[top] = false;
                    top = below;
                }
                _ => return top,
            }
        }
    }

    /// Per clique, the slots homed there that any term changes, and what they are multiplied by.
    fn changed_slots(&self, terms: &[&Term]) -> Vec<Changed<R::Wide>> {
        let mut slots: Vec<usize> = terms
            .iter()
            .flat_map(|term| term.iter().map(|(slot, _)| *slot))
            .collect();
        slots.sort_unstable();
        slots.dedup();
        let mut at: Vec<Changed<R::Wide>> = self.tree.cliques.iter().map(|_| Vec::new()).collect();
        for slot in slots {
            let base = &self.model.weights[slot];
            let free = self.set_free[slot];
            let mut factors: Vec<R::Wide> = base
                .iter()
                .map(|&w| R::Wide::all(if free { w } else { 1.0 }.into()))
                .collect();
            for (lane, term) in terms.iter().enumerate() {
                if let Ok(place) = term.binary_search_by_key(&slot, |(s, _)| *s) {
                    for ((entry, &new), &old) in factors.iter_mut().zip(&term[place].1).zip(base) {
                        entry.set(lane, if free { new } else { new / old });
                    }
                }
            }
            at[self.tree.home[slot]].push((slot, factors));
        }
        at
    }

    /// Sees to it that a clique's table stands ready, times the messages of some children.
    fn join(&mut self, index: usize, children: u64) {
        if self.joined.contains_key(&(index, children)) {
            return;
        }
        let clique = &self.tree.cliques[index];
        let mut table = match (0..clique.children.len()).find(|place| children >> place & 1 == 1) {
            None => {
                let free = |slot: usize| self.set_free[slot];
                let mut table: Vec<R> = weighted(self.tree, self.model, index, free);
                let scale = self.calibration.scale[index];
                for x in &mut table {
                    *x *= scale.into();
                }
                table
            }
            Some(place) => {
                let fewer = children & !(1 << place);
                self.join(index, fewer);
                let mut table = self.joined[&(index, fewer)].clone();
                let child = clique.children[place];
                let map = &self.tree.cliques[child].from_parent;
                times(&mut table, &self.calibration.up[child], map);
                table
            }
        };
        table.shrink_to_fit();
        self.joined.insert((index, children), table);
    }

    /// The children whose message this batch has not changed, a bit each.
    fn clean_children(&self, index: usize, messages: &Messages<R::Wide>) -> u64 {
        let children = self.tree.cliques[index].children.iter().enumerate();
        children
            .filter(|(_, child)| !messages.dirty[**child])
            .fold(0, |set, (place, _)| set | 1 << place)
    }

    /// What a clique's unchanged product is multiplied by, but for one child and the message from
    /// above.
    fn pieces<'m>(
        &'m self,
        index: usize,
        messages: &'m Messages<R::Wide>,
        skip: Option<usize>,
    ) -> Vec<Piece<'m, R::Wide>> {
        let clique = &self.tree.cliques[index];
        let changed = messages.changed_at[index]
            .iter()
            .map(|(slot, factors)| (&factors[..], &self.state_maps[slot][..]));
        let children = (clique.children.iter())
            .filter(|&&child| messages.dirty[child] && Some(child) != skip)
            .map(|&child| {
                let map = &self.tree.cliques[child].from_parent;
                (&messages.up[child][..], &map[..])
            });
        changed.chain(children).collect()
    }

    fn inward(&mut self, index: usize, messages: &Messages<R::Wide>) -> Vec<R::Wide> {
        let clean = self.clean_children(index, messages);
        self.join(index, clean);
        let used = std::mem::take(&mut self.used[index].0);
        let clique = &self.tree.cliques[index];
        project(
            &self.joined[&(index, clean)],
            &self.pieces(index, messages, None),
            &clique.to_separator,
            clique.separator_entries,
            used,
        )
    }

    fn outward_clean(
        &mut self,
        index: usize,
        messages: &mut Messages<R::Wide>,
        sums: &mut [R::Wide],
    ) {
        let clique = &self.tree.cliques[index];
        let above = std::mem::take(&mut messages.down[index]);
        if let Some(tables) = &self.calibration.direct[index] {
            for (&event, table) in self.calibration.followed[index].iter().zip(tables) {
                sums[event] = dot(table, &above);
            }
            self.used[index].1 = above;
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
            let used = std::mem::take(&mut self.used[child].1);
            messages.down[child] =
                project(&operator.table, &pieces, &operator.to_below, count, used);
        }
        for &event in &self.calibration.events_at[index] {
            if self.calibration.followed[index].contains(&event) {
                sums[event] = dot(&self.calibration.readouts[event].1, &above);
            }
        }
        self.used[index].1 = above;
    }

    fn outward_dirty(
        &mut self,
        index: usize,
        messages: &mut Messages<R::Wide>,
        sums: &mut [R::Wide],
    ) {
        let clique = &self.tree.cliques[index];
        let above = std::mem::take(&mut messages.down[index]);
        let clean = self.clean_children(index, messages);
        for (place, &child) in clique.children.iter().enumerate() {
            if self.calibration.followed[child].is_empty() {
                continue;
            }
            let others = clean & !(1 << place);
            self.join(index, others);
            let used = std::mem::take(&mut self.used[child].1);
            let below = &self.tree.cliques[child];
            let mut pieces = self.pieces(index, messages, Some(child));
            if clique.parent.is_some() {
                pieces.push((&above, &clique.to_separator));
            }
            messages.down[child] = project(
                &self.joined[&(index, others)],
                &pieces,
                &below.from_parent,
                below.separator_entries,
                used,
            );
        }
        let events = self.calibration.events_at[index].iter();
        for &event in events.filter(|e| self.calibration.followed[index].contains(e)) {
            self.join(index, clean);
            let table = &self.joined[&(index, clean)];
            let mut pieces = self.pieces(index, messages, None);
            if clique.parent.is_some() {
                pieces.push((&above, &clique.to_separator));
            }
            let mut flags = vec![false; table.len()];
            let Event { slot, states } = &self.events[event];
            each_state(&self.model.states, clique, *slot, |entry, state| {
                flags[entry] = states[state];
            });
            sums[event] = total_where(table, &pieces, &flags);
        }
        self.used[index].1 = above;
    }
}
