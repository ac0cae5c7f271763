//! Faults that the checks can hardly tell apart.
//!
//! In: a field. Out: pairs of causes, the least separated first, each with the check that tells
//! most between the two. For every cause the vehicle is thought of as having it alone; a check is
//! worth what its answer tells between two such vehicles, at even odds: the Jensen–Shannon
//! divergence in bits (Lin 1991), at most 1. All checks together are summed up by the product of
//! their Bhattacharyya coefficients (Bhattacharyya 1943), as if each were drawn anew.

use std::collections::BTreeSet;

use crate::advise::Case;
use crate::graph::Place;
use crate::ids::TaskId;
use crate::infer::{Engine, Finding, InferError, Options, Question};
use crate::train::TrainError;

/// Answers less likely than this under both causes don't count.
const NEVER: f64 = 1e-9;

/// Two causes and what separates them.
#[derive(Debug, Clone, PartialEq)]
pub struct Twins {
    /// One cause.
    pub one: Place,
    /// The other.
    pub other: Place,
    /// The check that tells most between them, and how many bits at even odds.
    pub best: Option<(TaskId, f64)>,
    /// How far all checks together leave them alike: 1 not told apart at all, 0 surely.
    pub alike: f64,
}

/// The `count` pairs that are told apart least. Time: an engine for each cause.
///
/// # Errors
/// [`TrainError::Infer`].
pub fn twins(case: &Case<'_>, count: usize) -> Result<Vec<Twins>, TrainError> {
    let graph = &case.graph;
    let (covers_on, nothing_seen) = (BTreeSet::new(), BTreeSet::new());
    let asked: Vec<(TaskId, Question)> = graph
        .tasks
        .enumerated()
        .filter(|(_, task)| task.zone.is_none() && task.cover_on.is_none())
        .map(|(id, _)| {
            let asked = graph.ask(case.rules, case.layout, id, &covers_on, &nothing_seen);
            (id, asked.question)
        })
        .collect();
    let questions: Vec<Question> = asked.iter().map(|(_, question)| question.clone()).collect();
    let listed: Vec<usize> = (0..graph.causes.len())
        .filter(|&at| {
            let place = graph.causes[at].place;
            let apart = case.rules.kinds[case.layout.parts[place.part].kind].apart;
            !apart && !case.rules.faults[place.fault].other
        })
        .collect();
    // By question, then by cause.
    let mut shown: Vec<Vec<Vec<f64>>> = vec![Vec::new(); asked.len()];
    for &at in &listed {
        let findings: Vec<Finding> = graph
            .causes
            .iter()
            .enumerate()
            .map(|(other, cause)| {
                let likelihood = cause
                    .leaking
                    .iter()
                    .map(|&leaks| f64::from(u8::from(leaks == (other == at))))
                    .collect();
                Finding::soft(cause.push, likelihood)
            })
            .collect();
        let mut engine = Engine::new(
            &graph.network,
            &findings,
            &[],
            &[],
            &questions,
            &Options::default(),
        )?;
        for (number, shown) in shown.iter_mut().enumerate() {
            let answers = match engine.answers(number) {
                Ok(answers) => answers.probability,
                Err(InferError::TooDense { .. } | InferError::Numeric { .. }) => Vec::new(),
                Err(error) => return Err(error.into()),
            };
            shown.push(answers);
        }
    }
    let mut pairs = Vec::new();
    for (i, &one) in listed.iter().enumerate() {
        for (j, &other) in listed.iter().enumerate().skip(i + 1) {
            let mut best: Option<(TaskId, f64)> = None;
            let mut alike = 1.0;
            for ((task, _), shown) in asked.iter().zip(&shown) {
                let (p, q) = (&shown[i], &shown[j]);
                if p.is_empty() || q.is_empty() {
                    continue;
                }
                alike *= bhattacharyya(p, q);
                let bits = divergence_bits(p, q);
                if best.is_none_or(|(_, most)| bits > most) {
                    best = Some((*task, bits));
                }
            }
            pairs.push(Twins {
                one: graph.causes[one].place,
                other: graph.causes[other].place,
                best,
                alike,
            });
        }
    }
    pairs.sort_by(|a, b| b.alike.total_cmp(&a.alike));
    pairs.truncate(count);
    Ok(pairs)
}

/// Σ √(p·q).
fn bhattacharyya(p: &[f64], q: &[f64]) -> f64 {
    let sum: f64 = p.iter().zip(q).map(|(p, q)| (p * q).sqrt()).sum();
    sum.min(1.0)
}

/// Jensen–Shannon divergence at even odds, bits.
fn divergence_bits(p: &[f64], q: &[f64]) -> f64 {
    let half = |p: f64, q: f64| {
        if p > NEVER {
            p * (2.0 * p / (p + q)).log2()
        } else {
            0.0
        }
    };
    let sum: f64 = p
        .iter()
        .zip(q)
        .map(|(&p, &q)| half(p, q) + half(q, p))
        .sum();
    (sum / 2.0).max(0.0)
}
