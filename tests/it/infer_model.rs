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
