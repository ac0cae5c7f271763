//! A loss in numbers → findings.
//!
//! In: a log that has been walked to its end. Out: the same case with what the loss says of the
//! leaks. It is counted once: the complaint keeps only that something was lost, and its size speaks
//! of the worst leak of all, or, once a source is confirmed and measured, of all that the gauge did
//! not see.

use std::sync::Arc;

use crate::advise::{Account, Answered, CaseGraph, Lost};
use crate::graph::{CausalGraph, NodeKind};
use crate::ids::{Id, LevelId, VarId};
use crate::infer::{Family, Finding, Link};
use crate::job::measured::LossTold;
use crate::job::problem::JobProblem;
use crate::job::walk::Walk;
use crate::measure::balance::Account as Accounted;
use crate::measure::hold::two_digits;
use crate::measure::plan::LossWhen;
use crate::notice::codes;
use crate::reading;

/// A loss that empties the system oftener than this in a day is not taken for meant.
const EMPTIED_A_DAY: f64 = 10.0;

impl Walk<'_> {
    /// A loss in numbers: what later holds and the balance are measured against.
    ///
    /// # Errors
    /// A loss that nobody could keep up with.
    pub(super) fn loss(&mut self, told: &LossTold) -> Result<(), JobProblem> {
        let all = self.case.layout.coolant_litres;
        let times = told.reported().ml_per_day() / 1000.0 / all;
        if times > EMPTIED_A_DAY {
            let message = format!(
                "that loss empties this vehicle, which holds about {all} L, {times:.0} times a day"
            );
            return Err(JobProblem::new(codes::OUT_OF_RANGE, message)
                .help("write what is lost and in how many days, as in `{loss: 0.5 L, days: 14}`"));
        }
        let graph = &self.case.graph;
        let mut asked = graph.tasks.enumerated();
        let task = asked.find(|(_, task)| self.case.rules.checks[task.check].reports_loss);
        let signs = task.iter().flat_map(|(_, task)| &task.signs);
        let ways = signs.flat_map(|&sign| ways_shown(graph, sign)).collect();
        self.case.loss = Some(Lost {
            entry: self.number,
            told: told.reported(),
            task: task.map(|(id, _)| id),
            ways,
        });
        Ok(())
    }

    /// After the last entry: what the loss in numbers says.
    pub(super) fn weigh_loss(&mut self) -> Result<(), JobProblem> {
        let Some(lost) = self.case.loss.clone() else {
            return Ok(());
        };
        if lost.ways.is_empty() {
            return Ok(());
        }
        let wrong = |message: String| JobProblem::new(codes::OUT_OF_RANGE, message);
        let account = Account::of(&self.case, &[]).map_err(|error| wrong(error.to_string()))?;
        let mut some_loss = self.only_some_loss(&lost);
        let levels: Vec<reading::Band> = (self.case.rules.levels.iter())
            .map(|level| level.ml_per_min)
            .collect();
        let unseen = Account::unseen(&self.case);
        let evident = account.as_ref().zip(
            (account.as_ref())
                .and_then(|account| account.evidence_since)
                .filter(|_| !unseen.is_empty()),
        );
        let (entry, words, ways, likelihood) = if let Some((account, since)) = evident {
            let likelihood = reading::rest_levels(&account.balance, &levels);
            (since, balance_words(account), &unseen, likelihood)
        } else {
            let likelihood = reading::loss_levels(&lost.told, &levels);
            (lost.entry, loss_words(&lost), &lost.ways, likelihood)
        };
        let names: Vec<String> = (self.case.rules.levels.iter())
            .map(|level| level.named.id.clone())
            .collect();
        let label = "the worst of the leaks by which it may have gone";
        let made = (self.case.graph).with_worst("gather.lost", label, &names, ways);
        let (graph, worst) = made.map_err(|error| wrong(error.to_string()))?;
        self.case.graph = CaseGraph::Renewed(Arc::new(graph));
        let finding = Finding::soft(worst, likelihood);
        match &mut some_loss {
            Some(told) if evident.is_none() => told.findings.push(finding),
            _ => {
                let part = |of: &Account| matches!(of.balance.account, Accounted::Part { .. });
                self.insert(Answered {
                    entry,
                    task: None,
                    words,
                    findings: vec![finding],
                    normal: evident.is_some_and(|(account, _)| !part(account)),
                });
            }
        }
        if let Some(told) = some_loss {
            self.insert(told);
        }
        Ok(())
    }

    /// Takes its size out of the complaint of the same state: what is left is that something was
    /// lost. Where nobody asked, that is what the loss in numbers answers.
    fn only_some_loss(&mut self, lost: &Lost) -> Option<Answered> {
        let task = lost.task?;
        let graph = self.case.graph.clone();
        let state = self.case.repairs_before(lost.entry);
        let case = &self.case;
        let same: Vec<bool> = (case.found.iter())
            .map(|found| found.task == Some(task) && case.repairs_before(found.entry) == state)
            .collect();
        if !same.contains(&true) {
            let findings = graph.tasks[task].signs.iter().map(|&sign| {
                let states = graph.node(sign).states.len();
                Finding::soft(sign, some_loss(0.0, states))
            });
            return Some(Answered {
                entry: lost.entry,
                task: Some(task),
                words: loss_words(lost),
                findings: findings.collect(),
                normal: false,
            });
        }
        let asked = self.case.found.iter_mut().zip(same);
        for (found, _) in asked.filter(|(found, same)| *same && !found.normal) {
            for finding in &mut found.findings {
                let whole: f64 = finding.likelihood.iter().sum();
                let none = finding.likelihood.first().map_or(0.0, |none| none / whole);
                finding.likelihood = some_loss(none, finding.likelihood.len());
            }
            let numbers = format!("; read as some loss, entry {} has the numbers", lost.entry);
            found.words.push_str(&numbers);
        }
        None
    }

    /// Puts a finding where its entry stands in the log.
    fn insert(&mut self, answered: Answered) {
        let found = &mut self.case.found;
        let at = found.partition_point(|known| known.entry <= answered.entry);
        found.insert(at, answered);
    }
}

/// The leaks that show in a sign, each with the level that each of its states stands for.
fn ways_shown(graph: &CausalGraph, sign: VarId) -> Vec<(VarId, Vec<usize>)> {
    let Family::NoisyMax { links, .. } = &graph.network.node(sign).family else {
        return Vec::new();
    };
    let way = |link: &Link| {
        let NodeKind::Push(place) = graph.node(link.parent).kind else {
            return None;
        };
        let cause = graph.causes.iter().find(|cause| cause.place == place)?;
        let level = |(row, leak): (&Vec<f64>, &Option<(_, LevelId)>)| match leak {
            Some((_, level)) if row[0] < 1.0 => level.index(),
            _ => 0,
        };
        let levels: Vec<usize> = link.push.iter().zip(&cause.leaks).map(level).collect();
        levels
            .iter()
            .any(|&level| level > 0)
            .then_some((link.parent, levels))
    };
    links.iter().filter_map(way).collect()
}

/// Something was lost, whatever it was; `none` is the chance that nothing was.
fn some_loss(none: f64, states: usize) -> Vec<f64> {
    (0..states)
        .map(|state| if state == 0 { none } else { 1.0 - none })
        .collect()
}

fn loss_words(lost: &Lost) -> String {
    let rate = two_digits(lost.told.ml_per_min());
    let (told, when) = match lost.told.when {
        LossWhen::Running { hours_per_day } => {
            (format!("{hours_per_day} h a day"), "while running")
        }
        LossWhen::DayAndNight => ("day and night".to_owned(), "all the time"),
    };
    format!(
        "lost: {} L in {} days, {told}: {rate} mL/min {when}",
        lost.told.litres, lost.told.days
    )
}

fn balance_words(account: &Account) -> String {
    let balance = &account.balance;
    let (least, most) = balance.found_ml_per_day;
    let outcome = match balance.account {
        Accounted::For => "that accounts for it, so little else leaks that the gauge did not see",
        Accounted::Part { .. } => "the rest goes where the gauge did not see",
        Accounted::MoreThan => "that is more than was lost",
    };
    format!(
        "found against lost (hold of entry {}): {} to {} of {} mL a day; {outcome}",
        account.entry,
        two_digits(least),
        two_digits(most),
        two_digits(balance.reported_ml_per_day)
    )
}
