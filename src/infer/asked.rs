//! How each question will be answered: from the shared tree, or from one of its own.
//!
//! In: a network, what was seen and the questions. Out: every question as sums of products over
//! variables inside the model, or the remark that it takes too many of them. A walk along signs
//! with hidden nodes between each sign and the tree is such a question: its products multiply.
//!
//! Example: a sign of one fault is answered from the shared tree by one product.

use std::collections::BTreeSet;

use crate::ids::{Id, VarId};
use crate::infer::compile::Needs;
use crate::infer::expand::{Expander, Product};
use crate::infer::plan::{Sum, cumulative_events};
use crate::infer::{Answers, Network, Question, Shape};

/// Most products for one cumulative event of a question with a tree of its own.
const MOST_INSIDE: usize = 16;

/// What a model must hold, and the questions written over it.
pub(super) struct Expansion {
    pub(super) needs: Needs,
    /// Per question and cumulative event; `None` for a question that takes too many products.
    pub(super) expanded: Vec<Option<Vec<Vec<Product>>>>,
}

/// A question, ready to be answered.
#[derive(Debug)]
pub(super) enum Planned {
    /// From the shared tree.
    Shared {
        /// Per cumulative event.
        products: Vec<Vec<Product>>,
        /// The same as sums of terms, once they are wanted.
        sums: Option<Vec<Sum>>,
        shape: Shape,
        /// States per sign.
        counts: Vec<usize>,
    },
    /// From a tree of its own, built when it is asked.
    Apart {
        question: Question,
        answers: Option<Answers>,
    },
}

/// Writes every question over what the findings and `wanted` need anyway.
pub(super) fn expand_outside(
    net: &Network,
    seen: &[(VarId, Vec<f64>)],
    wanted: &[VarId],
    questions: &[Question],
    most_products: usize,
) -> Expansion {
    let mut needs = Needs::new(net, seen, wanted);
    let expanded: Vec<Option<Vec<Vec<Product>>>> = questions
        .iter()
        .map(|question| {
            let mut left = most_products;
            let events = cumulative_events(net, question);
            let mut sums = Vec::with_capacity(events.len());
            for event in events {
                let mut writer = Expander {
                    net,
                    inside: &needs.inside,
                    most: left,
                    splits: BTreeSet::new(),
                };
                let sum = writer.expand(event)?;
                // Too many products in all: the question gets a tree of its own.
                left = left.checked_sub(sum.len())?;
                sums.push(sum);
            }
            Some(sums)
        })
        .collect();
    mark_readable(&mut needs, &expanded);
    Expansion { needs, expanded }
}

/// Writes questions over a model into which hidden nodes are taken until few products are left.
pub(super) fn expand_inside(
    net: &Network,
    seen: &[(VarId, Vec<f64>)],
    mut wanted: Vec<VarId>,
    questions: &[Question],
) -> Expansion {
    loop {
        let mut needs = Needs::new(net, seen, &wanted);
        let mut expanded = Vec::with_capacity(questions.len());
        let mut force: BTreeSet<VarId> = BTreeSet::new();
        for question in questions {
            let mut sums = Vec::new();
            for event in cumulative_events(net, question) {
                let mut writer = Expander {
                    net,
                    inside: &needs.inside,
                    most: MOST_INSIDE,
                    splits: BTreeSet::new(),
                };
                if let Some(sum) = writer.expand(event) {
                    sums.push(sum);
                } else {
                    // The smallest family first: a wide gather is what the tree can't take.
                    let family = |var: &VarId| (net.parents(*var).count(), *var);
                    force.extend(writer.splits.into_iter().min_by_key(family));
                    break;
                }
            }
            expanded.push(Some(sums));
        }
        if force.is_empty() {
            mark_readable(&mut needs, &expanded);
            return Expansion { needs, expanded };
        }
        wanted.extend(force);
    }
}

fn mark_readable(needs: &mut Needs, expanded: &[Option<Vec<Vec<Product>>>]) {
    for product in expanded.iter().flatten().flatten().flatten() {
        for var in product.weights.keys() {
            needs.readable[var.index()] = true;
        }
    }
}

/// What is kept of each question until it is asked.
pub(super) fn keep(
    net: &Network,
    questions: &[Question],
    expanded: Vec<Option<Vec<Vec<Product>>>>,
) -> Vec<Planned> {
    questions
        .iter()
        .zip(expanded)
        .map(|(question, products)| match products {
            Some(products) => Planned::Shared {
                products,
                sums: None,
                shape: question.shape,
                counts: question
                    .signs
                    .iter()
                    .map(|&sign| net.node(sign).states)
                    .collect(),
            },
            None => Planned::Apart {
                question: question.clone(),
                answers: None,
            },
        })
        .collect()
}
