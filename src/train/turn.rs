//! What to do on a log: check, repair, or stop.
//!
//! In: a [`Case`] and a way of choosing. Out: an [`Advice`]. All ways of choosing name sources,
//! repair and prove by the same rules; they differ in the check that they take next.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex};

use rand::Rng;

use crate::advise::{
    Belief, Case, Offer, Proposal, Proposals, RankedLeak, Ranking, Verdict, lacking_tasks,
    likely_enough, offers,
};
use crate::ids::{PartId, TaskId};
use crate::job::JobFile;
use crate::train::TrainError;
use crate::train::played::{End, Played};
use crate::train::policy::Policy;

/// When no check tells more, a needless repair counts so much of its cost.
const ON_TRIAL: f64 = 0.33;
/// From so many checks on several of a page are done before the tool is asked again …
const ONE_BY_ONE: usize = 20;
/// … but only those with at least this share of the best one's worth …
const NEARLY_AS_GOOD: f64 = 0.5;
/// … and so many beside it at most.
const BESIDE_IT: usize = 6;
/// Ways of choosing that weigh no gains look up only so often whether anything is left to gain.
const LOOK_UP_EVERY: usize = 6;
/// Longer logs are seldom met twice.
const RECALLED: usize = 20;

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
    /// What else to do before asking again, as long as nothing is found.
    pub nearly_as_good: Vec<TaskId>,
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
        let weighs = policy.weighs_gains() || looks_up;
        let mut belief = if weighs {
            Belief::to_ask(case)?
        } else {
            Belief::of(case, &[])?
        };
        let ranking = Ranking::of(case, &belief)?;
        let of_repairs = Verdict::of_repairs(case, &ranking, &belief)?;
        // Who repairs, or is done, need not know what checks are worth.
        let wants_checks = matches!(
            of_repairs,
            None | Some(Verdict::Retest { .. } | Verdict::Watch { .. })
        );
        let mut proposals = None;
        if weighs && wants_checks {
            let worked_out;
            (worked_out, belief) = Proposals::resting_on(case, belief)?;
            proposals = Some(worked_out);
        }
        let of_checks = |of: &Proposals| Verdict::of_checks(case, &ranking, of);
        let verdict = of_repairs.or_else(|| proposals.as_ref().map(of_checks));
        let mut list = Vec::new();
        let turn = match verdict {
            Some(
                Verdict::Repair { named, .. }
                | Verdict::AnotherLikely { named, .. }
                | Verdict::Act { named, .. },
            ) => Turn::Repair(named),
            Some(Verdict::Retest { .. } | Verdict::Watch { .. }) => {
                let lacking = lacking_tasks(case, &belief)?;
                list = retest_steps(case, &lacking, proposals);
                let first = list.first().map(|(offer, _)| offer.clone());
                first.map_or(Turn::Stop(End::Unproved), Turn::Check)
            }
            Some(Verdict::Proved { .. }) => Turn::Stop(End::Proved),
            // Nothing tells more for its time than taking the likeliest place apart; where that costs too
            // much, what tells most is done, whatever it takes.
            Some(Verdict::NothingLeft { most_telling, .. }) => match on_trial(case, &ranking) {
                Turn::Stop(end) => {
                    let task = most_telling.map(|(task, _)| task);
                    let checks = proposals.into_iter().flat_map(|proposals| proposals.checks);
                    let found = { checks }.find(|check| Some(check.asked.task) == task);
                    found.map_or(Turn::Stop(end), |check| Turn::Check(check.into_offer()))
                }
                turn => turn,
            },
            Some(Verdict::GoOn) | None => {
                let offer = match proposals {
                    Some(proposals) if policy.weighs_gains() => {
                        list = policy.of_proposals(proposals);
                        list.first().map(|(offer, _)| offer.clone())
                    }
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
            nearly_as_good: nearly_as_good(&list, played),
            first: first.map(|leak| leak.part),
            causes: belief.causes,
        })
    }
}

/// What is done along with the first of a list of checks and what they are worth.
fn nearly_as_good(list: &[(Offer, f64)], played: &Played) -> Vec<TaskId> {
    if played.checks < ONE_BY_ONE {
        return Vec::new();
    }
    let best = list.first().map_or(0.0, |(_, worth)| *worth);
    let others = list.iter().skip(1);
    others
        .filter(|(_, worth)| *worth >= NEARLY_AS_GOOD * best)
        .map(|(offer, _)| offer.asked.task)
        .take(BESIDE_IT)
        .collect()
}

/// The next steps of the retest, all worth the same: what tells most per minute first, whatever that
/// is.
fn retest_steps(
    case: &Case<'_>,
    lacking: &BTreeSet<TaskId>,
    proposals: Option<Proposals>,
) -> Vec<(Offer, f64)> {
    let weighed = proposals.map(|proposals| proposals.checks);
    let weighed = weighed.into_iter().flatten().map(Proposal::into_offer);
    let is_lacking = |offer: &Offer| lacking.contains(&offer.asked.task);
    let mut steps: Vec<(Offer, f64)> = weighed
        .filter(is_lacking)
        .map(|offer| (offer, 1.0))
        .collect();
    if steps.is_empty() {
        let open = offers(case).open.into_iter().filter(is_lacking);
        let cheapest = open.min_by(|a, b| a.minutes(case).total_cmp(&b.minutes(case)));
        steps.extend(cheapest.map(|offer| (offer, 1.0)));
    }
    steps
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
