//! The graph as a JSON value.
//!
//! In: graph, rules, layout. Out: nodes with everything that makes their probabilities, and
//! tasks with the signs that they read. Keys and lists stand in a fixed order.

use serde_json::{Map, Value, json};

use super::layer_of;
use crate::graph::{Arrow, CausalGraph, Strength, Task};
use crate::ids::VarId;
use crate::infer::Family;
use crate::rules::base::{RuleBase, Source};
use crate::rules::layout::Layout;

/// The version of the shape of the value.
const VERSION: u32 = 1;

/// The graph as a JSON value: `nodes`, parents before children, and `tasks`.
///
/// A noisy-MAX node has a `background` and, for each parent, `pushes` (one row for each state of
/// the parent); any other has a `table` (one row for each combination of the parents' states, the
/// first parent slowest).
pub fn to_json(graph: &CausalGraph, rules: &RuleBase, layout: &Layout) -> Value {
    let nodes: Vec<Value> = graph.network.ids().map(|var| node(graph, var)).collect();
    let tasks: Vec<Value> = graph
        .tasks
        .iter()
        .map(|of| task(graph, rules, layout, of))
        .collect();
    json!({
        "seepwise_graph": VERSION,
        "layout": { "id": layout.named.id, "name": layout.named.name },
        "nodes": nodes,
        "tasks": tasks,
    })
}

fn node(graph: &CausalGraph, var: VarId) -> Value {
    let (of, family) = (graph.node(var), &graph.network.node(var).family);
    let arrows = graph.arrows_into(var);
    let parent = |parent: VarId| {
        let arrow = arrows
            .iter()
            .find(|(from, _)| *from == parent)
            .map(|(_, arrow)| *arrow);
        parent_with(&graph.node(parent).name, arrow)
    };
    let mut made = Map::new();
    made.insert("name".to_owned(), json!(of.name));
    made.insert("label".to_owned(), json!(of.label));
    made.insert("layer".to_owned(), json!(layer_of(&of.kind)));
    made.insert("states".to_owned(), json!(&of.states[..]));
    match family {
        Family::NoisyMax { background, links } => {
            let pushing = links.iter().map(|link| {
                let mut from = parent(link.parent);
                from.insert("pushes".to_owned(), json!(link.push));
                from
            });
            made.insert("parents".to_owned(), pushing.map(Value::Object).collect());
            made.insert("background".to_owned(), json!(background));
        }
        Family::Table { parents, rows } => {
            let from = parents.iter().map(|&from| Value::Object(parent(from)));
            made.insert("parents".to_owned(), from.collect());
            let rows: Vec<&[f64]> = rows.chunks(of.states.len().max(1)).collect();
            made.insert("table".to_owned(), json!(rows));
        }
    }
    Value::Object(made)
}

/// A parent and why it acts.
fn parent_with(name: &str, arrow: Option<&Arrow>) -> Map<String, Value> {
    let mut made = Map::new();
    made.insert("node".to_owned(), json!(name));
    let Some(arrow) = arrow else { return made };
    if arrow.strength != Strength::Collects {
        made.insert("strength".to_owned(), json!(arrow.strength.to_string()));
    }
    if let Some(reason) = &arrow.reason {
        made.insert("because".to_owned(), json!(&*reason.because));
        let source = match &reason.source {
            Source::Published(work) => format!("published: {work}"),
            Source::Practice => "common practice".to_owned(),
            Source::Memory => "from memory".to_owned(),
            Source::Judgement => "author's judgement".to_owned(),
        };
        made.insert("source".to_owned(), json!(source));
    }
    made
}

fn task(graph: &CausalGraph, rules: &RuleBase, layout: &Layout, of: &Task) -> Value {
    let check = &rules.checks[of.check];
    let cover = |cover| &layout.covers[cover].named.id;
    let needs = of.needs.iter().map(|(facet, values)| {
        let facet = &rules.facets[*facet];
        let values: Vec<&str> = values
            .iter()
            .map(|&value| facet.values[value].named.id.as_str())
            .collect();
        (facet.named.id.clone(), json!(values))
    });
    let signs: Vec<&str> = of
        .signs
        .iter()
        .map(|&sign| graph.node(sign).name.as_str())
        .collect();
    json!({
        "check": check.named.id,
        "intake": check.intake,
        "place": of.part.map(|part| &layout.parts[part].named.id),
        "zone": of.zone.map(|zone| &layout.zones[zone].named.id),
        "cover_off": of.cover_off.map(cover),
        "cover_on": of.cover_on.map(cover),
        "needs": needs.collect::<Map<String, Value>>(),
        "minutes": of.minutes,
        "waiting": of.waiting,
        "signs": signs,
    })
}
