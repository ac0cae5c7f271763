//! Several changed weights through a calibrated tree at once.
//!
//! In: up to [`LANES`] terms, each a list of slots with new weights. Out: for each term the sum of
//! the tree and of every event. Only cliques on the way from a changed slot to the root are
//! multiplied out again; everything else goes through the operators of the calibration.
//!
//! Example: a term without changes gives back the calibration's own sums.

use crate::infer::passes::{Calibration, Event, all_but_one, each_state, times, weighted};
use crate::infer::tree::Tree;

/// Terms that go through the tree together.
pub(super) const LANES: usize = 8;

/// One number per term.
pub(super) type Wide = [f64; LANES];

const ZERO: Wide = [0.0; LANES];
const ONE: Wide = [1.0; LANES];

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

/// A message to a dirty clique, one lane per term.
type WideMessage<'a> = (&'a [Wide], &'a [u32]);

fn wide_times(table: &mut [Wide], message: &[Wide], map: &[u32]) {
    for (entry, &at) in table.iter_mut().zip(map) {
        let by = &message[at as usize];
        for lane in 0..LANES {
            entry[lane] *= by[lane];
        }
    }
}

fn wide_project(plain: &[f64], table: &[Wide], map: &[u32], count: usize) -> Vec<Wide> {
    let mut sums = vec![ZERO; count];
    for ((&factor, entry), &at) in plain.iter().zip(table).zip(map) {
        let sum = &mut sums[at as usize];
        for lane in 0..LANES {
            sum[lane] += factor * entry[lane];
        }
    }
    sums
}

/// Like [`all_but_one`] for wide messages; the number past the last one gets all of them.
fn wide_all_but_one<F: FnMut(usize, &[Wide])>(
    table: &[Wide],
    messages: &[Option<WideMessage<'_>>],
    offset: usize,
    act: &mut F,
) {
    if messages.len() == 1 {
        return act(offset, table);
    }
    let (left, right) = messages.split_at(messages.len() / 2);
    let with = |others: &[Option<WideMessage<'_>>]| {
        let mut product = table.to_vec();
        for (message, map) in others.iter().flatten() {
            wide_times(&mut product, message, map);
        }
        product
    };
    wide_all_but_one(&with(right), left, offset, act);
    wide_all_but_one(&with(left), right, offset + left.len(), act);
}

impl Batch<'_> {
    /// Per term the tree's sum, and per event the terms' sums; all in the calibration's unit.
    pub(super) fn run(&self, terms: &[&Term]) -> (Wide, Vec<Wide>) {
        let changed = self.changed_slots(terms);
        let count = self.tree.cliques.len();
        let mut dirty = vec![false; count];
        let mut changed_at: Vec<Vec<usize>> = vec![Vec::new(); count];
        for (number, (slot, _)) in changed.iter().enumerate() {
            let home = self.tree.home[*slot];
            dirty[home] = true;
            changed_at[home].push(number);
        }
        for &index in self.tree.top_down.iter().rev() {
            if let (true, Some(parent)) = (dirty[index], self.tree.cliques[index].parent) {
                dirty[parent] = true;
            }
        }
        let root = self.tree.top_down[0];
        let mut sums: Vec<Wide> = self
            .calibration
            .sums
            .iter()
            .map(|&sum| [sum; LANES])
            .collect();
        if !dirty[root] {
            return ([self.calibration.total; LANES], sums);
        }
        let mut up: Vec<Vec<Wide>> = vec![Vec::new(); count];
        for &index in self
            .tree
            .top_down
            .iter()
            .rev()
            .filter(|&&index| dirty[index])
        {
            let at = self.dirty_clique(index, &dirty, &changed, &changed_at[index]);
            let clique = &self.tree.cliques[index];
            let mut plain = at.plain;
            for &child in clique.children.iter().filter(|&&child| !dirty[child]) {
                let map = &self.tree.cliques[child].from_parent;
                times(&mut plain, &self.calibration.up[child], map);
            }
            let mut wide = at.wide;
            for &child in clique.children.iter().filter(|&&child| dirty[child]) {
                wide_times(&mut wide, &up[child], &self.tree.cliques[child].from_parent);
            }
            up[index] = wide_project(
                &plain,
                &wide,
                &clique.to_separator,
                clique.separator_entries,
            );
        }
        let total = up[root][0];
        let mut down: Vec<Vec<Wide>> = vec![Vec::new(); count];
        down[root] = vec![ONE];
        let wanted = &self.calibration.wanted;
        for &index in self.tree.top_down.iter().filter(|&&index| wanted[index]) {
            if dirty[index] {
                let at = self.dirty_clique(index, &dirty, &changed, &changed_at[index]);
                self.pass_dirty(index, at, &dirty, &up, &mut down, &mut sums);
            } else {
                self.pass_clean(index, &mut down, &mut sums);
            }
        }
        (total, sums)
    }

    /// All slots that any term changes, with a weight per state and term.
    fn changed_slots(&self, terms: &[&Term]) -> Vec<(usize, Vec<Wide>)> {
        let mut slots: Vec<usize> = terms
            .iter()
            .flat_map(|term| term.iter().map(|(slot, _)| *slot))
            .collect();
        slots.sort_unstable();
        slots.dedup();
        slots
            .into_iter()
            .map(|slot| {
                let base = &self.weights[slot];
                let mut wide: Vec<Wide> = base.iter().map(|&w| [w; LANES]).collect();
                for (lane, term) in terms.iter().enumerate() {
                    if let Ok(place) = term.binary_search_by_key(&slot, |(s, _)| *s) {
                        for (entry, &w) in wide.iter_mut().zip(&term[place].1) {
                            entry[lane] = w;
                        }
                    }
                }
                (slot, wide)
            })
            .collect()
    }

    fn dirty_clique(
        &self,
        index: usize,
        dirty: &[bool],
        changed: &[(usize, Vec<Wide>)],
        here: &[usize],
    ) -> Dirty {
        debug_assert!(dirty[index]);
        let is_changed = |slot: usize| here.iter().any(|&number| changed[number].0 == slot);
        let mut plain = weighted(self.tree, self.states, index, self.weights, is_changed);
        let scale = self.calibration.scale[index];
        plain.iter_mut().for_each(|x| *x *= scale);
        let mut wide = vec![ONE; plain.len()];
        for &number in here {
            let (slot, weights) = &changed[number];
            each_state(
                self.states,
                &self.tree.cliques[index],
                *slot,
                |entry, state| {
                    let (entry, by) = (&mut wide[entry], &weights[state]);
                    for lane in 0..LANES {
                        entry[lane] *= by[lane];
                    }
                },
            );
        }
        Dirty { plain, wide }
    }

    fn pass_clean(&self, index: usize, down: &mut [Vec<Wide>], sums: &mut [Wide]) {
        let clique = &self.tree.cliques[index];
        let above = std::mem::take(&mut down[index]);
        for &child in &clique.children {
            let Some(operator) = &self.calibration.operators[child] else {
                continue;
            };
            let mut message = vec![ZERO; self.tree.cliques[child].separator_entries];
            let pairs = operator.from_above.iter().zip(&operator.to_below);
            for (&value, (&from, &to)) in operator.table.iter().zip(pairs) {
                let (sum, entry) = (&mut message[to as usize], &above[from as usize]);
                for lane in 0..LANES {
                    sum[lane] += value * entry[lane];
                }
            }
            down[child] = message;
        }
        for &event in &self.calibration.events_at[index] {
            let mut sum = ZERO;
            for (&value, entry) in self.calibration.readouts[event].1.iter().zip(&above) {
                for lane in 0..LANES {
                    sum[lane] += value * entry[lane];
                }
            }
            sums[event] = sum;
        }
    }

    fn pass_dirty(
        &self,
        index: usize,
        at: Dirty,
        dirty: &[bool],
        up: &[Vec<Wide>],
        down: &mut [Vec<Wide>],
        sums: &mut [Wide],
    ) {
        let clique = &self.tree.cliques[index];
        let Dirty {
            mut plain,
            mut wide,
        } = at;
        wide_times(&mut wide, &down[index], &clique.to_separator);
        let wanted = &self.calibration.wanted;
        let (mut inner, mut inner_messages) = (Vec::new(), Vec::new());
        let (mut outer, mut outer_messages) = (Vec::new(), Vec::new());
        for &child in &clique.children {
            let map = &self.tree.cliques[child].from_parent[..];
            match (dirty[child], wanted[child]) {
                (true, true) => {
                    outer.push(child);
                    outer_messages.push(Some((&up[child][..], map)));
                }
                (true, false) => wide_times(&mut wide, &up[child], map),
                (false, true) => {
                    inner.push(child);
                    inner_messages.push((&self.calibration.up[child][..], map));
                }
                (false, false) => times(&mut plain, &self.calibration.up[child], map),
            }
        }
        let mut full = plain.clone();
        inner_messages
            .iter()
            .for_each(|(message, map)| times(&mut full, message, map));
        // The last place stands for everything that hangs on no dirty child.
        outer_messages.push(None);
        wide_all_but_one(&wide, &outer_messages, 0, &mut |number, product| {
            if let Some(&child) = outer.get(number) {
                let below = &self.tree.cliques[child];
                down[child] =
                    wide_project(&full, product, &below.from_parent, below.separator_entries);
                return;
            }
            all_but_one(&plain, &inner_messages, 0, &mut |number, others| {
                let below = &self.tree.cliques[inner[number]];
                down[inner[number]] =
                    wide_project(others, product, &below.from_parent, below.separator_entries);
            });
            for &event in &self.calibration.events_at[index] {
                let Event {
                    slot,
                    states: flags,
                } = &self.events[event];
                let mut sum = ZERO;
                each_state(self.states, clique, *slot, |entry, state| {
                    if flags[state] {
                        for lane in 0..LANES {
                            sum[lane] += full[entry] * product[entry][lane];
                        }
                    }
                });
                sums[event] = sum;
            }
        });
    }
}

/// A dirty clique's own part: what all terms share, and what each changes.
struct Dirty {
    plain: Vec<f64>,
    wide: Vec<Wide>,
}
