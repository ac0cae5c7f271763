//! Many unlikely findings together, where sums of both signs lose all digits of a double.
//! Kind: recomputed (`tests/reference/unlikely.py`: sums of positive terms, 60 digits). Tolerance:
//! 1e-9, also for answers and what they make of the causes.

use std::path::Path;

use seepwise::ids::VarId;
use seepwise::infer::{Engine, Finding, Link, Network, Options, Question, Shape, Target};
use serde_json::Value;

fn numbers(json: &Value) -> Vec<f64> {
    let all = json.as_array().unwrap().iter();
    all.map(|value| value.as_f64().unwrap()).collect()
}

struct Unlikely {
    net: Network,
    causes: Vec<VarId>,
    signs: Vec<VarId>,
    asked: VarId,
    expect: Value,
}

fn load() -> Unlikely {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/unlikely.json");
    let json: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let whole = json["whole"].as_f64().unwrap();
    let row = |part: f64| vec![1.0 - part / whole, part / whole];
    let mut net = Network::new();
    let priors = numbers(&json["priors"]).into_iter().enumerate();
    let causes: Vec<VarId> = priors
        .map(|(number, prior)| {
            let name = format!("cause {number}");
            net.add_noisy_max(name, row(prior), vec![]).unwrap()
        })
        .collect();
    let links: Vec<Vec<f64>> = json["links"]
        .as_array()
        .unwrap()
        .iter()
        .map(numbers)
        .collect();
    let background = json["background"].as_f64().unwrap();
    let signs: Vec<VarId> = (0..links[0].len())
        .map(|sign| {
            let strong = causes.iter().zip(&links).filter(|(_, all)| all[sign] > 0.0);
            let parents = strong.map(|(&parent, all)| Link {
                parent,
                push: vec![vec![1.0, 0.0], row(all[sign])],
            });
            let parents = parents.collect();
            net.add_noisy_max(format!("sign {sign}"), row(background), parents)
                .unwrap()
        })
        .collect();
    let at = |value: &Value| usize::try_from(value.as_u64().unwrap()).unwrap();
    let followed = json["followed"].as_array().unwrap().iter();
    Unlikely {
        causes: followed.map(|value| causes[at(value)]).collect(),
        asked: signs[at(&json["asked"])],
        signs,
        net,
        expect: json["cases"].clone(),
    }
}

fn near(what: &str, seen: usize, found: f64, expected: f64) {
    let apart = (found / expected - 1.0).abs();
    assert!(
        apart < 1e-9,
        "{what} with {seen} signs: {found}, not {expected}: {apart:e}"
    );
}

#[test]
fn many_unlikely_signs_keep_nine_digits() {
    let model = load();
    let present = |&var: &VarId| Target {
        var,
        states: vec![false, true],
    };
    let targets: Vec<Target> = model.causes.iter().map(present).collect();
    let question = Question {
        signs: vec![model.asked],
        shape: Shape::Grid,
    };
    for case in model.expect.as_array().unwrap() {
        let seen = usize::try_from(case["seen"].as_u64().unwrap()).unwrap();
        let shows = |&var: &VarId| Finding::hard(var, 2, 1);
        let findings: Vec<Finding> = model.signs[..seen].iter().map(shows).collect();
        let mut engine = Engine::new(
            &model.net,
            &findings,
            &targets,
            &[],
            std::slice::from_ref(&question),
            &Options::default(),
        )
        .unwrap();
        let expected = case["ln_evidence"].as_f64().unwrap();
        near(
            "P(evidence)",
            seen,
            engine.log_evidence().exp(),
            expected.exp(),
        );
        for (found, expected) in engine.targets().iter().zip(numbers(&case["causes"])) {
            near("a cause", seen, *found, expected);
        }
        let answers = engine.answers(0).unwrap();
        let expected = case["asked_shows"].as_f64().unwrap();
        near("an answer", seen, answers.probability[1], expected);
        let after = answers.targets[1]
            .iter()
            .zip(numbers(&case["causes_after"]));
        for (found, expected) in after {
            near("a cause after an answer", seen, *found, expected);
        }
    }
}
