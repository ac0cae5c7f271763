//! What the nodes and arrows of a causal graph are.
//!
//! In: nothing. Out: plain types; a node's position in the graph is its [`VarId`] in the network.

use crate::ids::{ConditionId, FaultId, LeakKindId, LevelId, PartId, TaskId, VarId};
use crate::rules::base::Reason;

/// What a node stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NodeKind {
    /// A condition of the whole vehicle: absent, present.
    Condition(ConditionId),
    /// A fault of one part: absent, present.
    Fault(Place),
    /// A fault with the push that it was drawn once: absent, present without leaking, then the
    /// kinds and levels of leak it may cause.
    Push(Place),
    /// Whether a place leaks in any way: no, yes.
    Leak(PartId),
    /// Whether a leak somewhere lets the pressure go: no, yes.
    PressureGone,
    /// What a fault pushes, some of which hides while the pressure is gone: its level.
    HeldBack(PartId),
    /// The worst of several leaks.
    Gather,
    /// What a look at a place can see of one leak, there or above it.
    Seen(PartId),
    /// Another node while a condition is absent.
    Unless,
    /// A sign of a check: its answers.
    Sign {
        /// The check at its place.
        task: TaskId,
        /// The position of the sign in the check.
        sign: usize,
    },
}

/// A fault at one part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// The fault.
    pub fault: FaultId,
    /// The part.
    pub part: PartId,
}

/// A node of the causal graph.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// What it stands for.
    pub kind: NodeKind,
    /// A unique name for files, such as `leak.lower_hose_rear.always`.
    pub name: String,
    /// What people call it.
    pub label: String,
    /// The names of its states, the normal one first.
    pub states: Vec<String>,
}

/// An arrow of the causal graph.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Arrow {
    /// How strongly it acts, in words or figures; empty for arrows that only collect.
    pub strength: String,
    /// Why it is believed; `None` for arrows that follow from the language itself.
    pub reason: Option<Reason>,
}

/// A fault that can cause a leak, or another loss, at one part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cause {
    /// The fault and its part.
    pub place: Place,
    /// Its node (absent, present).
    pub fault: VarId,
    /// Its push node.
    pub push: VarId,
    /// For each state of the push: whether it is a leak.
    pub leaking: Vec<bool>,
    /// For each state of the push: kind and level of the leak.
    pub leaks: Vec<Option<(LeakKindId, LevelId)>>,
}
