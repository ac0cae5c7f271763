//! A model of realistic build by two elimination orders, to 1e-10. Kind: own inputs, recomputed.

use seepwise::infer::{Engine, Options};

use crate::infer_synthetic::synthetic;

#[test]
fn two_elimination_orders_agree() {
    for (places, abnormal, seed) in [(6, 3, 3), (12, 5, 5), (20, 5, 9)] {
        let model = synthetic(places, abnormal, seed);
        let engine = |options: &Options| {
            let (findings, targets) = (&model.findings, &model.targets);
            Engine::new(
                &model.net,
                findings,
                targets,
                &[],
                &model.questions,
                options,
            )
            .unwrap()
        };
        let mut first = engine(&Options::default());
        // Another order, and open nodes in the tree rather than outside it.
        let other = Options {
            seed: 77,
            most_products: 16,
            ..Options::default()
        };
        let mut second = engine(&other);
        let off = first.log_evidence() - second.log_evidence();
        assert!(
            off.abs() < 1e-10,
            "{places} places: P(evidence) off by {off:e}"
        );
        let near = |a: &[f64], b: &[f64]| {
            for (x, y) in a.iter().zip(b) {
                assert!((x - y).abs() < 1e-10, "{places} places: {x} {y}");
            }
        };
        near(first.targets(), second.targets());
        let now = first.targets().to_vec();
        for question in 0..model.questions.len() {
            let (a, b) = (
                first.answers(question).unwrap(),
                second.answers(question).unwrap(),
            );
            near(&a.probability, &b.probability);
            near(&[a.gain_bits(&now)], &[b.gain_bits(&now)]);
            assert!((a.probability.iter().sum::<f64>() - 1.0).abs() < 1e-10);
        }
    }
}

/// Questions asked of a tree that was built without them, against a tree built for them.
#[test]
fn a_tree_that_is_taken_over_answers_the_same() {
    let model = synthetic(12, 4, 7);
    let options = Options::default();
    let (net, findings, targets) = (&model.net, &model.findings, &model.targets);
    let without = Engine::new(net, findings, targets, &[], &[], &options).unwrap();
    let questions = &model.questions;
    let mut taken = Engine::reusing(
        Some(without),
        net,
        findings,
        targets,
        &[],
        questions,
        &options,
    )
    .unwrap();
    let mut fresh = Engine::new(net, findings, targets, &[], questions, &options).unwrap();
    // In parts, then the rest: what was worked out before must not be mixed up.
    let some: Vec<usize> = (0..questions.len()).step_by(3).collect();
    taken.work_out(&some).unwrap();
    for question in 0..questions.len() {
        let (a, b) = (
            taken.answers(question).unwrap(),
            fresh.answers(question).unwrap(),
        );
        for (x, y) in a.probability.iter().zip(&b.probability) {
            assert!((x - y).abs() < 1e-10, "question {question}: {x} {y}");
        }
        for (x, y) in a.targets.iter().flatten().zip(b.targets.iter().flatten()) {
            assert!((x - y).abs() < 1e-8, "question {question}: {x} {y}");
        }
    }
}
