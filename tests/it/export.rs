//! Exports of the causal graph.
//!
//! Kind: own inputs, recomputed by the enumeration oracle; and evidence sets for the check by a
//! general Bayesian-network library (`tests/reference/check_bif.py`), which reads what
//! `writes_sets_for_the_library_check` writes to the folder `SEEPWISE_EXPORT_DIR`.

use std::collections::BTreeMap;
use std::path::PathBuf;

use seepwise::graph::export::{Naming, network_to_bif, to_bif, to_dot, to_json};
use seepwise::graph::{CausalGraph, NodeKind, Odds, Renewal, Renewed};
use seepwise::ids::{Id, VarId};
use seepwise::infer::{Engine, Family, Finding, Link, Network, Options, oracle};
use seepwise::rules::base::{Reason, Scope};
use seepwise::rules::{self, Layout, RuleBase};
use serde_json::{Map, Value, json};

/// Evidence sets on the smallest layout; some are too much for the library.
const SETS: usize = 36;
/// The same after two repairs; findings of all states.
const REPAIRED_SETS: usize = 8;

/// A network read back from its text: variables in the order of their tables.
#[derive(Default)]
struct Parsed {
    states: BTreeMap<String, Vec<String>>,
    /// Child, parents, and the row for each combination of the parents' states.
    tables: Vec<(String, Vec<String>, Rows)>,
}

type Rows = BTreeMap<Vec<String>, Vec<f64>>;

/// Reads just what the exports write.
fn parse(text: &str) -> Parsed {
    let mut parsed = Parsed::default();
    let mut variable = String::new();
    let list = |words: &str| -> Vec<String> {
        words
            .split(',')
            .map(|word| word.trim().to_owned())
            .filter(|word| !word.is_empty())
            .collect()
    };
    for line in text.lines().map(str::trim) {
        if line.starts_with("//") || line.starts_with("network") || line == "}" {
        } else if let Some(rest) = line.strip_prefix("variable ") {
            rest.trim_end_matches(" {").clone_into(&mut variable);
        } else if let Some(rest) = line.strip_prefix("type discrete [ ") {
            let (count, names) = rest.split_once(" ] { ").unwrap();
            let names = list(names.trim_end_matches(" };"));
            assert_eq!(names.len(), count.parse::<usize>().unwrap());
            assert!(
                parsed.states.insert(variable.clone(), names).is_none(),
                "{variable} twice"
            );
        } else if let Some(rest) = line.strip_prefix("probability ( ") {
            let (child, parents) = rest
                .trim_end_matches(" ) {")
                .split_once(" | ")
                .unwrap_or((rest.trim_end_matches(" ) {"), ""));
            parsed
                .tables
                .push((child.to_owned(), list(parents), Rows::new()));
        } else {
            let (given, numbers) = match line.strip_prefix("table ") {
                Some(numbers) => (Vec::new(), numbers),
                None => line
                    .strip_prefix('(')
                    .and_then(|rest| rest.split_once(") "))
                    .map(|(given, n)| (list(given), n))
                    .unwrap(),
            };
            let row: Vec<f64> = list(numbers.trim_end_matches(';'))
                .iter()
                .map(|p| p.parse().unwrap())
                .collect();
            let rows = &mut parsed.tables.last_mut().unwrap().2;
            assert!(rows.insert(given, row).is_none(), "a row stands twice");
        }
    }
    parsed
}

impl Parsed {
    /// Names fit the format, every combination has a row, rows add up to 1, parents exist.
    fn check(&self) {
        assert_eq!(self.states.len(), self.tables.len());
        let plain = |name: &str| {
            !name.starts_with(|c: char| c.is_ascii_digit())
                && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
        };
        for (child, parents, rows) in &self.tables {
            assert!(
                plain(child) && self.states[child].iter().all(|state| plain(state)),
                "{child}"
            );
            let combinations: usize = parents
                .iter()
                .map(|parent| self.states[parent].len())
                .product();
            assert_eq!(rows.len(), combinations, "{child}");
            for (given, row) in rows {
                assert_eq!(row.len(), self.states[child].len(), "{child} {given:?}");
                assert!(
                    (row.iter().sum::<f64>() - 1.0).abs() < 1e-14,
                    "{child} {given:?}"
                );
                let known = given
                    .iter()
                    .zip(parents)
                    .all(|(state, parent)| self.states[parent].contains(state));
                assert!(known, "{child} {given:?}");
            }
        }
    }

    /// The same as a network of tables. Helper nodes have names of their own.
    fn network(&self) -> Network {
        let mut net = Network::new();
        let mut waiting: Vec<_> = self.tables.iter().collect();
        while !waiting.is_empty() {
            let before = waiting.len();
            waiting.retain(|(child, parents, rows)| {
                let found: Option<Vec<VarId>> =
                    parents.iter().map(|parent| net.find(parent)).collect();
                let Some(found) = found else { return true };
                let combinations =
                    parents
                        .iter()
                        .fold(vec![Vec::new()], |all: Vec<Vec<String>>, parent| {
                            let longer = |given: &Vec<String>| -> Vec<Vec<String>> {
                                let with = |state: &String| {
                                    [given.as_slice(), std::slice::from_ref(state)].concat()
                                };
                                self.states[parent].iter().map(with).collect()
                            };
                            all.iter().flat_map(longer).collect()
                        });
                let flat = combinations
                    .iter()
                    .flat_map(|given| rows[given].iter().copied())
                    .collect();
                net.add_table(child.as_str(), self.states[child].len(), found, flat)
                    .unwrap();
                false
            });
            assert!(
                waiting.len() < before,
                "parents are missing or go round in a circle"
            );
        }
        net
    }
}

fn link(parent: VarId, push: &[&[f64]]) -> Link {
    Link {
        parent,
        push: push.iter().map(|row| row.to_vec()).collect(),
    }
}

/// Five causes on one node of four states: 4·2·2·3·4·2 = 384 entries, more than one table takes.
fn small_network() -> Network {
    let mut net = Network::new();
    let aged = net.add_noisy_max("aged.1", vec![0.7, 0.3], vec![]).unwrap();
    let thin = net.add_noisy_max("aged 1", vec![0.9, 0.1], vec![]).unwrap();
    let pit = net
        .add_noisy_max(
            "variable",
            vec![0.9, 0.08, 0.02],
            vec![link(thin, &[&[1.0, 0.0, 0.0], &[0.3, 0.1, 0.6]])],
        )
        .unwrap();
    let rows = vec![0.7, 0.1, 0.1, 0.1, 0.25, 0.25, 0.25, 0.25];
    let hose = net.add_table("hose", 4, vec![aged], rows).unwrap();
    let clamp = net
        .add_noisy_max("clamp", vec![0.999_999_9, 1e-7], vec![])
        .unwrap();
    let leak = [
        link(aged, &[&[1.0, 0.0, 0.0, 0.0], &[0.8, 0.1, 0.05, 0.05]]),
        link(thin, &[&[1.0, 0.0, 0.0, 0.0], &[0.5, 0.2, 0.2, 0.1]]),
        link(
            pit,
            &[
                &[0.9, 0.1, 0.0, 0.0],
                &[0.2, 0.3, 0.4, 0.1],
                &[0.0, 0.0, 0.1, 0.9],
            ],
        ),
        link(
            hose,
            &[
                &[1.0, 0.0, 0.0, 0.0],
                &[0.0, 1.0, 0.0, 0.0],
                &[0.0, 0.0, 1.0, 0.0],
                &[0.0, 0.0, 0.0, 1.0],
            ],
        ),
        link(clamp, &[&[1.0, 0.0, 0.0, 0.0], &[0.1, 0.2, 0.3, 0.4]]),
    ];
    let leak = net
        .add_noisy_max("leak", vec![0.97, 0.01, 0.01, 0.01], leak.to_vec())
        .unwrap();
    net.add_gate("leak__1", leak, thin, &[true, false]).unwrap();
    net
}

#[test]
fn the_text_gives_the_same_joint_distribution() {
    let net = small_network();
    let naming = Naming::of_network(&net);
    let text = network_to_bif("small 1", &net, &naming);
    assert!(text.starts_with("network small_1 {"), "{text}");
    let parsed = parse(&text);
    parsed.check();
    let back = parsed.network();
    assert_eq!(
        back.len(),
        net.len() + 4,
        "the wide node is a chain of five tables"
    );
    // P(evidence) of every joint state of the original nodes.
    let counts: Vec<usize> = net.ids().map(|var| net.node(var).states).collect();
    let all: usize = counts.iter().product();
    let mut sum = 0.0;
    for index in (0..all).step_by(7) {
        let mut rest = index;
        let world: Vec<usize> = counts
            .iter()
            .map(|&states| {
                let state = rest % states;
                rest /= states;
                state
            })
            .collect();
        let joint = |net: &Network, find: &dyn Fn(VarId) -> VarId| {
            let hard = |(index, &state): (usize, &usize)| {
                Finding::hard(find(VarId::from_index(index)), counts[index], state)
            };
            let findings: Vec<Finding> = world.iter().enumerate().map(hard).collect();
            oracle(net, &findings, &[], &[], &[]).map_or(0.0, |answer| answer.evidence)
        };
        let here = joint(&net, &|var| var);
        let there = joint(&back, &|var| back.find(naming.node(var)).unwrap());
        assert!(
            (here - there).abs() <= 1e-15 + 1e-12 * here,
            "{world:?}: {here:e} {there:e}"
        );
        sum += here;
    }
    assert!(sum > 0.05, "the joint states compared carry weight: {sum}");
}

#[test]
fn narrow_nodes_stay_one_table() {
    let mut net = Network::new();
    let causes: Vec<VarId> = (0..7)
        .map(|n| {
            net.add_noisy_max(format!("c{n}"), vec![0.5, 0.5], vec![])
                .unwrap()
        })
        .collect();
    let links = |count: usize| {
        causes[..count]
            .iter()
            .map(|&cause| link(cause, &[&[1.0, 0.0], &[0.5, 0.5]]))
            .collect()
    };
    net.add_noisy_max("seven", vec![1.0, 0.0], links(7))
        .unwrap();
    let text = network_to_bif("narrow", &net, &Naming::of_network(&net));
    assert_eq!(parse(&text).tables.len(), 8, "2^8 entries make one table");
    let more = net.add_noisy_max("c7", vec![0.5, 0.5], vec![]).unwrap();
    let eight: Vec<Link> = net
        .ids()
        .filter(|&var| var == more || causes.contains(&var))
        .map(|var| link(var, &[&[1.0, 0.0], &[0.5, 0.5]]))
        .collect();
    net.add_noisy_max("eight", vec![1.0, 0.0], eight).unwrap();
    let text = network_to_bif("narrow", &net, &Naming::of_network(&net));
    assert_eq!(parse(&text).tables.len(), 9 + 8, "2^9 entries make a chain");
}

fn xorshift(state: &mut u64) -> u64 {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    *state
}

fn below(state: &mut u64, n: usize) -> usize {
    usize::try_from((xorshift(state) >> 11) % n as u64).unwrap()
}

fn draw(state: &mut u64, row: &[f64]) -> usize {
    let mut left = (xorshift(state) >> 11) as f64 / (1_u64 << 53) as f64;
    for (index, p) in row.iter().enumerate() {
        left -= p;
        if left < 0.0 {
            return index;
        }
    }
    row.iter().rposition(|&p| p > 0.0).unwrap()
}

/// One vehicle drawn from the model: each node after its parents.
fn sample(net: &Network, state: &mut u64) -> Vec<usize> {
    let mut world: Vec<usize> = Vec::with_capacity(net.len());
    for var in net.ids() {
        let node = net.node(var);
        let drawn = match &node.family {
            Family::NoisyMax { background, links } => {
                let pushed = links
                    .iter()
                    .map(|link| draw(state, &link.push[world[link.parent.index()]]));
                pushed.max().unwrap_or(0).max(draw(state, background))
            }
            Family::Table { parents, rows } => {
                let row = parents.iter().fold(0, |row, parent| {
                    row * net.node(*parent).states + world[parent.index()]
                });
                draw(state, &rows[row * node.states..(row + 1) * node.states])
            }
        };
        world.push(drawn);
    }
    world
}

/// 4–7 findings as one drawn vehicle shows them: 1–3 abnormal, exactly one of the whole vehicle.
fn evidence(graph: &CausalGraph, rules: &RuleBase, state: &mut u64) -> Vec<(VarId, usize)> {
    let of_vehicle = |var: &VarId| match graph.node(*var).kind {
        NodeKind::Sign { task, .. } => {
            rules.checks[graph.tasks[task].check].scope == Scope::Vehicle
        }
        _ => false,
    };
    let is_sign = |var: &VarId| matches!(graph.node(*var).kind, NodeKind::Sign { .. });
    let (whole, local): (Vec<VarId>, Vec<VarId>) =
        graph.network.ids().filter(is_sign).partition(of_vehicle);
    loop {
        let world = sample(&graph.network, state);
        let shown = |var: VarId| (var, world[var.index()]);
        let mut findings = vec![shown(whole[below(state, whole.len())])];
        let wanted = 4 + below(state, 4);
        let wanted_abnormal = 1 + below(state, 3);
        for _ in 0..50 * local.len() {
            let next = shown(local[below(state, local.len())]);
            let abnormal = findings.iter().filter(|(_, at)| *at > 0).count();
            let normal = findings.len() - abnormal;
            let fits = if next.1 > 0 {
                abnormal < wanted_abnormal
            } else {
                normal < wanted - wanted_abnormal
            };
            if findings.len() < wanted && fits && !findings.contains(&next) {
                findings.push(next);
            }
        }
        let abnormal = findings.iter().filter(|(_, at)| *at > 0).count();
        if findings.len() == wanted && (1..=3).contains(&abnormal) {
            return findings;
        }
    }
}

/// The set as the library's script reads it, with the posteriors of every cause's push.
fn as_json(graph: &CausalGraph, file: &str, findings: &[(VarId, usize)]) -> Value {
    let naming = Naming::of_graph(graph);
    let net = &graph.network;
    let hard: Vec<Finding> = findings
        .iter()
        .map(|&(var, at)| Finding::hard(var, net.node(var).states, at))
        .collect();
    let pushes: Vec<VarId> = graph.causes.iter().map(|cause| cause.push).collect();
    let engine = Engine::new(net, &hard, &[], &pushes, &[], &Options::default()).unwrap();
    let posteriors = pushes.iter().map(|&push| {
        (
            naming.node(push).to_owned(),
            json!(engine.marginal(push).unwrap()),
        )
    });
    let found = findings
        .iter()
        .map(|&(var, at)| (naming.node(var).to_owned(), json!(naming.states(var)[at])));
    json!({
        "layout": file,
        "findings": found.collect::<Map<String, Value>>(),
        "posteriors": posteriors.collect::<Map<String, Value>>(),
    })
}

/// All layouts with their graphs, the one with the fewest nodes first.
fn graphs() -> (RuleBase, Vec<(Layout, CausalGraph)>) {
    let loaded = rules::load_embedded();
    let base = loaded.rules.expect("the built-in rules have no errors");
    let mut all: Vec<(Layout, CausalGraph)> = loaded
        .layouts
        .into_iter()
        .map(|layout| {
            let graph = CausalGraph::expand(&base, &layout).unwrap();
            (layout, graph)
        })
        .collect();
    all.sort_by_key(|(_, graph)| graph.network.len());
    (base, all)
}

/// The graph after two repairs of one place, which is not wiped clean in between.
fn repaired(graph: &CausalGraph, rules: &RuleBase) -> CausalGraph {
    let cause = graph.causes.len() / 2;
    let part = graph.causes[cause].place.part;
    let neighbours = 0..graph.causes.len();
    let disturbed = neighbours
        .filter(|&at| at != cause && graph.causes[at].place.part == part)
        .map(|at| (at, false, 1.0, 0.1));
    let faults = disturbed.chain([(cause, true, 0.2, 0.05)]);
    let renewal = Renewal {
        faults: faults
            .map(|(cause, repaired, fails, new)| Renewed {
                cause,
                odds: Odds { fails, new },
                repaired,
                reason: Reason::default(),
            })
            .collect(),
        ..Renewal::default()
    };
    let once = graph.renew(rules, &renewal).unwrap();
    once.renew(rules, &renewal).unwrap()
}

#[test]
fn writes_sets_for_the_library_check() {
    let (base, all) = graphs();
    let folder = std::env::var_os("SEEPWISE_EXPORT_DIR").map(PathBuf::from);
    let mut sets = Vec::new();
    for (position, (layout, graph)) in all.iter().enumerate() {
        let text = to_bif(graph, &base, layout);
        let Some(folder) = &folder else {
            parse(&text).check();
            parse(&to_bif(&repaired(graph, &base), &base, layout)).check();
            return;
        };
        std::fs::create_dir_all(folder).unwrap();
        std::fs::write(folder.join(format!("{}.bif", layout.named.id)), text).unwrap();
        let mut state = 0x9e37_79b9_7f4a_7c15 ^ (position as u64 + 1);
        let count = if position == 0 { SETS + 1 } else { 1 };
        for _ in 0..count {
            let findings = evidence(graph, &base, &mut state);
            sets.push(as_json(graph, &layout.named.id, &findings));
        }
        if position == 0 {
            let (after, file) = (
                repaired(graph, &base),
                format!("{}_repaired", layout.named.id),
            );
            let text = to_bif(&after, &base, layout);
            std::fs::write(folder.join(format!("{file}.bif")), text).unwrap();
            for _ in 0..REPAIRED_SETS {
                let findings = evidence(&after, &base, &mut state);
                sets.push(as_json(&after, &file, &findings));
            }
        }
    }
    if let Some(folder) = &folder {
        let text = serde_json::to_string_pretty(&json!({ "sets": sets })).unwrap();
        std::fs::write(folder.join("sets.json"), text).unwrap();
    }
}

#[test]
fn json_and_dot_hold_every_node_and_arrow() {
    let (base, all) = graphs();
    let (layout, graph) = &all[0];
    let value = to_json(graph, &base, layout);
    let nodes = value["nodes"].as_array().unwrap();
    assert_eq!(nodes.len(), graph.network.len());
    for (var, node) in graph.network.ids().zip(nodes) {
        assert_eq!(node["name"], graph.node(var).name);
        assert_eq!(
            node["parents"].as_array().unwrap().len(),
            graph.network.parents(var).count()
        );
        assert!(node["background"].is_array() != node["table"].is_array());
    }
    assert_eq!(value["tasks"].as_array().unwrap().len(), graph.tasks.len());
    assert_eq!(value.to_string(), to_json(graph, &base, layout).to_string());
    let dot = to_dot(graph, &base, layout);
    assert_eq!(dot.matches(" -> n").count(), graph.graph.edge_count());
    assert_eq!(
        dot.matches("subgraph cluster_").count(),
        dot.matches("\n  }\n").count()
    );
}
