//! What a typed answer to a question means, and what to type instead where it means nothing.

use crate::advise::Case;
use crate::cli::ask::Said;
use crate::cli::needle::gauge_entry;
use crate::cli::pick::{Picked, one_of, pick};
use crate::cli::signs::{answers_of, several};
use crate::graph::Asked;
use crate::job::{AnswerGiven, CANT_DO, CANT_TELL, Entry, parse_answer};
use crate::rules::base::Check;
use crate::rules::layout::SOMEWHERE;
use crate::show::shown_answers;

/// What an answer is to be noted as.
pub(super) enum Noted {
    /// One of the check's answers.
    Said(Said),
    /// What the needle did.
    Gauge(Entry),
}

/// An answer as understood: the needle of a hold, or one of the check's answers.
///
/// # Errors
/// What to type instead, in a sentence or two.
pub(super) fn noted(case: &Case<'_>, asked: &Asked, said: Said) -> Result<Noted, String> {
    match gauge_entry(case, asked.task, &said.answer)? {
        Some(_) if said.again || said.sure.is_some() || said.seen.is_some() => Err(
            "The needle is taken as read, in place of an earlier hold: leave out what stands behind the minutes."
                .to_owned(),
        ),
        Some(entry) => Ok(Noted::Gauge(entry)),
        None => understood(case, asked, said).map(Noted::Said),
    }
}

/// The answer under its full name.
fn understood(case: &Case<'_>, asked: &Asked, mut said: Said) -> Result<Said, String> {
    let check = &case.rules.checks[case.graph.tasks[asked.task].check];
    if said.seen.is_some() && check.intake {
        return Err(
            "This is a question, there is nothing to see. Type an answer, or `can't tell`."
                .to_owned(),
        );
    }
    // A combined answer (`sign=answer, …`, `place=answer`) is read with the log.
    if [CANT_TELL, CANT_DO].contains(&said.answer.as_str()) || said.answer.contains('=') {
        return Ok(said);
    }
    let shown = shown_answers(case, asked);
    if let Some(text) = which_of(check, &shown, &said.answer) {
        return Err(text);
    }
    if let Some(check) = several(case, asked.task) {
        if let Some(answer) = sign_by_sign(check, &said.answer) {
            said.answer = answer;
            return Ok(said);
        }
    } else if asked.places.is_empty() && known(case, asked, &said.answer) {
        return Ok(said);
    }
    match pick(&shown, &said.answer) {
        Picked::One(at) => {
            let sign = several(case, asked.task).map(|check| &check.signs[0].named.id);
            let id = &shown[at].0;
            said.answer = sign.map_or_else(|| id.clone(), |sign| format!("{sign}={id}"));
            Ok(said)
        }
        Picked::Several(fitting) => {
            let ids: Vec<&str> = fitting.iter().map(|&at| shown[at].0.as_str()).collect();
            Err(format!(
                "`{}` fits {}. Type more of it.",
                said.answer,
                one_of(&ids)
            ))
        }
        Picked::Nothing if known(case, asked, &said.answer) => {
            let place = asked.places.first();
            let part = place.and_then(|&place| case.graph.tasks[place].part);
            let part = part.map_or("PLACE", |part| case.layout.parts[part].named.id.as_str());
            Err(format!(
                "Where? Name the highest place that shows it, for example `{part}={0}`. Where you can't see where it begins: `{SOMEWHERE}={0}`.",
                said.answer
            ))
        }
        Picked::Nothing => {
            let mut ids: Vec<&str> = shown.iter().map(|(id, _)| id.as_str()).collect();
            if !asked.places.is_empty() {
                ids.push("PLACE=ANSWER");
            }
            Err(format!(
                "`{}` is no answer here. Type {}.",
                said.answer,
                one_of(&ids)
            ))
        }
    }
}

/// What to type where the name of a sign was typed that can show more than one thing: pits, but how many?
fn which_of(check: &Check, shown: &[(String, String)], typed: &str) -> Option<String> {
    let sign = check.signs.iter().find(|sign| sign.named.id == typed)?;
    let shows = sign.answers.get(1..).unwrap_or_default();
    if shows.len() < 2 || shown.iter().any(|(id, _)| id == typed) {
        return None;
    }
    let forms: Vec<String> = (shows.iter())
        .map(|answer| format!("`{typed}={}` ({})", answer.id, answer.name))
        .collect();
    let forms: Vec<&str> = forms.iter().map(String::as_str).collect();
    Some(format!("`{typed}`: which? Type {}.", one_of(&forms)))
}

/// Whether a job's log would take the answer as it stands.
fn known(case: &Case<'_>, asked: &Asked, answer: &str) -> bool {
    let given = AnswerGiven::One(answer.to_owned());
    let mut covers = case.set_up.covers_off.clone();
    covers.extend(asked.cover_off);
    parse_answer(
        case.rules,
        case.layout,
        &case.graph,
        asked.task,
        &covers,
        &given,
    )
    .is_ok()
}

/// `wet here`: an answer for each of the first signs, in their order.
fn sign_by_sign(check: &Check, typed: &str) -> Option<String> {
    let words: Vec<&str> = typed
        .split([',', ' '])
        .filter(|word| !word.is_empty())
        .collect();
    if words.len() < 2 || words.len() > check.signs.len() {
        return None;
    }
    let each: Option<Vec<String>> = words
        .iter()
        .enumerate()
        .map(|(sign, word)| match pick(&answers_of(check, sign), word) {
            Picked::One(at) => {
                let of = &check.signs[sign];
                Some(format!("{}={}", of.named.id, of.answers[at].id))
            }
            _ => None,
        })
        .collect();
    each.map(|each| each.join(", "))
}
