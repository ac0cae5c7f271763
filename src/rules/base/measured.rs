//! What an instrument's reading says about a check.

use crate::ids::GatherId;
use crate::rules::base::DryDays;

/// What can be measured in place of an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Measured {
    /// A pressure gauge over time: the worst leak of a gather, on the check's occasion.
    Gauge(GatherId),
    /// The coolant's strength.
    Strength(Vec<StrengthShows>),
    /// A map of the pits on a hose port.
    Port(PortShows),
    /// Days without loss.
    DryDays(DryDays),
}

/// A sign that shows an answer on one side of a strength, and its normal answer on the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrengthShows {
    /// The sign and its answer (positions).
    pub shows: (usize, usize),
    /// On which side of `percent`.
    pub side: Side,
    /// Strength, per cent by volume.
    pub percent: f64,
}

/// A side of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Below it.
    Below,
    /// Above it.
    Above,
}

/// What the map of a port shows: sign and answer (positions).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PortShows {
    /// Pits make a channel under the clamp as it was found, whatever the grade.
    pub channel: (usize, usize),
    /// By grade, from "use" to "scrap".
    pub grades: [(usize, usize); 4],
}
