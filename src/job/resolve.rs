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

use crate::advise::{Case, CaseGraph, SetUp, Shop};
use crate::graph::CausalGraph;
use crate::ids::{CoverId, Id};
use crate::job::file::{Entry, JobFile};
use crate::job::find::{find_block, find_cover, find_facet_value};
use crate::job::problem::JobProblem;
use crate::job::walk::Walk;
use crate::notice::codes;
use crate::rules::base::RuleBase;
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
}
