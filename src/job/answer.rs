//! Answers as given → states of signs.
//!
//! In: a task and an answer as written or typed. Out: [`Meant`], or a [`JobProblem`] that lists
//! the answers there are.

use std::collections::BTreeSet;

use crate::graph::{CausalGraph, Task};
use crate::ids::{CoverId, TaskId, VarId};
use crate::job::file::AnswerGiven;
use crate::job::find::{find_part, list, position};
use crate::job::problem::JobProblem;
use crate::notice::codes;
use crate::rules::base::{Answering, Check, Choice, Named, RuleBase, Scope};
use crate::rules::layout::{Layout, SOMEWHERE};

/// What an answer means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Meant {
    /// The check was not done.
    CantDo,
    /// It was done and told nothing.
    CantTell,
    /// Signs (their position in the check) with their answers, and the answer in words.
    Signs(Vec<(usize, usize)>, String),
    /// For a sweep: place tasks with the answer of their first sign, from the top down.
    Places(Vec<(TaskId, usize)>),
    /// For a sweep: at one of these places or more this answer, or a worse one; nobody saw at which.
    Somewhere(Vec<TaskId>, usize),
}

/// What an answer to a task means.
///
/// # Errors
/// An answer, sign or place that the task does not have.
pub fn parse_answer(
    rules: &RuleBase,
    layout: &Layout,
    graph: &CausalGraph,
    task: TaskId,
    covers_off: &BTreeSet<CoverId>,
    answer: &AnswerGiven,
) -> Result<Meant, JobProblem> {
    if answer.cant_do() {
        return Ok(Meant::CantDo);
    }
    if answer.cant_tell() {
        return Ok(Meant::CantTell);
    }
    let of = &graph.tasks[task];
    let check = &rules.checks[of.check];
    let several = match answer {
        AnswerGiven::One(text) => match in_braces(text) {
            Some(inside) => Some(split(&inside.replace(':', "="))?),
            None if text.contains('=') => Some(split(text)?),
            None => None,
        },
        AnswerGiven::Several(several) => Some(several.clone()),
    };
    if let Scope::Sweep(swept) = check.scope {
        let sweep = Sweep {
            layout,
            graph,
            answers: first_answers(&rules.checks[swept]),
        };
        let places = graph
            .ask(rules, layout, task, covers_off, &BTreeSet::new())
            .places;
        return match several.as_deref() {
            Some([(place, answer)]) if place == SOMEWHERE => sweep.somewhere(places, answer),
            _ => sweep.places(&places, answer, several).map(Meant::Places),
        };
    }
    if let Some(several) = several {
        return signs(check, &several);
    }
    let AnswerGiven::One(text) = answer else {
        return signs(check, &[]);
    };
    match &check.answering {
        Answering::Choice(_) => {
            let asked = graph.ask(rules, layout, task, covers_off, &BTreeSet::new());
            let text = text.trim();
            if let Some(option) = asked
                .options
                .iter()
                .find(|option| option.id == text || option.text.eq_ignore_ascii_case(text))
            {
                return Ok(Meant::Signs(
                    positions(of, &option.setting),
                    option.id.clone(),
                ));
            }
            alike(check, text).ok_or_else(|| {
                let known: Vec<&str> = asked
                    .options
                    .iter()
                    .map(|option| option.id.as_str())
                    .collect();
                JobProblem::unknown(&format!("answer to `{}`:", check.named.id), text, &known)
            })
        }
        Answering::Each => {
            if let [sign] = &check.signs[..] {
                let state = answer_of(&check.named.id, text, &sign.answers)?;
                return Ok(Meant::Signs(
                    vec![(0, state)],
                    sign.answers[state].id.clone(),
                ));
            }
            let normal = |answers: &[Named]| {
                answers
                    .first()
                    .map_or_else(String::new, |answer| answer.id.clone())
            };
            let forms: Vec<String> = check
                .signs
                .iter()
                .map(|sign| format!("{}={}", sign.named.id, normal(&sign.answers)))
                .collect();
            let message = format!(
                "`{}` has several signs, each with its own answer; `{text}` names none",
                check.named.id
            );
            Err(JobProblem::new(codes::WRONG_KIND, message)
                .help(format!("write it like `{}`", forms.join(", "))))
        }
    }
}

/// What stands between braces, as in a job file.
fn in_braces(text: &str) -> Option<&str> {
    text.trim().strip_prefix('{')?.strip_suffix('}')
}

/// `sign=answer, sign=answer`.
fn split(text: &str) -> Result<Vec<(String, String)>, JobProblem> {
    let pair = |item: &str| {
        let (name, answer) = item.split_once('=').ok_or_else(|| {
            JobProblem::new(
                codes::WRONG_KIND,
                format!("`{}` is no `name=answer`", item.trim()),
            )
            .help("write `name=answer`, with a comma between two of them")
        })?;
        Ok((name.trim().to_owned(), answer.trim().to_owned()))
    };
    text.split(',').map(pair).collect()
}

fn signs(check: &Check, several: &[(String, String)]) -> Result<Meant, JobProblem> {
    let (mut states, mut words): (Vec<(usize, usize)>, Vec<String>) = (Vec::new(), Vec::new());
    for (sign, answer) in several {
        let at = position(
            &format!("sign of `{}`:", check.named.id),
            sign,
            check.signs.iter().map(|sign| &sign.named),
        )?;
        let of = &check.signs[at];
        if states.iter().any(|(known, _)| *known == at) {
            return Err(JobProblem::new(
                codes::DUPLICATE_NAME,
                format!("`{sign}` is answered twice"),
            )
            .help("keep one of the two"));
        }
        let state = answer_of(&of.named.id, answer, &of.answers)?;
        words.push(format!("{}={}", of.named.id, of.answers[state].id));
        states.push((at, state));
    }
    if states.is_empty() {
        let signs: Vec<&str> = check
            .signs
            .iter()
            .map(|sign| sign.named.id.as_str())
            .collect();
        let message = format!("no sign of `{}` is answered", check.named.id);
        return Err(JobProblem::new(codes::EMPTY_TEXT, message)
            .help(format!("answer one or more of {}", list(&signs))));
    }
    Ok(Meant::Signs(states, words.join(", ")))
}

/// The position of an answer among those of a check or sign.
pub(super) fn answer_of(of: &str, written: &str, answers: &[Named]) -> Result<usize, JobProblem> {
    position(&format!("answer to `{of}`:"), written, answers.iter())
}

/// The answers of a check's first sign: those that a sweep of it takes.
pub(super) fn first_answers(check: &Check) -> &[Named] {
    check.signs.first().map_or(&[], |sign| &sign.answers)
}

fn positions(of: &Task, setting: &[(VarId, usize)]) -> Vec<(usize, usize)> {
    let at = |var| of.signs.iter().position(|sign| *sign == var);
    setting
        .iter()
        .filter_map(|&(var, state)| Some((at(var)?, state)))
        .collect()
}

/// A choice that shows the same as an earlier one, under its own name, or one that is named by the answer
/// that it shows.
fn alike(check: &Check, text: &str) -> Option<Meant> {
    let Answering::Choice(choices) = &check.answering else {
        return None;
    };
    // A choice goes by its own name, or by that of the answer that it shows.
    let is = |named: &Named| named.id == text || named.name.eq_ignore_ascii_case(text);
    let shows = |choice: &&Choice| {
        choice
            .shows
            .is_some_and(|(sign, state)| state > 0 && is(&check.signs[sign].answers[state]))
    };
    let by_answer: Vec<&Choice> = choices.iter().filter(shows).collect();
    let chosen = match by_answer[..] {
        [one] => choices
            .iter()
            .find(|choice| is(&choice.named))
            .or(Some(one)),
        _ => choices.iter().find(|choice| is(&choice.named)),
    }?;
    let mut states: Vec<(usize, usize)> = Vec::new();
    for (sign, _) in choices.iter().filter_map(|choice| choice.shows) {
        match chosen.shows {
            Some((shown, state)) if shown == sign => {
                states.push((sign, state));
                break;
            }
            _ if states.iter().any(|(known, _)| *known == sign) => {}
            _ => states.push((sign, 0)),
        }
    }
    Some(Meant::Signs(states, chosen.named.id.clone()))
}

struct Sweep<'a> {
    layout: &'a Layout,
    graph: &'a CausalGraph,
    answers: &'a [Named],
}

impl Sweep<'_> {
    /// One leak does not wet every place of a zone: who says only that it is wet there is asked where.
    fn names_no_place(&self, places: &[TaskId], answer: &str) -> JobProblem {
        let ids = places
            .iter()
            .filter_map(|&place| self.graph.tasks[place].part);
        let ids: Vec<&str> = ids
            .map(|part| &self.layout.parts[part].named.id[..])
            .collect();
        let first = ids.first().copied().unwrap_or("PLACE");
        JobProblem::new(codes::WRONG_KIND, format!("`{answer}` names no place of the zone")).help(format!(
            "name the highest place where you saw it, as in `{first}={answer}`: {}; if you could not see where it begins, `{SOMEWHERE}={answer}`",
            list(&ids)
        ))
    }

    fn somewhere(&self, places: Vec<TaskId>, answer: &str) -> Result<Meant, JobProblem> {
        match answer_of(SOMEWHERE, answer, self.answers)? {
            0 => {
                let normal = &self.answers[0].id;
                let message = format!("`{normal}` is so all over, not somewhere");
                let help = format!("write `{normal}`, or name the places");
                Err(JobProblem::new(codes::WRONG_KIND, message).help(help))
            }
            state => Ok(Meant::Somewhere(places, state)),
        }
    }

    fn places(
        &self,
        places: &[TaskId],
        answer: &AnswerGiven,
        several: Option<Vec<(String, String)>>,
    ) -> Result<Vec<(TaskId, usize)>, JobProblem> {
        let Some(several) = several else {
            let AnswerGiven::One(text) = answer else {
                return Ok(Vec::new());
            };
            let state = answer_of("each place", text, self.answers)?;
            if state > 0 && places.len() > 1 {
                return Err(self.names_no_place(places, &self.answers[state].id));
            }
            return Ok(places.iter().map(|place| (*place, state)).collect());
        };
        let typed = matches!(answer, AnswerGiven::One(_));
        let mut read = Vec::new();
        for (place, answer) in &several {
            let at = self.place(places, place)?;
            let state = answer_of(place, answer, self.answers)?;
            if typed && several.len() == 1 {
                // The highest wet place: those above it are normal, those below it are open.
                read.extend(places[..at].iter().map(|above| (*above, 0)));
            }
            read.push((places[at], state));
        }
        Ok(read)
    }

    fn place(&self, places: &[TaskId], written: &str) -> Result<usize, JobProblem> {
        if written == SOMEWHERE {
            let message =
                format!("`{SOMEWHERE}` stands alone: it says that nobody saw at which place");
            let help = "name the other places beside it, in `except: {PLACE: …}`";
            return Err(JobProblem::new(codes::WRONG_KIND, message).help(help));
        }
        let part = find_part(self.layout, written)?;
        places
            .iter()
            .position(|place| self.graph.tasks[*place].part == Some(part))
            .ok_or_else(|| {
                let known: Vec<&str> = places
                    .iter()
                    .filter_map(|place| self.graph.tasks[*place].part)
                    .map(|part| self.layout.parts[part].named.id.as_str())
                    .collect();
                JobProblem::new(
                    codes::NOT_HERE,
                    format!("`{written}` is not among the places looked over"),
                )
                .help(format!(
                    "they are {}; a place under a cover needs the cover off",
                    list(&known)
                ))
            })
    }
}
