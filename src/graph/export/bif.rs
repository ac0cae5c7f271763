//! The network as text in the open Bayesian Interchange Format (`.bif`).
//!
//! In: a network and a [`Naming`]. Out: the text. A noisy-MAX with a small table is written as
//! that table; a wider one as a chain of helper nodes `M1`, `M2`, … of which the last is the
//! node itself: `M1` is the worst of the background and the first parent's push, `Mi` the worst of
//! the one before and the push of parent i, so `P(Mi≤y | m, x) = [m≤y]·Ci(≤y | x)`. No helper changes
//! the joint distribution of the nodes. Numbers are written with as many digits as it takes to
//! read back the same double, at most 17.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use crate::graph::CausalGraph;
use crate::ids::{IdVec, VarId};
use crate::infer::{Family, Link, Network};
use crate::rules::base::RuleBase;
use crate::rules::layout::Layout;

/// A noisy-MAX with at most this many entries is written as one table.
const LARGEST_TABLE: usize = 256;

/// Words of the format, which can't name anything.
const RESERVED: [&str; 8] = [
    "default",
    "discrete",
    "network",
    "probability",
    "property",
    "table",
    "type",
    "variable",
];

/// What nodes and states are called in the file: letters, digits and `_` only, no digit first,
/// each node's name once, each state's name once per node.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Naming {
    nodes: IdVec<VarId, String>,
    states: IdVec<VarId, Vec<String>>,
}

impl Naming {
    /// Names for a bare network; its states are called `s0`, `s1`, …
    pub fn of_network(net: &Network) -> Self {
        Self::new(net, |var| {
            let states = 0..net.node(var).states;
            states.map(|state| format!("s{state}")).collect()
        })
    }

    /// Names for a causal graph, made from the names of its nodes and states.
    pub fn of_graph(graph: &CausalGraph) -> Self {
        Self::new(&graph.network, |var| graph.node(var).states.to_vec())
    }

    fn new(net: &Network, states_of: impl Fn(VarId) -> Vec<String>) -> Self {
        let mut used = BTreeSet::new();
        let name = |var| unused(&mut used, &net.node(var).name);
        let nodes = net.ids().map(name).collect();
        let name_states = |var| {
            let mut used = BTreeSet::new();
            let states = states_of(var);
            let name = |state: &String| unused(&mut used, state);
            states.iter().map(name).collect()
        };
        let states = net.ids().map(name_states).collect();
        Self { nodes, states }
    }

    /// The name of a node.
    ///
    /// # Panics
    /// If the id is another network's and past the end of this one.
    pub fn node(&self, var: VarId) -> &str {
        &self.nodes[var]
    }

    /// The names of a node's states.
    ///
    /// # Panics
    /// If the id is another network's and past the end of this one.
    pub fn states(&self, var: VarId) -> &[String] {
        &self.states[var]
    }
}

/// The graph's network in the Bayesian Interchange Format. Nodes are named by
/// [`Naming::of_graph`].
pub fn to_bif(graph: &CausalGraph, rules: &RuleBase, layout: &Layout) -> String {
    let mut text = String::new();
    for line in [&layout.named.name, &rules.about] {
        // A line of words, whatever the author wrote.
        let words: Vec<&str> = line.split_whitespace().collect();
        if !words.is_empty() {
            let _ = writeln!(text, "// {}", words.join(" "));
        }
    }
    text.push_str(&network_to_bif(
        &layout.named.id,
        &graph.network,
        &Naming::of_graph(graph),
    ));
    text
}

/// A network in the Bayesian Interchange Format. Time and length: the sum over the nodes of
/// parents × states of parent × states squared.
pub fn network_to_bif(title: &str, net: &Network, naming: &Naming) -> String {
    let mut writer = Writer {
        used: naming.nodes.iter().cloned().collect(),
        variables: String::new(),
        tables: String::new(),
    };
    for var in net.ids() {
        writer.node(net, naming, var);
    }
    let title = identifier(title);
    let (variables, tables) = (writer.variables, writer.tables);
    format!("network {title} {{\n}}\n{variables}{tables}")
}

/// A variable as the file knows it.
#[derive(Clone, Copy)]
struct Named<'a> {
    name: &'a str,
    states: &'a [String],
}

struct Writer {
    used: BTreeSet<String>,
    variables: String,
    tables: String,
}

impl Writer {
    fn node(&mut self, net: &Network, naming: &Naming, var: VarId) {
        let named = |var: VarId| Named {
            name: naming.node(var),
            states: naming.states(var),
        };
        let child = named(var);
        let parents: Vec<Named<'_>> = net.parents(var).map(named).collect();
        match &net.node(var).family {
            Family::Table { rows, .. } => {
                let rows: Vec<&[f64]> = rows.chunks_exact(child.states.len()).collect();
                self.variable(child);
                self.table(child, &parents, &rows);
            }
            Family::NoisyMax { background, links } => {
                let entries = |entries: usize, parent: &Named<'_>| {
                    entries.saturating_mul(parent.states.len())
                };
                let whole = parents.iter().fold(child.states.len(), entries);
                if whole <= LARGEST_TABLE || links.len() < 2 {
                    let all: Vec<&Link> = links.iter().collect();
                    self.variable(child);
                    self.table(child, &parents, &rows(background, &all));
                } else {
                    self.chain(child, &parents, background, links);
                }
            }
        }
    }

    /// A noisy-MAX as a chain, one parent after the other.
    fn chain(
        &mut self,
        child: Named<'_>,
        parents: &[Named<'_>],
        background: &[f64],
        links: &[Link],
    ) {
        let mut before: Option<String> = None;
        for (position, (link, &parent)) in links.iter().zip(parents).enumerate() {
            let name = if position + 1 == links.len() {
                child.name.to_owned()
            } else {
                unused(&mut self.used, &format!("{}__{}", child.name, position + 1))
            };
            let worst = Named {
                name: &name,
                ..child
            };
            self.variable(worst);
            if let Some(before) = &before {
                let from = Named {
                    name: before,
                    ..child
                };
                let pairs = (0..background.len()).flat_map(|state| {
                    let certain: Vec<f64> = (0..background.len())
                        .map(|other| f64::from(u8::from(other == state)))
                        .collect();
                    rows(&certain, &[link])
                });
                self.table(worst, &[from, parent], &pairs.collect::<Vec<_>>());
            } else {
                self.table(worst, &[parent], &rows(background, &[link]));
            }
            before = Some(name);
        }
    }

    fn variable(&mut self, named: Named<'_>) {
        let (name, count, states) = (named.name, named.states.len(), named.states.join(", "));
        let _ = writeln!(
            self.variables,
            "variable {name} {{\n  type discrete [ {count} ] {{ {states} }};\n}}"
        );
    }

    /// The rows in order, the first parent slowest.
    fn table(&mut self, child: Named<'_>, parents: &[Named<'_>], rows: &[impl AsRef<[f64]>]) {
        if parents.is_empty() {
            let _ = writeln!(self.tables, "probability ( {} ) {{", child.name);
        } else {
            let names: Vec<&str> = parents.iter().map(|parent| parent.name).collect();
            let (child, parents) = (child.name, names.join(", "));
            let _ = writeln!(self.tables, "probability ( {child} | {parents} ) {{");
        }
        for (index, row) in rows.iter().enumerate() {
            let mut rest = index;
            let mut given: Vec<&str> = Vec::with_capacity(parents.len());
            for parent in parents.iter().rev() {
                given.push(&parent.states[rest % parent.states.len()]);
                rest /= parent.states.len();
            }
            given.reverse();
            let row = row.as_ref();
            let sum: f64 = row.iter().sum();
            let numbers: Vec<String> = row.iter().map(|p| format!("{:?}", p / sum)).collect();
            let start = if parents.is_empty() {
                "table".to_owned()
            } else {
                format!("({})", given.join(", "))
            };
            let _ = writeln!(self.tables, "  {start} {};", numbers.join(", "));
        }
        self.tables.push_str("}\n");
    }
}

/// All rows of the worst of a background and some pushes, the first parent slowest.
fn rows(background: &[f64], links: &[&Link]) -> Vec<Vec<f64>> {
    let start = vec![background.to_vec()];
    links.iter().fold(start, |before, link| {
        let each = |row: &Vec<f64>| -> Vec<Vec<f64>> {
            link.push.iter().map(|push| worst(row, push)).collect()
        };
        before.iter().flat_map(each).collect()
    })
}

/// The distribution of the worst of two independent draws.
fn worst(one: &[f64], other: &[f64]) -> Vec<f64> {
    let mut both = vec![0.0; one.len()];
    for (a, p) in one.iter().enumerate() {
        for (b, q) in other.iter().enumerate() {
            both[a.max(b)] += p * q;
        }
    }
    both
}

/// A name with letters, digits and `_` only that is no word of the format.
fn identifier(name: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '_' };
    let mut made: String = name.chars().map(plain).collect();
    if made.is_empty() || made.starts_with(|c: char| c.is_ascii_digit()) {
        made.insert(0, '_');
    }
    if RESERVED.contains(&made.to_ascii_lowercase().as_str()) {
        made.push('_');
    }
    made
}

/// An identifier that isn't used yet; marks it as used.
fn unused(used: &mut BTreeSet<String>, name: &str) -> String {
    let first = identifier(name);
    let mut made = first.clone();
    let mut number = 2_usize;
    while !used.insert(made.clone()) {
        made = format!("{first}_{number}");
        number += 1;
    }
    made
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::{identifier, unused};

    #[test]
    fn identifiers_are_plain_and_unique() {
        assert_eq!(identifier("leak.hose-1@rear"), "leak_hose_1_rear");
        assert_eq!(identifier("15_psi"), "_15_psi");
        assert_eq!(identifier("Table"), "Table_");
        assert_eq!(identifier("größe"), "gr__e");
        assert_eq!(identifier(""), "_");
        let mut used = BTreeSet::new();
        let made = ["a.b", "a_b", "a b"].map(|name| unused(&mut used, name));
        assert_eq!(made, ["a_b", "a_b_2", "a_b_3"]);
    }
}
