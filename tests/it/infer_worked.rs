//! Worked examples with published or recomputed figures, to the digits shown.
//! Each test says its source and kind: published, recomputed (inputs from the source, figures by
//! brute force) or own inputs.

use seepwise::chance::{Chance, weight_decibans};
use seepwise::ids::VarId;
use seepwise::infer::{Engine, Finding, Link, Network, Options, Question, Shape, Target, oracle};

fn near(value: f64, wanted: f64, digits: i32) {
    let off = (value - wanted).abs();
    assert!(off <= 0.5001 * 10_f64.powi(-digits), "{value} for {wanted}");
}

/// A root or table over binary parents; `p` holds P(state 1) per row.
fn binary(net: &mut Network, name: &str, parents: &[VarId], p: &[f64]) -> VarId {
    let rows = p.iter().flat_map(|&p| [1.0 - p, p]).collect();
    net.add_table(name, 2, parents.to_vec(), rows).unwrap()
}

fn or(net: &mut Network, name: &str, background: f64, links: &[(VarId, f64)]) -> VarId {
    let links = links
        .iter()
        .map(|&(parent, strength)| Link {
            parent,
            push: vec![vec![1.0, 0.0], vec![1.0 - strength, strength]],
        })
        .collect();
    net.add_noisy_max(name, vec![1.0 - background, background], links)
        .unwrap()
}

fn present(var: VarId) -> Target {
    Target {
        var,
        states: vec![false, true],
    }
}

fn yes(var: VarId) -> Finding {
    Finding::hard(var, 2, 1)
}

fn no(var: VarId) -> Finding {
    Finding::hard(var, 2, 0)
}

/// P(evidence) and P(state 1) of each variable, by both engines.
fn ask(net: &Network, findings: &[Finding], of: &[VarId]) -> (f64, Vec<f64>) {
    let targets: Vec<Target> = of.iter().map(|&var| present(var)).collect();
    let engine = Engine::new(net, findings, &targets, &[], &[], &Options::default()).unwrap();
    let slow = oracle(net, findings, &targets, &[], &[]).unwrap();
    let chance = engine.log_evidence().exp();
    assert!((chance / slow.evidence - 1.0).abs() < 1e-12);
    for (a, b) in engine.targets().iter().zip(&slow.targets) {
        assert!((a - b).abs() < 1e-12, "{a} {b}");
    }
    (chance, engine.targets().to_vec())
}

/// Mutual information between a binary variable and a binary sign, bits.
fn information(net: &Network, findings: &[Finding], of: VarId, sign: VarId) -> f64 {
    let questions = [Question {
        signs: vec![sign],
        shape: Shape::Grid,
    }];
    let targets = [present(of)];
    let options = Options::default();
    let mut engine = Engine::new(net, findings, &targets, &[], &questions, &options).unwrap();
    let now = engine.targets().to_vec();
    engine.answers(0).unwrap().gain_bits(&now)
}

struct Clinic {
    net: Network,
    a: VarId,
    s: VarId,
    t: VarId,
    l: VarId,
    b: VarId,
    e: VarId,
    x: VarId,
    d: VarId,
}

fn clinic() -> Clinic {
    let mut net = Network::new();
    let a = binary(&mut net, "asia", &[], &[0.01]);
    let s = binary(&mut net, "smoking", &[], &[0.5]);
    let t = binary(&mut net, "tuberculosis", &[a], &[0.01, 0.05]);
    let l = binary(&mut net, "lung cancer", &[s], &[0.01, 0.1]);
    let b = binary(&mut net, "bronchitis", &[s], &[0.3, 0.6]);
    let e = or(&mut net, "either", 0.0, &[(t, 1.0), (l, 1.0)]);
    let x = binary(&mut net, "x-ray", &[e], &[0.05, 0.98]);
    let d = binary(&mut net, "dyspnoea", &[e, b], &[0.1, 0.8, 0.7, 0.9]);
    Clinic {
        net,
        a,
        s,
        t,
        l,
        b,
        e,
        x,
        d,
    }
}

/// Lauritzen & Spiegelhalter 1988, JRSS-B 50:157–224. Kind: recomputed.
#[test]
fn chest_clinic_posteriors() {
    let Clinic {
        net,
        a,
        s,
        t,
        l,
        b,
        e,
        x,
        d,
    } = clinic();
    let of = [t, l, b, e, x, s];
    let rows: [(&[Finding], f64, [f64; 6]); 7] = [
        (&[], 1.0, [0.0104, 0.055, 0.45, 0.064_828, 0.110_290, 0.5]),
        (
            &[yes(d)],
            0.435_970_60,
            [
                0.018_845, 0.102_759, 0.833_967, 0.120_536, 0.162_098, 0.633_997,
            ],
        ),
        (
            &[yes(a), yes(d)],
            0.004_501_38,
            [
                0.087_751, 0.099_525, 0.811_402, 0.182_300, 0.219_539, 0.625_920,
            ],
        ),
        (
            &[yes(x)],
            0.110_290_04,
            [0.092_411, 0.488_711, 0.506_326, 0.576_040, 1.0, 0.687_754],
        ),
        (
            &[yes(d), yes(x)],
            0.070_670_10,
            [0.113_933, 0.621_253, 0.681_869, 0.728_725, 1.0, 0.785_610],
        ),
        (
            &[yes(a), yes(d), yes(x)],
            0.000_988_23,
            [0.391_712, 0.444_271, 0.628_822, 0.813_769, 1.0, 0.702_025],
        ),
        (
            &[yes(a), yes(d), no(x)],
            0.003_513_15,
            [0.002_249, 0.002_550, 0.862_761, 0.004_672, 0.0, 0.604_512],
        ),
    ];
    for (findings, evidence, wanted) in rows {
        let (chance, found) = ask(&net, findings, &of);
        near(chance, evidence, 8);
        for (value, wanted) in found.iter().zip(wanted) {
            near(*value, wanted, 6);
        }
    }
}

/// The same, mutual information and weight of evidence. Kind: recomputed.
#[test]
fn chest_clinic_information() {
    let Clinic {
        net,
        a,
        s,
        t,
        l,
        b,
        x,
        d,
        ..
    } = clinic();
    near(information(&net, &[], l, x), 0.184_807, 6);
    near(information(&net, &[], l, s), 0.032_374, 6);
    near(information(&net, &[], l, d), 0.025_382, 6);
    near(information(&net, &[], b, d), 0.361_561, 6);
    near(information(&net, &[], t, x), 0.031_604, 6);
    near(information(&net, &[], t, a), 0.000_584, 6);
    near(information(&net, &[yes(d)], l, x), 0.301_746, 6);
    near(information(&net, &[yes(a), yes(d)], t, x), 0.198_899, 6);
    let of = |findings: &[Finding]| Chance::new(ask(&net, findings, &[l]).1[0]).unwrap();
    let (before, after) = (of(&[]), of(&[yes(x)]));
    near(weight_decibans(before, after), 12.155, 3);
    near(after.odds() / before.odds(), 16.423, 3);
}

/// Fever, Russell & Norvig, AIMA 3rd ed. §14.3. Kind: published.
#[test]
fn fever_by_noisy_or() {
    let wanted = [1.0, 0.1, 0.2, 0.02, 0.6, 0.06, 0.12, 0.012];
    for (row, wanted) in wanted.into_iter().enumerate() {
        let mut net = Network::new();
        let causes: Vec<VarId> = (0..3)
            .map(|c| binary(&mut net, ["cold", "flu", "malaria"][c], &[], &[0.5]))
            .collect();
        let links = [(causes[0], 0.4), (causes[1], 0.8), (causes[2], 0.9)];
        let fever = or(&mut net, "fever", 0.0, &links);
        let findings: Vec<Finding> = causes
            .iter()
            .enumerate()
            .map(|(c, &cause)| Finding::hard(cause, 2, row >> (2 - c) & 1))
            .collect();
        near(1.0 - ask(&net, &findings, &[fever]).1[0], wanted, 12);
    }
}

/// Burglary, Pearl 1988 and AIMA. Kind: published inputs, recomputed to more digits.
#[test]
fn burglary_and_explaining_away() {
    let mut net = Network::new();
    let b = binary(&mut net, "burglary", &[], &[0.001]);
    let e = binary(&mut net, "earthquake", &[], &[0.002]);
    let a = binary(&mut net, "alarm", &[b, e], &[0.001, 0.29, 0.94, 0.95]);
    let j = binary(&mut net, "John", &[a], &[0.05, 0.9]);
    let m = binary(&mut net, "Mary", &[a], &[0.01, 0.7]);
    let (chance, found) = ask(&net, &[yes(j), yes(m)], &[b, e]);
    near(chance, 0.002_084_100_239, 12);
    near(found[0], 0.284_171_835, 9);
    near(found[1], 0.176_066_838, 9);
    near(ask(&net, &[yes(j)], &[b]).1[0], 0.016_283_730, 9);
    near(ask(&net, &[yes(a)], &[b]).1[0], 0.373_551_228, 9);
    near(ask(&net, &[yes(a), yes(e)], &[b]).1[0], 0.003_268_424, 9);
}

/// Student, Koller & Friedman 2009 ch. 3, with a three-state grade. Kind: published inputs,
/// recomputed.
#[test]
fn student_with_three_grades() {
    let mut net = Network::new();
    let d = binary(&mut net, "difficult", &[], &[0.4]);
    let i = binary(&mut net, "intelligent", &[], &[0.3]);
    let rows = vec![
        0.3, 0.4, 0.3, 0.05, 0.25, 0.7, 0.9, 0.08, 0.02, 0.5, 0.3, 0.2,
    ];
    let g = net.add_table("grade", 3, vec![i, d], rows).unwrap();
    let s = binary(&mut net, "test score", &[i], &[0.05, 0.8]);
    let l = binary(&mut net, "letter", &[g], &[0.9, 0.6, 0.01]);
    let third = Finding::hard(g, 3, 2);
    near(ask(&net, &[], &[l]).1[0], 0.502_336, 6);
    near(ask(&net, &[no(i)], &[l]).1[0], 0.388_600, 6);
    let (_, found) = ask(&net, std::slice::from_ref(&third), &[i, d]);
    near(found[0], 0.078_947, 6);
    near(found[1], 0.629_291, 6);
    near(ask(&net, &[third.clone(), yes(d)], &[i]).1[0], 0.109_091, 6);
    near(ask(&net, &[third, yes(s)], &[i]).1[0], 0.578_313, 6);
    near(ask(&net, &[no(l)], &[i]).1[0], 0.140_022, 6);
}

/// A leaky noisy-OR. Kind: own inputs, recomputed.
#[test]
fn leaky_noisy_or() {
    let mut net = Network::new();
    let d: Vec<VarId> = [0.1, 0.2, 0.05]
        .into_iter()
        .enumerate()
        .map(|(n, p)| or(&mut net, &format!("d{n}"), p, &[]))
        .collect();
    let f1 = or(&mut net, "f1", 0.01, &[(d[0], 0.8), (d[1], 0.5)]);
    let f2 = or(&mut net, "f2", 0.02, &[(d[1], 0.7), (d[2], 0.9)]);
    let f3 = or(
        &mut net,
        "f3",
        0.05,
        &[(d[0], 0.6), (d[1], 0.3), (d[2], 0.4)],
    );
    let rows: [(&[Finding], f64, i32, [f64; 3]); 4] = [
        (&[yes(f1)], 0.180_28, 5, [0.455_846, 0.604_171, 0.05]),
        (
            &[yes(f1), yes(f2)],
            0.082_912_707_6,
            10,
            [0.205_918, 0.944_831, 0.102_568],
        ),
        (
            &[yes(f1), yes(f2), no(f3)],
            0.047_095_430_04,
            11,
            [0.095_071, 0.969_466, 0.058_276],
        ),
        (
            &[yes(f1), no(f2), yes(f3)],
            0.049_929_354_84,
            11,
            [0.821_032, 0.246_386, 0.007_219],
        ),
    ];
    for (findings, evidence, digits, wanted) in rows {
        let (chance, found) = ask(&net, findings, &d);
        near(chance, evidence, digits);
        for (value, wanted) in found.iter().zip(wanted) {
            near(*value, wanted, 6);
        }
    }
}

/// Noisy-MAX, Díez 1993 (UAI). Kind: published formula, own inputs, recomputed.
#[test]
fn noisy_max_of_three_states() {
    let mut net = Network::new();
    let x1 = binary(&mut net, "x1", &[], &[0.5]);
    let x2 = binary(&mut net, "x2", &[], &[0.5]);
    let link = |parent, row: [f64; 3]| Link {
        parent,
        push: vec![vec![1.0, 0.0, 0.0], row.to_vec()],
    };
    let links = vec![link(x1, [0.2, 0.5, 0.3]), link(x2, [0.6, 0.3, 0.1])];
    let y = net
        .add_noisy_max("y", vec![0.9, 0.08, 0.02], links)
        .unwrap();
    let rows = [
        ([no(x1), yes(x2)], [0.54, 0.342, 0.118]),
        ([yes(x1), no(x2)], [0.18, 0.506, 0.314]),
        ([yes(x1), yes(x2)], [0.108, 0.5094, 0.3826]),
    ];
    for (findings, wanted) in rows {
        let engine = Engine::new(&net, &findings, &[], &[y], &[], &Options::default()).unwrap();
        for (value, wanted) in engine.marginal(y).unwrap().iter().zip(wanted) {
            near(*value, wanted, 12);
        }
    }
}

/// Sequential draws with several hypotheses, Jaynes 2003 ch. 4 after Good 1950: evidence in
/// decibans after n bad draws in a row. Kind: published inputs, recomputed.
#[test]
fn evidence_in_decibans_after_bad_draws() {
    let rates = [1.0 / 3.0, 1.0 / 6.0, 0.99];
    let rare = 1e-6;
    let wanted = [
        (0, [-10.0, 10.0, -60.0], 0.01),
        (5, [5.016, -5.063, -27.129], 0.0006),
        (10, [2.239, -22.11, -2.353], 0.006),
        (15, [-21.327, -56.514, 21.326], 0.0006),
        (20, [-44.965, -95.171, 44.965], 0.0006),
    ];
    for (draws, wanted, tolerance) in wanted {
        let mut net = Network::new();
        let priors = vec![(1.0 - rare) / 11.0, (1.0 - rare) * 10.0 / 11.0, rare];
        let kind = net.add_table("machine", 3, vec![], priors).unwrap();
        let rows: Vec<f64> = rates.iter().flat_map(|&bad| [1.0 - bad, bad]).collect();
        let findings: Vec<Finding> = (0..draws)
            .map(|n| {
                let draw = net.add_table(format!("draw {n}"), 2, vec![kind], rows.clone());
                yes(draw.unwrap())
            })
            .collect();
        let targets: Vec<Target> = (0..3)
            .map(|state| Target {
                var: kind,
                states: (0..3).map(|s| s == state).collect(),
            })
            .collect();
        let options = Options::default();
        let engine = Engine::new(&net, &findings, &targets, &[], &[], &options).unwrap();
        for (&p, wanted) in engine.targets().iter().zip(wanted) {
            let decibans = Chance::new(p).unwrap().decibans();
            assert!(
                (decibans - wanted).abs() < tolerance,
                "{draws}: {decibans} for {wanted}"
            );
        }
    }
}

/// Order of actions under one fault: best by falling p/C. Kadane & Simon 1977; Heckerman, Breese
/// & Rommelse 1995. The chances come from the engine (the action's part given that just one of
/// four parts failed). Kind: published rule, own inputs, all 24 orders.
#[test]
fn order_of_actions() {
    let mut net = Network::new();
    let p = [0.5, 0.3, 0.15, 0.05];
    let cost = [10.0, 3.0, 1.0, 2.0];
    let fault = net.add_table("fault", 4, vec![], p.to_vec()).unwrap();
    let engine = Engine::new(&net, &[], &[], &[fault], &[], &Options::default()).unwrap();
    let p = engine.marginal(fault).unwrap();
    let mut orders = vec![vec![]];
    for _ in 0..4 {
        orders = orders
            .iter()
            .flat_map(|order: &Vec<usize>| {
                let rest = (0..4).filter(|action| !order.contains(action));
                rest.map(|action| [order.clone(), vec![action]].concat())
                    .collect::<Vec<_>>()
            })
            .collect();
    }
    assert_eq!(orders.len(), 24);
    let expected = |order: &Vec<usize>| {
        let mut left = 1.0;
        let mut sum = 0.0;
        for &action in order {
            sum += left * cost[action];
            left -= p[action];
        }
        sum
    };
    orders.sort_by(|a, b| expected(a).total_cmp(&expected(b)));
    assert_eq!(orders[0], [2, 1, 0, 3]);
    near(expected(&orders[0]), 9.15, 9);
    assert_eq!(orders[1], [1, 2, 0, 3]);
    near(expected(&orders[1]), 9.30, 9);
    assert_eq!(orders[23], [3, 0, 1, 2]);
    near(expected(&orders[23]), 13.0, 9);
    let mut by_ratio = vec![0, 1, 2, 3];
    by_ratio.sort_by(|&a: &usize, &b: &usize| (p[b] / cost[b]).total_cmp(&(p[a] / cost[a])));
    assert_eq!(by_ratio, orders[0]);
}

/// One of two places is repaired and the retest still falls: P(the other leaks now). The set-up
/// that gives the figures of the source note: each place's fault 20 %, its push leaks 40 %, the
/// repair fails 2 %, a pressure test falls 90 % with a leak and 20 % without. With the push shared
/// by both states .577; with the leak drawn anew .407, which forgets what the first test said.
/// Kind: own inputs, recomputed.
#[test]
fn retest_after_a_repair_shares_the_other_push() {
    let other_leaks_now = |shared: bool| {
        let mut net = Network::new();
        let repaired = binary(&mut net, "repaired place's fault", &[], &[0.2]);
        let other = binary(&mut net, "other place's fault", &[], &[0.2]);
        let after = binary(
            &mut net,
            "repaired place's fault after",
            &[repaired],
            &[0.0, 0.02],
        );
        let push = |net: &mut Network, name: &str, fault| binary(net, name, &[fault], &[0.0, 0.4]);
        let first = push(&mut net, "repaired place's push", repaired);
        let first_after = push(&mut net, "repaired place's push after", after);
        let second = push(&mut net, "other place's push", other);
        let second_after = if shared {
            second
        } else {
            push(&mut net, "other place's push after", other)
        };
        let leak = or(&mut net, "leak", 0.0, &[(first, 1.0), (second, 1.0)]);
        let leak_after = or(
            &mut net,
            "leak after",
            0.0,
            &[(first_after, 1.0), (second_after, 1.0)],
        );
        let falls = or(&mut net, "test falls", 0.2, &[(leak, 0.875)]);
        let falls_after = or(&mut net, "retest falls", 0.2, &[(leak_after, 0.875)]);
        ask(&net, &[yes(falls), yes(falls_after)], &[second_after]).1[0]
    };
    near(other_leaks_now(true), 0.577, 3);
    near(other_leaks_now(false), 0.407, 3);
}

/// Prior 5 %, three dry looks that each miss 30 %: if the joint is simply hidden (one visible node,
/// P = 70 %, shared by the looks) 1.55 % is left; if the misses were independent, .14 %.
/// Kind: own inputs, recomputed.
#[test]
fn three_looks_at_a_hidden_joint_are_not_three_proofs() {
    let left = |hidden: bool| {
        let mut net = Network::new();
        let wet = binary(&mut net, "wet", &[], &[0.05]);
        let visible = binary(&mut net, "visible", &[], &[0.7]);
        let findings: Vec<Finding> = (0..3)
            .map(|look| {
                let name = format!("look {look}");
                let (seen, strength) = if hidden {
                    let gate = net.add_gate(format!("gate {look}"), wet, visible, &[false, true]);
                    (gate.unwrap(), 1.0)
                } else {
                    (wet, 0.7)
                };
                no(or(&mut net, &name, 0.0, &[(seen, strength)]))
            })
            .collect();
        ask(&net, &findings, &[wet]).1[0]
    };
    near(left(true), 0.0155, 4);
    near(left(false), 0.0014, 4);
}
