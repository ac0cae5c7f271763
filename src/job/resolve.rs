//! A job's log → a [`Case`].
//!
//! In: a job and the rules, layout and graph of its vehicle. Out: the case as it stands after the
//! last entry, or every problem of the log. Time grows with entries × tasks.
//!
//! How entries act on each other:
//! - an answer to the same task replaces the earlier one, unless the check's repeats count anew; one that
//!   names signs replaces what was said of these;
//! - an answer implies that the set-up was as the check needs: the vehicle stands at the end of the
//!   cheapest legal way there; questions of the complaint change nothing;
//! - a block stays up until it is cleared or the entry that raised it is withdrawn, even when a
//!   later answer reads normal;
//! - what a check spoils stays spoiled, also when the check told nothing;
//! - a loss in numbers takes the size out of the complaint, wherever it stands.

use std::collections::BTreeSet;

use crate::advise::{Answered, Case, CaseGraph, SetUp, Shop, nearest};
use crate::graph::{Asked, CausalGraph, Task};
use crate::ids::{CheckId, CoverId, Id, TaskId, VarId};
use crate::infer::Finding;
use crate::job::answer::{Meant, parse_answer};
use crate::job::file::{Entry, Found, JobFile, Seen, Sure};
use crate::job::find::{find_block, find_cause, find_cover, find_facet_value, find_task};
use crate::job::problem::JobProblem;
use crate::job::resolve_mended::Settling;
use crate::notice::codes;
use crate::rules::base::{Repeats, RuleBase, Scope};
use crate::rules::layout::Layout;

/// Walks the log of a job. `waiting_counts` is what a minute of waiting counts, in hands-on minutes.
///
/// # Errors
/// Every entry that names something unknown or can't be, in the order of the log.
pub fn resolve<'a>(
    job: &JobFile,
    rules: &'a RuleBase,
    layout: &'a Layout,
    graph: &'a CausalGraph,
    shop: &Shop,
    waiting_counts: f64,
) -> Result<Case<'a>, Vec<JobProblem>> {
    let mut problems = Vec::new();
    if job.layout != layout.named.id {
        let message = format!(
            "the job is about the layout `{}`, not `{}`",
            job.layout, layout.named.id
        );
        problems.push(
            JobProblem::new(codes::UNKNOWN_NAME, message)
                .help("choose the layout that the job names"),
        );
    }
    let raised = rules.blocks.enumerated().filter(|(_, block)| {
        block
            .raised_where
            .as_ref()
            .is_some_and(|condition| layout.holds(condition, None))
    });
    let case = Case {
        rules,
        layout,
        graph: CaseGraph::Given(graph),
        repairs: Vec::new(),
        told: Vec::new(),
        behind_covers: Vec::new(),
        left_out: Vec::new(),
        closed: None,
        somewhere: Vec::new(),
        strength: None,
        found: Vec::new(),
        measured: Vec::new(),
        loss: None,
        passed_over: BTreeSet::new(),
        spoiled: BTreeSet::new(),
        blocks: raised.map(|(id, _)| id).collect(),
        set_up: SetUp::on_arrival(rules, layout),
        shop: shop.clone(),
        waiting_counts,
    };
    let mut walk = Walk {
        case,
        number: 0,
        again: false,
        told_now: BTreeSet::new(),
        cant_do: BTreeSet::new(),
        swept: BTreeSet::new(),
        refill: None,
    };
    let dropped = withdrawn(job, &mut problems);
    for (index, logged) in job.log.iter().enumerate() {
        if !dropped[index] {
            walk.number = index + 1;
            if let Err(problem) = walk
                .logged(logged)
                .and_then(|()| walk.signs_for_next_time())
            {
                problems.push(problem.of_entry(index + 1, logged.at));
            }
        }
    }
    if problems.is_empty()
        && let Err(problem) = walk.weigh_loss().and_then(|()| walk.weigh_somewhere())
    {
        problems.push(problem);
    }
    problems.sort_by_key(|problem| problem.entry);
    if problems.is_empty() {
        Ok(walk.case)
    } else {
        Err(problems)
    }
}

/// For each entry whether it no longer counts. Withdrawing a withdrawal brings its entry back.
fn withdrawn(job: &JobFile, problems: &mut Vec<JobProblem>) -> Vec<bool> {
    let mut dropped = vec![false; job.log.len()];
    for (index, logged) in job.log.iter().enumerate().rev() {
        let Entry::Withdrawn(number) = logged.entry else {
            continue;
        };
        if dropped[index] {
            continue;
        }
        if let Some(of) = number.checked_sub(1).filter(|of| *of < index) {
            dropped[of] = true;
            continue;
        }
        let message = format!("there is no entry {number} before this one to withdraw");
        let help = if index == 0 {
            "take this entry out".to_owned()
        } else {
            format!("write the number of an earlier entry, 1 to {index}")
        };
        problems.push(
            JobProblem::new(codes::OUT_OF_RANGE, message)
                .help(help)
                .of_entry(index + 1, logged.at),
        );
    }
    dropped
}

pub(super) struct Walk<'a> {
    pub(super) case: Case<'a>,
    /// Of the entry being read, from 1.
    pub(super) number: usize,
    /// Whether it says that its check was done again.
    pub(super) again: bool,
    /// Tasks whose newest signs it has told of.
    pub(super) told_now: BTreeSet<TaskId>,
    /// Tasks that can't be done here, whatever is repaired.
    pub(super) cant_do: BTreeSet<TaskId>,
    /// Looks over a zone, with the numbers of their entries.
    pub(super) swept: BTreeSet<(TaskId, usize)>,
    /// Whether and when the system was refilled.
    pub(super) refill: Option<Settling>,
}

/// What of an earlier answer to the same task a new one replaces.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum InPlaceOf {
    /// All of it.
    All,
    /// What it said of the signs that the new one names.
    NamedSigns,
}

impl Walk<'_> {
    pub(super) fn entry(&mut self, entry: &Entry) -> Result<(), JobProblem> {
        match entry {
            Entry::Found(found) => self.found(found)?,
            Entry::SetUp(values) => {
                for (facet, value) in values {
                    let (facet, value) = find_facet_value(self.case.rules, facet, value)?;
                    self.case.set_up.values[facet.index()] = value;
                }
            }
            Entry::CoversOff(covers) => {
                let covers = self.covers(covers)?;
                self.case.set_up.covers_off.extend(covers);
            }
            Entry::CoversOn(covers) => {
                let covers = self.covers(covers)?;
                self.case
                    .set_up
                    .covers_off
                    .retain(|cover| !covers.contains(cover));
            }
            Entry::Confirmed { cause, at } => self.named(cause, at.as_deref(), true)?,
            Entry::RuledOut { cause, at } => self.named(cause, at.as_deref(), false)?,
            Entry::Cleared(block) => {
                let block = find_block(self.case.rules, block)?;
                self.case.blocks.retain(|up| *up != block);
            }
            Entry::Gauge(log) => self.gauge(log)?,
            Entry::Coolant(reading) => self.coolant(reading)?,
            Entry::Port(map) => self.port(map)?,
            Entry::Loss(told) => self.loss(told)?,
            Entry::Repaired(done) => self.repaired(done)?,
            Entry::Refilled(filled) => self.refilled(filled)?,
            Entry::Cleaned(places) => self.cleaned(places)?,
            Entry::ToppedUp(litres) => self.topped_up(*litres)?,
            Entry::DrySpell(spell) => self.dry_spell(spell)?,
            Entry::Closed { .. } => self.case.closed = Some(self.number),
            Entry::Withdrawn(_)
            | Entry::Note(_)
            | Entry::Waiting { .. }
            | Entry::HandedOver { .. } => {}
        }
        Ok(())
    }

    fn covers(&self, covers: &[String]) -> Result<Vec<CoverId>, JobProblem> {
        covers
            .iter()
            .map(|cover| find_cover(self.case.layout, cover))
            .collect()
    }

    /// A fault or a condition of the vehicle that is certain, or certainly absent.
    fn named(&mut self, cause: &str, at: Option<&str>, present: bool) -> Result<(), JobProblem> {
        let (rules, layout) = (self.case.rules, self.case.layout);
        let graph = &self.case.graph.clone();
        let states = |var: VarId| graph.node(var).states.len();
        let said = if present { "confirmed" } else { "ruled out" };
        let condition = rules
            .conditions
            .enumerated()
            .find(|(_, condition)| at.is_none() && condition.named.id == cause);
        let (vars, finding, what) = if let Some((id, condition)) = condition {
            let Some(var) = graph.condition_nodes[id.index()] else {
                let message = format!("this vehicle ({}) cannot have `{cause}`", layout.named.name);
                return Err(JobProblem::new(codes::NOT_HERE, message).help("take the entry out"));
            };
            (
                vec![var],
                Finding::hard(var, states(var), usize::from(present)),
                condition.named.name.clone(),
            )
        } else {
            let of = &graph.causes[find_cause(rules, layout, graph, cause, at)?];
            let finding = if present && of.leaking.contains(&true) {
                Finding::soft(
                    of.push,
                    of.leaking
                        .iter()
                        .map(|leaks| f64::from(u8::from(*leaks)))
                        .collect(),
                )
            } else {
                Finding::hard(of.fault, states(of.fault), usize::from(present))
            };
            let what = format!(
                "{} ({})",
                rules.faults[of.place.fault].named.name, layout.parts[of.place.part].named.name
            );
            (vec![of.fault, of.push], finding, what)
        };
        self.case.found.retain(|known| {
            known.task.is_some()
                || !known
                    .findings
                    .iter()
                    .any(|finding| vars.contains(&finding.var))
        });
        let words = format!("{said}: {what}");
        self.case.found.push(Answered {
            entry: self.number,
            task: None,
            words,
            findings: vec![finding],
            normal: false,
        });
        Ok(())
    }

    fn found(&mut self, found: &Found) -> Result<(), JobProblem> {
        let (rules, layout) = (self.case.rules, self.case.layout);
        let graph = &self.case.graph.clone();
        let covers = &self.case.set_up.covers_off;
        let task = find_task(
            rules,
            layout,
            graph,
            &found.check,
            found.at.as_deref(),
            covers,
        )?;
        let of = &graph.tasks[task];
        let check = &rules.checks[of.check];
        let swept = if let Scope::Sweep(swept) = check.scope {
            Some(&rules.checks[swept])
        } else {
            None
        };
        if found.again && check.repeats == Repeats::Same {
            let message = format!("done again, `{}` shows the same again", found.check);
            return Err(JobProblem::new(codes::UNKNOWN_KEY, message)
                .help("leave `again` out: the answer replaces the earlier one"));
        }
        self.again = found.again;
        let exceptions =
            !found.except.is_empty() || !found.not_seen.is_empty() || !found.in_part.is_empty();
        if swept.is_none() && exceptions {
            let message = format!(
                "`{}` looks at one place: `except`, `not_seen` and `in_part` belong to looks over a zone",
                found.check
            );
            return Err(JobProblem::new(codes::UNKNOWN_KEY, message)
                .help("use `seen: in_part` or `seen: not` instead"));
        }
        let meant = parse_answer(rules, layout, graph, task, covers, &found.answer)?;
        match meant {
            Meant::CantDo => {
                self.case.passed_over.insert(task);
                self.cant_do.insert(task);
            }
            Meant::Places(mut places) if found.seen != Seen::Not => {
                if places.is_empty() {
                    self.saw_only_covers(found, of);
                }
                // "The rest is dry": what was seen at a place before stands until that place is
                // named again.
                let stands = |task: TaskId| {
                    let known = self.case.found.iter();
                    known
                        .filter(|known| known.task == Some(task) && self.case.is_of_now(known))
                        .any(|known| !known.normal)
                };
                places.retain(|&(task, state)| state != 0 || found.again || !stands(task));
                let looks = self.looks(found, of, swept.unwrap_or(check), places)?;
                if swept.is_some() {
                    self.forget_sweep(task, &[]);
                    self.swept.insert((task, self.number));
                }
                self.done(of);
                for look in looks {
                    self.look(found, look);
                }
            }
            Meant::Somewhere(mut places, state) if found.seen != Seen::Not => {
                if places.is_empty() {
                    self.saw_only_covers(found, of);
                }
                let looks = self.looks(found, of, swept.unwrap_or(check), Vec::new())?;
                self.done(of);
                places.retain(|&place| looks.iter().all(|look| !look.passes_over(place)));
                for look in looks {
                    self.look(found, look);
                }
                if !places.is_empty() {
                    self.somewhere(found, task, &places, state);
                }
            }
            Meant::Signs(states, answer) if found.seen != Seen::Not => {
                self.done(of);
                if self.air_leaving(of.check, &states, &answer) {
                    return Ok(());
                }
                self.answer(
                    task,
                    &states,
                    &answer,
                    found.sure,
                    found.seen == Seen::InPart,
                    if found.answer.names_signs() && of.gauge.is_none() {
                        InPlaceOf::NamedSigns
                    } else {
                        InPlaceOf::All
                    },
                );
            }
            _ => {
                self.done(of);
                self.case.passed_over.insert(task);
            }
        }
        Ok(())
    }

    /// Notes an answer: its findings, and the blocks that it raises.
    pub(super) fn answer(
        &mut self,
        task: TaskId,
        states: &[(usize, usize)],
        answer: &str,
        sure: Sure,
        in_part: bool,
        in_place_of: InPlaceOf,
    ) {
        let (rules, graph) = (self.case.rules, &self.case.graph.clone());
        let of = &graph.tasks[task];
        let check = &rules.checks[of.check];
        let meant = self.signs_meant(of);
        let findings = states.iter().filter_map(|&(sign, state)| {
            let var = *meant.get(sign)?;
            let count = graph.node(var).states.len();
            let weight = self.weight(sure, in_part && state == 0);
            Some(if in_part && state > 0 && weight.is_none() {
                at_least(var, count, state)
            } else {
                finding(var, count, state, weight)
            })
        });
        let mut words = format!("{}: {answer}", self.case.filled(of, &check.named.name));
        words.push_str(how_sure(sure));
        if in_part {
            words.push_str(" (seen in part)");
        }
        let not_the_first_time = |&sign: &VarId| graph.states.time_before(sign).is_some();
        if meant.iter().any(not_the_first_time) {
            words.push_str(" (done again)");
        }
        let normal = states.iter().all(|(_, state)| *state == 0);
        let findings = findings.collect();
        self.note(task, findings, (words, normal), in_place_of);
        self.raise_blocks(of.check, states);
    }

    /// Notes what a task showed, in words and whether that is normal, in place of an earlier answer.
    pub(super) fn note(
        &mut self,
        task: TaskId,
        findings: Vec<Finding>,
        (words, normal): (String, bool),
        in_place_of: InPlaceOf,
    ) {
        let graph = self.case.graph.clone();
        let of = &graph.tasks[task];
        let meant = self.signs_meant(of);
        let said = |var: VarId| match in_place_of {
            InPlaceOf::All => {
                meant.contains(&var) || of.gauge.is_some_and(|gauge| gauge.node == var)
            }
            InPlaceOf::NamedSigns => findings.iter().any(|finding| finding.var == var),
        };
        // What it said of a sign that a repair has replaced since stands: it speaks of before.
        let dry_spell_of_now = |known: &Answered| {
            known.task == Some(task)
                && self.case.is_of_now(known)
                && !self.case.names_signs_of_now(known)
        };
        let dry_spells: Vec<bool> = self.case.found.iter().map(dry_spell_of_now).collect();
        for (known, dry_spell) in self.case.found.iter_mut().zip(dry_spells) {
            if dry_spell && in_place_of == InPlaceOf::All && !self.again {
                known.findings.clear();
            } else if known.task == Some(task) {
                known.findings.retain(|finding| !said(finding.var));
            }
        }
        self.case
            .found
            .retain(|known| known.task != Some(task) || !known.findings.is_empty());
        let newest = |finding: &Finding| of.signs.contains(&finding.var);
        if self.may_show_otherwise(of, normal) && findings.iter().any(newest) {
            self.told_now.insert(task);
        }
        self.case.found.push(Answered {
            entry: self.number,
            task: Some(task),
            words,
            findings,
            normal,
        });
        self.case.passed_over.remove(&task);
    }

    /// The blocks that an answer raises.
    pub(super) fn raise_blocks(&mut self, check: CheckId, states: &[(usize, usize)]) {
        for (id, block) in self.case.rules.blocks.enumerated() {
            let raised = block.raised_by.iter().any(|(by, sign, answers)| {
                *by == check
                    && states
                        .iter()
                        .any(|(shown, state)| shown == sign && answers.contains(state))
            });
            if raised && !self.case.blocks.contains(&id) {
                self.case.blocks.push(id);
            }
        }
    }

    /// How much weight the chosen answer carries; `None`: all of it.
    pub(super) fn weight(&self, sure: Sure, in_part: bool) -> Option<f64> {
        let certainty = self.case.rules.certainty;
        let said = match sure {
            Sure::Sure => None,
            Sure::Fairly => Some(certainty.fairly),
            Sure::Guess => Some(certainty.guess),
        };
        let seen = in_part.then_some(certainty.seen_in_part);
        match (said, seen) {
            (Some(said), Some(seen)) => Some(said.min(seen)),
            (one, other) => one.or(other),
        }
    }

    /// What follows from a check having been done: the set-up it needs, and what it spoils.
    pub(super) fn done(&mut self, of: &Task) {
        if self.case.rules.checks[of.check].intake {
            return;
        }
        self.case.set_up.covers_off.extend(of.cover_off);
        match nearest(&self.case, &of.needs) {
            Some(values) => self.case.set_up.values = values,
            None => self.set_up_all_the_same(of),
        }
        self.spoil(of);
    }

    /// The set-up of a check that was done although no legal way leads to it.
    fn set_up_all_the_same(&mut self, of: &Task) {
        let values = &mut self.case.set_up.values;
        for (facet, allowed) in &of.needs {
            let value = &mut values[facet.index()];
            if !allowed.contains(value) {
                *value = allowed.first().copied().unwrap_or(*value);
            }
        }
        // Nobody leaves the rest in a state that must never be: it was put back first.
        for never in &self.case.rules.never {
            if never
                .set_up
                .iter()
                .all(|(facet, bad)| bad.contains(&values[facet.index()]))
            {
                let free = |facet| of.needs.iter().all(|(needed, _)| *needed != facet);
                let back = never
                    .set_up
                    .iter()
                    .find(|(facet, bad)| free(*facet) && !bad.contains(&0));
                if let Some((facet, _)) = back {
                    values[facet.index()] = 0;
                }
            }
        }
    }

    /// Marks the open tasks whose evidence a task destroys: at its place, or of the whole vehicle
    /// for either.
    pub(super) fn spoil(&mut self, of: &Task) {
        let answered = self.case.answered();
        let tasks = self.case.graph.tasks.enumerated();
        let open = |id: TaskId, other: &Task| other.again || !answered.contains(&id);
        let spoiled: Vec<TaskId> = tasks
            .filter(|(id, other)| self.case.spoils(of, other) && open(*id, other))
            .map(|(id, _)| id)
            .collect();
        self.case.spoiled.extend(spoiled);
    }
}

/// How sure somebody is, after what was seen.
pub(super) fn how_sure(sure: Sure) -> &'static str {
    match sure {
        Sure::Sure => "",
        Sure::Fairly => " (fairly sure)",
        Sure::Guess => " (a guess)",
    }
}

/// A finding on one sign; the weight that the chosen answer does not carry is spread evenly over
/// the others.
fn finding(var: VarId, states: usize, state: usize, weight: Option<f64>) -> Finding {
    match weight {
        Some(weight) if states > 1 => {
            let rest = (1.0 - weight) / (states - 1) as f64;
            Finding::soft(
                var,
                (0..states)
                    .map(|s| if s == state { weight } else { rest })
                    .collect(),
            )
        }
        _ => Finding::hard(var, states, state),
    }
}

/// A finding that one part of a place showed: the rest of it may show more, but not make it less.
fn at_least(var: VarId, states: usize, state: usize) -> Finding {
    let counts = |s: usize| f64::from(u8::from(s >= state));
    Finding::soft(var, (0..states).map(counts).collect())
}

/// The entry that a cover has come off, if what is asked needs that and it is still on.
pub fn uncovered(case: &Case<'_>, asked: &Asked) -> Option<Entry> {
    let cover = asked.cover_off?;
    let id = &case.layout.covers[cover].named.id;
    (!case.set_up.covers_off.contains(&cover)).then(|| Entry::CoversOff(vec![id.clone()]))
}
