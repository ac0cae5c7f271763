//! What to do on a log: check, repair, or stop.
//!
//! In: a [`Case`] and a way of choosing. Out: an [`Advice`]. All ways of choosing name sources,
//! repair and prove by the same rules; they differ in the check that they take next.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use rand::Rng;

use crate::advise::{
    Belief, Case, Offer, Proposals, RankedLeak, Ranking, Retest, Verdict, likely_enough, offers,
};
use crate::ids::{PartId, TaskId};
use crate::job::JobFile;
use crate::train::TrainError;
use crate::train::played::{End, Played};
use crate::train::policy::Policy;

/// When no check tells more, or too many were done, a needless repair counts so much of its cost.
const ON_TRIAL: f64 = 0.33;
/// Checks after which the likeliest place is taken apart, if it is likely enough for that.
const MANY_CHECKS: usize = 60;
/// Ways of choosing that weigh no gains look up only so often whether anything is left to gain.
const LOOK_UP_EVERY: usize = 6;
/// Longer logs are seldom met twice.
const RECALLED: usize = 10;

/// What is to be done next.
#[derive(Debug, Clone)]
pub(super) enum Turn {
    /// A check.
    Check(Offer),
    /// These causes' places are opened up and repaired.
    Repair(Vec<usize>),
    /// Nothing.
    Stop(End),
}

/// What to do on a log, and how its causes stand.
#[derive(Debug, Clone)]
pub(super) struct Advice {
    /// What to do.
    pub turn: Turn,
    /// The likeliest place.
    pub first: Option<PartId>,
    /// The chance of each cause.
    pub causes: Vec<f64>,
}

/// What advice on a log was, kept for other jobs with the same log: the first answers are often
/// the same. Only the first entries are kept, so that memory stays small.
#[derive(Debug, Default)]
pub struct Recall(Mutex<BTreeMap<Vec<String>, Arc<Advice>>>);

impl Recall {
    /// The advice of a policy that goes by gains on this log, from memory if it was asked before.
    pub(super) fn of(
        &self,
        policy: &Policy,
        job: &JobFile,
        work_out: impl FnOnce() -> Result<Advice, TrainError>,
    ) -> Result<Arc<Advice>, TrainError> {
        if !policy.weighs_gains() || job.log.len() > RECALLED {
            return Ok(Arc::new(work_out()?));
        }
        let entries = job.log.iter().map(|logged| format!("{:?}", logged.entry));
        let key: Vec<String> = [policy.name().to_owned()]
            .into_iter()
            .chain(entries)
            .collect();
        let known = |memory: &Mutex<BTreeMap<_, _>>| memory.lock().ok()?.get(&key).cloned();
        if let Some(advice) = known(&self.0) {
            return Ok(advice);
        }
        let advice = Arc::new(work_out()?);
        if let Ok(mut memory) = self.0.lock() {
            memory.insert(key, Arc::clone(&advice));
        }
        Ok(advice)
    }
}

impl Advice {
    /// The advice of a way of choosing.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(
        case: &Case<'_>,
        policy: &Policy,
        played: &Played,
        random: &mut impl Rng,
    ) -> Result<Self, TrainError> {
        let looks_up = played.checks % LOOK_UP_EVERY == LOOK_UP_EVERY - 1;
        let (proposals, belief) = if policy.weighs_gains() || looks_up {
            let (proposals, belief) = Proposals::of(case)?;
            (Some(proposals), belief)
        } else {
            (None, Belief::of(case, &[])?)
        };
        let ranking = Ranking::of(case, &belief)?;
        let verdict = match Verdict::of_repairs(case, &ranking, &belief)? {
            None => proposals
                .as_ref()
                .map(|of| Verdict::of_checks(case, &ranking, of)),
            told => told,
        };
        let turn = match verdict {
            Some(
                Verdict::Repair { named, .. }
                | Verdict::AnotherLikely { named, .. }
                | Verdict::Act { named, .. },
            ) => Turn::Repair(named),
            Some(Verdict::Retest { .. }) => {
                retest(case, proposals).map_or(Turn::Stop(End::Unproved), Turn::Check)
            }
            Some(Verdict::Proved { .. }) => Turn::Stop(End::Proved),
            // Nothing tells more than taking the likeliest place apart.
            Some(Verdict::NothingLeft { .. }) => on_trial(case, &ranking),
            _ if played.checks >= MANY_CHECKS => on_trial(case, &ranking),
            Some(Verdict::GoOn) | None => {
                let offer = match proposals {
                    Some(proposals) if policy.weighs_gains() => policy.of_proposals(proposals),
                    _ => policy.of_offers(case, &belief, offers(case).open, random),
                };
                offer.map_or_else(|| on_trial(case, &ranking), Turn::Check)
            }
        };
        // What was found with a leaking tester is found again once it is mended.
        let turn = leaking_tester(case, &ranking).map_or(turn, Turn::Repair);
        let first = ranking.leaks.iter().find(|leak| !leak.apart);
        Ok(Self {
            turn,
            first: first.map(|leak| leak.part),
            causes: belief.causes,
        })
    }
}

/// The next step of the retest: what tells most per minute, whatever that is.
fn retest(case: &Case<'_>, proposals: Option<Proposals>) -> Option<Offer> {
    let lacking = Retest::of(case)?.tasks();
    let is_lacking = |task: TaskId| lacking.contains(&task);
    let weighed = proposals.and_then(|proposals| {
        let mut checks = proposals.checks.into_iter();
        checks.find(|check| is_lacking(check.asked.task))
    });
    let weighed = weighed.map(|check| Offer {
        asked: check.asked,
        journey: check.journey,
    });
    weighed.or_else(|| {
        let open = offers(case).open.into_iter();
        open.filter(|offer| is_lacking(offer.asked.task))
            .min_by(|a, b| a.minutes(case).total_cmp(&b.minutes(case)))
    })
}

/// The tester's own leak, as soon as it is named.
fn leaking_tester(case: &Case<'_>, ranking: &Ranking) -> Option<Vec<usize>> {
    let named = |leak: &&RankedLeak| leak.probability.get() >= case.rules.policy.named_at;
    let leak = ranking.leaks.iter().filter(|leak| leak.apart).find(named)?;
    let first = leak.causes.first()?;
    Some(vec![ranking.causes[*first].cause])
}

/// Takes the likeliest place apart, if it is likely enough for that.
fn on_trial(case: &Case<'_>, ranking: &Ranking) -> Turn {
    match likely_enough(case, ranking, ON_TRIAL) {
        Some((cause, _)) => Turn::Repair(vec![cause]),
        None => Turn::Stop(End::NothingLeft),
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    use super::*;
    use crate::advise::{Answered, Shop};
    use crate::graph::CausalGraph;
    use crate::infer::Finding;
    use crate::job::resolve;
    use crate::rules;

    /// Common practice: a tester that leaks blank is mended before anything else, and what leaked
    /// with it is no leak of the vehicle.
    #[test]
    fn a_tester_found_leaking_is_mended_first() {
        let loaded = rules::load_embedded();
        let base = loaded.rules.as_ref().expect("the built-in rules load");
        let layout = loaded.layouts.first().expect("a built-in layout");
        let graph = CausalGraph::expand(base, layout).expect("a graph");
        let apart = |cause: usize| {
            let part = graph.causes[cause].place.part;
            base.kinds[layout.parts[part].kind].apart
        };
        let turn = |if_tight: f64| {
            let job = JobFile {
                layout: layout.named.id.clone(),
                ..JobFile::default()
            };
            let mut case = resolve(&job, base, layout, &graph, &Shop::default(), 0.03)
                .expect("an empty job can be read");
            let cause = (0..graph.causes.len())
                .find(|&cause| apart(cause))
                .expect("a cause of the tester's own");
            let at = &graph.causes[cause];
            let likelihood = at
                .leaking
                .iter()
                .map(|&leaks| if leaks { 1.0 } else { if_tight })
                .collect();
            case.found.push(Answered {
                entry: 1,
                task: None,
                words: "the tester leaks".to_owned(),
                findings: vec![Finding::soft(at.push, likelihood)],
                normal: false,
            });
            let random = &mut ChaCha8Rng::seed_from_u64(1);
            Advice::of(&case, &Policy::GainPerMinute, &Played::default(), random)
                .expect("advice")
                .turn
        };
        match turn(1e-6) {
            Turn::Repair(named) => assert!(named.iter().all(|&cause| apart(cause))),
            other => panic!("{other:?}"),
        }
        assert!(matches!(turn(1.0), Turn::Check(_)));
    }
}
