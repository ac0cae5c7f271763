//! Tasks: a check at one place, in one zone or of the whole vehicle, as a technician does it.
//!
//! In: built by `expand`. Out: what to do, what set-up it takes, and how each joint answer reads
//! as states of sign nodes.

use crate::ids::{CheckId, CoverId, PartId, VarId, ZoneId};
use crate::rules::base::SetUpNeeds;

/// A check at its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    /// The check.
    pub check: CheckId,
    /// The part it is done at.
    pub part: Option<PartId>,
    /// The zone it looks over.
    pub zone: Option<ZoneId>,
    /// The cover that must be off for it.
    pub cover_off: Option<CoverId>,
    /// The cover that is on while it is done: a look that reaches little.
    pub cover_on: Option<CoverId>,
    /// The set-up it takes.
    pub needs: SetUpNeeds,
    /// Hands-on minutes.
    pub minutes: f64,
    /// Minutes of waiting.
    pub waiting: f64,
    /// Whether it has been done in the present state, and doing it again would tell something new: its
    /// signs are those of the repeat.
    pub again: bool,
    /// Its sign nodes, in the order of the check. Empty for a sweep, whose signs are those of
    /// the tasks it stands for.
    pub signs: Vec<VarId>,
    /// What a pressure gauge, or a dry spell, measures when this is done with one, if that says
    /// anything.
    pub gauge: Option<Gauged>,
}

/// What a pressure gauge measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gauged {
    /// The worst of the leaks that the gauge sees. No sign reads it: it says nothing until a gauge
    /// log is entered.
    pub node: VarId,
    /// Whether a part that is listed apart (the tester) is among them.
    pub with_apart: bool,
    /// Whether only such parts are: the tester on a blank.
    pub only_apart: bool,
}

/// A joint answer to a task: the sign nodes that it sets and their states.
pub type Setting = Vec<(VarId, usize)>;
