//! What every check would answer on vehicles that each have one cause and no other.
//!
//! In: a vehicle's graph and some of its causes. Out: [`Alone`], which compares two of them. A check
//! is worth what its answer tells between two such vehicles, at even odds: the Jensen–Shannon
//! divergence in bits (Lin 1991), at most 1. All checks together are summed up by the product of
//! their Bhattacharyya coefficients (Bhattacharyya 1943), as if each were drawn anew.

use std::collections::BTreeSet;

use crate::graph::CausalGraph;
use crate::ids::TaskId;
use crate::infer::{Answers, Engine, Finding, InferError, Options, Question, Target};
use crate::rules::{Layout, RuleBase};
use crate::train::TrainError;

/// Answers less likely than this under both causes don't count.
const NEVER: f64 = 1e-9;

/// Weight of a vehicle on which a cause leaks, against one on which it does not. So small that of
/// the vehicles on which a given cause leaks hardly any has a second one: what follows for each cause
/// is that of having it alone, off by about this share.
const RARE: f64 = 1e-6;

/// Of checks that tell the same, to within this many bits, the first is named.
const TIE: f64 = 1e-6;

/// The answers by cause.
#[derive(Debug)]
pub(super) struct Alone {
    tasks: Vec<TaskId>,
    /// By task, then by cause in the order given; empty where the engine could not say.
    shown: Vec<Vec<Vec<f64>>>,
}

impl Alone {
    /// Works out the answers for the causes at these positions of the graph. One engine follows
    /// all causes at once; time: some hundred passes through its tree.
    ///
    /// # Errors
    /// [`TrainError::Infer`].
    pub fn of(
        (rules, layout, graph): (&RuleBase, &Layout, &CausalGraph),
        causes: &[usize],
    ) -> Result<Self, TrainError> {
        let mut alone = Self {
            tasks: Vec::new(),
            shown: Vec::new(),
        };
        if causes.is_empty() {
            return Ok(alone);
        }
        let (covers_on, nothing_seen) = (BTreeSet::new(), BTreeSet::new());
        let (tasks, questions): (Vec<TaskId>, Vec<Question>) = (graph.tasks.enumerated())
            .filter(|(_, task)| task.zone.is_none() && task.cover_on.is_none())
            .map(|(id, _)| {
                let asked = graph.ask(rules, layout, id, &covers_on, &nothing_seen);
                (id, asked.question)
            })
            .unzip();
        alone.tasks = tasks;
        let findings: Vec<Finding> = (graph.causes.iter())
            .map(|cause| {
                let weight = |&leaks: &bool| if leaks { RARE } else { 1.0 };
                Finding::soft(cause.push, cause.leaking.iter().map(weight).collect())
            })
            .collect();
        let targets: Vec<Target> = causes
            .iter()
            .map(|&at| Target {
                var: graph.causes[at].push,
                states: graph.causes[at].leaking.clone(),
            })
            .collect();
        let options = Options::default();
        let mut engine = Engine::new(
            &graph.network,
            &findings,
            &targets,
            &[],
            &questions,
            &options,
        )?;
        let all: Vec<usize> = (0..questions.len()).collect();
        engine.work_out(&all)?;
        for number in all {
            let by_cause = match engine.answers(number) {
                Ok(answers) => (0..causes.len()).map(|at| given(&answers, at)).collect(),
                Err(InferError::TooDense { .. } | InferError::Numeric { .. }) => Vec::new(),
                Err(error) => return Err(error.into()),
            };
            alone.shown.push(by_cause);
        }
        Ok(alone)
    }

    /// How far all checks together leave two causes alike: 1 not told apart at all, 0 surely.
    pub fn alike(&self, one: usize, other: usize) -> f64 {
        let known = self.shown.iter().filter(|by_cause| !by_cause.is_empty());
        known
            .map(|by_cause| bhattacharyya(&by_cause[one], &by_cause[other]))
            .product()
    }

    /// The check that tells most between two causes, with its bits at even odds.
    pub fn best(&self, one: usize, other: usize) -> Option<(TaskId, f64)> {
        let mut best: Option<(TaskId, f64)> = None;
        for (&task, by_cause) in self.tasks.iter().zip(&self.shown) {
            if by_cause.is_empty() {
                continue;
            }
            let bits = divergence_bits(&by_cause[one], &by_cause[other]);
            if best.is_none_or(|(_, most)| bits > most + TIE) {
                best = Some((task, bits));
            }
        }
        best
    }
}

/// The answers given a target.
fn given(answers: &Answers, target: usize) -> Vec<f64> {
    let each = answers.probability.iter().zip(&answers.targets);
    let joint: Vec<f64> = each.map(|(p, targets)| p * targets[target]).collect();
    let all: f64 = joint.iter().sum();
    joint.into_iter().map(|p| p / all).collect()
}

/// Σ √(p·q).
fn bhattacharyya(p: &[f64], q: &[f64]) -> f64 {
    let sum: f64 = p.iter().zip(q).map(|(p, q)| (p * q).sqrt()).sum();
    sum.min(1.0)
}

/// Jensen–Shannon divergence at even odds, bits.
pub(super) fn divergence_bits(p: &[f64], q: &[f64]) -> f64 {
    let half = |p: f64, q: f64| {
        if p > NEVER {
            p * (2.0 * p / (p + q)).log2()
        } else {
            0.0
        }
    };
    let sum: f64 = (p.iter().zip(q))
        .map(|(&p, &q)| half(p, q) + half(q, p))
        .sum();
    (sum / 2.0).max(0.0)
}
