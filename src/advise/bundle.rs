//! Bundles: checks that share a set-up.
//!
//! In: what each check is worth, and the way to it. Out: for each set-up that a check leads to,
//! the checks worth doing while in it (shared costs: Ottosen & Jensen, cost clusters). The gains are
//! added up, so a bundle's gain is "up to": what its checks tell overlaps.
//!
//! Example: a pumped system pays for a look over every zone; none of them alone would.

use std::collections::BTreeSet;

use crate::advise::case::Case;
use crate::advise::journey::Journey;
use crate::advise::set_up::SetUp;
use crate::graph::Asked;
use crate::ids::{Id, TaskId};

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

impl Bundle {
    /// Bits per minute, the way shared.
    pub fn rate(&self) -> f64 {
        self.gain_bits / self.minutes
    }
}

/// A check with what it is worth.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weighed<'a> {
    /// The check.
    pub asked: &'a Asked,
    /// The way to it.
    pub journey: &'a Journey,
    /// Gain less what it spoils, bits.
    pub bits: f64,
}

impl Weighed<'_> {
    /// Bits per minute with the whole way to it.
    pub fn rate(&self, case: &Case<'_>) -> f64 {
        self.bits / (self.own_minutes(case) + self.journey.cost(case.waiting_counts))
    }

    /// Minutes of the task itself, never under half a minute, and to turn to it; waiting weighted.
    fn own_minutes(&self, case: &Case<'_>) -> f64 {
        let task = &case.graph.tasks[self.asked.task];
        case.minutes(task)
            + if self.asked_anyway(case) {
                case.rules.policy.asking_minutes
            } else {
                case.rules.policy.turning_minutes
            }
    }

    /// A question of the complaint: it takes no set-up, so it belongs to none.
    fn asked_anyway(&self, case: &Case<'_>) -> bool {
        case.rules.checks[case.graph.tasks[self.asked.task].check].intake
    }

    fn fits(&self, case: &Case<'_>, there: &SetUp) -> bool {
        let task = &case.graph.tasks[self.asked.task];
        there.meets(&task.needs)
            && self
                .asked
                .cover_off
                .is_none_or(|cover| there.covers_off.contains(&cover))
    }
}

/// For each set-up that some check leads to, the checks worth doing while in it, the best first.
pub(super) fn bundles(case: &Case<'_>, checks: &[Weighed<'_>]) -> Vec<Bundle> {
    let mut bundles: Vec<Bundle> = Vec::new();
    for seed in checks {
        let there = &seed.journey.to;
        let known = |bundle: &Bundle| bundle.journey.to == *there;
        if seed.asked_anyway(case) || seed.journey.steps.is_empty() || bundles.iter().any(known) {
            continue;
        }
        bundles.extend(bundle(case, checks, seed.journey));
    }
    bundles.sort_by(|a, b| {
        let first = |bundle: &Bundle| bundle.tasks.first().map(|task| task.index());
        (b.rate().total_cmp(&a.rate())).then(first(a).cmp(&first(b)))
    });
    bundles
}

/// The best of the first so many checks, by falling gain per minute, at the end of one way.
/// A place that a sweep has looked at is not looked at again, nor the other way round.
fn bundle(case: &Case<'_>, checks: &[Weighed<'_>], journey: &Journey) -> Option<Bundle> {
    let mut inside: Vec<(&Weighed<'_>, f64)> = checks
        .iter()
        .filter(|check| check.bits > 0.0)
        .filter(|check| !check.asked_anyway(case) && check.fits(case, &journey.to))
        .map(|check| (check, check.own_minutes(case)))
        .collect();
    inside.sort_by(|(a, x), (b, y)| {
        (b.bits / y)
            .total_cmp(&(a.bits / x))
            .then(a.asked.task.cmp(&b.asked.task))
    });
    let mut looked: BTreeSet<TaskId> = BTreeSet::new();
    inside.retain(|(check, _)| {
        let places = check.asked.looks_at();
        let fresh = places.iter().all(|place| !looked.contains(place));
        if fresh {
            looked.extend(places);
        }
        fresh
    });
    let (mut gain, mut minutes) = (0.0, journey.cost(case.waiting_counts));
    let mut best = (0, 0.0, minutes);
    for (count, (check, own)) in inside.iter().enumerate() {
        gain += check.bits;
        minutes += own;
        if gain / minutes > best.1 / best.2 {
            best = (count + 1, gain, minutes);
        }
    }
    let tasks: Vec<TaskId> = (inside[..best.0].iter())
        .map(|(check, _)| check.asked.task)
        .collect();
    let sum = |of: fn(&crate::graph::Task) -> f64| {
        (tasks.iter().map(|&task| of(&case.graph.tasks[task]))).sum::<f64>()
    };
    let (hands, waiting) = (sum(|task| task.minutes), sum(|task| task.waiting));
    (best.0 > 0).then(|| Bundle {
        journey: journey.clone(),
        tasks,
        gain_bits: best.1,
        minutes: best.2,
        hands: journey.hands + hands,
        waiting: journey.waiting + waiting,
    })
}
