//! Ways of choosing the next check, to be played against each other.
//!
//! In: a case. Out: the offer to take. All stop by the same rule and pay the same minutes.
//!
//! Example: [`Policy::Information`] takes a road test for a hundredth of a bit more.

use rand::Rng;

use crate::advise::{Belief, Case, Offer, Proposal, Proposals};
use crate::show::task_id;

/// A way of choosing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Policy {
    /// The tool's own: gain per minute.
    GainPerMinute,
    /// The gain alone.
    Information,
    /// The likeliest leak among the places looked at, for the minutes it takes.
    ProbabilityOverCost,
    /// A fixed order of tasks (`check` or `check@place`).
    Checklist(Vec<String>),
    /// Any check that can be done.
    Random,
}

impl Policy {
    /// Its name, for tables.
    pub fn name(&self) -> &'static str {
        match self {
            Self::GainPerMinute => "gain per minute",
            Self::Information => "gain alone",
            Self::ProbabilityOverCost => "likeliest per minute",
            Self::Checklist(_) => "fixed checklist",
            Self::Random => "pure chance",
        }
    }

    /// Whether it needs the gain of every check.
    pub fn weighs_gains(&self) -> bool {
        matches!(self, Self::GainPerMinute | Self::Information)
    }

    /// The proposals with what each is worth, the one to take first, for those that weigh gains.
    pub fn of_proposals(&self, proposals: Proposals) -> Vec<(Offer, f64)> {
        let mut checks = proposals.checks;
        checks.retain(|check| check.gain_bits > 0.0);
        let bits_only = *self == Self::Information;
        if bits_only {
            checks.sort_by(|a, b| b.gain_bits.total_cmp(&a.gain_bits));
        }
        let worth = |check: &Proposal| {
            if bits_only {
                check.gain_bits
            } else {
                check.rate
            }
        };
        let offer = |check: Proposal| {
            let worth = worth(&check);
            (check.into_offer(), worth)
        };
        checks.into_iter().map(offer).collect()
    }

    /// The offer to take, for the others.
    pub fn of_offers(
        &self,
        case: &Case<'_>,
        belief: &Belief,
        mut offers: Vec<Offer>,
        random: &mut impl Rng,
    ) -> Option<Offer> {
        // Who weighs no gains does each check once: what stands first in a list would be done for ever.
        offers.retain(|offer| !case.graph.tasks[offer.asked.task].again);
        match self {
            Self::Random => (!offers.is_empty())
                .then(|| offers.swap_remove(random.random_range(0..offers.len()))),
            Self::Checklist(order) => {
                let place = |offer: &Offer| {
                    let id = task_id(case, offer.asked.task);
                    order.iter().position(|listed| *listed == id)
                };
                offers.retain(|offer| place(offer).is_some());
                offers.into_iter().min_by_key(place)
            }
            _ => {
                let worth = |offer: &Offer| {
                    let places = offer.asked.places.iter().chain([&offer.asked.task]);
                    let likeliest = places
                        .filter_map(|&task| case.graph.tasks[task].part)
                        .filter_map(|part| belief.leaks[part])
                        .fold(0.0, f64::max);
                    likeliest / offer.minutes(case)
                };
                offers
                    .into_iter()
                    .map(|offer| (worth(&offer), offer))
                    .filter(|(worth, _)| *worth > 0.0)
                    .max_by(|(a, x), (b, y)| a.total_cmp(b).then(y.asked.task.cmp(&x.asked.task)))
                    .map(|(_, offer)| offer)
            }
        }
    }
}
