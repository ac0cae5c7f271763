//! A set-up: how the vehicle stands now.
//!
//! In: the rules' facets and a layout. Out: a [`SetUp`], which can be held against what a check
//! needs.

use std::collections::BTreeSet;

use crate::ids::{CoverId, Id};
use crate::rules::base::{RuleBase, SetUpNeeds};
use crate::rules::layout::Layout;

/// A set-up: a value per facet, and the covers that are off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetUp {
    /// Value of each facet, by `FacetId`.
    pub values: Vec<usize>,
    /// Covers that are off.
    pub covers_off: BTreeSet<CoverId>,
}

impl SetUp {
    /// How a vehicle of this layout usually arrives.
    pub fn on_arrival(rules: &RuleBase, layout: &Layout) -> Self {
        let mut values = vec![0; rules.facets.len()];
        for &(facet, value) in &layout.arrives {
            values[facet.index()] = value;
        }
        Self {
            values,
            covers_off: BTreeSet::new(),
        }
    }

    /// Whether it is as needed.
    pub fn meets(&self, needs: &SetUpNeeds) -> bool {
        meets(&self.values, needs)
    }
}

/// Whether facet values are as needed.
pub(super) fn meets(values: &[usize], needs: &SetUpNeeds) -> bool {
    needs
        .iter()
        .all(|(facet, allowed)| allowed.contains(&values[facet.index()]))
}
