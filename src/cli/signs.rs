//! A check with several signs, asked sign after sign.
//!
//! In: a case in which the earlier signs have their answers. Out: whether a later one can still
//! matter, and the answers of all as one.

use crate::advise::{AdviseError, Answered, Belief, Case};
use crate::cli::Desk;
use crate::cli::ask::{Line, Said, read};
use crate::cli::failure::Failure;
use crate::cli::pick::{Picked, one_of, pick};
use crate::ids::TaskId;
use crate::infer::{Finding, InferError};
use crate::rules::base::{Answering, Check};
use crate::show::sign_text;

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
fn matters(case: &Case<'_>, task: TaskId, sign: usize) -> Result<bool, AdviseError> {
    let Some(&var) = case.graph.tasks[task].signs.get(sign) else {
        return Ok(false);
    };
    // Of a check that can be done again the sign stands ready for the next time.
    let var = case.graph.states.time_before(var).unwrap_or(var);
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

/// Asks for the later signs of a check, once its first has an answer, as far as they can still
/// matter. `trial` makes the case that an answer so far would make.
pub(super) fn later_signs<'a>(
    desk: &mut Desk<'_>,
    case: &Case<'_>,
    task: TaskId,
    mut said: Said,
    trial: impl Fn(&Said) -> Result<Case<'a>, Failure>,
) -> Result<Said, Failure> {
    let Some(check) = several(case, task).filter(|check| first_only(check, &said)) else {
        return Ok(said);
    };
    for sign in 1..check.signs.len() {
        if !matters(&trial(&said)?, task, sign)? {
            continue;
        }
        let mut page = desk.page();
        sign_text(&mut page, &check.signs[sign]);
        desk.put(page.text())?;
        if let Some((at, more)) = sign_answer(desk, check, sign)? {
            let of = &check.signs[sign];
            let id = &of.answers[at].id;
            said.answer = format!("{}, {}={id}", said.answer, of.named.id);
            said.sure = more.sure.or(said.sure);
            said.seen = more.seen.or(said.seen);
        }
    }
    Ok(said)
}

/// Whether only the first of a check's signs is answered.
fn first_only(check: &Check, said: &Said) -> bool {
    let sign = &check.signs[0].named.id;
    let rest = said.answer.strip_prefix(sign.as_str());
    rest.is_some_and(|rest| rest.starts_with('=')) && !said.answer.contains(',')
}

/// The answer to a later sign of a check; none if it is left out.
fn sign_answer(
    desk: &mut Desk<'_>,
    check: &Check,
    sign: usize,
) -> Result<Option<(usize, Said)>, Failure> {
    let answers = answers_of(check, sign);
    let own = format!("{}=", check.signs[sign].named.id);
    loop {
        desk.put("> ")?;
        let Some(line) = desk.line()? else {
            return Ok(None);
        };
        let said = match read(&line) {
            Line::Nothing | Line::Skip => return Ok(None),
            Line::Answer(said) if said.answer == "cant_tell" => return Ok(None),
            Line::Answer(said) => said,
            _ => Said::default(),
        };
        let typed = said.answer.strip_prefix(&own).unwrap_or(&said.answer);
        if let Picked::One(at) = pick(&answers, typed) {
            return Ok(Some((at, said)));
        }
        let ids: Vec<&str> = answers.iter().map(|(id, _)| id.as_str()).collect();
        let mut page = desk.page();
        page.para(&format!("Type {}; Enter leaves it out.", one_of(&ids)));
        desk.put(page.text())?;
    }
}
