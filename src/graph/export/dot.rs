//! The graph as DOT text, for drawing.
//!
//! In: a graph. Out: one box per node, grouped by layer, and one arrow per link, labelled with
//! how strongly it acts.

use std::fmt::Write as _;

use super::{LAYERS, layer_of};
use crate::graph::{CausalGraph, Strength};
use crate::ids::Id;
use crate::rules::base::RuleBase;
use crate::rules::layout::Layout;

/// The graph as DOT text. Arrows carry the reasoning of their rule as a tooltip.
pub fn to_dot(graph: &CausalGraph, rules: &RuleBase, layout: &Layout) -> String {
    let mut text = format!("digraph {} {{\n", quoted(&layout.named.id));
    let title = quoted(&layout.named.name);
    let _ = writeln!(
        text,
        "  graph [label={title}, tooltip={}, rankdir=LR];",
        quoted(&rules.about)
    );
    text.push_str("  node [shape=box];\n");
    for layer in LAYERS {
        let members = || {
            let nodes = graph.network.ids().map(|var| (var, graph.node(var)));
            nodes.filter(|(_, node)| layer_of(&node.kind) == layer)
        };
        if members().next().is_none() {
            continue;
        }
        let _ = writeln!(
            text,
            "  subgraph cluster_{layer} {{\n    label={};",
            quoted(layer)
        );
        for (var, node) in members() {
            let states = node.states.join(" | ");
            let tooltip = quoted(&format!("{}: {states}", node.name));
            let label = quoted(&node.label);
            let _ = writeln!(
                text,
                "    n{} [label={label}, tooltip={tooltip}];",
                var.index()
            );
        }
        text.push_str("  }\n");
    }
    for var in graph.network.ids() {
        for (parent, arrow) in graph.arrows_into(var) {
            let mut attributes = Vec::new();
            if arrow.strength != Strength::Collects {
                attributes.push(format!("label={}", quoted(&arrow.strength.to_string())));
            }
            if let Some(reason) = &arrow.reason {
                attributes.push(format!("edgetooltip={}", quoted(&reason.because)));
            }
            let _ = write!(text, "  n{} -> n{}", parent.index(), var.index());
            if !attributes.is_empty() {
                let _ = write!(text, " [{}]", attributes.join(", "));
            }
            text.push_str(";\n");
        }
    }
    text.push_str("}\n");
    text
}

/// A quoted string: quotes and backslashes escaped, line breaks as `\n`, no other control
/// characters.
fn quoted(words: &str) -> String {
    let mut made = String::with_capacity(words.len() + 2);
    made.push('"');
    for c in words.trim_end().chars() {
        match c {
            '"' | '\\' => made.extend(['\\', c]),
            '\n' => made.push_str("\\n"),
            c if c.is_control() => made.push(' '),
            c => made.push(c),
        }
    }
    made.push('"');
    made
}

#[cfg(test)]
mod tests {
    use super::quoted;

    #[test]
    fn quotes_backslashes_and_line_breaks_are_escaped() {
        assert_eq!(
            quoted("a 2\" hose\\clamp\nwet\t"),
            r#""a 2\" hose\\clamp\nwet""#
        );
        assert_eq!(quoted("a\tb"), "\"a b\"");
    }
}
