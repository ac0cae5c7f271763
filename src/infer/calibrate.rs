//! Calibration in as many digits as the evidence needs.
//!
//! In: a tree and its model. Out: a calibration in plain doubles where separators agree on
//! P(evidence) as closely as is wanted, else one in twofold numbers, which takes several times as long.
//!
//! Example: a dozen unlikely findings, each 1 − product of their parents' chances, leave 1e-20 of
//! sums of ones: nothing in doubles, eleven digits in twofold numbers.

use std::collections::BTreeSet;

use crate::cores;
use crate::infer::batch::{Batch, Term};
use crate::infer::compile::Model;
use crate::infer::passes::{Calibration, Event};
use crate::infer::real::{LANES, Real, Twofold, Wide};
use crate::infer::tree::Tree;

/// How far two separators may disagree on P(evidence), relative, where all digits are wanted.
const AGREEMENT: f64 = 1e-10;
/// How far the chances of answers from doubles may be off for these to answer questions, once
/// P(evidence) itself has been worked out in twofold numbers: as a share of how far off a target
/// after an answer may be, so that answers down to this chance need no more digits.
const RARE_ANSWER: f64 = 4e-3;
/// How far an answer's chance is off, at most, as a multiple of the disagreement. Measured: up to
/// 2.8 on jobs of 9 to 19 findings.
const NOISE: f64 = 4.0;
/// Relative rounding of one operation.
const ROUNDING_IN_DOUBLES: f64 = 1.2e-16;
/// The same for twofold numbers.
const ROUNDING_IN_TWOFOLD: f64 = 1e-31;
/// Below this share left of a sum, doubles may be further off than [`AGREEMENT`] even where the few
/// separators of a small tree share the error.
const SHARE_IN_DOUBLES: f64 = 1e-6;
/// The same for twofold numbers, which have 31 digits.
const SHARE_IN_TWOFOLD: f64 = 1e-24;

/// From so many groups of terms on, two cores share them.
const WORTH_A_CORE: usize = 4;

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
    /// How far the chance of an answer that is worked out from this calibration may be off.
    pub(super) noise: f64,
}

/// A calibrated tree with its figures.
#[derive(Debug)]
pub(super) struct Calibrated {
    /// The best known.
    pub(super) figures: Figures,
    /// With how far answers from them may be off; `None` if that is too much.
    doubles: Option<(Calibration<f64>, f64)>,
    /// Where doubles alone don't do.
    twofold: Option<(Calibration<Twofold>, f64)>,
}

/// Which numbers a question is answered from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Numbers {
    Doubles,
    Twofold,
}

/// How far off figures may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Digits {
    /// The chance of an event. Less than what separators that agree stand for asks for no more.
    pub(super) event: f64,
    /// The chance of an event after an answer.
    pub(super) after_answer: f64,
}

impl Digits {
    /// As good as numbers get.
    pub(super) const ALL: Self = Self {
        event: 0.0,
        after_answer: f64::INFINITY,
    };

    /// How far two separators may disagree, relative.
    pub(super) fn agreement(self) -> f64 {
        AGREEMENT.max(self.event / NOISE)
    }
}

/// Calibrates. Time: as [`Calibration::new`] where doubles do; else about four times that.
pub(super) fn calibrate(
    tree: &Tree,
    model: &Model,
    events: &[Event],
    follow: usize,
    digits: Digits,
) -> Calibrated {
    let doubles = Calibration::<f64>::new(tree, model, events, follow);
    let least_share = SHARE_IN_DOUBLES.min(ROUNDING_IN_DOUBLES / digits.agreement());
    let figures = Figures::new(&doubles, least_share, ROUNDING_IN_DOUBLES);
    let noise = figures.noise;
    if figures.spread <= digits.agreement() {
        return Calibrated {
            figures,
            doubles: Some((doubles, noise)),
            twofold: None,
        };
    }
    let doubles_do = noise <= digits.after_answer * RARE_ANSWER;
    let twofold = Calibration::<Twofold>::new(tree, model, events, follow);
    let figures = Figures::new(&twofold, SHARE_IN_TWOFOLD, ROUNDING_IN_TWOFOLD);
    let noise_left = figures.noise;
    Calibrated {
        figures,
        doubles: doubles_do.then_some((doubles, noise)),
        twofold: Some((twofold, noise_left)),
    }
}

impl Figures {
    fn new<R: Real>(calibration: &Calibration<R>, least_share: f64, rounding: f64) -> Self {
        let total = calibration.total.rounded();
        let unseen = rounding / calibration.survival;
        let told = total > 0.0 && calibration.survival >= least_share;
        let sums = calibration.sums.iter();
        Self {
            log_total: calibration.log_total,
            spread: if told {
                calibration.spread
            } else {
                f64::INFINITY
            },
            noise: if total > 0.0 {
                NOISE * calibration.spread.max(unseen)
            } else {
                f64::INFINITY
            },
            survival: calibration.survival,
            shares: sums.map(|sum| sum.rounded() / total).collect(),
        }
    }
}

impl Calibrated {
    /// The quickest numbers that do for questions, and how far answers from them may be off.
    pub(super) fn quickest(&self) -> (Numbers, f64) {
        match (&self.doubles, &self.twofold) {
            (Some((_, noise)), _) => (Numbers::Doubles, *noise),
            (None, Some((_, noise))) => (Numbers::Twofold, *noise),
            (None, None) => (Numbers::Doubles, f64::INFINITY),
        }
    }

    /// How far answers from twofold numbers may be off, if they stand ready beside doubles.
    pub(super) fn finer(&self) -> Option<f64> {
        self.doubles.as_ref()?;
        self.twofold.as_ref().map(|(_, noise)| *noise)
    }

    /// Gets ready for questions; see [`Calibration::shorten`].
    pub(super) fn shorten(&mut self, tree: &Tree, numbers: Numbers) {
        match (numbers, &mut self.doubles, &mut self.twofold) {
            (Numbers::Doubles, Some((doubles, _)), _) => doubles.shorten(tree),
            (Numbers::Twofold, _, Some((twofold, _))) => twofold.shorten(tree),
            _ => {}
        }
    }

    /// Terms through the tree. Per term: its share of P(evidence), then that of each of the first
    /// `follow` events; nothing if these numbers don't stand ready.
    pub(super) fn propagate(
        &self,
        numbers: Numbers,
        tree: &Tree,
        model: &Model,
        (events, follow): (&[Event], usize),
        terms: &[Term],
    ) -> Vec<Vec<f64>> {
        match (numbers, &self.doubles, &self.twofold) {
            (Numbers::Doubles, Some((doubles, _)), _) => {
                send(doubles, tree, model, (events, follow), terms)
            }
            (Numbers::Twofold, _, Some((twofold, _))) => {
                send(twofold, tree, model, (events, follow), terms)
            }
            _ => Vec::new(),
        }
    }
}

/// Terms that touch the same cliques go together.
fn send<R: Real>(
    calibration: &Calibration<R>,
    tree: &Tree,
    model: &Model,
    (events, follow): (&[Event], usize),
    terms: &[Term],
) -> Vec<Vec<f64>> {
    let homes = |term: &Term| {
        let all = term.iter().map(|(slot, _)| tree.home[*slot]);
        all.collect::<BTreeSet<usize>>()
            .into_iter()
            .collect::<Vec<usize>>()
    };
    let keys: Vec<Vec<usize>> = terms.iter().map(homes).collect();
    let mut order: Vec<usize> = (0..terms.len()).collect();
    order.sort_by(|&a, &b| keys[a].cmp(&keys[b]).then(a.cmp(&b)));
    let unit = calibration.total.rounded();
    let run = |order: &[usize]| {
        let mut batch = Batch::new(tree, model, (events, follow > 0), calibration, terms);
        let mut values = Vec::with_capacity(order.len());
        for group in order.chunks(LANES) {
            let picked: Vec<&Term> = group.iter().map(|&index| &terms[index]).collect();
            let (total, sums) = batch.run(&picked);
            let total = total.rounded();
            let sums: Vec<[f64; LANES]> = sums[..follow].iter().map(Wide::rounded).collect();
            for (lane, &index) in group.iter().enumerate() {
                let followed = sums.iter().map(|wide| wide[lane]);
                let all = std::iter::once(total[lane]).chain(followed);
                values.push((index, all.map(|sum| sum / unit).collect::<Vec<f64>>()));
            }
        }
        values
    };
    // Whole groups on either core, so that each term stands in the same group whatever the cores.
    let groups = order.len().div_ceil(LANES);
    let half = if groups < WORTH_A_CORE {
        order.len()
    } else {
        groups / 2 * LANES
    };
    let (one, other) = order.split_at(half);
    let (first, second) = if other.is_empty() {
        (run(one), Vec::new())
    } else {
        cores::both(|| run(one), || run(other))
    };
    let mut values = vec![Vec::new(); terms.len()];
    for (index, of_term) in first.into_iter().chain(second) {
        values[index] = of_term;
    }
    values
}
