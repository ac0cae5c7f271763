//! A built-in layout with its graph, for tests that read logs.

use std::sync::LazyLock;

use seepwise::graph::CausalGraph;
use seepwise::rules::{self, Layout, RuleBase};

/// The levels of the built-in rules, mL/min.
pub const LEVELS: [Option<(f64, f64)>; 4] = [
    None,
    Some((0.002, 0.03)),
    Some((0.03, 2.0)),
    Some((2.0, 2000.0)),
];

pub struct Vehicle {
    pub rules: RuleBase,
    pub layout: Layout,
    pub graph: CausalGraph,
}

pub static MINIBUS: LazyLock<Vehicle> = LazyLock::new(|| Vehicle::of("crew_minibus"));
pub static TENDER: LazyLock<Vehicle> = LazyLock::new(|| Vehicle::of("water_tender"));

impl Vehicle {
    fn of(layout: &str) -> Self {
        let loaded = rules::load_embedded();
        let rules = loaded.rules.expect("the built-in rules have no errors");
        let mut layouts = loaded.layouts.into_iter();
        let layout = layouts
            .find(|known| known.named.id == layout)
            .expect("a built-in layout");
        let graph = CausalGraph::expand(&rules, &layout).expect("expanded");
        Self {
            rules,
            layout,
            graph,
        }
    }
}
