//! The causal graph as files for other programs.
//!
//! In: a [`CausalGraph`](crate::graph::CausalGraph) with the rules and the layout it came from.
//! Out: JSON ([`to_json`]), DOT for drawing ([`to_dot`]), and a Bayesian-network interchange file
//! ([`to_bif`]) with every noisy-MAX spelled out as small tables, so that other software can check
//! the answers. The order is that of the graph: the same input gives the same bytes.
//!
//! ```
//! use seepwise::graph::export::{Naming, network_to_bif};
//! use seepwise::infer::Network;
//! let mut net = Network::new();
//! net.add_noisy_max("hose aged", vec![0.75, 0.25], vec![])?;
//! let text = network_to_bif("one node", &net, &Naming::of_network(&net));
//! assert!(text.contains("probability ( hose_aged ) {\n  table 0.75, 0.25;\n}"));
//! # Ok::<(), seepwise::infer::NetworkError>(())
//! ```

mod bif;
mod dot;
mod json;

use crate::graph::NodeKind;

pub use bif::{Naming, network_to_bif, to_bif};
pub use dot::to_dot;
pub use json::to_json;

/// The layers of a graph, from causes to signs.
const LAYERS: [&str; 9] = [
    "condition",
    "fault",
    "push",
    "leak",
    "gate",
    "gather",
    "visible",
    "wetness",
    "sign",
];

/// The layer that a kind of node belongs to.
fn layer_of(kind: &NodeKind) -> &'static str {
    match kind {
        NodeKind::Condition(_) => "condition",
        NodeKind::Fault(_) => "fault",
        NodeKind::Push(_) => "push",
        NodeKind::Leak(..) => "leak",
        NodeKind::PressureGone | NodeKind::HeldBack(_) | NodeKind::Unless => "gate",
        NodeKind::Gather => "gather",
        NodeKind::Seen(_) => "wetness",
        NodeKind::Sign { .. } => "sign",
    }
}
