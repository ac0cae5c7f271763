//! Calibration: messages up and down the junction tree, without any division.
//!
//! In: a tree and a weight per slot. Out: P(evidence), every event's probability, and for each
//! clique the small operators that carry a changed message from above on to its children and its
//! events (used by [`super::batch`]).
//!
//! Example: with one clique there is no message; P(evidence) is the sum of its table.

use crate::infer::projection::Projection;
use crate::infer::tree::{Clique, Tree, entries};

/// A slot's states to sum over.
#[derive(Debug, Clone)]
pub(super) struct Event {
    pub(super) slot: usize,
    pub(super) states: Vec<bool>,
}

/// A table between the separator above a clique and something below it.
#[derive(Debug, Clone)]
pub(super) struct Operator {
    pub(super) table: Vec<f64>,
    /// Entry → entry of the separator above.
    pub(super) from_above: Vec<u32>,
    /// Entry → entry of the child's separator.
    pub(super) to_below: Vec<u32>,
}

/// A calibrated tree.
#[derive(Debug, Clone)]
pub(super) struct Calibration {
    /// Per clique: its message to its parent, scaled.
    pub(super) up: Vec<Vec<f64>>,
    /// Per clique: by what the raw message was multiplied, a power of two.
    pub(super) scale: Vec<f64>,
    /// Sum over the root, in scaled units.
    pub(super) total: f64,
    /// ln P(evidence), without the model's constant.
    pub(super) log_total: f64,
    /// Per clique: whether an event lies in it or below.
    pub(super) wanted: Vec<bool>,
    /// Per clique: the events to follow through changes that lie in it or below.
    pub(super) followed: Vec<Vec<usize>>,
    /// Per clique: of those, the sums over the separator above, where that is the shortest way
    /// to them when nothing below has changed.
    pub(super) direct: Vec<Option<Vec<Vec<f64>>>>,
    /// Per clique: the operator to it from the separator above its parent.
    pub(super) operators: Vec<Option<Operator>>,
    /// Per event: its clique and its sums over the separator above that clique.
    pub(super) readouts: Vec<(usize, Vec<f64>)>,
    /// Per clique: its events.
    pub(super) events_at: Vec<Vec<usize>>,
    /// Per event: its sum, in scaled units.
    pub(super) sums: Vec<f64>,
    /// Smallest share of a message that is left of its terms' sizes: tiny when all cancels.
    pub(super) survival: f64,
    /// Largest relative disagreement on P(evidence) between separators.
    pub(super) spread: f64,
}

/// A clique's table times the weights that live in it.
pub(super) fn weighted(
    tree: &Tree,
    states: &[usize],
    clique: usize,
    weights: &[Vec<f64>],
    skip: impl Fn(usize) -> bool,
) -> Vec<f64> {
    let clique = &tree.cliques[clique];
    let mut table = clique.table.clone();
    for &slot in clique.homed.iter().filter(|&&slot| !skip(slot)) {
        let weight = &weights[slot];
        if weight.iter().any(|&w| w.to_bits() != 1.0_f64.to_bits()) {
            each_state(states, clique, slot, |entry, state| {
                table[entry] *= weight[state];
            });
        }
    }
    table
}

/// Calls `act(entry, state of slot)` for every entry of a clique.
pub(super) fn each_state(
    states: &[usize],
    clique: &Clique,
    slot: usize,
    mut act: impl FnMut(usize, usize),
) {
    let state_of = Projection::new(states, &clique.slots, &[slot]);
    for (entry, &at) in clique.kept.iter().enumerate() {
        act(entry, state_of.at(at) as usize);
    }
}

/// Multiplies a message into a table.
pub(super) fn times(table: &mut [f64], message: &[f64], map: &[u32]) {
    for (entry, &at) in table.iter_mut().zip(map) {
        *entry *= message[at as usize];
    }
}

/// Sums a table down to `count` entries.
pub(super) fn project(table: &[f64], map: &[u32], count: usize) -> Vec<f64> {
    let mut sums = vec![0.0; count];
    for (entry, &at) in table.iter().zip(map) {
        sums[at as usize] += entry;
    }
    sums
}

/// For each of the messages: `act(its number, table times all the others)`, by halving, with
/// about n·log n products of tables.
fn all_but_one<F: FnMut(usize, &[f64])>(
    table: &[f64],
    messages: &[(&[f64], &[u32])],
    offset: usize,
    act: &mut F,
) {
    match messages.len() {
        0 => {}
        1 => act(offset, table),
        count => {
            let (left, right) = messages.split_at(count / 2);
            let with = |others: &[(&[f64], &[u32])]| {
                let mut product = table.to_vec();
                for (message, map) in others {
                    times(&mut product, message, map);
                }
                product
            };
            all_but_one(&with(right), left, offset, act);
            all_but_one(&with(left), right, offset + left.len(), act);
        }
    }
}

fn power_of_two_near(largest: f64) -> f64 {
    largest.log2().round().exp2().recip()
}

impl Calibration {
    /// Messages up, then down to where there are events, the first `follow` of which will also be
    /// wanted after changes. Time: total entries × children.
    /// A `total` of 0 means impossible evidence; then nothing else is filled in.
    pub(super) fn new(
        tree: &Tree,
        states: &[usize],
        weights: &[Vec<f64>],
        events: &[Event],
        follow: usize,
    ) -> Self {
        let count = tree.cliques.len();
        let mut calibration = Self {
            up: vec![Vec::new(); count],
            scale: vec![1.0; count],
            total: 0.0,
            log_total: 0.0,
            wanted: vec![false; count],
            followed: vec![Vec::new(); count],
            direct: vec![None; count],
            operators: vec![None; count],
            readouts: vec![(0, Vec::new()); events.len()],
            events_at: vec![Vec::new(); count],
            sums: vec![0.0; events.len()],
            survival: 1.0,
            spread: 0.0,
        };
        for (index, event) in events.iter().enumerate() {
            let home = tree.home[event.slot];
            calibration.events_at[home].push(index);
            calibration.wanted[home] = true;
            if index < follow {
                calibration.followed[home].push(index);
            }
        }
        for &clique in tree.top_down.iter().rev() {
            if let (true, Some(parent)) = (calibration.wanted[clique], tree.cliques[clique].parent)
            {
                calibration.wanted[parent] = true;
                let below = calibration.followed[clique].clone();
                calibration.followed[parent].extend(below);
            }
        }
        if calibration.inward(tree, states, weights) {
            calibration.outward(tree, states, weights, events);
        }
        calibration
    }

    fn inward(&mut self, tree: &Tree, states: &[usize], weights: &[Vec<f64>]) -> bool {
        for &index in tree.top_down.iter().rev() {
            let clique = &tree.cliques[index];
            let mut table = weighted(tree, states, index, weights, |_| false);
            for &child in &clique.children {
                times(
                    &mut table,
                    &self.up[child],
                    &tree.cliques[child].from_parent,
                );
            }
            let mut message = project(&table, &clique.to_separator, clique.separator_entries);
            let largest = message.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
            if largest <= 0.0 || !largest.is_finite() {
                return false;
            }
            let terms: f64 = table.iter().map(|x| x.abs()).sum();
            let left: f64 = message.iter().map(|x| x.abs()).sum();
            self.survival = self.survival.min(left / terms);
            let scale = power_of_two_near(largest);
            for x in &mut message {
                *x *= scale;
            }
            self.log_total -= scale.ln();
            self.scale[index] = scale;
            self.up[index] = message;
        }
        let root = tree.top_down[0];
        self.total = self.up[root][0];
        self.log_total += self.total.ln();
        self.total > 0.0
    }

    fn outward(&mut self, tree: &Tree, states: &[usize], weights: &[Vec<f64>], events: &[Event]) {
        let mut down: Vec<Vec<f64>> = vec![Vec::new(); tree.cliques.len()];
        let root = tree.top_down[0];
        down[root] = vec![1.0];
        for &index in tree.top_down.iter().filter(|&&index| self.wanted[index]) {
            let clique = &tree.cliques[index];
            let mut table = weighted(tree, states, index, weights, |_| false);
            // The clique's own scale goes in here, so that all sums share one unit.
            for x in &mut table {
                *x *= self.scale[index];
            }
            let (mut inner, mut outer) = (Vec::new(), Vec::new());
            for &child in &clique.children {
                let message = (&self.up[child][..], &tree.cliques[child].from_parent[..]);
                if self.wanted[child] {
                    inner.push(message);
                    outer.push(child);
                } else {
                    times(&mut table, message.0, message.1);
                }
            }
            let above = &down[index];
            let mut made = Vec::with_capacity(outer.len());
            all_but_one(&table, &inner, 0, &mut |number, product| {
                let child = &tree.cliques[outer[number]];
                let operator = operator(states, clique, child, product);
                let mut message = vec![0.0; child.separator_entries];
                let pairs = operator.from_above.iter().zip(&operator.to_below);
                for (value, (&from, &to)) in operator.table.iter().zip(pairs) {
                    message[to as usize] += value * above[from as usize];
                }
                made.push((outer[number], operator, message));
            });
            if !self.events_at[index].is_empty() {
                for (message, map) in &inner {
                    times(&mut table, message, map);
                }
                for &event in &self.events_at[index] {
                    let mut sums = vec![0.0; clique.separator_entries];
                    let Event {
                        slot,
                        states: flags,
                    } = &events[event];
                    each_state(states, clique, *slot, |entry, state| {
                        if flags[state] {
                            sums[clique.to_separator[entry] as usize] += table[entry];
                        }
                    });
                    self.sums[event] = sums.iter().zip(above).map(|(a, b)| a * b).sum();
                    self.readouts[event] = (index, sums);
                }
            }
            for (child, operator, message) in made {
                let total: f64 = message
                    .iter()
                    .zip(&self.up[child])
                    .map(|(a, b)| a * b)
                    .sum();
                self.spread = self.spread.max((total / self.total - 1.0).abs());
                down[child] = message;
                self.operators[child] = Some(operator);
            }
        }
    }
}

impl Calibration {
    /// Finds where sums over a separator are cheaper than messages further down, and makes them.
    pub(super) fn shorten(&mut self, tree: &Tree) {
        let mut cost = vec![0_usize; tree.cliques.len()];
        for &index in tree.top_down.iter().rev() {
            let clique = &tree.cliques[index];
            let events = self.followed[index].len();
            let mut on = Vec::new();
            let mut descend = 0;
            let mut all_direct = true;
            for &event in self.events_at[index]
                .iter()
                .filter(|e| self.followed[index].contains(e))
            {
                descend += clique.separator_entries;
                on.push((event, self.readouts[event].1.clone()));
            }
            let below = clique
                .children
                .iter()
                .filter(|&&child| !self.followed[child].is_empty());
            for &child in below.clone() {
                descend +=
                    cost[child] + self.operators[child].as_ref().map_or(0, |o| o.table.len());
                all_direct &= self.direct[child].is_some();
            }
            let at_once = events * clique.separator_entries;
            cost[index] = descend.min(at_once);
            if !all_direct || at_once > descend + descend / 2 {
                cost[index] = descend;
                continue;
            }
            for &child in below {
                let (Some(operator), Some(tables)) = (&self.operators[child], &self.direct[child])
                else {
                    continue;
                };
                for (&event, table) in self.followed[child].iter().zip(tables) {
                    let mut sums = vec![0.0; clique.separator_entries];
                    let pairs = operator.from_above.iter().zip(&operator.to_below);
                    for (value, (&from, &to)) in operator.table.iter().zip(pairs) {
                        sums[from as usize] += value * table[to as usize];
                    }
                    on.push((event, sums));
                }
            }
            let place = |event: &usize| on.iter().position(|(e, _)| e == event);
            let order: Vec<usize> = self.followed[index].iter().filter_map(place).collect();
            self.direct[index] = Some(order.into_iter().map(|at| on[at].1.clone()).collect());
        }
    }
}

fn operator(states: &[usize], clique: &Clique, child: &Clique, product: &[f64]) -> Operator {
    let slots: Vec<usize> = (clique.slots.iter().copied())
        .filter(|slot| clique.separator.contains(slot) || child.separator.contains(slot))
        .collect();
    let onto = Projection::new(states, &clique.slots, &slots);
    let mut sums = vec![0.0; entries(states, &slots)];
    for (value, &at) in product.iter().zip(&clique.kept) {
        sums[onto.at(at) as usize] += value;
    }
    let above = Projection::new(states, &slots, &clique.separator);
    let below = Projection::new(states, &slots, &child.separator);
    let mut operator = Operator {
        table: Vec::new(),
        from_above: Vec::new(),
        to_below: Vec::new(),
    };
    for (entry, value) in (0_u32..).zip(sums).filter(|(_, sum)| *sum != 0.0) {
        operator.table.push(value);
        operator
            .from_above
            .push(clique.separator_numbers[above.at(entry) as usize]);
        operator
            .to_below
            .push(child.separator_numbers[below.at(entry) as usize]);
    }
    operator
}
