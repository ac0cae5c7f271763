//! Where the reading of a log stands: the case so far, and what counts only while it is read.
//!
//! In: nothing (built by `resolve`). Out: plain data that the `resolve_…` files change, an entry at a time.

use std::collections::BTreeSet;

use crate::advise::Case;
use crate::ids::TaskId;

/// A log being read.
#[derive(Debug, Clone)]
pub(super) struct Walk<'a> {
    pub(super) case: Case<'a>,
    /// Of the entry being read, from 1.
    pub(super) number: usize,
    /// Whether it says that its check was done again.
    pub(super) again: bool,
    /// Tasks whose newest signs it has told of.
    pub(super) told_now: BTreeSet<TaskId>,
    /// Tasks that can't be done here, whatever is repaired.
    pub(super) cant_do: BTreeSet<TaskId>,
    /// Looks over a zone, with the numbers of their entries.
    pub(super) swept: BTreeSet<(TaskId, usize)>,
    /// Whether and when the system was refilled.
    pub(super) refill: Option<Settling>,
}

/// What of an earlier answer to the same task a new one replaces.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum InPlaceOf {
    /// All of it.
    All,
    /// What it said of the signs that the new one names.
    NamedSigns,
    /// An earlier dry spell. An answer stands beside the days that followed it.
    DrySpell,
}

/// The time after a refill in which air comes out.
#[derive(Debug, Clone, Copy)]
pub(super) struct Settling {
    /// The number of the entry that refilled.
    pub entry: usize,
    /// Cold top-ups since.
    pub top_ups: usize,
    /// What they took, L.
    pub litres: f64,
}
