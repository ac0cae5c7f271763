//! A task as a question: its joint answers in words and as states of sign nodes.
//!
//! In: a task of a [`CausalGraph`], with the rules and the layout it came from. Out: an
//! [`Asked`]: the question for the inference engine and, in the engine's order, what each joint
//! answer is called and which signs it sets.

use std::collections::BTreeSet;

use crate::graph::{CausalGraph, Setting, Task};
use crate::ids::{CoverId, PartId, TaskId, VarId};
use crate::infer::{Question, Shape};
use crate::rules::base::{Answering, Check, RuleBase, Scope};
use crate::rules::layout::Layout;

/// One joint answer.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AnswerOption {
    /// As typed: an answer or choice id; `sign=answer, …` for several signs; a place with its
    /// answer for a sweep.
    pub id: String,
    /// What it looks like.
    pub text: String,
    /// The signs it sets.
    pub setting: Setting,
}

/// A task as a question.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The task.
    pub task: TaskId,
    /// For the inference engine.
    pub question: Question,
    /// One for each joint answer, in the engine's order.
    pub options: Vec<AnswerOption>,
    /// For a sweep: the place tasks it stands for, from the top down.
    pub places: Vec<TaskId>,
    /// The cover that must be off for it.
    pub cover_off: Option<CoverId>,
}

impl Asked {
    /// The places that it looks at, as tasks: its own, or those of a sweep.
    pub fn looks_at(&self) -> &[TaskId] {
        if self.places.is_empty() {
            std::slice::from_ref(&self.task)
        } else {
            &self.places
        }
    }
}

impl CausalGraph {
    /// What a task asks. A sweep asks about its places from the top down, leaving out those in
    /// `passed_over` (seen already) and those whose cover is on.
    pub fn ask(
        &self,
        rules: &RuleBase,
        layout: &Layout,
        task: TaskId,
        covers_off: &BTreeSet<CoverId>,
        passed_over: &BTreeSet<TaskId>,
    ) -> Asked {
        let of = &self.tasks[task];
        let check = &rules.checks[of.check];
        if let Scope::Sweep(swept) = check.scope {
            let mut places = self.places_of(layout, of, swept, covers_off);
            places.retain(|place| !passed_over.contains(place));
            return self.sweep(rules, layout, task, places);
        }
        match &check.answering {
            Answering::Choice(_) => choice(check, task, of),
            Answering::Each => grid(check, task, of),
        }
    }

    /// The same as a proposal: a sweep that would see fewer than two places takes off the cover that
    /// hides most of the others.
    pub fn ask_uncovering(
        &self,
        rules: &RuleBase,
        layout: &Layout,
        task: TaskId,
        covers_off: &BTreeSet<CoverId>,
        passed_over: &BTreeSet<TaskId>,
    ) -> Asked {
        let asked = self.ask(rules, layout, task, covers_off, passed_over);
        let check = &rules.checks[self.tasks[task].check];
        // Each place is looked at by itself, too: a sweep is for several.
        if !matches!(check.scope, Scope::Sweep(_)) || asked.places.len() >= 2 {
            return asked;
        }
        let with =
            |cover| -> BTreeSet<CoverId> { covers_off.iter().copied().chain([cover]).collect() };
        let mut best = asked;
        for (cover, _) in layout.covers.enumerated() {
            if !covers_off.contains(&cover) {
                let more = self.ask(rules, layout, task, &with(cover), passed_over);
                if more.places.len() > best.places.len().max(1) {
                    best = Asked {
                        cover_off: Some(cover),
                        ..more
                    };
                }
            }
        }
        best
    }

    /// The place tasks that a sweep stands for, from the highest place down.
    pub(super) fn places_of(
        &self,
        layout: &Layout,
        of: &Task,
        swept: crate::ids::CheckId,
        covers_off: &BTreeSet<CoverId>,
    ) -> Vec<TaskId> {
        let mut places: Vec<(TaskId, PartId)> = self
            .tasks
            .enumerated()
            .filter(|(_, place)| place.check == swept && place.cover_on.is_none())
            .filter(|(_, place)| {
                place
                    .cover_off
                    .is_none_or(|cover| covers_off.contains(&cover))
            })
            .filter_map(|(id, place)| place.part.map(|part| (id, part)))
            .filter(|(_, part)| layout.parts[*part].zone == of.zone)
            .collect();
        places.sort_by(|(_, a), (_, b)| {
            layout.parts[*b]
                .height_cm
                .total_cmp(&layout.parts[*a].height_cm)
                .then(a.cmp(b))
        });
        places.into_iter().map(|(id, _)| id).collect()
    }

    fn sweep(&self, rules: &RuleBase, layout: &Layout, task: TaskId, places: Vec<TaskId>) -> Asked {
        let mut options = vec![AnswerOption::default()];
        let (mut signs, mut above): (Vec<VarId>, Setting) = (Vec::new(), Vec::new());
        for &place in &places {
            let at = &self.tasks[place];
            let (Some(part), Some(&sign)) = (at.part, at.signs.first()) else {
                continue;
            };
            let answers = &rules.checks[at.check].signs[0].answers;
            if options[0].id.is_empty() {
                options[0] = AnswerOption {
                    id: answers[0].id.clone(),
                    text: format!("all over: {}", answers[0].name),
                    setting: Vec::new(),
                };
            }
            for (state, answer) in answers.iter().enumerate().skip(1) {
                let mut setting = above.clone();
                setting.push((sign, state));
                let named = &layout.parts[part].named;
                options.push(AnswerOption {
                    id: format!("{}={}", named.id, answer.id),
                    text: format!("highest at {}: {}", named.name, answer.name),
                    setting,
                });
            }
            above.push((sign, 0));
            signs.push(sign);
        }
        options[0].setting = above;
        Asked {
            task,
            question: Question {
                signs,
                shape: Shape::FirstOf,
            },
            options,
            places,
            cover_off: None,
        }
    }
}

/// One choice from a list: the first that fits, the later signs left open.
fn choice(check: &Check, task: TaskId, of: &Task) -> Asked {
    let Answering::Choice(choices) = &check.answering else {
        return grid(check, task, of);
    };
    let mut order: Vec<usize> = Vec::new();
    for (sign, _) in choices.iter().filter_map(|choice| choice.shows) {
        if !order.contains(&sign) {
            order.push(sign);
        }
    }
    let mut options = Vec::new();
    let mut above: Setting = Vec::new();
    for &sign in &order {
        for (state, answer) in check.signs[sign].answers.iter().enumerate().skip(1) {
            let chosen = choices
                .iter()
                .find(|choice| choice.shows == Some((sign, state)));
            let named = chosen.map_or(answer, |choice| &choice.named);
            let mut setting = above.clone();
            setting.push((of.signs[sign], state));
            options.push(AnswerOption {
                id: named.id.clone(),
                text: named.name.clone(),
                setting,
            });
        }
        above.push((of.signs[sign], 0));
    }
    let none = choices.iter().find(|choice| choice.shows.is_none());
    let (id, text) = none.map_or(("none", "none of these"), |choice| {
        (choice.named.id.as_str(), choice.named.name.as_str())
    });
    options.insert(
        0,
        AnswerOption {
            id: id.to_owned(),
            text: text.to_owned(),
            setting: above,
        },
    );
    let signs = order.iter().map(|&sign| of.signs[sign]).collect();
    Asked {
        task,
        question: Question {
            signs,
            shape: Shape::FirstOf,
        },
        options,
        places: Vec::new(),
        cover_off: of.cover_off,
    }
}

/// Every combination of the signs' answers, the first sign slowest.
fn grid(check: &Check, task: TaskId, of: &Task) -> Asked {
    let mut options = vec![AnswerOption::default()];
    let alone = check.signs.len() == 1;
    for (position, sign) in check.signs.iter().enumerate() {
        options = options
            .iter()
            .flat_map(|before| {
                sign.answers.iter().enumerate().map(move |(state, answer)| {
                    let mut setting = before.setting.clone();
                    setting.push((of.signs[position], state));
                    let id = if alone {
                        answer.id.clone()
                    } else {
                        format!("{}={}", sign.named.id, answer.id)
                    };
                    let joined = |a: &str, b: &str| {
                        if a.is_empty() {
                            b.to_owned()
                        } else {
                            format!("{a}, {b}")
                        }
                    };
                    AnswerOption {
                        id: joined(&before.id, &id),
                        text: joined(&before.text, &answer.name),
                        setting,
                    }
                })
            })
            .collect();
    }
    Asked {
        task,
        question: Question {
            signs: of.signs.clone(),
            shape: Shape::Grid,
        },
        options,
        places: Vec::new(),
        cover_off: of.cover_off,
    }
}
