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
use crate::job::file::{Entry, JobFile, Logged};
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
    LogReader::new(rules, layout, graph, shop, waiting_counts).read(job)
}

/// Reads the log of a job whenever it has grown, and each time only what is new.
#[derive(Debug)]
pub struct LogReader<'a> {
    /// Before the first entry.
    start: Walk<'a>,
    /// After the last entry read.
    walk: Walk<'a>,
    /// What was read.
    read: Vec<Logged>,
}

impl<'a> LogReader<'a> {
    /// For the jobs of one vehicle; `waiting_counts` as for [`resolve`].
    pub fn new(
        rules: &'a RuleBase,
        layout: &'a Layout,
        graph: &'a CausalGraph,
        shop: &Shop,
        waiting_counts: f64,
    ) -> Self {
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
        let start = Walk {
            case,
            number: 0,
            again: false,
            told_now: BTreeSet::new(),
            cant_do: BTreeSet::new(),
            swept: BTreeSet::new(),
            refill: None,
        };
        Self {
            walk: start.clone(),
            start,
            read: Vec::new(),
        }
    }

    /// The case as it stands after the last entry of a job: the same as of [`resolve`].
    ///
    /// # Errors
    /// As [`resolve`].
    pub fn read(&mut self, job: &JobFile) -> Result<Case<'a>, Vec<JobProblem>> {
        let mut problems = Vec::new();
        let layout = &self.start.case.layout.named.id;
        if job.layout != *layout {
            let message = format!(
                "the job is about the layout `{}`, not `{layout}`",
                job.layout
            );
            problems.push(
                JobProblem::new(codes::UNKNOWN_NAME, message)
                    .help("choose the layout that the job names"),
            );
        }
        if !self.goes_on(&job.log) {
            self.begin_anew();
        }
        let dropped = withdrawn(job, &mut problems);
        let new = job.log.iter().zip(dropped).enumerate();
        for (index, (logged, dropped)) in new.skip(self.read.len()) {
            if dropped {
                continue;
            }
            self.walk.number = index + 1;
            let read = self.walk.logged(logged);
            if let Err(problem) = read.and_then(|()| self.walk.signs_for_next_time()) {
                problems.push(problem.of_entry(index + 1, logged.at));
            }
        }
        if !problems.is_empty() {
            self.begin_anew();
            problems.sort_by_key(|problem| problem.entry);
            return Err(problems);
        }
        self.read.extend_from_slice(&job.log[self.read.len()..]);
        let mut whole = self.walk.clone();
        let weighed = whole.weigh_loss().and_then(|()| whole.weigh_somewhere());
        weighed
            .map(|()| whole.case)
            .map_err(|problem| vec![problem])
    }

    /// Whether a log is what was read and more, and nothing new in it takes back what was read.
    fn goes_on(&self, log: &[Logged]) -> bool {
        let takes_back = |logged: &Logged| matches!(logged.entry, Entry::Withdrawn(_));
        log.split_at_checked(self.read.len())
            .is_some_and(|(old, new)| old == self.read && !new.iter().any(takes_back))
    }

    fn begin_anew(&mut self) {
        self.walk = self.start.clone();
        self.read.clear();
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
