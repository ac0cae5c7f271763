//! What has to be sent through the tree to answer all questions.
//!
//! In: questions as sums of products over variables inside the model. Out: a list of different
//! terms, and per question how its cumulative answers are made of them. Terms that change a single
//! slot are taken apart into unit weights, which all signs that read that slot share.
//!
//! Example: ten noisy-OR signs of one fault need one term between them.

use std::collections::BTreeMap;

use crate::ids::VarId;
use crate::infer::batch::Term;
use crate::infer::compile::Model;
use crate::infer::expand::{Product, Weights};
use crate::infer::{Network, Question, Shape};

/// A sum of terms; `None` is the unchanged tree.
pub(super) type Sum = Vec<(f64, Option<usize>)>;

/// The events whose chances, by differences, give a question's answers.
pub(super) fn cumulative_events(net: &Network, question: &Question) -> Vec<Weights> {
    let at_most = |sign: VarId, y: usize| {
        let states = net.node(sign).states;
        (0..states)
            .map(|s| if s <= y { 1.0 } else { 0.0 })
            .collect::<Vec<f64>>()
    };
    let signs = &question.signs;
    let mut events = Vec::new();
    match question.shape {
        Shape::Grid => {
            let counts: Vec<usize> = signs.iter().map(|&sign| net.node(sign).states).collect();
            for mut cell in 0..counts.iter().product() {
                let mut weights = Weights::new();
                for (&sign, &count) in signs.iter().zip(&counts).rev() {
                    if cell % count + 1 < count {
                        weights.insert(sign, at_most(sign, cell % count));
                    }
                    cell /= count;
                }
                events.push(weights);
            }
        }
        Shape::FirstOf => {
            // [sign][y < top]: all earlier signs in state 0, this one at most y.
            let mut earlier = Weights::new();
            for &sign in signs {
                for y in 0..net.node(sign).states - 1 {
                    let mut weights = earlier.clone();
                    weights.insert(sign, at_most(sign, y));
                    events.push(weights);
                }
                earlier.insert(sign, at_most(sign, 0));
            }
        }
    }
    events
}

/// Turns the values of the cumulative events into those of the answers. `total` is the value of
/// the certain event.
pub(super) fn answers_from(shape: Shape, counts: &[usize], total: f64, values: &[f64]) -> Vec<f64> {
    match shape {
        Shape::Grid => {
            let mut table = values.to_vec();
            let mut inner = 1;
            for &count in counts.iter().rev() {
                for cell in (0..table.len())
                    .rev()
                    .filter(|cell| cell / inner % count > 0)
                {
                    table[cell] -= table[cell - inner];
                }
                inner *= count;
            }
            table
        }
        Shape::FirstOf => {
            let mut answers = vec![0.0];
            let (mut all_so_far, mut next) = (total, 0);
            for &count in counts {
                if count < 2 {
                    continue;
                }
                let here = &values[next..next + count - 1];
                next += count - 1;
                for y in 1..count {
                    let upper = here.get(y).copied().unwrap_or(all_so_far);
                    answers.push(upper - here[y - 1]);
                }
                all_so_far = here[0];
            }
            answers[0] = all_so_far;
            answers
        }
    }
}

/// A term's identity: slots and the bits of their weights.
type Key = Vec<(usize, Vec<u64>)>;

/// All different terms.
#[derive(Debug, Clone, Default)]
pub(super) struct Plan {
    pub(super) terms: Vec<Term>,
    known: BTreeMap<Key, usize>,
}

impl Plan {
    /// Registers a sum of products.
    pub(super) fn add(&mut self, model: &Model, products: &[Product]) -> Sum {
        let mut sum: BTreeMap<Option<usize>, f64> = BTreeMap::new();
        for product in products {
            let put_on: Vec<(VarId, Vec<f64>)> = product
                .weights
                .iter()
                .map(|(var, weight)| (*var, weight.clone()))
                .collect();
            let changed = model.reweigh(&put_on);
            for (factor, term) in self.simplify(model, product.factor, changed) {
                *sum.entry(term).or_insert(0.0) += factor;
            }
        }
        sum.into_iter()
            .map(|(term, factor)| (factor, term))
            .collect()
    }

    fn simplify(&mut self, model: &Model, mut factor: f64, changed: Term) -> Sum {
        let mut term = Term::new();
        for (slot, mut weight) in changed {
            let base = &model.weights[slot];
            let peak = largest(&weight);
            if weight[peak] == 0.0 {
                return Sum::new();
            }
            let ratio = weight[peak] / base[peak];
            if base[peak] != 0.0 && weight.iter().zip(base).all(|(w, b)| same(*w, ratio * b)) {
                factor *= ratio;
                continue;
            }
            let scale = weight[peak];
            for w in &mut weight {
                *w /= scale;
            }
            factor *= scale;
            term.push((slot, weight));
        }
        match &term[..] {
            [] => vec![(factor, None)],
            [(slot, weight)] => {
                let (slot, base) = (*slot, &model.weights[*slot]);
                let pivot = largest(base);
                let share = if base[pivot] == 0.0 {
                    0.0
                } else {
                    weight[pivot] / base[pivot]
                };
                let mut sum = vec![(factor * share, None)];
                for state in 0..base.len() {
                    let rest = weight[state] - share * base[state];
                    if (state != pivot || base[pivot] == 0.0) && rest != 0.0 {
                        let mut unit = vec![0.0; base.len()];
                        unit[state] = 1.0;
                        sum.push((factor * rest, Some(self.register(vec![(slot, unit)]))));
                    }
                }
                sum
            }
            _ => vec![(factor, Some(self.register(term)))],
        }
    }

    fn register(&mut self, term: Term) -> usize {
        let bits = |weight: &Vec<f64>| weight.iter().map(|w| w.to_bits()).collect();
        let key: Key = term
            .iter()
            .map(|(slot, weight)| (*slot, bits(weight)))
            .collect();
        let next = self.terms.len();
        *self.known.entry(key).or_insert_with(|| {
            self.terms.push(term);
            next
        })
    }
}

/// Equal to the bit, 0 and −0 alike.
fn same(a: f64, b: f64) -> bool {
    (a + 0.0).to_bits() == (b + 0.0).to_bits()
}

fn largest(weight: &[f64]) -> usize {
    let mut best = 0;
    for (at, w) in weight.iter().enumerate() {
        if w.abs() > weight[best].abs() {
            best = at;
        }
    }
    best
}
