//! One vehicle's parts, checked against a rule base.
//!
//! In: nothing (built by `check`). Out: plain data that holds only ids and checked numbers.

use crate::ids::{CoverId, FacetId, FaultId, IdVec, KindId, PartId, ZoneId};
use crate::rules::base::{Named, SetUpNeeds, Where};

/// One vehicle's layout.
#[derive(Debug, Clone, Default)]
pub struct Layout {
    /// Id and name.
    pub named: Named,
    /// A few lines about the vehicle.
    pub about: String,
    /// Value of each attribute (by `AttributeId`) of the vehicle; `None` for those of parts.
    pub vehicle: Vec<Option<usize>>,
    /// Coolant in the whole system, litres.
    pub coolant_litres: f64,
    /// Air above the coolant when filled to the mark, millilitres.
    pub air_space_ml: f64,
    /// Stated pressure limits, psi gauge: what states it ("cap stamp"), the limit.
    pub limits_psi: Vec<(String, f64)>,
    /// Set-up in which the vehicle usually arrives, where it differs from the first values.
    pub arrives: Vec<(FacetId, usize)>,
    /// Zones to look over.
    pub zones: IdVec<ZoneId, Zone>,
    /// Covers to take off.
    pub covers: IdVec<CoverId, Cover>,
    /// Base rates scaled for this engine family.
    pub scales: Vec<Scale>,
    /// Parts, in the order written.
    pub parts: IdVec<PartId, Part>,
}

/// A zone to look over.
#[derive(Debug, Clone)]
pub struct Zone {
    /// Id and name ("underneath").
    pub named: Named,
    /// The set-up it takes to look there.
    pub needs: SetUpNeeds,
}

/// In place of a place of a zone, where nobody saw where it begins. No place bears this name.
pub const SOMEWHERE: &str = "somewhere";

/// A cover to take off.
#[derive(Debug, Clone)]
pub struct Cover {
    /// Id and name ("undertray").
    pub named: Named,
    /// Hands-on minutes to take it off.
    pub hands: f64,
    /// The set-up it takes to take it off.
    pub needs: SetUpNeeds,
    /// Whether it guards hands from what turns.
    pub guard: bool,
}

/// A base rate scaled m-fold: 1 − (1 − p)^m.
#[derive(Debug, Clone)]
pub struct Scale {
    /// The fault.
    pub fault: FaultId,
    /// m.
    pub times: f64,
    /// Why.
    pub because: String,
}

/// One part or joint.
#[derive(Debug, Clone)]
pub struct Part {
    /// Id and name ("lower hose, engine end").
    pub named: Named,
    /// Its kind.
    pub kind: KindId,
    /// Value of each attribute (by `AttributeId`); `None` where it has none.
    pub attributes: Vec<Option<usize>>,
    /// The zone from which it is looked at.
    pub zone: Option<ZoneId>,
    /// The cover over it.
    pub cover: Option<CoverId>,
    /// Height above the lowest place, centimetres: a sweep goes from the top down.
    pub height_cm: f64,
    /// Parts named under the kind's roles.
    pub joins: Vec<(String, PartId)>,
    /// Sizes that are known: position in [`RuleBase::sizes`](crate::rules::base::RuleBase), value.
    pub sizes: Vec<(usize, f64)>,
    /// Places directly below, onto which wetness runs, with the chance that it does.
    pub runs_down_to: Vec<(PartId, f64)>,
}

impl Layout {
    /// Whether a condition on attributes holds for the vehicle and, where given, a part.
    pub fn holds(&self, condition: &Where, part: Option<PartId>) -> bool {
        use crate::ids::Id;
        condition.all_of.iter().all(|(attribute, allowed)| {
            let of_part = part.and_then(|part| self.parts[part].attributes[attribute.index()]);
            of_part
                .or(self.vehicle[attribute.index()])
                .is_some_and(|value| allowed.contains(&value))
        })
    }
}
