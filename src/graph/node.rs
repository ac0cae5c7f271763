//! What the nodes and arrows of a causal graph are.
//!
//! In: nothing. Out: plain types; a node's position in the graph is its [`VarId`] in the network.

use std::fmt;
use std::sync::Arc;

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
    pub states: Arc<[String]>,
}

/// An arrow of the causal graph.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Arrow {
    /// How strongly it acts.
    pub strength: Strength,
    /// Why it is believed; `None` for arrows that follow from the language itself.
    pub reason: Option<Reason>,
}

/// How strongly an arrow acts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Strength {
    /// It only collects.
    #[default]
    Collects,
    /// The chance that it makes its effect anything but normal.
    Acts(f64),
    /// The chance that what was before stays.
    Stays(f64),
}

impl fmt::Display for Strength {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Collects => Ok(()),
            Self::Acts(chance) => write!(f, "{}", percent(*chance)),
            Self::Stays(chance) => write!(f, "stays {}", percent(*chance)),
        }
    }
}

/// A percentage for an arrow's label.
fn percent(p: f64) -> String {
    let text = format!("{:.2}", p * 100.0);
    format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
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
