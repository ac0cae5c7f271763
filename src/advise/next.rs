//! What to check next, alone and in bundles that share a set-up.
//!
//! In: a [`Case`]. Out: [`Proposals`]: for each task that can be done its expected gain in bits
//! (summed over the causes: mutual information between "causes a loss" and the joint answer),
//! its minutes, the way to its set-up, and what each answer would do. Blocked set-ups are never
//! proposed, and what the shop can't do is passed over.

use std::collections::BTreeMap;

use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::bundle::{Bundle, Weighed};
use crate::advise::care::{cautions_of, likely_cautions};
use crate::advise::case::Case;
use crate::advise::journey::Journey;
use crate::advise::offers::{Offer, Offers, offers};
use crate::advise::pick::{Field, Rated, apart, counted};
use crate::advise::retest::{before_release, lacking_tasks};
use crate::advise::suspect::SUSPECTED;
use crate::chance::Chance;
use crate::graph::Asked;
use crate::ids::{BlockId, CautionId, TaskId, ToolId};
use crate::infer::{Answers, InferError, Question};

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
    /// Tasks for which the shop lacks a tool, with the first that it lacks.
    pub lacking: Vec<(TaskId, ToolId)>,
    /// How many tasks were passed over by the quick estimate, without an exact gain.
    pub estimated: usize,
    /// What a check must tell at least to be worth its time, bits per hour.
    pub floor_bits_per_hour: f64,
}

/// What tells less than this, bits, is no loss: even odds become 56 to 44 at the very most.
const WORTH_KEEPING: f64 = 0.01;

/// What tells at least this, bits, may be worth a day where nothing is left that is worth its time.
const TELLING: f64 = 0.1;

/// A task that can be done next.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The task as a question.
    pub asked: Asked,
    /// Expected gain, bits.
    pub gain_bits: f64,
    /// Gain lost by what the task spoils, bits, and the tasks it would spoil, the most telling first.
    pub spoils: (f64, Vec<TaskId>),
    /// The way to its set-up.
    pub journey: Journey,
    /// What to take care of on the way and there.
    pub cautions: Vec<CautionId>,
    /// Hands-on minutes of the task itself.
    pub minutes: f64,
    /// Waiting minutes of the task itself.
    pub waiting: f64,
    /// Gain less what it spoils, bits per minute (waiting weighted); the way there is shared with
    /// what else is worth doing at its end.
    pub rate: f64,
    /// Whether the vehicle must not leave without it.
    pub needed: bool,
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

impl Proposal {
    /// Whether it is worth doing: it tells more than it spoils, or the vehicle must not leave without it.
    pub fn worth_doing(&self) -> bool {
        self.needed || self.rate > 0.0
    }

    /// What can be done, without what it is worth.
    pub fn into_offer(self) -> Offer {
        Offer {
            asked: self.asked,
            journey: self.journey,
        }
    }
}

impl Proposals {
    /// Works out what to check next, and the belief it rests on.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(case: &Case<'_>) -> Result<(Self, Belief), AdviseError> {
        Self::resting_on(case, Belief::to_ask(case)?)
    }

    /// The same with a belief that can be asked.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn resting_on(case: &Case<'_>, mut belief: Belief) -> Result<(Self, Belief), AdviseError> {
        let Offers {
            open,
            intake,
            blocked,
            lacking,
        } = offers(case);
        let retest = lacking_tasks(case, &belief)?;
        let all = open.len();
        let mut field = Field::of(case, &belief, open);
        let mut checks: Vec<Proposal> = Vec::new();
        // First what leads by the quick estimate; then what the estimate still puts above the best so far.
        // Nothing is left to check only once all that it puts above the floor was weighed, too.
        let floor = floor_bits_per_hour(case, &belief);
        let mut least = 0.0;
        let mut for_their_time = true;
        let bundles = loop {
            let mut candidates = field.promising(case, &retest, least);
            let best = checks.iter().map(|check| check.rate).fold(0.0, f64::max);
            if candidates.is_empty() && for_their_time && best * 60.0 < floor {
                // Nothing is worth its time: what tells most whatever it takes is still worth knowing.
                candidates = field.most_telling(case);
                for_their_time = false;
            }
            let last = candidates.is_empty();
            let weighed;
            (weighed, belief) = weigh(case, belief, &candidates)?;
            let gain = |of: &Option<Proposal>| of.as_ref().map(|of| of.gain_bits);
            field.learn(&candidates, weighed.iter().map(gain));
            checks.extend(weighed.into_iter().flatten());
            charge_spoils(case, &field.gains(), &mut checks);
            let bundles = rate(case, &mut checks);
            if last {
                break bundles;
            }
            let best = checks.iter().map(|check| check.rate).fold(0.0, f64::max);
            least = best.max(floor / 60.0);
        };
        // What a retest still lacks comes first where it tells anything that it does not cost; before it
        // what the vehicle must not leave without.
        let needed = before_release(case);
        for check in &mut checks {
            let task = &check.asked.task;
            check.needed = retest.contains(task) && needed.contains(task);
        }
        checks.sort_by_key(|check| {
            let lacking = retest.contains(&check.asked.task);
            (!check.needed, !(lacking && check.rate > 0.0))
        });
        Ok((
            Self {
                estimated: all - checks.len(),
                floor_bits_per_hour: floor,
                checks,
                bundles,
                intake,
                blocked,
                lacking,
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

    /// The check that tells most, whatever time it takes, if it tells much: such as taking off the head.
    pub fn most_telling(&self) -> Option<&Proposal> {
        let telling = self
            .checks
            .iter()
            .filter(|check| check.gain_bits >= TELLING);
        telling.max_by(|a, b| {
            let by_gain = a.gain_bits.total_cmp(&b.gain_bits);
            by_gain.then(b.asked.task.cmp(&a.asked.task))
        })
    }

    /// Whether no check is worth its time any more.
    pub fn nothing_left(&self) -> bool {
        self.best_bits_per_hour() < self.floor_bits_per_hour
    }
}

/// What a check must tell at least. Where the likeliest place is dear to open up and likely enough to
/// be suspected, a dear check that may spare the opening is worth its time as well.
fn floor_bits_per_hour(case: &Case<'_>, belief: &Belief) -> f64 {
    let policy = &case.rules.policy;
    let parts = case.layout.parts.enumerated();
    let own = parts.filter(|(_, part)| !case.rules.kinds[part.kind].apart);
    let chances = own.filter_map(|(id, part)| Some((part.kind, belief.leaks[id]?)));
    let likeliest = chances.max_by(|(_, a), (_, b)| a.total_cmp(b));
    match likeliest {
        Some((kind, p)) if p >= SUSPECTED => {
            let dearer = policy.needless_repair_of(kind) / policy.needless_repair;
            policy.floor_bits_per_hour / dearer.max(1.0)
        }
        _ => policy.floor_bits_per_hour,
    }
}

/// The checks with their exact gains, in the order given; none for one that takes too much work.
fn weigh(
    case: &Case<'_>,
    belief: Belief,
    candidates: &[Offer],
) -> Result<(Vec<Option<Proposal>>, Belief), AdviseError> {
    if candidates.is_empty() {
        return Ok((Vec::new(), belief));
    }
    let now = belief.causes.clone();
    let counts = counted(case, &belief);
    let likely = likely_cautions(case, &belief);
    let questions: Vec<Question> = (candidates.iter())
        .map(|offer| offer.asked.question.clone())
        .collect();
    let mut belief = belief.asking(case, &questions)?;
    let told = exact_answers(&mut belief, questions.len())?;
    let proposal = |offer: &Offer, answers: &Answers| -> Result<Proposal, AdviseError> {
        let task = &case.graph.tasks[offer.asked.task];
        Ok(Proposal {
            gain_bits: answers.gain_bits_over(&now, |cause| counts[cause]),
            spoils: (0.0, Vec::new()),
            cautions: cautions_of(case, offer.asked.task, &offer.journey, &likely),
            journey: offer.journey.clone(),
            minutes: task.minutes,
            waiting: task.waiting,
            rate: 0.0,
            needed: false,
            outcomes: outcomes(case, answers)?,
            asked: offer.asked.clone(),
        })
    };
    let weighed = (candidates.iter().zip(&told))
        .map(|(offer, answers)| {
            let answers = answers.as_ref();
            answers.map(|answers| proposal(offer, answers)).transpose()
        })
        .collect::<Result<_, _>>()?;
    Ok((weighed, belief))
}

/// Gives each check its rate and puts the best first.
fn rate(case: &Case<'_>, checks: &mut [Proposal]) -> Vec<Bundle> {
    let weighed: Vec<Weighed<'_>> = checks
        .iter()
        .map(|check| Weighed {
            asked: &check.asked,
            journey: &check.journey,
            bits: check.gain_bits - check.spoils.0,
        })
        .collect();
    let rated = Rated::of(case, &weighed);
    let order: BTreeMap<TaskId, usize> = (rated.best_first().into_iter())
        .enumerate()
        .map(|(position, task)| (task, position))
        .collect();
    for check in checks.iter_mut() {
        check.rate = rated.rate(check.asked.task);
    }
    checks.sort_by_key(|check| order[&check.asked.task]);
    rated.bundles
}

/// The exact answers to all questions from one tree; the engine gives a question that would make
/// it large a tree of its own. A question that is still too large, or whose figures can't be trusted,
/// stays unanswered.
fn exact_answers(belief: &mut Belief, count: usize) -> Result<Vec<Option<Answers>>, AdviseError> {
    let engine = belief.engine();
    let all: Vec<usize> = (0..count).collect();
    engine.work_out(&all).map_err(AdviseError::Infer)?;
    all.into_iter()
        .map(|number| match engine.answers(number) {
            Ok(answers) => Ok(Some(answers)),
            // Too much work, or figures that can't be trusted.
            Err(InferError::TooDense { .. } | InferError::Numeric { .. }) => Ok(None),
            Err(error) => Err(AdviseError::Infer(error)),
        })
        .collect()
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

/// Charges each task the gain of what it would spoil of all that can be done: `gains`, exact or
/// estimated.
fn charge_spoils(case: &Case<'_>, gains: &[(TaskId, f64)], checks: &mut [Proposal]) {
    for proposal in checks {
        let mine = &case.graph.tasks[proposal.asked.task];
        let mut spoiled: Vec<(TaskId, f64)> = gains
            .iter()
            .filter(|(_, gain)| *gain >= WORTH_KEEPING)
            .filter(|(other, _)| case.spoils(mine, &case.graph.tasks[*other]))
            .copied()
            .collect();
        spoiled.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        // What the spoiled tasks tell overlaps; the best of them is what is surely lost.
        let lost = spoiled.first().map_or(0.0, |(_, gain)| *gain);
        proposal.spoils = (lost, spoiled.into_iter().map(|(task, _)| task).collect());
    }
}
