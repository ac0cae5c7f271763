//! What is asked of an engine, and its answers.
//!
//! In: events to follow ([`Target`]) and checks to weigh ([`Question`]). Out: [`Answers`].
//!
//! ```
//! use seepwise::infer::Answers;
//! // A check that settles an even chance is worth one bit.
//! let answers = Answers { probability: vec![0.5, 0.5], targets: vec![vec![0.0], vec![1.0]] };
//! assert_eq!(answers.gain_bits(&[0.5]), 1.0);
//! ```

use crate::chance::entropy_bits;
use crate::ids::{Id, VarId};
use crate::infer::{InferError, Network};

/// An event: the variable is in one of these states ("this fault causes a leak").
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Target {
    /// The variable.
    pub var: VarId,
    /// One flag per state: whether it belongs to the event.
    pub states: Vec<bool>,
}

/// How the signs of a question make up its joint answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Every combination of the signs' states, row-major, first sign slowest.
    Grid,
    /// A walk along the signs that stops at the first one not in state 0. Answers: all normal;
    /// then sign 0 state 1, 2, …; sign 1 state 1, 2, … Later signs are not observed.
    FirstOf,
}

/// A check: signs, and how they make up its answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// The signs, in order.
    pub signs: Vec<VarId>,
    /// How they combine.
    pub shape: Shape,
}

/// The chance of each answer, and each target after it.
#[derive(Debug, Clone, PartialEq)]
pub struct Answers {
    /// P(answer | evidence), in the order that [`Shape`] states. Sums to 1.
    pub probability: Vec<f64>,
    /// `[answer][target]`, for the targets that are followed: P(target | answer, evidence), to 1e-4. Answers that are impossible, or
    /// too rare for that (in most networks below 1e-9, in the worst below 4e-6), repeat
    /// P(target | evidence).
    pub targets: Vec<Vec<f64>>,
}

impl Answers {
    /// Sum over the targets of the mutual information between target and joint answer, bits.
    /// `now` holds P(target | evidence), one per target. Never negative.
    pub fn gain_bits(&self, now: &[f64]) -> f64 {
        self.gain_bits_over(now, |_| true)
    }

    /// The same over those targets that count.
    pub fn gain_bits_over(&self, now: &[f64], counts: impl Fn(usize) -> bool) -> f64 {
        let gain = |target: usize| {
            let after: f64 = (self.probability.iter().zip(&self.targets))
                .map(|(p, targets)| p * entropy_bits(targets[target]))
                .sum();
            (entropy_bits(now[target]) - after).max(0.0)
        };
        (0..now.len())
            .filter(|&target| counts(target))
            .map(gain)
            .sum()
    }
}

/// Checks targets, marginals and questions against the network.
pub(super) fn validate(
    net: &Network,
    targets: &[Target],
    marginals: &[VarId],
    questions: &[Question],
) -> Result<(), InferError> {
    let known = |var: VarId| var.index() < net.len();
    for (index, target) in targets.iter().enumerate() {
        if !known(target.var) || net.node(target.var).states != target.states.len() {
            let problem = "one flag per state of a variable of the network is needed";
            return Err(InferError::BadInput {
                what: "target",
                index,
                problem,
            });
        }
    }
    if let Some(index) = marginals.iter().position(|&var| !known(var)) {
        return Err(InferError::BadInput {
            what: "marginal",
            index,
            problem: "no such variable",
        });
    }
    for (index, question) in questions.iter().enumerate() {
        let bad = |problem| {
            Err(InferError::BadInput {
                what: "question",
                index,
                problem,
            })
        };
        if !question.signs.iter().all(|&sign| known(sign)) {
            return bad("no such sign");
        }
        let mut sorted = question.signs.clone();
        sorted.sort_unstable();
        sorted.dedup();
        if sorted.len() < question.signs.len() {
            return bad("a sign stands in it twice");
        }
    }
    Ok(())
}
