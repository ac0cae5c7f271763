//! Which way things pass between the coolant and another space, from their pressures.
//!
//! In: the pressures that a rule base states by duty. Out: yes or no.

use crate::ids::SpaceId;
use crate::rules::base::RuleBase;

impl RuleBase {
    /// Whether what a space holds can enter the coolant in a duty: its highest pressure exceeds
    /// the coolant's lowest. Never where no space is the coolant's own.
    pub fn enters(&self, space: SpaceId, duty: usize) -> bool {
        self.pressures(space, duty)
            .is_some_and(|(other, coolant)| other.1 > coolant.0)
    }

    /// Whether coolant can leave into a space in a duty: its highest pressure exceeds the
    /// space's lowest.
    pub fn leaves(&self, space: SpaceId, duty: usize) -> bool {
        self.pressures(space, duty)
            .is_some_and(|(other, coolant)| coolant.1 > other.0)
    }

    /// Lowest and highest pressure of a space and of the coolant in a duty, bar gauge.
    fn pressures(&self, space: SpaceId, duty: usize) -> Option<((f64, f64), (f64, f64))> {
        let own = self.own_space?;
        let of = |space: SpaceId| self.spaces[space].pressure_bar.get(duty).copied();
        Some((of(space)?, of(own)?))
    }
}
