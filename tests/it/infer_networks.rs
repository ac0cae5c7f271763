//! Reference networks of working size (`tests/reference/networks`), every file in the folder.
//! Kind: recomputed (library-free 80-bit reference). Tolerances: 1e-9, gains 1e-8 bits.

use std::fs;
use std::path::{Path, PathBuf};

use seepwise::ids::VarId;
use seepwise::infer::{Engine, Finding, Link, Network, Options, Question, Shape, Target};
use serde_json::Value;

/// A reference network with its evidence and open checks.
pub struct Reference {
    pub net: Network,
    pub findings: Vec<Finding>,
    pub faults: Vec<(String, VarId)>,
    pub checks: Vec<(String, VarId)>,
    pub expect: Value,
}

/// All files of the folder, in order of name.
pub fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/networks");
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "json")
        })
        .collect();
    files.sort();
    files
}

pub fn load(path: &Path) -> Reference {
    let json: Value = serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    let mut net = Network::new();
    let mut faults = Vec::new();
    for node in json["nodes"].as_array().unwrap() {
        let name = node["name"].as_str().unwrap();
        let background = node["background"].as_f64().unwrap();
        let links = node["parents"]
            .as_array()
            .unwrap()
            .iter()
            .map(|parent| {
                let strength = parent["strength"].as_f64().unwrap();
                Link {
                    parent: net.find(parent["name"].as_str().unwrap()).unwrap(),
                    push: vec![vec![1.0, 0.0], vec![1.0 - strength, strength]],
                }
            })
            .collect();
        let var = net
            .add_noisy_max(name, vec![1.0 - background, background], links)
            .unwrap();
        if node["layer"] == "fault" {
            faults.push((name.to_owned(), var));
        }
    }
    let findings = json["evidence"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(name, state)| {
            let state = usize::try_from(state.as_u64().unwrap()).unwrap();
            Finding::hard(net.find(name).unwrap(), 2, state)
        })
        .collect();
    let expect = json["expect"].clone();
    let checks = expect["check_positive"]
        .as_object()
        .unwrap()
        .keys()
        .map(|name| (name.clone(), net.find(name).unwrap()))
        .collect();
    Reference {
        net,
        findings,
        faults,
        checks,
        expect,
    }
}

pub fn compile(reference: &Reference, with_checks: bool) -> Engine {
    let targets: Vec<Target> = reference
        .faults
        .iter()
        .map(|(_, var)| Target {
            var: *var,
            states: vec![false, true],
        })
        .collect();
    let conditions: Vec<VarId> = (reference.expect["conditions"].as_object().unwrap().keys())
        .map(|name| reference.net.find(name).unwrap())
        .collect();
    let questions: Vec<Question> = reference
        .checks
        .iter()
        .filter(|_| with_checks)
        .map(|(_, var)| Question {
            signs: vec![*var],
            shape: Shape::Grid,
        })
        .collect();
    let Reference { net, findings, .. } = reference;
    Engine::new(
        net,
        findings,
        &targets,
        &conditions,
        &questions,
        &Options::default(),
    )
    .unwrap()
}

#[test]
fn reference_networks() {
    let files = files();
    assert!(!files.is_empty());
    for path in files {
        let reference = load(&path);
        let mut engine = compile(&reference, true);
        let expect = &reference.expect;
        let close = |what: &str, value: f64, wanted: &Value, tolerance: f64| {
            let wanted = wanted.as_f64().unwrap();
            let off = (value - wanted).abs();
            assert!(
                off <= tolerance,
                "{}: {what}: {value} for {wanted}",
                path.display()
            );
        };
        let ratio = engine.log_evidence().exp() / expect["p_evidence"].as_f64().unwrap();
        assert!((ratio - 1.0).abs() < 1e-9, "P(evidence) off by {ratio}");
        for ((name, _), &p) in reference.faults.iter().zip(engine.targets()) {
            close(name, p, &expect["faults"][name], 1e-9);
        }
        for (name, wanted) in expect["conditions"].as_object().unwrap() {
            let var = reference.net.find(name).unwrap();
            close(name, engine.marginal(var).unwrap()[1], wanted, 1e-9);
        }
        let now = engine.targets().to_vec();
        for (index, (name, _)) in reference.checks.iter().enumerate() {
            let answers = engine.answers(index).unwrap();
            close(
                name,
                answers.probability[1],
                &expect["check_positive"][name],
                1e-9,
            );
            close(
                name,
                answers.gain_bits(&now),
                &expect["gain_bits"][name],
                1e-8,
            );
        }
    }
}
