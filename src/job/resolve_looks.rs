//! A look over a zone → a look at each of its places.
//!
//! In: a sweep as written, with its exceptions. Out: an answer of each place that was seen. What was not
//! seen is passed over; a sweep that covers kept from seeing anything is kept in mind.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::advise::{Answered, CaseGraph, SawNothing, Somewhere};
use crate::graph::{Looked, Task};
use crate::ids::{CoverId, TaskId, VarId};
use crate::infer::Finding;
use crate::job::answer::{answer_of, first_answers};
use crate::job::file::{Found, Seen};
use crate::job::find::{find_part, find_task};
use crate::job::problem::JobProblem;
use crate::job::resolve_found::how_sure;
use crate::job::walk::{InPlaceOf, Walk};
use crate::notice::codes;
use crate::rules::base::Check;
use crate::rules::layout::SOMEWHERE;

/// How often what shows somewhere in a zone belongs to none of its places: spilt, or thrown there. Author's
/// judgement.
const OF_NO_PLACE: f64 = 0.02;

/// What a sweep says of one place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    task: TaskId,
    state: Option<usize>,
    in_part: bool,
}

impl Look {
    /// Whether it says that this place was not seen.
    pub(super) fn passes_over(&self, place: TaskId) -> bool {
        self.task == place && self.state.is_none()
    }
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
        let ids = on
            .iter()
            .map(|&cover| layout.covers[cover].named.id.clone());
        let at = found.at.as_deref();
        let at = at.map_or_else(String::new, |zone| format!(" at {zone}"));
        let saw_nothing = SawNothing {
            entry: self.number,
            words: format!(
                "`{}`{at} saw nothing: what is there lies behind covers that are on",
                found.check
            ),
            covers: ids.collect(),
        };
        let told = (self.number, saw_nothing.words_for_a_file());
        self.case.told.push(told);
        self.case.behind_covers.push(saw_nothing);
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

    /// Notes that something shows at some place of a zone, nobody knows which. What it says is weighed at the
    /// end, when it is known what else was seen of these places.
    pub(super) fn somewhere(
        &mut self,
        found: &Found,
        sweep: TaskId,
        places: &[TaskId],
        state: usize,
    ) {
        let graph = self.case.graph.clone();
        let of = &graph.tasks[sweep];
        let signs = places.iter().filter_map(|&place| {
            let meant = self.signs_meant(&graph.tasks[place]);
            meant.first().copied()
        });
        let signs: Vec<VarId> = signs.collect();
        let looked = graph.tasks[places[0]].check;
        let answer = &first_answers(&self.case.rules.checks[looked])[state];
        let check = &self.case.rules.checks[of.check];
        let mut words = format!(
            "{}: {}, nobody saw where it begins",
            self.case.filled(of, &check.named.name),
            answer.id
        );
        words.push_str(how_sure(found.sure));
        self.forget_sweep(sweep, places);
        self.raise_blocks(looked, &[(0, state)]);
        self.case.somewhere.push(Somewhere {
            entry: self.number,
            signs,
            from: state,
            answer: answer.id.clone(),
            nowhere: self
                .weight(found.sure, false)
                .map_or(OF_NO_PLACE, |weight| 1.0 - weight),
        });
        self.case.found.push(Answered {
            entry: self.number,
            task: Some(sweep),
            words,
            findings: Vec::new(),
            normal: false,
        });
    }

    /// Unless the check was done again, a new look over a zone stands in place of what an earlier one showed
    /// somewhere; and where it shows something somewhere itself, in place of earlier looks that saw nothing at
    /// any of `places`.
    pub(super) fn forget_sweep(&mut self, sweep: TaskId, places: &[TaskId]) {
        if self.again {
            return;
        }
        let (case, swept) = (&self.case, &self.swept);
        let saw_nothing = |known: &Answered, task: TaskId| {
            known.normal
                && known.entry != self.number
                && swept.contains(&(sweep, known.entry))
                && places.contains(&task)
        };
        let gone = |known: &Answered| {
            let of = (known.task).is_some_and(|task| task == sweep || saw_nothing(known, task));
            of && case.is_of_now(known)
        };
        let stays: Vec<bool> = case.found.iter().map(|known| !gone(known)).collect();
        let mut stays = stays.into_iter();
        self.case.found.retain(|_| stays.next().unwrap_or(true));
    }

    /// Makes the nodes for what showed somewhere: a place seen to be dry by itself is none of them.
    pub(super) fn weigh_somewhere(&mut self) -> Result<(), JobProblem> {
        for of in self.case.somewhere.clone() {
            let entry = of.entry;
            let Some(at) = (self.case.found.iter())
                .position(|found| found.entry == entry && found.findings.is_empty())
            else {
                continue;
            };
            let told = |sign: VarId| {
                let findings = self.case.found.iter().flat_map(|found| &found.findings);
                findings.filter(move |finding| finding.var == sign)
            };
            let shut_out = |sign: VarId| {
                let mut told = told(sign);
                told.any(|finding| finding.likelihood[of.from..].iter().all(|&p| p <= 0.0))
            };
            let signs: Vec<Looked> = (of.signs.iter())
                .filter(|&&sign| !shut_out(sign))
                .map(|&sign| Looked {
                    sign,
                    told: told(sign).next().is_some(),
                })
                .collect();
            let words = self.case.found[at].words.clone();
            if signs.is_empty() {
                let words = format!(
                    "\"{words}\" counts for nothing: each place that could be seen there was seen without it; it may come from behind a cover, or from above"
                );
                self.case.told.push((entry, words.clone()));
                let covers = Vec::new();
                self.case.behind_covers.push(SawNothing {
                    entry,
                    words,
                    covers,
                });
                continue;
            }
            let names = (format!("{SOMEWHERE}.{entry}"), words);
            let states = ["nowhere".to_owned(), of.answer.clone()];
            let made =
                self.case
                    .graph
                    .with_somewhere((&names.0, &names.1), states, &signs, of.from);
            let (graph, node) = made.map_err(|error| {
                let message = format!("this look can't be noted: {error}");
                JobProblem::new(codes::OUT_OF_RANGE, message)
            })?;
            self.case.graph = CaseGraph::Renewed(Arc::new(graph));
            let likelihood = vec![of.nowhere, 1.0 - of.nowhere];
            self.case.found[at].findings = vec![Finding::soft(node, likelihood)];
        }
        Ok(())
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
