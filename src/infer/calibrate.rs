//! Calibration in as many digits as the evidence needs.
//!
//! In: a tree and its model. Out: a calibration in plain doubles where separators agree on
//! P(evidence), else one in twofold numbers, which takes several times as long.
//!
//! Example: a dozen unlikely findings, each 1 − product of their parents' chances, leave 1e-20 of
//! sums of ones: nothing in doubles, eleven digits in twofold numbers.

use std::collections::BTreeSet;

use crate::infer::batch::{Batch, Term};
use crate::infer::compile::Model;
use crate::infer::passes::{Calibration, Event};
use crate::infer::real::{LANES, Real, Twofold, Wide};
use crate::infer::tree::Tree;

/// How far two separators may disagree on P(evidence), relative.
pub(super) const AGREEMENT: f64 = 1e-10;
/// What questions are answered from doubles by, at most: further apart, they are worked out in
/// twofold numbers as well. An answer's chance is then off by no more than about this.
const GOOD_FOR_QUESTIONS: f64 = 1e-9;
/// Below this share left of a sum, doubles may be further off than [`AGREEMENT`] even where the few
/// separators of a small tree share the error.
const SHARE_IN_DOUBLES: f64 = 1e-6;
/// The same for twofold numbers, which have 31 digits.
const SHARE_IN_TWOFOLD: f64 = 1e-24;

/// A calibrated tree and the numbers it is made of.
#[derive(Debug)]
enum Numbers {
    Doubles(Calibration<f64>),
    Twofold(Calibration<Twofold>),
}

/// What a calibration says.
#[derive(Debug)]
pub(super) struct Figures {
    /// ln P(evidence), without the model's constant. Negative infinity or NaN if the sum was not
    /// above 0.
    pub(super) log_total: f64,
    /// Largest relative disagreement on P(evidence) between separators, or infinity if too
    /// little is left of the terms to tell it from 0.
    pub(super) spread: f64,
    /// Smallest share of a message that is left of its terms' sizes: tiny when all cancels.
    pub(super) survival: f64,
    /// Per event: its sum as a share of P(evidence).
    pub(super) shares: Vec<f64>,
}

/// A calibrated tree with its figures.
#[derive(Debug)]
pub(super) struct Calibrated {
    pub(super) figures: Figures,
    numbers: Numbers,
}

/// Calibrates. Time: as [`Calibration::new`] where doubles do; else about twelve times that.
pub(super) fn calibrate(tree: &Tree, model: &Model, events: &[Event], follow: usize) -> Calibrated {
    let doubles = Calibration::<f64>::new(tree, model, events, follow);
    let figures = Figures::new(&doubles, SHARE_IN_DOUBLES);
    if figures.spread <= AGREEMENT {
        return figures.with(Numbers::Doubles(doubles));
    }
    let doubles_do = figures.spread <= GOOD_FOR_QUESTIONS;
    let twofold = Calibration::<Twofold>::new(tree, model, events, follow);
    let figures = Figures::new(&twofold, SHARE_IN_TWOFOLD);
    // Once the figures themselves are known better, doubles may still do for questions.
    if doubles_do {
        figures.with(Numbers::Doubles(doubles))
    } else {
        figures.with(Numbers::Twofold(twofold))
    }
}

impl Figures {
    fn new<R: Real>(calibration: &Calibration<R>, least_share: f64) -> Self {
        let total = calibration.total.rounded();
        let told = total > 0.0 && calibration.survival >= least_share;
        let sums = calibration.sums.iter();
        Self {
            log_total: calibration.log_total,
            spread: if told {
                calibration.spread
            } else {
                f64::INFINITY
            },
            survival: calibration.survival,
            shares: sums.map(|sum| sum.rounded() / total).collect(),
        }
    }

    fn with(self, numbers: Numbers) -> Calibrated {
        let figures = self;
        Calibrated { figures, numbers }
    }
}

impl Calibrated {
    /// Gets ready for questions; see [`Calibration::shorten`].
    pub(super) fn shorten(&mut self, tree: &Tree) {
        match &mut self.numbers {
            Numbers::Doubles(doubles) => doubles.shorten(tree),
            Numbers::Twofold(twofold) => twofold.shorten(tree),
        }
    }

    /// Terms through the tree. Per term: its share of P(evidence), then that of each of the first
    /// `follow` events.
    pub(super) fn propagate(
        &self,
        tree: &Tree,
        model: &Model,
        events: &[Event],
        follow: usize,
        terms: &[Term],
    ) -> Vec<Vec<f64>> {
        match &self.numbers {
            Numbers::Doubles(doubles) => send(doubles, tree, model, events, follow, terms),
            Numbers::Twofold(twofold) => send(twofold, tree, model, events, follow, terms),
        }
    }
}

/// Terms that touch the same cliques go together.
fn send<R: Real>(
    calibration: &Calibration<R>,
    tree: &Tree,
    model: &Model,
    events: &[Event],
    follow: usize,
    terms: &[Term],
) -> Vec<Vec<f64>> {
    let homes = |term: &Term| {
        let all = term.iter().map(|(slot, _)| tree.home[*slot]);
        all.collect::<BTreeSet<usize>>()
            .into_iter()
            .collect::<Vec<usize>>()
    };
    let mut batch = Batch::new(tree, model, events, calibration, terms);
    let keys: Vec<Vec<usize>> = terms.iter().map(homes).collect();
    let mut order: Vec<usize> = (0..terms.len()).collect();
    order.sort_by(|&a, &b| keys[a].cmp(&keys[b]).then(a.cmp(&b)));
    let mut values = vec![Vec::new(); terms.len()];
    let unit = calibration.total.rounded();
    for group in order.chunks(LANES) {
        let picked: Vec<&Term> = group.iter().map(|&index| &terms[index]).collect();
        let (total, sums) = batch.run(&picked);
        let total = total.rounded();
        let sums: Vec<[f64; LANES]> = sums[..follow].iter().map(Wide::rounded).collect();
        for (lane, &index) in group.iter().enumerate() {
            let followed = sums.iter().map(|wide| wide[lane]);
            let all = std::iter::once(total[lane]).chain(followed);
            values[index] = all.map(|sum| sum / unit).collect();
        }
    }
    values
}
