//! The check, and the checks in one set-up, that would settle a hunch.
//!
//! In: a [`Case`], what is suspected and its rivals. Out: [`Settlers`]: for each promising check
//! what every answer would do to the hunch, exactly; the chance that it settles it (acting becomes
//! reasonable, or the hunch can be dropped); and the chance that it changes the decision. A quick
//! estimate picks the checks that are weighed: those in which few causes show, the hunch or a
//! rival among them.

use std::collections::BTreeSet;

use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::care::{cautions_of, likely_cautions};
use crate::advise::case::Case;
use crate::advise::decision::{Decision, same_decision};
use crate::advise::influence::Influence;
use crate::advise::journey::Journey;
use crate::advise::offers::{Offer, offers};
use crate::advise::suspect::Suspect;
use crate::chance::{Chance, entropy_bits};
use crate::graph::Asked;
use crate::ids::CautionId;
use crate::infer::{Answers, InferError, Question, Shape};

/// Checks that are weighed: so many by what they promise for their time, …
const BY_RATE: usize = 10;
/// … and so many by what they promise at all.
const BY_PROMISE: usize = 6;
/// A rival counts so much of the hunch itself in the quick estimate.
const RIVAL_SHARE: f64 = 0.5;
/// A check that settles the hunch at least this often counts as one that settles it.
const OFTEN: f64 = 0.5;
/// Most joint answers of the checks in one set-up.
const MOST_JOINT: usize = 24;
/// Set-ups that are weighed.
const SET_UPS: usize = 2;

/// What one answer does to a hunch.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// The answer in words; for several checks joined.
    pub answer: String,
    /// Its chance.
    pub probability: Chance,
    /// The hunch's chance after it.
    pub after: Chance,
}

/// A check that tells about a hunch.
#[derive(Debug, Clone, PartialEq)]
pub struct Settling {
    /// The check.
    pub asked: Asked,
    /// The way to its set-up.
    pub journey: Journey,
    /// What to take care of on the way and there.
    pub cautions: Vec<CautionId>,
    /// Minutes of the check and the way, waiting weighted.
    pub cost: f64,
    /// What it tells about the hunch, bits.
    pub bits: f64,
    /// The chance that it settles the hunch.
    pub settles: Chance,
    /// The chance that it changes whether acting is reasonable.
    pub changes: Chance,
    /// What each answer does, in the order of the question.
    pub effects: Vec<Effect>,
}

/// Checks in one set-up that tell about a hunch.
#[derive(Debug, Clone, PartialEq)]
pub struct SettlingBundle {
    /// The checks, in the order to do them.
    pub asked: Vec<Asked>,
    /// The way to the set-up.
    pub journey: Journey,
    /// What to take care of on the way and there.
    pub cautions: Vec<CautionId>,
    /// Hands-on minutes, the way included.
    pub hands: f64,
    /// Minutes of waiting.
    pub waiting: f64,
    /// What they tell about the hunch together, bits.
    pub bits: f64,
    /// The chance that they settle the hunch.
    pub settles: Chance,
    /// The chance that they change whether acting is reasonable.
    pub changes: Chance,
    /// What each joint answer does, the likeliest first.
    pub effects: Vec<Effect>,
}

/// What would settle a hunch.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Settlers {
    /// The cheapest that settles it more often than not first, the others by bits per minute.
    pub checks: Vec<Settling>,
    /// The cheapest set-up whose checks together settle it more often than not, else the best.
    pub bundle: Option<SettlingBundle>,
}

/// A hunch as the engine follows it.
struct Followed<'d> {
    now: f64,
    /// Cautions called for by what is likely.
    likely: Vec<CautionId>,
    decision: &'d Decision,
}

impl Settlers {
    /// Weighs the promising checks. `belief` follows the suspect; it is used up.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub(super) fn of(
        case: &Case<'_>,
        suspect: Suspect,
        rivals: &[(Suspect, f64)],
        decision: &Decision,
        influence: &Influence,
        belief: Belief,
    ) -> Result<Self, AdviseError> {
        let followed = Followed {
            now: belief.chance_of(suspect),
            likely: likely_cautions(case, &belief),
            decision,
        };
        let promising = promising(case, suspect, rivals, followed.now, influence);
        let questions: Vec<Question> = promising
            .iter()
            .map(|offer| offer.asked.question.clone())
            .collect();
        let (belief, told) = answered(case, belief, &questions)?;
        let mut checks = Vec::new();
        for (offer, answers) in promising.into_iter().zip(told) {
            if let Some(answers) = answers {
                checks.push(followed.settling(case, offer, &answers)?);
            }
        }
        // Where the hunch is settled as it stands, what counts is what could change that.
        let settled = decision.settles(followed.now);
        checks.sort_by(|a, b| {
            let often = |of: &Settling| !settled && of.settles.get() >= OFTEN;
            let worth = |of: &Settling| if settled { of.changes.get() } else { of.bits };
            let rate = |of: &Settling| worth(of) / of.cost;
            often(b)
                .cmp(&often(a))
                .then_with(|| {
                    if often(a) {
                        a.cost.total_cmp(&b.cost)
                    } else {
                        rate(b).total_cmp(&rate(a))
                    }
                })
                .then_with(|| b.bits.total_cmp(&a.bits))
                .then(a.asked.task.cmp(&b.asked.task))
        });
        let bundle = followed.bundle(case, belief, &checks)?;
        Ok(Self { checks, bundle })
    }
}

/// The checks that promise most about the hunch against its rivals, at a quick look.
fn promising(
    case: &Case<'_>,
    suspect: Suspect,
    rivals: &[(Suspect, f64)],
    now: f64,
    influence: &Influence,
) -> Vec<Offer> {
    let of = |suspect: Suspect| -> Vec<usize> {
        let causes = 0..case.graph.causes.len();
        causes
            .filter(|&cause| suspect.includes(&case.graph, cause))
            .collect()
    };
    let rivals: Vec<(Vec<usize>, f64)> = rivals.iter().map(|&(rival, p)| (of(rival), p)).collect();
    let own = of(suspect);
    let promise = |offer: &Offer| {
        let of_sign = |&sign: &_| {
            let shown = f64::from(influence.count(sign)).max(1.0).sqrt();
            let hunch = own.iter().any(|&cause| influence.shows(cause, sign));
            let rivals = rivals
                .iter()
                .filter(|(of, _)| of.iter().any(|&cause| influence.shows(cause, sign)))
                .map(|(_, p)| RIVAL_SHARE * entropy_bits(*p));
            (f64::from(u8::from(hunch)) * entropy_bits(now) + rivals.sum::<f64>()) / shown
        };
        let signs = offer.asked.question.signs.iter().map(of_sign);
        signs.fold(0.0, f64::max)
    };
    let mut scored: Vec<(f64, f64, Offer)> = offers(case)
        .open
        .into_iter()
        .map(|offer| {
            let promise = promise(&offer);
            (promise, promise / offer.minutes(case), offer)
        })
        .filter(|(promise, _, _)| *promise > 0.0)
        .collect();
    let task = |of: &(f64, f64, Offer)| of.2.asked.task;
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(task(a).cmp(&task(b))));
    let rest = scored.split_off(BY_PROMISE.min(scored.len()));
    let mut by_rate = rest;
    by_rate.sort_by(|a, b| b.1.total_cmp(&a.1).then(task(a).cmp(&task(b))));
    by_rate.truncate(BY_RATE);
    scored.extend(by_rate);
    let mut chosen: Vec<Offer> = scored.into_iter().map(|(_, _, offer)| offer).collect();
    // Neighbours share hidden nodes, so they are asked together.
    chosen.sort_by_key(|offer| (case.graph.tasks[offer.asked.task].part, offer.asked.task));
    chosen
}

/// The exact answers to questions; none for one that is too large even by itself.
fn answered(
    case: &Case<'_>,
    belief: Belief,
    questions: &[Question],
) -> Result<(Belief, Vec<Option<Answers>>), AdviseError> {
    let mut belief = belief.asking(case, questions)?;
    let engine = belief.engine();
    let all: Vec<usize> = (0..questions.len()).collect();
    engine.work_out(&all).map_err(AdviseError::Infer)?;
    let told = all
        .into_iter()
        .map(|number| match engine.answers(number) {
            Ok(answers) => Ok(Some(answers)),
            Err(InferError::TooDense { .. }) => Ok(None),
            Err(error) => Err(AdviseError::Infer(error)),
        })
        .collect::<Result<Vec<_>, AdviseError>>()?;
    Ok((belief, told))
}

/// Each answer's chance and the hunch's after it.
fn pairs(answers: &Answers) -> Vec<(f64, f64)> {
    let after = answers.targets.iter().map(|targets| targets[0]);
    answers.probability.iter().copied().zip(after).collect()
}

impl Followed<'_> {
    fn bits(&self, pairs: &[(f64, f64)]) -> f64 {
        let after: f64 = pairs.iter().map(|(p, q)| p * entropy_bits(*q)).sum();
        (entropy_bits(self.now) - after).max(0.0)
    }

    fn settles(&self, pairs: &[(f64, f64)]) -> Result<(Chance, Chance), AdviseError> {
        let settled = pairs
            .iter()
            .filter(|(_, after)| self.decision.settles(*after));
        let settles: f64 = settled.map(|(p, _)| p).sum();
        let same = same_decision(self.now, self.decision.act_from.get(), pairs);
        Ok((
            chance(settles.min(1.0))?,
            chance((1.0 - same).clamp(0.0, 1.0))?,
        ))
    }

    fn settling(
        &self,
        case: &Case<'_>,
        offer: Offer,
        answers: &Answers,
    ) -> Result<Settling, AdviseError> {
        let pairs = pairs(answers);
        let (settles, changes) = self.settles(&pairs)?;
        let effects = offer
            .asked
            .options
            .iter()
            .zip(&pairs)
            .map(|(option, (p, after))| effect(option.text.clone(), *p, *after));
        Ok(Settling {
            cost: offer.minutes(case),
            bits: self.bits(&pairs),
            settles,
            changes,
            effects: effects.collect::<Result<_, _>>()?,
            cautions: cautions_of(case, offer.asked.task, &offer.journey, &self.likely),
            asked: offer.asked,
            journey: offer.journey,
        })
    }

    /// Two or three checks in one set-up, answered together.
    fn bundle(
        &self,
        case: &Case<'_>,
        belief: Belief,
        checks: &[Settling],
    ) -> Result<Option<SettlingBundle>, AdviseError> {
        let mut groups: Vec<(Vec<&Settling>, Question)> = Vec::new();
        for seed in checks.iter().filter(|check| joins(case, check)) {
            let there = &seed.journey.to;
            if groups.len() == SET_UPS || groups.iter().any(|(of, _)| of[0].journey.to == *there) {
                continue;
            }
            let group = together(case, seed, checks);
            if group.len() > 1 {
                let signs = group.iter().flat_map(|of| of.asked.question.signs.clone());
                let signs = signs.collect();
                let shape = Shape::Grid;
                groups.push((group, Question { signs, shape }));
            }
        }
        if groups.is_empty() {
            return Ok(None);
        }
        let questions: Vec<Question> = groups.iter().map(|(_, asked)| asked.clone()).collect();
        let (_, told) = answered(case, belief, &questions)?;
        let mut bundles = Vec::new();
        for ((group, _), answers) in groups.iter().zip(told) {
            if let Some(answers) = answers {
                bundles.push(self.joined(case, group, &answers)?);
            }
        }
        let cost = |of: &SettlingBundle| {
            let tasks = of.asked.iter().map(|asked| &case.graph.tasks[asked.task]);
            of.journey.cost(case.waiting_counts) + tasks.map(|task| case.minutes(task)).sum::<f64>()
        };
        let often = |of: &SettlingBundle| of.settles.get() >= OFTEN;
        Ok(bundles.into_iter().min_by(|a, b| {
            often(b)
                .cmp(&often(a))
                .then_with(|| (b.bits / cost(b)).total_cmp(&(a.bits / cost(a))))
        }))
    }

    fn joined(
        &self,
        case: &Case<'_>,
        group: &[&Settling],
        answers: &Answers,
    ) -> Result<SettlingBundle, AdviseError> {
        let pairs = pairs(answers);
        let (settles, changes) = self.settles(&pairs)?;
        let bits = self.bits(&pairs);
        let mut effects = Vec::new();
        for (mut answer, (p, after)) in pairs.into_iter().enumerate() {
            let mut words: Vec<&str> = Vec::new();
            for of in group.iter().rev() {
                let options = &of.asked.options;
                words.push(&options[answer % options.len()].text);
                answer /= options.len();
            }
            words.reverse();
            effects.push(effect(words.join("; "), p, after)?);
        }
        effects.sort_by(|a, b| b.probability.get().total_cmp(&a.probability.get()));
        let sum = |of: fn(&crate::graph::Task) -> f64| {
            let tasks = group
                .iter()
                .map(|check| &case.graph.tasks[check.asked.task]);
            tasks.map(|task| of(task)).sum::<f64>()
        };
        let journey = group[0].journey.clone();
        let mut cautions: Vec<CautionId> = Vec::new();
        for of in group {
            let given = cautions_of(case, of.asked.task, &journey, &self.likely);
            cautions.extend(given);
        }
        let mut seen = BTreeSet::new();
        cautions.retain(|caution| seen.insert(*caution));
        Ok(SettlingBundle {
            asked: group.iter().map(|of| of.asked.clone()).collect(),
            hands: journey.hands + sum(|task| task.minutes),
            waiting: journey.waiting + sum(|task| task.waiting),
            journey,
            cautions,
            bits,
            settles,
            changes,
            effects,
        })
    }
}

fn effect(answer: String, p: f64, after: f64) -> Result<Effect, AdviseError> {
    Ok(Effect {
        answer,
        probability: chance(p)?,
        after: chance(after)?,
    })
}

/// Whether a check can stand in a bundle: all its signs are answered, and it is no question.
fn joins(case: &Case<'_>, check: &Settling) -> bool {
    let task = &case.graph.tasks[check.asked.task];
    !case.rules.checks[task.check].intake
        && check.asked.places.is_empty()
        && check.asked.question.shape == Shape::Grid
        && check.bits > 0.0
}

/// The seed and up to two more checks that its set-up allows, by bits per minute; none that
/// another of them would spoil, none with a sign twice.
fn together<'s>(case: &Case<'_>, seed: &'s Settling, checks: &'s [Settling]) -> Vec<&'s Settling> {
    let there = &seed.journey.to;
    let own = |check: &Settling| {
        let task = &case.graph.tasks[check.asked.task];
        case.minutes(task)
    };
    let mut inside: Vec<&Settling> = checks
        .iter()
        .filter(|check| check.asked.task != seed.asked.task && joins(case, check))
        .filter(|check| {
            let task = &case.graph.tasks[check.asked.task];
            there.meets(&task.needs)
                && check
                    .asked
                    .cover_off
                    .is_none_or(|cover| there.covers_off.contains(&cover))
        })
        .collect();
    inside.sort_by(|a, b| (b.bits / own(b)).total_cmp(&(a.bits / own(a))));
    let mut group = vec![seed];
    let mut joint = seed.asked.options.len();
    for check in inside {
        let task = &case.graph.tasks[check.asked.task];
        let clash = group.iter().any(|other| {
            let with = &case.graph.tasks[other.asked.task];
            let shared = |sign| other.asked.question.signs.contains(sign);
            case.spoils(task, with)
                || case.spoils(with, task)
                || check.asked.question.signs.iter().any(shared)
        });
        if group.len() < 3 && !clash && joint * check.asked.options.len() <= MOST_JOINT {
            joint *= check.asked.options.len();
            group.push(check);
        }
    }
    group
}
