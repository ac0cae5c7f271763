//! Whether a vehicle may leave, and what fits into the time that is left.
//!
//! In: a [`Case`] and, if somebody waits, the minutes left. Out: a [`Release`]: the decision with
//! its reasons, the verdict on the search, and the [`Timetable`] of what is still to be done.

use std::collections::BTreeSet;

use crate::advise::another::{another_source, chance_of_leak};
use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::{Answered, Case};
use crate::advise::journey::Step;
use crate::advise::next::Proposals;
use crate::advise::rank::Ranking;
use crate::advise::repair_sheet::to_repair;
use crate::advise::retest::{ProofState, Retest};
use crate::advise::stop::Verdict;
use crate::advise::timetable::{Doing, Timetable};
use crate::chance::Chance;
use crate::ids::{BlockId, CheckId, CoverId, Id, LevelId, PartId, SpaceId};
use crate::infer::{Finding, InferError};
use crate::rules::base::{Ground, KeepsBack, Scope};

/// A vehicle that leaks with this chance after its repair is not released as repaired. Author's judgement.
const LIKELY_LEAKS: f64 = 0.3;

/// Why a vehicle is kept back.
#[derive(Debug, Clone, PartialEq)]
pub enum Kept {
    /// A block is up.
    Block(BlockId),
    /// Position in [`Case::found`] of the finding.
    Found(usize),
    /// The chance of a leak into these spaces.
    Into(Vec<SpaceId>, Chance),
    /// The chance that a place leaks at a level that is too much.
    Level(PartId, Chance),
    /// It loses so many mL a day, and so many can be covered.
    Loss(f64, f64),
}

/// Whether it may leave.
#[derive(Debug, Clone, PartialEq)]
pub enum Leaving {
    /// Repaired and proved as far as it must be before it leaves.
    Proved,
    /// Once the timetable is done and shows no leak; it fits.
    AfterWork,
    /// As it is, with its leak: the repair does not fit, or nothing is named yet.
    AsItIs,
    /// Kept back: positions in the rules' list, each with what is so.
    KeptBack(Vec<(usize, Kept)>),
    /// As it is, but it is open or up and can't be closed by then.
    StaysOpen,
    /// What was repaired still leaks: position in [`Case::found`].
    StillLeaks(usize),
    /// Repaired, and the proof does not fit into the time, or has not been made.
    NotProved,
    /// Nobody waits: repair first.
    RepairFirst,
    /// Nobody waits: find it first.
    FindFirst,
}

impl Leaving {
    /// Whether it may leave by then.
    pub fn leaves(&self) -> bool {
        matches!(self, Self::Proved | Self::AfterWork | Self::AsItIs)
    }
}

/// Whether a vehicle may leave, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Release {
    /// The decision.
    pub decision: Leaving,
    /// When to stop looking, with its reasons.
    pub verdict: Verdict,
    /// What is still to be done before it leaves, and what can follow.
    pub timetable: Timetable,
    /// The minutes left, if somebody waits.
    pub left: Option<f64>,
    /// Causes to be repaired, by their position in the graph.
    pub to_repair: Vec<usize>,
    /// The best check to go on with, its minutes by the clock, and its name's task; only where
    /// nothing is named and something is worth asking.
    pub next: Option<(crate::ids::TaskId, f64)>,
}

impl Release {
    /// Weighs whether a case may leave, with so many minutes left.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(case: &Case<'_>, left: Option<f64>) -> Result<Self, AdviseError> {
        let (proposals, belief) = Proposals::of(case)?;
        let ranking = Ranking::of(case, &belief)?;
        let verdict = Verdict::of(case, &ranking, &belief, &proposals)?;
        let to_repair = to_repair(case, &belief, &ranking)?;
        let timetable = Timetable::of(case, &to_repair);
        let next = proposals.checks.first().filter(|_| to_repair.is_empty());
        let next = next.map(|best| {
            let task = &case.graph.tasks[best.asked.task];
            let way = &best.journey;
            let minutes = way.hands + way.waiting + task.minutes + task.waiting;
            (best.asked.task, minutes)
        });
        let mut release = Self {
            decision: Leaving::FindFirst,
            verdict,
            timetable,
            left,
            to_repair,
            next,
        };
        release.decision = release.decide(case, &belief)?;
        Ok(release)
    }

    /// The covers that are to be put back before it leaves: those that are off, and, where work is done before, those
    /// that come off for it.
    pub fn covers_back(&self, case: &Case<'_>) -> BTreeSet<CoverId> {
        let off = case.set_up.covers_off.iter().copied();
        let works = self.decision == Leaving::AfterWork;
        let needed = self.timetable.needed.iter().filter(|_| works);
        let taken = needed.filter_map(|slot| match slot.doing {
            Doing::Way(Step::Cover(cover)) => Some(cover),
            _ => None,
        });
        off.chain(taken).collect()
    }

    /// The decision; what keeps a vehicle back goes before all else.
    fn decide(&self, case: &Case<'_>, belief: &Belief) -> Result<Leaving, AdviseError> {
        let remains = another_source(case, belief, &[])?;
        let otherwise = self.by_work(case, remains);
        let proved = matches!(otherwise, Leaving::AfterWork | Leaving::Proved);
        let mut back = kept_back(case, belief)?;
        let rules = case.rules.release.iter();
        let rules: Vec<&KeepsBack> = rules.flat_map(|release| &release.keeps_back).collect();
        back.retain(|(position, _)| !(proved && rules[*position].until_repaired));
        Ok(if back.is_empty() {
            otherwise
        } else {
            Leaving::KeptBack(back)
        })
    }

    /// The decision as far as work, proof and time go.
    fn by_work(&self, case: &Case<'_>, remains: Chance) -> Leaving {
        let fits = self
            .left
            .is_some_and(|left| self.timetable.minutes() <= left)
            && self.timetable.out_of_reach.is_empty();
        if let Some(retest) = Retest::of(case) {
            // A false alarm is none once what doubt asks for was dry; a longer watch is kept in use.
            let watched = |part: &ProofState| part.lacking.is_empty() && part.falls.is_empty();
            let proved = match self.verdict {
                Verdict::Proved { .. } => true,
                Verdict::Watch { .. } => retest.in_doubt.iter().any(watched),
                _ => false,
            };
            if let Some(found) = retest.showing().next().filter(|_| !proved) {
                return Leaving::StillLeaks(found);
            }
            if self.to_repair.is_empty() {
                let needed = |part: &&ProofState| case.rules.retest[part.proof].before_release;
                let proved = retest
                    .parts
                    .iter()
                    .filter(needed)
                    .all(|part| part.lacking.is_empty());
                match (proved, fits) {
                    (true, _) if remains.get() < LIKELY_LEAKS => return Leaving::Proved,
                    // What was found since says that it leaks all the same: as if nothing were repaired.
                    (true, _) => {}
                    (false, true) => return Leaving::AfterWork,
                    (false, false) => return Leaving::NotProved,
                }
            }
        }
        match (self.to_repair.is_empty(), self.left) {
            (false, None) => Leaving::RepairFirst,
            (false, Some(_)) if fits => Leaving::AfterWork,
            (true, None) if !matches!(self.verdict, Verdict::NothingLeft { .. }) => {
                Leaving::FindFirst
            }
            (true, None) | (_, Some(_)) => {
                let closed = self.timetable.minutes_to_close();
                let left = self.left.unwrap_or(f64::INFINITY);
                if closed.is_some_and(|minutes| minutes <= left) {
                    Leaving::AsItIs
                } else {
                    Leaving::StaysOpen
                }
            }
        }
    }
}

/// Whether a look over a zone, made of looks of this kind, showed one of these answers somewhere.
fn shows_somewhere(case: &Case<'_>, found: &Answered, check: CheckId, answers: &[usize]) -> bool {
    let task = found.task.map(|task| &case.graph.tasks[task]);
    let sweeps =
        task.is_some_and(|task| case.rules.checks[task.check].scope == Scope::Sweep(check));
    let signs = &case.rules.checks[check].signs;
    let mut ids = answers.iter().map(|&answer| &signs[0].answers[answer].id);
    let mut nodes = found.findings.iter().map(|it| case.graph.node(it.var));
    sweeps && nodes.any(|node| ids.any(|id| node.states.last() == Some(id)))
}

/// Every ground on which the vehicle is kept back, each rule once.
fn kept_back(case: &Case<'_>, belief: &Belief) -> Result<Vec<(usize, Kept)>, AdviseError> {
    let mut back = Vec::new();
    let rules = case.rules.release.iter();
    for (position, rule) in rules.flat_map(|release| &release.keeps_back).enumerate() {
        if let Some(kept) = first_ground(case, belief, rule)? {
            back.push((position, kept));
        }
    }
    Ok(back)
}

fn first_ground(
    case: &Case<'_>,
    belief: &Belief,
    rule: &KeepsBack,
) -> Result<Option<Kept>, AdviseError> {
    for ground in &rule.grounds {
        let kept = match ground {
            Ground::Block(block) => case.blocks.contains(block).then_some(Kept::Block(*block)),
            Ground::Answer(check, sign, answers) => case
                .found
                .iter()
                .position(|found| {
                    let task = found.task.map(|task| &case.graph.tasks[task]);
                    let var = task.filter(|task| task.check == *check);
                    let var = var.and_then(|task| task.signs.get(*sign));
                    let mut findings = found.findings.iter();
                    case.is_of_now(found)
                        && (findings.any(|it| {
                            var == Some(&case.graph.states.newest_time(it.var))
                                && likeliest(it, answers)
                        }) || (*sign == 0 && shows_somewhere(case, found, *check, answers)))
                })
                .map(Kept::Found),
            Ground::Into(spaces, at_least) => {
                let into = |part| {
                    let kind = &case.rules.kinds[case.layout.parts[part].kind];
                    !kind.apart && spaces.contains(&kind.into)
                };
                let likely = chance_of_leak(case, belief, into)?;
                (likely.get() >= *at_least).then(|| Kept::Into(spaces.clone(), likely))
            }
            Ground::Level(level, at_least) => worst_at(case, belief, *level)?
                .filter(|(_, likely)| likely.get() >= *at_least)
                .map(|(part, likely)| Kept::Level(part, likely)),
            Ground::LossOver(most) => {
                let most = *most.pick(|when| case.layout.holds(when, None));
                // What was lost before a repair says nothing of the vehicle as it stands.
                let repaired = case.mended().next_back().map_or(0, |repair| repair.entry);
                let since = case.loss.as_ref().filter(|loss| loss.entry > repaired);
                let now = since.map(|loss| loss.told.ml_per_day());
                now.filter(|lost| *lost > most)
                    .map(|lost| Kept::Loss(lost, most))
            }
        };
        if kept.is_some() {
            return Ok(kept);
        }
    }
    Ok(None)
}

/// The place that is likeliest to leak at a level or worse, with that chance.
fn worst_at(
    case: &Case<'_>,
    belief: &Belief,
    level: LevelId,
) -> Result<Option<(PartId, Chance)>, AdviseError> {
    let mut worst: Option<(PartId, Chance)> = None;
    for (part, leaks) in belief.leaks.enumerated() {
        let kind = &case.rules.kinds[case.layout.parts[part].kind];
        // A place can't be likelier to leak badly than to leak.
        let least = worst.map_or(0.1, |(_, likely)| likely.get());
        let (Some(leaks), Some(var)) = (*leaks, case.graph.leak_of[part]) else {
            continue;
        };
        if kind.apart || kind.no_leak || leaks <= least {
            continue;
        }
        let states = case.graph.network.node(var).states;
        let from = |state| f64::from(u8::from(state >= level.index()));
        let mut findings = case.evidence();
        findings.push(Finding::soft(var, (0..states).map(from).collect()));
        let likely = match Belief::log_evidence_of(&case.graph, &findings) {
            Ok(both) => (both - belief.log_evidence()).exp().min(1.0),
            Err(AdviseError::Infer(InferError::Impossible { .. })) => 0.0,
            Err(error) => return Err(error),
        };
        if likely > least {
            worst = Some((part, chance(likely)?));
        }
    }
    Ok(worst)
}

/// Whether a finding speaks most for one of these answers.
fn likeliest(finding: &Finding, answers: &[usize]) -> bool {
    let mut best: Option<(usize, f64)> = None;
    for (answer, &likelihood) in finding.likelihood.iter().enumerate() {
        if best.is_none_or(|(_, most)| likelihood > most) {
            best = Some((answer, likelihood));
        }
    }
    best.is_some_and(|(answer, _)| answers.contains(&answer))
}
