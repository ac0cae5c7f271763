//! What to check next, alone and in bundles that share a set-up.
//!
//! In: a [`Case`]. Out: [`Proposals`]: for each task that can be done its expected gain in bits
//! (summed over the causes: mutual information between "causes a loss" and the joint answer),
//! its minutes, the way to its set-up, and what each answer would do. Blocked set-ups are never
//! proposed, and what the shop can't do is passed over.

use std::collections::BTreeSet;

use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::Case;
use crate::advise::journey::{Journey, Reach};
use crate::advise::retest::lacking_tasks;
use crate::advise::set_up::SetUp;
use crate::chance::{Chance, entropy_bits};
use crate::graph::{Asked, Cause};
use crate::ids::{BlockId, Id, TaskId};
use crate::infer::{Answers, InferError, Question};
use crate::rules::base::Scope;

/// What could be checked next, the best first.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposals {
    /// Single tasks by falling gain per minute.
    pub checks: Vec<Proposal>,
    /// Bundles that share a set-up, the best first.
    pub bundles: Vec<Bundle>,
    /// Questions of the complaint that have no answer yet, in the order of the rules.
    pub intake: Vec<TaskId>,
    /// Tasks that a block forbids now, with the block.
    pub blocked: Vec<(TaskId, BlockId)>,
    /// How many tasks were passed over by the quick estimate, without an exact gain.
    pub estimated: usize,
}

/// How many tasks get an exact gain; a quick estimate picks them.
const EXACT: usize = 40;
/// The same where the findings hang together so much that each takes long.
const EXACT_IF_HEAVY: usize = 24;
/// The same where each takes next to no time.
const EXACT_IF_LIGHT: usize = 80;
/// A tree of more entries than this is heavy.
const HEAVY: usize = 500_000;
/// A tree of fewer entries than this is light.
const LIGHT: usize = 150_000;

/// A cause listed apart counts in a gain from this chance on.
const SUSPECTED: f64 = 0.1;

/// A task that can be done next.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The task as a question.
    pub asked: Asked,
    /// Expected gain, bits.
    pub gain_bits: f64,
    /// Gain lost by what the task spoils, bits, and the tasks it would spoil.
    pub spoils: (f64, Vec<TaskId>),
    /// The way to its set-up.
    pub journey: Journey,
    /// Hands-on minutes of the task itself.
    pub minutes: f64,
    /// Waiting minutes of the task itself.
    pub waiting: f64,
    /// Gain less what it spoils, per minute (waiting weighted), bits.
    pub rate: f64,
    /// What each joint answer would do, in the order of the question.
    pub outcomes: Vec<Outcome>,
}

/// What one answer would do.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The chance of this answer.
    pub probability: Chance,
    /// The likeliest cause after it (position in the graph's causes), and its chance.
    pub first: Option<(usize, Chance)>,
}

/// A set-up and the tasks worth doing while in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Bundle {
    /// The way there.
    pub journey: Journey,
    /// Tasks by falling gain per minute.
    pub tasks: Vec<TaskId>,
    /// Gain of all of them, bits; "up to", since what they tell overlaps.
    pub gain_bits: f64,
    /// Minutes of the way and the tasks, waiting weighted.
    pub minutes: f64,
    /// Hands-on minutes of the way and the tasks.
    pub hands: f64,
    /// Minutes of waiting of the way and the tasks.
    pub waiting: f64,
}

impl Proposals {
    /// Works out what to check next, and the belief it rests on.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(case: &Case<'_>) -> Result<(Self, Belief), AdviseError> {
        let Offers {
            open,
            intake,
            blocked,
        } = offers(case);
        let belief = Belief::of(case, &[])?;
        let mut candidates: Vec<(f64, Asked, Journey)> = open
            .into_iter()
            .map(|offer| {
                let worth = estimate(case, &belief, &offer.asked) / offer.minutes(case);
                (worth, offer.asked, offer.journey)
            })
            .collect();
        candidates.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.task.cmp(&b.1.task)));
        // What a retest still lacks is weighed whatever the estimate says.
        let retest = lacking_tasks(case);
        candidates.sort_by_key(|(_, asked, _)| !retest.contains(&asked.task));
        let exact = match belief.sizes().total {
            0..LIGHT => EXACT_IF_LIGHT,
            LIGHT..HEAVY => EXACT,
            _ => EXACT_IF_HEAVY,
        };
        let mut estimated = candidates.len().saturating_sub(exact);
        candidates.truncate(exact);
        let now = belief.causes.clone();
        // The tester's own leak is worth looking for only once something speaks for it.
        let counts: Vec<bool> = (case.graph.causes.iter().zip(&now))
            .map(|(cause, &p)| p >= SUSPECTED || !apart(case, cause))
            .collect();
        // Neighbours share hidden nodes, so they are asked together.
        candidates.sort_by_key(|(_, asked, _)| (case.graph.tasks[asked.task].part, asked.task));
        let questions: Vec<Question> = candidates
            .iter()
            .map(|(_, asked, _)| asked.question.clone())
            .collect();
        let mut belief = belief.asking(case, &questions)?;
        let told = exact_answers(&mut belief, questions.len())?;
        let mut checks = Vec::new();
        for ((_, asked, journey), answers) in candidates.into_iter().zip(told) {
            let Some(answers) = answers else {
                estimated += 1;
                continue;
            };
            let task = &case.graph.tasks[asked.task];
            let outcomes = outcomes(case, &answers)?;
            checks.push(Proposal {
                gain_bits: answers.gain_bits_over(&now, |cause| counts[cause]),
                spoils: (0.0, Vec::new()),
                journey,
                minutes: task.minutes,
                waiting: task.waiting,
                rate: 0.0,
                outcomes,
                asked,
            });
        }
        charge_spoils(case, &mut checks);
        for proposal in &mut checks {
            let minutes = own_minutes(case, proposal) + proposal.journey.cost(case.waiting_counts);
            proposal.rate = (proposal.gain_bits - proposal.spoils.0) / minutes;
        }
        checks.sort_by(|a, b| {
            b.rate
                .total_cmp(&a.rate)
                .then(a.asked.task.cmp(&b.asked.task))
        });
        // It comes first where it tells anything that it does not cost.
        checks.sort_by_key(|check| !(retest.contains(&check.asked.task) && check.rate > 0.0));
        let bundles = bundles(case, &checks);
        Ok((
            Self {
                checks,
                bundles,
                intake,
                blocked,
                estimated,
            },
            belief,
        ))
    }
}

impl Proposals {
    /// The best gain for its time, bits per hour.
    pub fn best_bits_per_hour(&self) -> f64 {
        let rates = self.checks.iter().map(|check| check.rate);
        rates.fold(0.0, f64::max) * 60.0
    }

    /// Whether no check is worth its time any more.
    pub fn nothing_left(&self, case: &Case<'_>) -> bool {
        self.best_bits_per_hour() < case.rules.policy.floor_bits_per_hour
    }
}

/// A task that can be done, and the way to its set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// The task as a question.
    pub asked: Asked,
    /// The way to its set-up.
    pub journey: Journey,
}

impl Offer {
    /// Minutes of the task and the way to it, waiting weighted; never under half a minute.
    pub fn minutes(&self, case: &Case<'_>) -> f64 {
        let task = &case.graph.tasks[self.asked.task];
        (task.minutes + case.waiting_counts * task.waiting).max(0.5)
            + self.journey.cost(case.waiting_counts)
    }
}

/// What can be done next, before anything is weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct Offers {
    /// Tasks that can be done.
    pub open: Vec<Offer>,
    /// Questions of the complaint that have no answer yet, in the order of the rules.
    pub intake: Vec<TaskId>,
    /// Tasks that a block forbids now, with the block.
    pub blocked: Vec<(TaskId, BlockId)>,
}

/// Everything that still has something to tell, with the cheapest legal way to it. What the shop
/// can't do is left out.
pub fn offers(case: &Case<'_>) -> Offers {
    let reach = Reach::search(case);
    let mut offers = Offers {
        open: Vec::new(),
        intake: Vec::new(),
        blocked: Vec::new(),
    };
    for asked in open_tasks(case) {
        let task = &case.graph.tasks[asked.task];
        let check = &case.rules.checks[task.check];
        if check.intake {
            // The complaint speaks of what was so before any repair: it is asked no more.
            if case.mended().next().is_some() {
                continue;
            }
            offers.intake.push(asked.task);
        }
        let lacks = |tool| case.shop.lacks.contains(tool);
        if check.tools.iter().any(lacks) {
            continue;
        }
        if let Some(journey) = reach.to(&task.needs, task.cover_off) {
            offers.open.push(Offer { asked, journey });
        } else {
            let blocks = blocking(case, task).map(|block| (asked.task, block));
            offers.blocked.extend(blocks);
        }
    }
    offers
}

/// The exact answers to all questions from one tree; the engine gives a question that would make
/// it large a tree of its own. A question that is still too large stays unanswered.
fn exact_answers(belief: &mut Belief, count: usize) -> Result<Vec<Option<Answers>>, AdviseError> {
    let engine = belief.engine();
    let all: Vec<usize> = (0..count).collect();
    engine.work_out(&all).map_err(AdviseError::Infer)?;
    all.into_iter()
        .map(|number| match engine.answers(number) {
            Ok(answers) => Ok(Some(answers)),
            Err(InferError::TooDense { .. }) => Ok(None),
            Err(error) => Err(AdviseError::Infer(error)),
        })
        .collect()
}

/// What a task might tell, at a glance: the uncertainty about the places that it looks at; a test
/// of the whole vehicle sees some of all of it.
fn estimate(case: &Case<'_>, belief: &Belief, asked: &Asked) -> f64 {
    let doubt = |part: crate::ids::PartId| belief.leaks[part].map_or(0.0, entropy_bits);
    let task = &case.graph.tasks[asked.task];
    if !asked.places.is_empty() {
        return asked
            .places
            .iter()
            .filter_map(|&place| case.graph.tasks[place].part)
            .map(doubt)
            .sum();
    }
    task.part.map_or_else(
        || 0.2 * case.layout.parts.ids().map(doubt).sum::<f64>(),
        doubt,
    )
}

/// The block that keeps a task from being done, if one does.
fn blocking(case: &Case<'_>, task: &crate::graph::Task) -> Option<BlockId> {
    let forbids = |block: &&BlockId| {
        case.rules.blocks[**block]
            .forbids
            .iter()
            .any(|(facet, not)| {
                task.needs.iter().any(|(needed, values)| {
                    needed == facet && values.iter().all(|value| not.contains(value))
                })
            })
    };
    case.blocks.iter().find(forbids).copied()
}

/// The questions of the complaint that are open, in the order of the rules.
pub fn open_intake(case: &Case<'_>) -> Vec<Asked> {
    let intake = |asked: &Asked| case.rules.checks[case.graph.tasks[asked.task].check].intake;
    let open = if case.mended().next().is_some() {
        Vec::new()
    } else {
        open_tasks(case)
    };
    open.into_iter().filter(intake).collect()
}

/// Minutes of a task itself, never under half a minute.
fn own_minutes(case: &Case<'_>, proposal: &Proposal) -> f64 {
    (proposal.minutes + case.waiting_counts * proposal.waiting).max(0.5)
}

/// The tasks that still have something to tell.
fn open_tasks(case: &Case<'_>) -> Vec<Asked> {
    let answered = case.answered();
    let gone: BTreeSet<TaskId> = answered
        .iter()
        .chain(&case.passed_over)
        .chain(&case.spoiled)
        .copied()
        .collect();
    let mut open = Vec::new();
    for (id, task) in case.graph.tasks.enumerated() {
        let check = &case.rules.checks[task.check];
        let again = check.repeats_independent && answered.contains(&id);
        if gone.contains(&id) && !again {
            continue;
        }
        // With its cover off a place is looked at as it is; with the cover on nobody
        // looks at it as if it were off.
        if task
            .cover_on
            .is_some_and(|cover| case.set_up.covers_off.contains(&cover))
        {
            continue;
        }
        let asked = case
            .graph
            .ask(case.rules, case.layout, id, &case.set_up.covers_off, &gone);
        if matches!(check.scope, Scope::Sweep(_)) && asked.places.len() < 2 {
            continue;
        }
        open.push(asked);
    }
    open
}

/// Whether a cause is listed apart from the vehicle's own.
fn apart(case: &Case<'_>, cause: &Cause) -> bool {
    case.rules.kinds[case.layout.parts[cause.place.part].kind].apart
}

fn outcomes(case: &Case<'_>, answers: &Answers) -> Result<Vec<Outcome>, AdviseError> {
    answers
        .probability
        .iter()
        .zip(&answers.targets)
        .map(|(&probability, targets)| {
            let mut first: Option<(usize, f64)> = None;
            for (cause, &p) in targets.iter().enumerate() {
                if !apart(case, &case.graph.causes[cause]) && first.is_none_or(|(_, best)| p > best)
                {
                    first = Some((cause, p));
                }
            }
            let first = first
                .map(|(cause, p)| chance(p).map(|p| (cause, p)))
                .transpose()?;
            Ok(Outcome {
                probability: chance(probability)?,
                first,
            })
        })
        .collect()
}

/// Charges each task the gain of what it would spoil.
fn charge_spoils(case: &Case<'_>, checks: &mut [Proposal]) {
    let gains: Vec<(TaskId, f64)> = checks
        .iter()
        .map(|proposal| (proposal.asked.task, proposal.gain_bits))
        .collect();
    for proposal in checks {
        let mine = &case.graph.tasks[proposal.asked.task];
        let spoiled: Vec<(TaskId, f64)> = gains
            .iter()
            .filter(|(other, _)| case.spoils(mine, &case.graph.tasks[*other]))
            .copied()
            .collect();
        // What the spoiled tasks tell overlaps; the best of them is what is surely lost.
        let lost = spoiled.iter().map(|(_, gain)| *gain).fold(0.0, f64::max);
        proposal.spoils = (lost, spoiled.into_iter().map(|(task, _)| task).collect());
    }
}

/// A question of the complaint: it takes no set-up, so it belongs to none.
fn asked_anyway(case: &Case<'_>, proposal: &Proposal) -> bool {
    case.rules.checks[case.graph.tasks[proposal.asked.task].check].intake
}

/// For each set-up that some task leads to, the tasks worth doing while in it.
fn bundles(case: &Case<'_>, checks: &[Proposal]) -> Vec<Bundle> {
    let mut bundles: Vec<Bundle> = Vec::new();
    for seed in checks {
        if asked_anyway(case, seed)
            || seed.journey.steps.is_empty()
            || bundles
                .iter()
                .any(|bundle| bundle.journey.to == seed.journey.to)
        {
            continue;
        }
        let there = &seed.journey.to;
        let mut inside: Vec<(&Proposal, f64)> = checks
            .iter()
            .filter(|proposal| !asked_anyway(case, proposal) && fits(case, proposal, there))
            .map(|proposal| (proposal, own_minutes(case, proposal)))
            .collect();
        let worth = |proposal: &Proposal| proposal.gain_bits - proposal.spoils.0;
        inside.sort_by(|(a, x), (b, y)| {
            (worth(b) / y)
                .total_cmp(&(worth(a) / x))
                .then(a.asked.task.cmp(&b.asked.task))
        });
        let (mut gain, mut minutes) = (0.0, seed.journey.cost(case.waiting_counts));
        let mut best = (0, 0.0, minutes);
        for (count, (proposal, own)) in inside.iter().enumerate() {
            gain += worth(proposal).max(0.0);
            minutes += own;
            if gain / minutes > best.1 / best.2 {
                best = (count + 1, gain, minutes);
            }
        }
        let chosen = &inside[..best.0];
        let sum = |of: fn(&Proposal) -> f64| chosen.iter().map(|(p, _)| of(p)).sum::<f64>();
        let (hands, waiting) = (sum(|p| p.minutes), sum(|p| p.waiting));
        let tasks = chosen.iter().map(|(p, _)| p.asked.task).collect();
        bundles.push(Bundle {
            journey: seed.journey.clone(),
            tasks,
            gain_bits: best.1,
            minutes: best.2,
            hands: seed.journey.hands + hands,
            waiting: seed.journey.waiting + waiting,
        });
    }
    bundles.sort_by(|a, b| {
        let rate = |bundle: &Bundle| bundle.gain_bits / bundle.minutes;
        rate(b).total_cmp(&rate(a)).then(
            a.tasks
                .first()
                .map(|task| task.index())
                .cmp(&b.tasks.first().map(|task| task.index())),
        )
    });
    bundles
}

fn fits(case: &Case<'_>, proposal: &Proposal, there: &SetUp) -> bool {
    let task = &case.graph.tasks[proposal.asked.task];
    there.meets(&task.needs)
        && task
            .cover_off
            .is_none_or(|cover| there.covers_off.contains(&cover))
}
