//! What repairs and refills do, how a repair is proved, and how long a dry spell must be.

use crate::ids::{CheckId, FacetId, GatherId, KindId};
use crate::rules::base::{Named, Raise, Reason, Vary};

/// What holds of every repair and refill unless a fault or condition says otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Repairs {
    /// How a repaired fault stands afterwards.
    pub usual: AfterRepair,
    /// By how much the level falls after a refill as air comes out, litres: least and most.
    pub settles_litres: Vary<(f64, f64)>,
    /// So many cold top-ups after a refill belong to that; a dry spell counts from the last.
    pub settles_top_ups: usize,
    /// Why that is believed.
    pub settles_reason: Reason,
    /// How a repair leaves the vehicle: off and cold, whatever it was before.
    pub leaves: Vec<(FacetId, usize)>,
    /// How a refill leaves the vehicle: full, and closed again.
    pub refill_leaves: Vec<(FacetId, usize)>,
}

impl Default for Repairs {
    fn default() -> Self {
        Self {
            usual: AfterRepair::default(),
            settles_litres: Vary::always((0.0, 0.0)),
            settles_top_ups: 0,
            settles_reason: Reason::default(),
            leaves: Vec::new(),
            refill_leaves: Vec::new(),
        }
    }
}

/// How a fault stands after its repair.
#[derive(Debug, Clone, PartialEq)]
pub struct AfterRepair {
    /// Chance that it is still there, if it was there.
    pub fails: Vary<f64>,
    /// Chance that the repair brings it in, if it was not there.
    pub new: Vary<f64>,
    /// Faults of this part or of one that it joins that the repair may bring in.
    pub disturbs: Vec<Raise>,
    /// Why it is believed.
    pub reason: Reason,
}

impl Default for AfterRepair {
    fn default() -> Self {
        Self {
            fails: Vary::always(0.05),
            new: Vary::always(0.03),
            disturbs: Vec::new(),
            reason: Reason {
                because: "no repair is certain, and a new part can leak".into(),
                ..Reason::default()
            },
        }
    }
}

/// How a condition of the coolant stands after a refill.
#[derive(Debug, Clone, PartialEq)]
pub struct Refill {
    /// Only a refill of at least so large a share of all coolant changes it.
    pub from_share: f64,
    /// Chance that it is still there, if it was there.
    pub fails: f64,
    /// Chance that the refill brings it in, if it was not there.
    pub new: f64,
    /// Poured in weaker than so many per cent it is there with this chance, whatever was before.
    pub weaker_than: Option<(f64, f64)>,
}

/// One of the checks that together prove a repair.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// Id and name ("hold at the limit").
    pub named: Named,
    /// Any one of these does; those of a place count at each repaired place.
    pub checks: Vec<CheckId>,
    /// Asked for only where a part of these kinds was repaired; empty: after every repair.
    pub kinds: Vec<KindId>,
    /// What it must show.
    pub shows: String,
    /// Whether a repaired vehicle leaves only with this proof.
    pub before_release: bool,
    /// Asked for only while the chance that something still leaks is at least this; none: always.
    pub in_doubt: Option<f64>,
}

impl Proof {
    /// Whether it is asked for after parts of these kinds were repaired.
    pub fn is_due(&self, repaired: &[KindId]) -> bool {
        self.kinds.is_empty() || repaired.iter().any(|kind| self.kinds.contains(kind))
    }
}

/// How days without loss read: the worst of some leaks would have been noticed, if it lost enough.
#[derive(Debug, Clone, PartialEq)]
pub struct DryDays {
    /// The leaks that would lose coolant.
    pub gather: GatherId,
    /// A fall of the level that is noticed, mL.
    pub notices_ml: Vary<f64>,
    /// Hours a day in which a leak is open.
    pub hours_a_day: Vary<f64>,
    /// However long the spell, so often a fall that was there is missed.
    pub misses: f64,
}
