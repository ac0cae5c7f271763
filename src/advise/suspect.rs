//! What somebody suspects: one fault at one place, or any fault at a place.
//!
//! In: named by the user. Out: the event that it stands for, and its chance in what is believed.

use crate::graph::{CausalGraph, Cause};
use crate::ids::{PartId, VarId};
use crate::infer::{Finding, Target};

/// From this chance on a place is suspected.
pub const SUSPECTED: f64 = 0.25;

/// What is suspected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Suspect {
    /// A fault at a place, by its position in the graph's causes.
    Cause(usize),
    /// Any fault at a place.
    Place(PartId),
}

impl Suspect {
    /// The event: it causes a loss. `None` for a place that can't leak.
    pub fn target(self, graph: &CausalGraph) -> Option<Target> {
        match self {
            Self::Cause(cause) => Some(leaking(&graph.causes[cause])),
            Self::Place(part) => {
                let var = graph.leak_of[part]?;
                let states = graph.network.node(var).states;
                Some(Target {
                    var,
                    states: (0..states).map(|state| state > 0).collect(),
                })
            }
        }
    }

    /// Its place.
    pub fn part(self, graph: &CausalGraph) -> PartId {
        match self {
            Self::Cause(cause) => graph.causes[cause].place.part,
            Self::Place(part) => part,
        }
    }

    /// Whether a cause, by its position in the graph's causes, is it or a part of it.
    pub fn includes(self, graph: &CausalGraph, cause: usize) -> bool {
        match self {
            Self::Cause(this) => this == cause,
            Self::Place(part) => graph.causes[cause].place.part == part,
        }
    }

    /// The node of that event.
    pub fn node(self, graph: &CausalGraph) -> Option<VarId> {
        self.target(graph).map(|target| target.var)
    }
}

/// The event that a cause makes a loss.
pub(super) fn leaking(cause: &Cause) -> Target {
    Target {
        var: cause.push,
        states: cause.leaking.clone(),
    }
}

/// A target as a finding: it is so, or it is not.
pub(super) fn event(target: &Target, so: bool) -> Finding {
    let allowed = target
        .states
        .iter()
        .map(|&of| f64::from(u8::from(of == so)));
    Finding::soft(target.var, allowed.collect())
}
