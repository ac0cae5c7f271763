//! A look over a zone → a look at each of its places.
//!
//! In: a sweep as written, with its exceptions. Out: an answer of each place that was seen. What was not
//! seen is passed over; a sweep that covers kept from seeing anything is kept in mind.

use std::collections::BTreeSet;

use crate::graph::Task;
use crate::ids::{CoverId, TaskId};
use crate::job::answer::{answer_of, first_answers};
use crate::job::file::{Found, Seen};
use crate::job::find::{find_part, find_task};
use crate::job::problem::JobProblem;
use crate::job::resolve::{InPlaceOf, Walk};
use crate::notice::codes;
use crate::rules::base::Check;

/// What a sweep says of one place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    task: TaskId,
    state: Option<usize>,
    in_part: bool,
}

impl Walk<'_> {
    /// Keeps in mind that a sweep reached no place, and which covers are in its way.
    pub(super) fn saw_only_covers(&mut self, found: &Found, of: &Task) {
        let (layout, off) = (self.case.layout, &self.case.set_up.covers_off);
        let parts = layout.parts.iter().filter(|part| part.zone == of.zone);
        let on: BTreeSet<CoverId> = parts
            .filter_map(|part| part.cover)
            .filter(|cover| !off.contains(cover))
            .collect();
        if on.is_empty() {
            return;
        }
        let ids = on.iter().map(|&cover| &layout.covers[cover].named.id[..]);
        let ids: Vec<&str> = ids.collect();
        let at = found.at.as_deref();
        let at = at.map_or_else(String::new, |zone| format!(" at {zone}"));
        let words = format!(
            "`{}`{at} saw nothing: what is there lies behind covers that are on; if they were off, put `covers_off: [{}]` before it",
            found.check,
            ids.join(", ")
        );
        self.case.told.push((self.number, words.clone()));
        self.case.behind_covers.push((self.number, words));
    }

    /// What a sweep says of each place: `None` where it could not be seen.
    pub(super) fn looks(
        &self,
        found: &Found,
        sweep: &Task,
        swept: &Check,
        places: Vec<(TaskId, usize)>,
    ) -> Result<Vec<Look>, JobProblem> {
        let (rules, layout) = (self.case.rules, self.case.layout);
        let graph = &self.case.graph.clone();
        let all = found.seen == Seen::InPart;
        let mut looks: Vec<Look> = places
            .into_iter()
            .map(|(task, state)| Look {
                task,
                state: Some(state),
                in_part: all,
            })
            .collect();
        let place = |written: &str| {
            let part = find_part(layout, written)?;
            if layout.parts[part].zone != sweep.zone {
                let zone = sweep
                    .zone
                    .map_or("", |zone| layout.zones[zone].named.name.as_str());
                let message = format!("`{written}` does not belong to {zone}");
                return Err(JobProblem::new(codes::NOT_HERE, message).help(format!(
                    "write an entry of its own with `{}`",
                    swept.named.id
                )));
            }
            let id = &layout.parts[part].named.id;
            find_task(
                rules,
                layout,
                graph,
                &swept.named.id,
                Some(id),
                &self.case.set_up.covers_off,
            )
        };
        for (written, answer) in &found.except {
            let (task, state) = (
                place(written)?,
                answer_of(written, answer, first_answers(swept))?,
            );
            match looks.iter_mut().find(|look| look.task == task) {
                Some(look) => look.state = Some(state),
                None => looks.push(Look {
                    task,
                    state: Some(state),
                    in_part: all,
                }),
            }
        }
        for written in &found.not_seen {
            let task = place(written)?;
            looks.retain(|look| look.task != task);
            looks.push(Look {
                task,
                state: None,
                in_part: false,
            });
        }
        for written in &found.in_part {
            let task = place(written)?;
            let Some(look) = looks
                .iter_mut()
                .find(|look| look.task == task && look.state.is_some())
            else {
                let message =
                    format!("`{written}` is said to be seen in part, but not what it showed");
                let help = format!("add it to `except:`, as in `{{{written}: …}}`");
                return Err(JobProblem::new(codes::MISSING_KEY, message).help(help));
            };
            look.in_part = true;
        }
        Ok(looks)
    }

    pub(super) fn look(&mut self, found: &Found, look: Look) {
        let graph = self.case.graph.clone();
        let of = &graph.tasks[look.task];
        self.spoil(of);
        match look.state {
            None => _ = self.case.passed_over.insert(look.task),
            Some(state) => {
                let answers = first_answers(&self.case.rules.checks[of.check]);
                let answer = answers.get(state).map_or("", |answer| answer.id.as_str());
                self.answer(
                    look.task,
                    &[(0, state)],
                    answer,
                    found.sure,
                    look.in_part,
                    InPlaceOf::All,
                );
            }
        }
    }
}
