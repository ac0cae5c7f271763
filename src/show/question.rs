//! A question and the answers that can be typed.

use crate::advise::Case;
use crate::graph::{AnswerOption, Asked};
use crate::ids::TaskId;
use crate::rules::base::{Answering, Measured, Sign};
use crate::rules::layout::SOMEWHERE;
use crate::show::page::Page;

/// The answers that people see for a question, in a natural order: as typed, and what each looks
/// like. Of several signs those of the first; of a sweep only its first is an answer by itself.
pub fn shown_answers(case: &Case<'_>, asked: &Asked) -> Vec<(String, String)> {
    let check = &case.rules.checks[case.graph.tasks[asked.task].check];
    if asked.places.is_empty() && check.signs.len() > 1 && check.answering == Answering::Each {
        let answers = check.signs[0].answers.iter();
        return answers
            .map(|answer| (answer.id.clone(), answer.name.clone()))
            .collect();
    }
    let of = |option: &AnswerOption| (option.id.clone(), option.text.clone());
    let shown = if asked.places.is_empty() {
        asked.options.len()
    } else {
        1
    };
    asked.options.iter().take(shown).map(of).collect()
}

/// Whether a task is a hold of the vehicle that a gauge log can stand for, so that the needle alone says enough.
pub fn takes_a_needle(case: &Case<'_>, task: TaskId) -> bool {
    let of = &case.graph.tasks[task];
    let measured = &case.rules.checks[of.check].measured;
    matches!(measured, Some(Measured::Gauge(_))) && of.gauge.is_some_and(|gauge| !gauge.only_apart)
}

/// What the needle of a hold may have done, as it can be typed: within the limit, and a little fallen.
fn needle_example(case: &Case<'_>) -> String {
    const USUAL_PSI: f64 = 10.0;
    let from = case.limit_psi().map_or(USUAL_PSI, |(psi, _)| psi.floor());
    format!("{from} to {} in 30", from - 0.5)
}

/// The question and its answers, with the numbers that can be typed for them. `before` stands
/// before the question ("Question 3 of 27").
pub fn options_text(page: &mut Page, case: &Case<'_>, asked: &Asked, before: &str) {
    let check = &case.rules.checks[case.graph.tasks[asked.task].check];
    let ask = case.filled(&case.graph.tasks[asked.task], &check.ask);
    page.para(&format!("{before}{ask}"));
    let answers = shown_answers(case, asked);
    if asked.places.is_empty() && check.signs.len() > 1 && check.answering == Answering::Each {
        page.para(&format!("First, {}:", check.signs[0].named.name));
    }
    answers_text(page, &answers);
    if takes_a_needle(case, asked.task) {
        page.item(
            "·",
            &format!(
                "or the needle itself, psi and minutes, as in `{}`: what that says is then worked out",
                needle_example(case)
            ),
        );
    }
    if let Some(&place) = asked.places.first() {
        let swept = &case.rules.checks[case.graph.tasks[place].check];
        for answer in &swept.signs[0].answers[1..] {
            page.item(
                "·",
                &answer_text(&format!("PLACE={}", answer.id), &answer.name),
            );
        }
        let names: Vec<String> = asked
            .places
            .iter()
            .filter_map(|&place| case.graph.tasks[place].part)
            .map(|part| case.layout.parts[part].named.id.clone())
            .collect();
        page.item(
            "·",
            &format!("PLACE is, from the top down: {}", names.join(", ")),
        );
        if names.len() > 1 {
            page.item(
                "·",
                &format!("or {SOMEWHERE} in its place, where you can't see where it begins"),
            );
        }
    }
}

/// A sign after the first, where several are asked one after the other.
pub fn sign_text(page: &mut Page, sign: &Sign) {
    page.para(&format!("Then, {} (Enter leaves it out):", sign.named.name));
    let answers: Vec<(String, String)> = sign
        .answers
        .iter()
        .map(|answer| (answer.id.clone(), answer.name.clone()))
        .collect();
    answers_text(page, &answers);
}

/// The signs after the first, for whoever can't be asked them one by one.
pub fn later_signs_text(page: &mut Page, case: &Case<'_>, asked: &Asked) {
    let check = &case.rules.checks[case.graph.tasks[asked.task].check];
    if check.answering != Answering::Each || check.signs.len() < 2 {
        return;
    }
    for sign in &check.signs[1..] {
        page.para(&format!("Then, {}:", sign.named.name));
        for answer in &sign.answers {
            page.item("·", &answer_text(&answer.id, &answer.name));
        }
    }
}

fn answers_text(page: &mut Page, answers: &[(String, String)]) {
    for (position, (id, text)) in answers.iter().enumerate() {
        page.item(&format!("{})", position + 1), &answer_text(id, text));
    }
}

/// An answer as typed and what it looks like; once, where the two are the same.
fn answer_text(id: &str, text: &str) -> String {
    if id.replace('_', " ").eq_ignore_ascii_case(text) {
        id.to_owned()
    } else {
        format!("{id}: {text}")
    }
}
