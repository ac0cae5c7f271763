//! How the causes stand.
//!
//! In: a [`Case`] and its [`Belief`]. Out: a [`Ranking`]: places that leak, under each the
//! faults that cause it, under each the conditions that feed it. "Another fault here",
//! "elsewhere" and the tester's own leak are told apart.

use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::Case;
use crate::chance::Chance;
use crate::graph::Place;
use crate::ids::{ConditionId, Id, PartId};
use crate::rules::base::{Raise, Raiser};

/// How the causes stand, the likeliest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranking {
    /// Faults that cause a loss.
    pub causes: Vec<RankedCause>,
    /// Places that leak.
    pub leaks: Vec<RankedLeak>,
    /// Conditions of the vehicle.
    pub conditions: Vec<RankedCondition>,
}

/// A fault at a place.
#[derive(Debug, Clone, PartialEq)]
pub struct RankedCause {
    /// Its position in the graph's list of causes.
    pub cause: usize,
    /// The fault and its part.
    pub place: Place,
    /// The chance that it causes a loss.
    pub probability: Chance,
    /// The chance that it is present.
    pub present: Chance,
    /// What feeds it, the likeliest first, with the chance that it is there.
    pub fed_by: Vec<(Feeder, Chance)>,
    /// Whether it is listed apart: the tester's own.
    pub apart: bool,
}

/// What feeds a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Feeder {
    /// A condition of the vehicle.
    Condition(ConditionId),
    /// A fault of the same part, or of one that it joins.
    Fault(Place),
}

/// A place.
#[derive(Debug, Clone, PartialEq)]
pub struct RankedLeak {
    /// The part.
    pub part: PartId,
    /// The chance that it leaks, or is a loss without a leak.
    pub probability: Chance,
    /// Whether it is listed apart.
    pub apart: bool,
    /// Positions in [`Ranking::causes`], the likeliest first.
    pub causes: Vec<usize>,
}

/// A condition.
#[derive(Debug, Clone, PartialEq)]
pub struct RankedCondition {
    /// The condition.
    pub condition: ConditionId,
    /// The chance that it holds.
    pub probability: Chance,
}

impl Ranking {
    /// Sorts what is believed. Ties break by the order of the layout and the rules.
    ///
    /// # Errors
    /// A figure that is no probability.
    pub fn of(case: &Case<'_>, belief: &Belief) -> Result<Self, AdviseError> {
        let apart = |part: PartId| case.rules.kinds[case.layout.parts[part].kind].apart;
        let mut causes = Vec::new();
        for (position, cause) in case.graph.causes.iter().enumerate() {
            causes.push(RankedCause {
                cause: position,
                place: cause.place,
                probability: chance(but_for_rounding(belief.causes[position]))?,
                present: chance(belief.present[position])?,
                fed_by: fed_by(case, belief, cause.place)?,
                apart: apart(cause.place.part),
            });
        }
        causes.sort_by(|a, b| likelier(a.probability, b.probability).then(a.cause.cmp(&b.cause)));
        let mut leaks = Vec::new();
        for (part, leak) in belief.leaks.enumerated() {
            if let Some(leak) = *leak {
                let here = causes
                    .iter()
                    .enumerate()
                    .filter(|(_, cause)| cause.place.part == part);
                let causes = here.map(|(position, _)| position).collect();
                leaks.push(RankedLeak {
                    part,
                    probability: chance(but_for_rounding(leak))?,
                    apart: apart(part),
                    causes,
                });
            }
        }
        leaks.sort_by(|a, b| likelier(a.probability, b.probability).then(a.part.cmp(&b.part)));
        let mut conditions = Vec::new();
        for (index, held) in belief.conditions.iter().enumerate() {
            if let Some(held) = *held {
                let condition = ConditionId::from_index(index);
                conditions.push(RankedCondition {
                    condition,
                    probability: chance(but_for_rounding(held))?,
                });
            }
        }
        conditions.sort_by(|a, b| {
            likelier(a.probability, b.probability).then(a.condition.cmp(&b.condition))
        });
        Ok(Self {
            causes,
            leaks,
            conditions,
        })
    }

    /// The likeliest cause that is not listed apart.
    pub fn first(&self) -> Option<&RankedCause> {
        self.causes.iter().find(|cause| !cause.apart)
    }
}

/// A probability without the digits that rounding makes up, so that what is equally likely keeps the
/// order of the layout. What is too small to read keeps all its digits.
fn but_for_rounding(probability: f64) -> f64 {
    const DIGITS: f64 = 1e10;
    if probability < 1e-6 {
        probability
    } else {
        (probability * DIGITS).round() / DIGITS
    }
}

fn likelier(a: Chance, b: Chance) -> std::cmp::Ordering {
    b.get().total_cmp(&a.get())
}

/// The conditions and faults that raise a fault.
fn fed_by(
    case: &Case<'_>,
    belief: &Belief,
    place: Place,
) -> Result<Vec<(Feeder, Chance)>, AdviseError> {
    let mut fed: Vec<(Feeder, Chance)> = Vec::new();
    for Raise { by, .. } in &case.rules.faults[place.fault].raised_by {
        if let Raiser::Condition(condition) = *by {
            if let Some(held) = belief.feeding[condition.index()] {
                fed.push((Feeder::Condition(condition), chance(held)?));
            }
        } else if let Some(feeder) = raising_fault(case, place, by) {
            let of = case
                .graph
                .causes
                .iter()
                .position(|cause| cause.place == feeder);
            if let Some(position) = of {
                fed.push((Feeder::Fault(feeder), chance(belief.present[position])?));
            }
        }
    }
    fed.sort_by(|a, b| likelier(a.1, b.1).then(a.0.cmp(&b.0)));
    Ok(fed)
}

/// The fault of this part, or of one that it joins, which raises another.
pub(crate) fn raising_fault(case: &Case<'_>, place: Place, by: &Raiser) -> Option<Place> {
    let layout = case.layout;
    match by {
        Raiser::Condition(_) => None,
        Raiser::Fault(fault) => Some(Place {
            fault: *fault,
            part: place.part,
        }),
        Raiser::Partner { role, fault } => {
            let mut joins = layout.parts[place.part].joins.iter();
            let part = joins.find(|(name, _)| name == role)?.1;
            let mut there = case.rules.kinds[layout.parts[part].kind].faults.iter();
            there
                .find(|&&id| case.rules.faults[id].named.id == *fault)
                .map(|&fault| Place { fault, part })
        }
    }
}
