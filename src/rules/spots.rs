//! Where things stand in the files, for whoever has something to say about them later.
//!
//! In: built by `check`. Out: spans, by the position of the thing in its list.

use crate::ids::{CautionId, CheckId, ConditionId, FaultId, Id, PartId, WayId};
use crate::source::Span;

/// Where the things of a rule base and its layouts are named.
#[derive(Debug, Clone, Default)]
pub struct Spots {
    pub(super) conditions: Vec<Span>,
    pub(super) faults: Vec<Span>,
    pub(super) cautions: Vec<Span>,
    pub(super) ways: Vec<Span>,
    pub(super) way_steps: Vec<Vec<Span>>,
    pub(super) checks: Vec<Span>,
    pub(super) check_steps: Vec<Vec<Span>>,
    pub(super) share_rows: Vec<Vec<Span>>,
    pub(super) layouts: Vec<LayoutSpots>,
}

/// Where the things of one layout stand.
#[derive(Debug, Clone)]
pub struct LayoutSpots {
    /// Its `id:`.
    pub at: Span,
    pub(super) parts: Vec<Span>,
    pub(super) scales: Vec<Span>,
}

impl LayoutSpots {
    /// Where a part is named.
    pub fn part(&self, id: PartId) -> Span {
        self.parts[id.index()]
    }

    /// An item of `scale:`.
    pub fn scale(&self, position: usize) -> Span {
        self.scales.get(position).copied().unwrap_or(self.at)
    }
}

impl Spots {
    /// Where a condition is named.
    pub fn condition(&self, id: ConditionId) -> Span {
        self.conditions[id.index()]
    }

    /// Where a fault is named; its kind, for "another fault here".
    pub fn fault(&self, id: FaultId) -> Span {
        self.faults[id.index()]
    }

    /// Where a caution is named.
    pub fn caution(&self, id: CautionId) -> Span {
        self.cautions[id.index()]
    }

    /// Where a way is named.
    pub fn way(&self, id: WayId) -> Span {
        self.ways[id.index()]
    }

    /// A step of a way.
    pub fn way_step(&self, id: WayId, step: usize) -> Span {
        let steps = &self.way_steps[id.index()];
        steps.get(step).copied().unwrap_or_else(|| self.way(id))
    }

    /// Where a check is named.
    pub fn check(&self, id: CheckId) -> Span {
        self.checks[id.index()]
    }

    /// A step of a check's how-to.
    pub fn check_step(&self, id: CheckId, step: usize) -> Span {
        let steps = &self.check_steps[id.index()];
        steps.get(step).copied().unwrap_or_else(|| self.check(id))
    }

    /// A row of the stated shares, by the position of the table and of the row.
    pub fn share_row(&self, table: usize, row: usize) -> Span {
        self.share_rows[table][row]
    }

    /// The layout at a position.
    pub fn layout(&self, position: usize) -> &LayoutSpots {
        &self.layouts[position]
    }
}
