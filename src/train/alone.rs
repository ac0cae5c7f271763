//! What every check would answer on vehicles that each have one cause and no other.
//!
//! In: a vehicle's graph and some of its causes. Out: [`Alone`], which compares two of them. A check
//! is worth what its answer tells between two such vehicles, at even odds: the Jensen–Shannon
//! divergence in bits (Lin 1991), at most 1. All checks together are summed up by the product of
//! their Bhattacharyya coefficients (Bhattacharyya 1943), as if each were drawn anew.

use std::collections::BTreeSet;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::graph::CausalGraph;
use crate::ids::TaskId;
use crate::infer::{Engine, Finding, InferError, Options, Question};
use crate::rules::{Layout, RuleBase};
use crate::train::TrainError;

/// Answers less likely than this under both causes don't count.
const NEVER: f64 = 1e-9;

/// The answers by cause.
#[derive(Debug)]
pub(super) struct Alone {
    tasks: Vec<TaskId>,
    /// By cause, in the order given, then by task; empty where the engine could not say.
    shown: Vec<Vec<Vec<f64>>>,
}

impl Alone {
    /// Works out the answers for the causes at these positions of the graph. Time: an engine for
    /// each, on as many threads as there are cores.
    ///
    /// # Errors
    /// [`TrainError::Infer`].
    pub fn of(
        (rules, layout, graph): (&RuleBase, &Layout, &CausalGraph),
        causes: &[usize],
    ) -> Result<Self, TrainError> {
        let (covers_on, nothing_seen) = (BTreeSet::new(), BTreeSet::new());
        let (tasks, questions): (Vec<TaskId>, Vec<Question>) = (graph.tasks.enumerated())
            .filter(|(_, task)| task.zone.is_none() && task.cover_on.is_none())
            .map(|(id, _)| {
                let asked = graph.ask(rules, layout, id, &covers_on, &nothing_seen);
                (id, asked.question)
            })
            .unzip();
        let next = AtomicUsize::new(0);
        let done = Mutex::new(vec![None; causes.len()]);
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        std::thread::scope(|scope| {
            for _ in 0..threads.min(causes.len()) {
                scope.spawn(|| {
                    loop {
                        let turn = next.fetch_add(1, Ordering::Relaxed);
                        let Some(&at) = causes.get(turn) else { break };
                        let answers = one(graph, at, &questions);
                        let Ok(mut done) = done.lock() else { break };
                        done[turn] = Some(answers);
                    }
                });
            }
        });
        let done = done.into_inner().unwrap_or_default();
        let shown: Result<Vec<_>, InferError> = done.into_iter().flatten().collect();
        Ok(Self {
            tasks,
            shown: shown?,
        })
    }

    /// How far all checks together leave two causes alike: 1 not told apart at all, 0 surely.
    pub fn alike(&self, one: usize, other: usize) -> f64 {
        let pairs = self.shown[one].iter().zip(&self.shown[other]);
        pairs
            .filter(|(p, q)| !p.is_empty() && !q.is_empty())
            .map(|(p, q)| bhattacharyya(p, q))
            .product()
    }

    /// The check that tells most between two causes, with its bits at even odds.
    pub fn best(&self, one: usize, other: usize) -> Option<(TaskId, f64)> {
        let mut best: Option<(TaskId, f64)> = None;
        let pairs = self.shown[one].iter().zip(&self.shown[other]);
        for (&task, (p, q)) in self.tasks.iter().zip(pairs) {
            if p.is_empty() || q.is_empty() {
                continue;
            }
            let bits = divergence_bits(p, q);
            if best.is_none_or(|(_, most)| bits > most) {
                best = Some((task, bits));
            }
        }
        best
    }
}

/// The answers to all questions where one cause is there and no other is.
fn one(
    graph: &CausalGraph,
    at: usize,
    questions: &[Question],
) -> Result<Vec<Vec<f64>>, InferError> {
    let findings: Vec<Finding> = (graph.causes.iter().enumerate())
        .map(|(other, cause)| {
            let likelihood = (cause.leaking.iter())
                .map(|&leaks| f64::from(u8::from(leaks == (other == at))))
                .collect();
            Finding::soft(cause.push, likelihood)
        })
        .collect();
    let options = Options::default();
    let mut engine = Engine::new(&graph.network, &findings, &[], &[], questions, &options)?;
    (0..questions.len())
        .map(|number| match engine.answers(number) {
            Ok(answers) => Ok(answers.probability),
            Err(InferError::TooDense { .. } | InferError::Numeric { .. }) => Ok(Vec::new()),
            Err(error) => Err(error),
        })
        .collect()
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
