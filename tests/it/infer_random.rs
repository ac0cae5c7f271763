//! Random small networks: the engine against plain enumeration, to 1e-9.
//! Kind: own inputs, recomputed by the oracle.

use proptest::prelude::{Just, ProptestConfig, Strategy, any, prop_assert, prop_assert_eq};
use proptest::proptest;
use seepwise::ids::{Id, VarId};
use seepwise::infer::{
    Engine, Finding, InferError, Link, Network, Options, Question, Shape, Target, oracle,
};

/// A stream of choices that proptest can shrink by its seed only.
struct Choices(u64);

impl Choices {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((self.0 >> 33) % n as u64).unwrap()
    }

    fn chance(&mut self) -> f64 {
        (self.below(999) + 1) as f64 / 1000.0
    }

    /// A distribution, sometimes with zeros, sometimes deterministic.
    fn row(&mut self, states: usize) -> Vec<f64> {
        let mut row: Vec<f64> = (0..states)
            .map(|_| {
                if self.below(5) == 0 {
                    0.0
                } else {
                    self.chance()
                }
            })
            .collect();
        if self.below(4) == 0 || row.iter().sum::<f64>() == 0.0 {
            row.fill(0.0);
            row[self.below(states)] = 1.0;
        }
        let sum: f64 = row.iter().sum();
        row.iter().map(|p| p / sum).collect()
    }
}

fn one_hot(states: usize, state: usize) -> Vec<f64> {
    (0..states)
        .map(|s| f64::from(u8::from(s == state)))
        .collect()
}

fn random_network(choices: &mut Choices, nodes: usize) -> Network {
    let mut net = Network::new();
    for index in 0..nodes {
        let name = format!("n{index}");
        let mut parents: Vec<VarId> = Vec::new();
        for _ in 0..choices.below(5).min(index) {
            let parent = VarId::from_index(choices.below(index));
            if !parents.contains(&parent) {
                parents.push(parent);
            }
        }
        let states = 2 + choices.below(3);
        let kind = choices.below(6);
        if kind == 0 && parents.len() >= 2 {
            let guard = net.node(parents[1]).states;
            let open: Vec<bool> = (0..guard).map(|_| choices.below(2) == 0).collect();
            net.add_gate(name, parents[0], parents[1], &open).unwrap();
        } else if kind == 1 && parents.len() <= 2 {
            let rows: usize = parents.iter().map(|&p| net.node(p).states).product();
            let rows = (0..rows).flat_map(|_| choices.row(states)).collect();
            net.add_table(name, states, parents, rows).unwrap();
        } else {
            let deterministic = choices.below(3) == 0;
            let links = parents
                .into_iter()
                .map(|parent| {
                    let count = net.node(parent).states;
                    let push = (0..count).map(|s| match s {
                        _ if deterministic => one_hot(states, s.min(states - 1)),
                        0 if choices.below(4) > 0 => one_hot(states, 0),
                        _ => choices.row(states),
                    });
                    Link {
                        parent,
                        push: push.collect(),
                    }
                })
                .collect();
            let background = if deterministic && index > 3 {
                one_hot(states, 0)
            } else {
                choices.row(states)
            };
            net.add_noisy_max(name, background, links).unwrap();
        }
    }
    net
}

struct Case {
    net: Network,
    findings: Vec<Finding>,
    targets: Vec<Target>,
    marginals: Vec<VarId>,
    questions: Vec<Question>,
}

fn random_case(seed: u64, nodes: usize) -> Case {
    let mut choices = Choices(seed);
    let net = random_network(&mut choices, nodes);
    let pick = |choices: &mut Choices| VarId::from_index(choices.below(nodes));
    let findings = (0..choices.below(5))
        .map(|_| {
            let var = pick(&mut choices);
            let states = net.node(var).states;
            if choices.below(4) == 0 {
                Finding::soft(var, (0..states).map(|_| choices.chance()).collect())
            } else {
                Finding::hard(var, states, choices.below(states))
            }
        })
        .collect();
    let targets = (0..3)
        .map(|_| {
            let var = pick(&mut choices);
            let states = (0..net.node(var).states).map(|s| s > 0 || choices.below(5) == 0);
            Target {
                var,
                states: states.collect(),
            }
        })
        .collect();
    let marginals = vec![pick(&mut choices)];
    let questions = (0..4)
        .map(|number| {
            let mut signs = Vec::new();
            for _ in 0..=choices.below(3) {
                // Late nodes are more often open leaves.
                let sign =
                    VarId::from_index(nodes - 1 - choices.below(nodes).min(choices.below(nodes)));
                if !signs.contains(&sign) {
                    signs.push(sign);
                }
            }
            let shape = if number % 2 == 0 {
                Shape::Grid
            } else {
                Shape::FirstOf
            };
            Question { signs, shape }
        })
        .collect();
    Case {
        net,
        findings,
        targets,
        marginals,
        questions,
    }
}

impl Case {
    fn engine(&self, options: &Options) -> Result<Engine, InferError> {
        let Self {
            net,
            findings,
            targets,
            marginals,
            questions,
        } = self;
        Engine::new(net, findings, targets, marginals, questions, options)
    }

    fn check(&self, options: &Options) -> Result<(), proptest::test_runner::TestCaseError> {
        let Self {
            net,
            findings,
            targets,
            marginals,
            questions,
        } = self;
        let slow = oracle(net, findings, targets, marginals, questions);
        let fast = self.engine(options);
        if let Err(InferError::Impossible { .. }) = slow {
            let Err(InferError::Impossible { findings: named }) = fast else {
                return Err(proptest::test_runner::TestCaseError::fail(format!(
                    "possible? {fast:?}"
                )));
            };
            let blamed: Vec<Finding> = named.iter().map(|&i| findings[i].clone()).collect();
            prop_assert!(oracle(net, &blamed, &[], &[], &[]).is_err());
            for skip in 0..blamed.len() {
                let mut fewer = blamed.clone();
                fewer.remove(skip);
                prop_assert!(oracle(net, &fewer, &[], &[], &[]).is_ok());
            }
            return Ok(());
        }
        let slow = slow.unwrap();
        let mut fast =
            fast.map_err(|e| proptest::test_runner::TestCaseError::fail(e.to_string()))?;
        let ratio = fast.log_evidence().exp() / slow.evidence;
        prop_assert!((ratio - 1.0).abs() < 1e-9, "P(evidence) {}", slow.evidence);
        for (a, b) in fast.targets().iter().zip(&slow.targets) {
            prop_assert!((a - b).abs() < 1e-9, "target {a} {b}");
        }
        for (&var, wanted) in marginals.iter().zip(&slow.marginals) {
            for (a, b) in fast.marginal(var).unwrap().iter().zip(wanted) {
                prop_assert!((a - b).abs() < 1e-9, "marginal {a} {b}");
            }
        }
        for (index, wanted) in slow.answers.iter().enumerate() {
            let found = fast.answers(index).unwrap();
            prop_assert_eq!(found.probability.len(), wanted.probability.len());
            for (answer, (a, b)) in found
                .probability
                .iter()
                .zip(&wanted.probability)
                .enumerate()
            {
                prop_assert!(
                    (a - b).abs() < 1e-9,
                    "question {index} answer {answer} {a} {b}"
                );
                for (x, y) in found.targets[answer].iter().zip(&wanted.targets[answer]) {
                    prop_assert!((0.0..=1.0).contains(x));
                    prop_assert!(
                        (a * x - b * y).abs() < 1e-9,
                        "question {index} {answer} {x} {y}"
                    );
                    prop_assert!(
                        *b < 1e-6 || (x - y).abs() < 1e-9,
                        "{index} {answer} {x} {y}"
                    );
                }
            }
            let (gain, slow_gain) = (
                found.gain_bits(&slow.targets),
                wanted.gain_bits(&slow.targets),
            );
            prop_assert!((gain - slow_gain).abs() < 1e-8, "gain {gain} {slow_gain}");
        }
        Ok(())
    }
}

fn seeds() -> impl Strategy<Value = (u64, usize)> {
    (any::<u64>(), 3_usize..=11).prop_flat_map(Just)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 250, max_shrink_iters: 100, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn all_that_the_tree_holds_agrees_with_enumeration((seed, nodes) in seeds()) {
        let Case { net, findings, targets, .. } = random_case(seed, nodes);
        let options = Options { all_inside: true, ..Options::default() };
        let all: Vec<VarId> = net.ids().collect();
        if let Ok(slow) = oracle(&net, &findings, &targets, &all, &[]) {
            let fast = Engine::new(&net, &findings, &targets, &[], &[], &options).unwrap();
            for target in &targets {
                prop_assert!(fast.marginal(target.var).is_some(), "the tree holds its targets");
            }
            for (&var, wanted) in all.iter().zip(&slow.marginals) {
                for (a, b) in fast.marginal(var).iter().flatten().zip(wanted) {
                    prop_assert!((a - b).abs() < 1e-9, "marginal {a} {b}");
                }
            }
        }
    }

    /// All targets at once: the mean of a product of weights against enumeration with the targets as
    /// findings.
    #[test]
    fn means_of_products_agree_with_enumeration((seed, nodes) in seeds()) {
        let Case { net, findings, mut targets, .. } = random_case(seed, nodes);
        targets.sort_by_key(|target| target.var);
        targets.dedup_by_key(|target| target.var);
        let weights = |target: &Target| -> (VarId, Vec<f64>) {
            let kept = target.states.iter().map(|&of| f64::from(u8::from(of)));
            (target.var, kept.collect())
        };
        let product: Vec<_> = targets.iter().map(weights).collect();
        let mut both = findings.clone();
        both.extend(product.iter().map(|(var, kept)| Finding::soft(*var, kept.clone())));
        if let Ok(before) = oracle(&net, &findings, &[], &[], &[]) {
            let after = match oracle(&net, &both, &[], &[], &[]) {
                Ok(after) => after.evidence,
                Err(InferError::Impossible { .. }) => 0.0,
                Err(error) => panic!("{error}"),
            };
            for off in [0.0, 1e-5] {
                let options = Options { off, ..Options::default() };
                let fast = Engine::new(&net, &findings, &targets, &[], &[], &options).unwrap();
                let mean = fast.means(std::slice::from_ref(&product))[0];
                prop_assert!((mean - after / before.evidence).abs() < 1e-9 + off, "mean {mean}");
            }
        }
    }

    #[test]
    fn engine_agrees_with_enumeration((seed, nodes) in seeds()) {
        random_case(seed, nodes).check(&Options::default())?;
    }

    /// With a tight limit on products, hidden nodes join the tree instead.
    #[test]
    fn engine_agrees_with_open_nodes_in_the_tree((seed, nodes) in seeds()) {
        let options = Options { most_products: 1, ..Options::default() };
        random_case(seed, nodes).check(&options)?;
    }

    /// Findings added one by one, and taken away again.
    #[test]
    fn findings_added_and_removed((seed, nodes) in seeds()) {
        let mut case = random_case(seed, nodes);
        let all = std::mem::take(&mut case.findings);
        for finding in &all {
            case.findings.push(finding.clone());
            case.check(&Options::default())?;
        }
        while !case.findings.is_empty() {
            case.findings.remove(0);
            case.check(&Options::default())?;
        }
    }

    /// The order of findings doesn't matter, to the bit.
    #[test]
    fn order_of_findings_does_not_matter((seed, nodes) in seeds()) {
        let mut case = random_case(seed, nodes);
        let Ok(mut first) = case.engine(&Options::default()) else { return Ok(()) };
        case.findings.reverse();
        let mut second = case.engine(&Options::default()).unwrap();
        prop_assert_eq!(first.log_evidence().to_bits(), second.log_evidence().to_bits());
        prop_assert_eq!(first.targets(), second.targets());
        for question in 0..case.questions.len() {
            prop_assert_eq!(first.answers(question).unwrap(), second.answers(question).unwrap());
        }
    }
}
