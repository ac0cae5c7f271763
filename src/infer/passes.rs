//! Calibration: messages up and down the junction tree, without any division.
//!
//! In: a tree and a weight per slot. Out: P(evidence), every event's probability, and for each
//! clique the small operators that carry a changed message from above on to its children and its
//! events (used by [`super::batch`]).
//!
//! Example: with one clique there is no message; P(evidence) is the sum of its table.

use crate::infer::compile::Model;
use crate::infer::projection::Projection;
use crate::infer::real::Real;
use crate::infer::tree::{Clique, Tree, entries};

/// A slot's states to sum over.
#[derive(Debug, Clone)]
pub(super) struct Event {
    pub(super) slot: usize,
    pub(super) states: Vec<bool>,
}

/// A table between the separator above a clique and something below it.
#[derive(Debug, Clone)]
pub(super) struct Operator<R> {
    pub(super) table: Vec<R>,
    /// Entry → entry of the separator above.
    pub(super) from_above: Vec<u32>,
    /// Entry → entry of the child's separator.
    pub(super) to_below: Vec<u32>,
}

/// A calibrated tree.
#[derive(Debug, Clone)]
pub(super) struct Calibration<R> {
    /// Per clique: its message to its parent, scaled.
    pub(super) up: Vec<Vec<R>>,
    /// Per clique in which an event lies, or below which one does: its parent's message to it.
    pub(super) down: Vec<Vec<R>>,
    /// Per clique: by what the raw message was multiplied, a power of two.
    pub(super) scale: Vec<f64>,
    /// Sum over the root, in scaled units.
    pub(super) total: R,
    /// ln P(evidence), without the model's constant.
    pub(super) log_total: f64,
    /// Per clique: whether an event lies in it or below.
    pub(super) wanted: Vec<bool>,
    /// Per clique: the events to follow through changes that lie in it or below.
    pub(super) followed: Vec<Vec<usize>>,
    /// Per clique: of those, the sums over the separator above, where that is the shortest way
    /// to them when nothing below has changed.
    pub(super) direct: Vec<Option<Vec<Vec<R>>>>,
    /// Per clique: the operator to it from the separator above its parent, where an event is
    /// followed there or below.
    pub(super) operators: Vec<Option<Operator<R>>>,
    /// Per event: its clique and its sums over the separator above that clique.
    pub(super) readouts: Vec<(usize, Vec<R>)>,
    /// Per clique: its events.
    pub(super) events_at: Vec<Vec<usize>>,
    /// Per event: its sum, in scaled units.
    pub(super) sums: Vec<R>,
    /// Smallest share of a message that is left of its terms' sizes: tiny when all cancels.
    pub(super) survival: f64,
    /// Largest relative disagreement on P(evidence) between separators.
    pub(super) spread: f64,
}

/// A clique's table times the weights that live in it. Numbers with more digits than the clique's
/// own table has are multiplied out anew: what is rounded entry by entry doesn't cancel.
pub(super) fn weighted<R: Real>(
    tree: &Tree,
    model: &Model,
    clique: usize,
    skip: impl Fn(usize) -> bool,
) -> Vec<R> {
    let clique = &tree.cliques[clique];
    let states = &model.states;
    let mut table: Vec<R> = if R::FINER {
        let mut product = vec![R::from(1.0); clique.kept.len()];
        for factor in clique.factors.iter().map(|&number| &model.factors[number]) {
            let onto = Projection::new(states, &clique.slots, &factor.slots);
            for (entry, &at) in product.iter_mut().zip(&clique.kept) {
                *entry *= factor.table[onto.at(at) as usize].into();
            }
        }
        product
    } else {
        clique.table.iter().map(|&entry| entry.into()).collect()
    };
    for &slot in clique.homed.iter().filter(|&&slot| !skip(slot)) {
        let weight = &model.weights[slot];
        if weight.iter().any(|&w| w.to_bits() != 1.0_f64.to_bits()) {
            each_state(states, clique, slot, |entry, state| {
                table[entry] *= weight[state].into();
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
pub(super) fn times<R: Real>(table: &mut [R], message: &[R], map: &[u32]) {
    for (entry, &at) in table.iter_mut().zip(map) {
        *entry *= message[at as usize];
    }
}

/// Sums a table down to `count` entries.
pub(super) fn project<R: Real>(table: &[R], map: &[u32], count: usize) -> Vec<R> {
    let mut sums = vec![R::default(); count];
    for (&entry, &at) in table.iter().zip(map) {
        sums[at as usize] += entry;
    }
    sums
}

/// For each of the messages: `act(its number, table times all the others)`, by halving, with
/// about n·log n products of tables.
fn all_but_one<R: Real, F: FnMut(usize, &[R])>(
    table: &[R],
    messages: &[(&[R], &[u32])],
    offset: usize,
    act: &mut F,
) {
    match messages.len() {
        0 => {}
        1 => act(offset, table),
        count => {
            let (left, right) = messages.split_at(count / 2);
            let with = |others: &[(&[R], &[u32])]| {
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

/// Σ a·b.
fn dot<R: Real>(a: &[R], b: &[R]) -> R {
    let mut sum = R::default();
    for (&a, &b) in a.iter().zip(b) {
        let mut product = a;
        product *= b;
        sum += product;
    }
    sum
}

fn sizes<R: Real>(numbers: &[R]) -> f64 {
    numbers.iter().map(|x| x.rounded().abs()).sum()
}

impl<R: Real> Calibration<R> {
    /// Messages up, then down to where there are events, the first `follow` of which will also be
    /// wanted after changes. Time: total entries × children.
    /// A `total` of 0 means impossible evidence; then nothing else is filled in.
    pub(super) fn new(tree: &Tree, model: &Model, events: &[Event], follow: usize) -> Self {
        let count = tree.cliques.len();
        let mut calibration = Self {
            up: vec![Vec::new(); count],
            down: vec![Vec::new(); count],
            scale: vec![1.0; count],
            total: R::default(),
            log_total: 0.0,
            wanted: vec![false; count],
            followed: vec![Vec::new(); count],
            direct: vec![None; count],
            operators: vec![None; count],
            readouts: vec![(0, Vec::new()); events.len()],
            events_at: vec![Vec::new(); count],
            sums: vec![R::default(); events.len()],
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
        if calibration.inward(tree, model) {
            calibration.outward(tree, model, events);
        }
        calibration
    }

    fn inward(&mut self, tree: &Tree, model: &Model) -> bool {
        for &index in tree.top_down.iter().rev() {
            let clique = &tree.cliques[index];
            let mut table: Vec<R> = weighted(tree, model, index, |_| false);
            for &child in &clique.children {
                times(
                    &mut table,
                    &self.up[child],
                    &tree.cliques[child].from_parent,
                );
            }
            let mut message = project(&table, &clique.to_separator, clique.separator_entries);
            let largest = message
                .iter()
                .fold(0.0_f64, |m, x| m.max(x.rounded().abs()));
            if largest <= 0.0 || !largest.is_finite() {
                return false;
            }
            self.survival = self.survival.min(sizes(&message) / sizes(&table));
            let scale = power_of_two_near(largest);
            for x in &mut message {
                *x *= scale.into();
            }
            self.log_total -= scale.ln();
            self.scale[index] = scale;
            self.up[index] = message;
        }
        let root = tree.top_down[0];
        self.total = self.up[root][0];
        self.log_total += self.total.rounded().ln();
        self.total.rounded() > 0.0
    }

    fn outward(&mut self, tree: &Tree, model: &Model, events: &[Event]) {
        self.down[tree.top_down[0]] = vec![1.0.into()];
        for &index in tree.top_down.iter().filter(|&&index| self.wanted[index]) {
            let clique = &tree.cliques[index];
            let mut table: Vec<R> = weighted(tree, model, index, |_| false);
            // The clique's own scale goes in here, so that all sums share one unit.
            for x in &mut table {
                *x *= self.scale[index].into();
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
            let above = &self.down[index];
            let mut made = Vec::with_capacity(outer.len());
            all_but_one(&table, &inner, 0, &mut |number, product| {
                let child = &tree.cliques[outer[number]];
                let mut message = vec![R::default(); child.separator_entries];
                if self.followed[outer[number]].is_empty() {
                    let pairs = clique.to_separator.iter().zip(&child.from_parent);
                    for (&value, (&from, &to)) in product.iter().zip(pairs) {
                        let mut product = value;
                        product *= above[from as usize];
                        message[to as usize] += product;
                    }
                    made.push((outer[number], None, message));
                    return;
                }
                let operator = operator(&model.states, clique, child, product);
                let pairs = operator.from_above.iter().zip(&operator.to_below);
                for (&value, (&from, &to)) in operator.table.iter().zip(pairs) {
                    let mut product = value;
                    product *= above[from as usize];
                    message[to as usize] += product;
                }
                made.push((outer[number], Some(operator), message));
            });
            if !self.events_at[index].is_empty() {
                for (message, map) in &inner {
                    times(&mut table, message, map);
                }
                for &event in &self.events_at[index] {
                    let mut sums = vec![R::default(); clique.separator_entries];
                    let Event {
                        slot,
                        states: flags,
                    } = &events[event];
                    each_state(&model.states, clique, *slot, |entry, state| {
                        if flags[state] {
                            sums[clique.to_separator[entry] as usize] += table[entry];
                        }
                    });
                    self.sums[event] = dot(&sums, above);
                    self.readouts[event] = (index, sums);
                }
            }
            for (child, operator, message) in made {
                let total = dot(&message, &self.up[child]).rounded();
                let apart = (total / self.total.rounded() - 1.0).abs();
                if apart.is_nan() || apart > self.spread {
                    self.spread = apart;
                }
                self.down[child] = message;
                self.operators[child] = operator;
            }
        }
    }
}

impl<R: Real> Calibration<R> {
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
                    let mut sums = vec![R::default(); clique.separator_entries];
                    let pairs = operator.from_above.iter().zip(&operator.to_below);
                    for (&value, (&from, &to)) in operator.table.iter().zip(pairs) {
                        let mut product = value;
                        product *= table[to as usize];
                        sums[from as usize] += product;
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

fn operator<R: Real>(
    states: &[usize],
    clique: &Clique,
    child: &Clique,
    product: &[R],
) -> Operator<R> {
    let slots: Vec<usize> = (clique.slots.iter().copied())
        .filter(|slot| clique.separator.contains(slot) || child.separator.contains(slot))
        .collect();
    let onto = Projection::new(states, &clique.slots, &slots);
    let mut sums = vec![R::default(); entries(states, &slots)];
    for (&value, &at) in product.iter().zip(&clique.kept) {
        sums[onto.at(at) as usize] += value;
    }
    let above = Projection::new(states, &slots, &clique.separator);
    let below = Projection::new(states, &slots, &child.separator);
    let mut operator = Operator {
        table: Vec::new(),
        from_above: Vec::new(),
        to_below: Vec::new(),
    };
    for (entry, value) in (0_u32..).zip(sums).filter(|(_, sum)| sum.rounded() != 0.0) {
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
