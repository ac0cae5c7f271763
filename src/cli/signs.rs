//! A check with several signs, asked sign after sign.
//!
//! In: a case in which the earlier signs have their answers. Out: whether a later one can still
//! matter, and the answers of all as one.

use crate::advise::{AdviseError, Answered, Belief, Case};
use crate::ids::TaskId;
use crate::infer::{Finding, InferError};
use crate::rules::base::{Answering, Check};

/// A sign matters if its answer is expected to move some place's chance by this much.
const MOVES: f64 = 0.01;

/// The check of a task, if it has several signs that are answered one by one.
pub(super) fn several<'a>(case: &Case<'a>, task: TaskId) -> Option<&'a Check> {
    let check = &case.rules.checks[case.graph.tasks[task].check];
    (check.signs.len() > 1 && check.answering == Answering::Each).then_some(check)
}

/// The answers of a sign: ids with what they look like.
pub(super) fn answers_of(check: &Check, sign: usize) -> Vec<(String, String)> {
    check.signs[sign]
        .answers
        .iter()
        .map(|answer| (answer.id.clone(), answer.name.clone()))
        .collect()
}

/// Whether a sign of a task can still matter: the expected move of the place that it moves most,
/// over its answers, weighed by their chances.
///
/// # Errors
/// As [`Belief::of`].
pub(super) fn matters(case: &Case<'_>, task: TaskId, sign: usize) -> Result<bool, AdviseError> {
    let Some(&var) = case.graph.tasks[task].signs.get(sign) else {
        return Ok(false);
    };
    let now = Belief::of(case, &[])?;
    let states = case.graph.node(var).states.len();
    let mut moves = vec![0.0; now.causes.len()];
    for state in 0..states {
        let mut answered = case.clone();
        answered.found.push(Answered {
            entry: 0,
            task: Some(task),
            words: String::new(),
            findings: vec![Finding::hard(var, states, state)],
            normal: state == 0,
        });
        let then = match Belief::of(&answered, &[]) {
            Ok(then) => then,
            Err(AdviseError::Infer(InferError::Impossible { .. })) => continue,
            Err(error) => return Err(error),
        };
        let chance = (then.log_evidence() - now.log_evidence()).exp();
        for (moved, (after, before)) in moves.iter_mut().zip(then.causes.iter().zip(&now.causes)) {
            *moved += chance * (after - before).abs();
        }
    }
    Ok(moves.into_iter().any(|moved| moved >= MOVES))
}
