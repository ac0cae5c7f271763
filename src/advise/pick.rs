//! Which checks are worth an exact gain.
//!
//! In: what can be done now, and what is believed. Out: by a quick estimate the checks that promise most
//! for their time; the estimate of a check gives way to its exact gain once that is known.

use std::collections::{BTreeMap, BTreeSet};

use crate::advise::belief::Belief;
use crate::advise::bundle::{Bundle, Weighed, bundles};
use crate::advise::case::Case;
use crate::advise::offers::Offer;
use crate::advise::outlook::Outlook;
use crate::graph::Cause;
use crate::ids::TaskId;

/// How many checks get an exact gain in one go; a quick estimate picks them.
const EXACT: usize = 8;
/// So many more of the best bundles that need another set-up: for a look ahead, even while what can
/// be done at once comes first.
const FOR_WAYS: usize = 4;
/// From so many entries of the tree on fewer checks are weighed, in proportion: the estimate is
/// good, and an exact gain takes time by the entry.
const MANY_ENTRIES: usize = 500_000;
/// … but never fewer than these two.
const FEWEST: (usize, usize) = (3, 2);

/// A cause listed apart counts in a gain from this chance on.
const SUSPECTED: f64 = 0.1;

/// For each cause whether it counts in a gain: the tester's own leak is worth looking for only once
/// something speaks for it.
pub(super) fn counted(case: &Case<'_>, belief: &Belief) -> Vec<bool> {
    (case.graph.causes.iter().zip(&belief.causes))
        .map(|(cause, &p)| p >= SUSPECTED || !apart(case, cause))
        .collect()
}

/// Whether a cause is listed apart from the vehicle's own.
pub(super) fn apart(case: &Case<'_>, cause: &Cause) -> bool {
    case.rules.kinds[case.layout.parts[cause.place.part].kind].apart
}

/// What can be done now, and what each check tells as far as is known.
pub(super) struct Field {
    open: Vec<Offer>,
    /// For each its gain in bits: estimated, or exact once it was weighed.
    bits: Vec<f64>,
    weighed: Vec<bool>,
    /// How many to weigh at most of what leads, and of what needs another set-up.
    at_once: (usize, usize),
}

impl Field {
    /// Estimates each check.
    pub fn of(case: &Case<'_>, belief: &Belief, open: Vec<Offer>) -> Self {
        let mut outlook = Outlook::of(&case.graph, belief, &counted(case, belief));
        let bits = open
            .iter()
            .map(|offer| outlook.bits(&offer.asked))
            .collect();
        let weighed = vec![false; open.len()];
        let times = belief.sizes().total.div_ceil(MANY_ENTRIES).max(1);
        Self {
            open,
            bits,
            weighed,
            at_once: (
                (EXACT / times).max(FEWEST.0),
                (FOR_WAYS / times).max(FEWEST.1),
            ),
        }
    }

    /// The checks to weigh next: the best by the estimate, the best that need another set-up, and what
    /// a retest still lacks. Only what promises at least `least` bits a minute, with its bundle.
    pub fn promising(&self, case: &Case<'_>, retest: &BTreeSet<TaskId>, least: f64) -> Vec<Offer> {
        let weighed: Vec<Weighed<'_>> = (self.open.iter().zip(&self.bits))
            .map(|(offer, &bits)| Weighed {
                asked: &offer.asked,
                journey: &offer.journey,
                bits,
            })
            .collect();
        let rated = Rated::of(case, &weighed);
        let known: BTreeSet<TaskId> = (self.open.iter().zip(&self.weighed))
            .filter(|(_, weighed)| **weighed)
            .map(|(offer, _)| offer.asked.task)
            .collect();
        let fresh = |task: &TaskId| !known.contains(task) && rated.rate(*task) >= least;
        let first = rated
            .best_first()
            .into_iter()
            .filter(fresh)
            .take(self.at_once.0);
        let mut picked: BTreeSet<TaskId> = first.collect();
        // What can be done here and now stands in the bundle of a far set-up, too: not this.
        let has_a_way: BTreeSet<TaskId> = (weighed.iter())
            .filter(|check| check.journey.changes_set_up())
            .map(|check| check.asked.task)
            .collect();
        let with_a_way = (rated.bundles.iter())
            .flat_map(|bundle| bundle.tasks.iter().copied())
            .filter(|task| has_a_way.contains(task) && fresh(task));
        let most = picked.len() + self.at_once.1;
        for task in with_a_way {
            if picked.len() == most {
                break;
            }
            picked.insert(task);
        }
        // What a retest still lacks is weighed whatever the estimate says.
        picked.extend(retest.iter().filter(|task| !known.contains(task)));
        let mut picked: Vec<Offer> = (self.open.iter())
            .filter(|offer| picked.contains(&offer.asked.task))
            .cloned()
            .collect();
        // Neighbours share hidden nodes, so they are asked together.
        picked.sort_by_key(|Offer { asked, .. }| (case.graph.tasks[asked.task].part, asked.task));
        picked
    }

    /// The checks that tell most by the estimate, whatever they take, of those not weighed yet.
    pub fn most_telling(&self, case: &Case<'_>) -> Vec<Offer> {
        let mut telling: Vec<(f64, &Offer)> = (self.open.iter().zip(&self.bits))
            .zip(&self.weighed)
            .filter(|(_, weighed)| !**weighed)
            .map(|((offer, &bits), _)| (bits, offer))
            .collect();
        telling.sort_by(|a, b| {
            b.0.total_cmp(&a.0)
                .then(a.1.asked.task.cmp(&b.1.asked.task))
        });
        telling.truncate(self.at_once.1);
        let mut picked: Vec<Offer> = telling
            .into_iter()
            .map(|(_, offer)| offer.clone())
            .collect();
        picked.sort_by_key(|Offer { asked, .. }| (case.graph.tasks[asked.task].part, asked.task));
        picked
    }

    /// The gain of each check in bits, estimated or exact.
    pub fn gains(&self) -> Vec<(TaskId, f64)> {
        let tasks = self.open.iter().map(|offer| offer.asked.task);
        tasks.zip(self.bits.iter().copied()).collect()
    }

    /// Takes over the gains that were worked out, in bits; what could not be worked out promises
    /// nothing any more.
    pub fn learn(&mut self, asked: &[Offer], gains: impl Iterator<Item = Option<f64>>) {
        for (offer, gain) in asked.iter().zip(gains) {
            let here = |at: &Offer| at.asked.task == offer.asked.task;
            if let Some(at) = self.open.iter().position(here) {
                self.bits[at] = gain.unwrap_or(0.0);
                self.weighed[at] = true;
            }
        }
    }
}

/// Checks with what each is worth for its time. A check that is worth its time only together with
/// others at the end of the same way has their rate.
pub(super) struct Rated {
    /// The bundles, the best first.
    pub bundles: Vec<Bundle>,
    /// For each check its gain per minute, and its place among those of a bundle.
    rates: BTreeMap<TaskId, (f64, usize)>,
}

impl Rated {
    /// Rates checks alone and in bundles.
    pub fn of(case: &Case<'_>, weighed: &[Weighed<'_>]) -> Self {
        let bundles = bundles(case, weighed);
        let mut rates: BTreeMap<TaskId, (f64, usize)> = BTreeMap::new();
        // Within a bundle the order is that of the bundle, whose tasks stand by falling gain per
        // minute.
        for bundle in &bundles {
            for (position, &task) in bundle.tasks.iter().enumerate() {
                rates.entry(task).or_insert((bundle.rate(), position));
            }
        }
        for check in weighed {
            let rate = rates.entry(check.asked.task).or_default();
            rate.0 = rate.0.max(check.rate(case));
        }
        Self { bundles, rates }
    }

    /// Gain per minute of one of the checks.
    pub fn rate(&self, task: TaskId) -> f64 {
        self.rates.get(&task).map_or(0.0, |rate| rate.0)
    }

    /// The checks by falling rate.
    pub fn best_first(&self) -> Vec<TaskId> {
        let mut tasks: Vec<TaskId> = self.rates.keys().copied().collect();
        tasks.sort_by(|x, y| {
            let ((a, p), (b, q)) = (self.rates[x], self.rates[y]);
            b.total_cmp(&a).then(p.cmp(&q)).then(x.cmp(y))
        });
        tasks
    }
}
