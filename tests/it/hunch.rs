//! Hunches, stories, conflicts and what-ifs. Kinds: published numbers (Jaynes 2003 ch. 4 after
//! Good 1950; burglary, Pearl 1988; chest clinic, Lauritzen & Spiegelhalter 1988), a second method
//! (plain enumeration, conditioning on an answer), invented jobs with the text they are told by.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use seepwise::advise::{
    Belief, Effort, Hunch, Shop, Stories, Suspect, conflict_log10, same_decision,
};
use seepwise::chance::Chance;
use seepwise::graph::CausalGraph;
use seepwise::ids::VarId;
use seepwise::infer::{Engine, Finding, Link, Network, Options, Target, oracle};
use seepwise::job::{JobFile, Store, find_suspect, resolve};
use seepwise::rules;
use seepwise::source::Sources;

use crate::program::told_here as told;

/// Each hunch as it is told at first glance: 80 columns, and few enough lines for one screen.
#[test]
fn hunches_are_told_on_one_screen() {
    let hunches = [
        ("right", "@pump_seal"),
        ("wrong", "@gasket_cylinder"),
        ("half", "@radiator_core"),
        ("conflict", "@upper_hose_engine_end"),
    ];
    for (name, hunch) in hunches {
        let job = format!(
            "{}/scenarios/hunches/{name}.yaml",
            env!("CARGO_MANIFEST_DIR")
        );
        let (code, text, errors) = told(&["hunch", &job, hunch]);
        assert_eq!((code, errors.as_str()), (0, ""), "{name}");
        assert!(
            text.lines().all(|line| line.chars().count() <= 80),
            "{name}"
        );
        assert!(
            text.lines().count() <= 45,
            "{name}: {}",
            text.lines().count()
        );
        insta::assert_snapshot!(format!("hunch_{name}"), text);
    }
}

#[test]
fn stories_and_what_if_tell_what_they_find() {
    let half = format!("{}/scenarios/hunches/half.yaml", env!("CARGO_MANIFEST_DIR"));
    let (code, text, _) = told(&["stories", &half, "--top", "3"]);
    assert_eq!(code, 0);
    insta::assert_snapshot!("stories_half", text);
    let wrong = format!(
        "{}/scenarios/hunches/wrong.yaml",
        env!("CARGO_MANIFEST_DIR")
    );
    let (code, text, _) = told(&["what-if", &wrong, "gas_test=gas"]);
    assert_eq!(code, 0);
    insta::assert_snapshot!("what_if_wrong", text);
    let (code, text, _) = told(&["what-if", &wrong, "6=dry"]);
    assert_eq!(code, 0);
    insta::assert_snapshot!("what_if_entry", text);
    let (code, text, _) = told(&["why", &wrong, "gasket_cylinder"]);
    assert_eq!(code, 0);
    insta::assert_snapshot!(
        "why_not",
        text.lines().take(24).collect::<Vec<_>>().join("\n")
    );
}

/// Kind: the project's own promise: one clear sentence each, exit code 2.
#[test]
fn what_can_not_be_suspected_is_said_in_a_sentence() {
    let with = ["--layout", "crew_minibus", "--found", "loss_reported=slow"];
    let cases: [(&[&str], &str); 8] = [
        (&["hunch", "pitted_prt"], "did you mean `pitted_port`?"),
        (
            &["hunch", "pitted_port@radiator_cor"],
            "did you mean `radiator_core`?",
        ),
        (&["hunch", "head", "gasket"], "@gasket_cylinder"),
        (&["hunch", "@nowhere"], "there is no place `nowhere`"),
        (&["hunch", "lower_seals_perished"], "cannot have"),
        (&["hunch", "zzzz"], "seepwise layouts crew_minibus"),
        (&["what-if", "9=dry"], "there is no entry 9"),
        (&["what-if", "nonsense"], "write CHECK=ANSWER"),
    ];
    for (args, says) in cases {
        let all: Vec<&str> = args.iter().chain(&with).copied().collect();
        let (code, out, errors) = told(&all);
        assert_eq!((code, out.as_str()), (2, ""), "{args:?}");
        assert!(errors.contains(says), "{args:?}: {errors}");
    }
}

/// Published: Jaynes 2003, ch. 4, table after Good: evidence in decibans for A, B, C after n bad
/// draws in a row.
#[test]
fn decibans_of_three_hypotheses_follow_the_published_table() {
    let table = [
        (0, [-10.0, 10.0, -60.0]),
        (5, [5.016, -5.063, -27.129]),
        (10, [2.239, -22.11, -2.353]),
        (15, [-21.327, -56.514, 21.326]),
        (20, [-44.965, -95.171, 44.965]),
    ];
    for (draws, decibans) in table {
        let mut net = Network::new();
        let rest = 1.0 - 1e-6;
        let prior = vec![rest / 11.0, rest * 10.0 / 11.0, 1e-6];
        let hypothesis = net.add_table("hypothesis", 3, vec![], prior).unwrap();
        let bad = [1.0 / 3.0, 1.0 / 6.0, 0.99];
        let rows: Vec<f64> = bad.iter().flat_map(|p| [1.0 - p, *p]).collect();
        let found: Vec<Finding> = (0..draws)
            .map(|n| {
                let name = format!("draw {n}");
                let draw = net.add_table(name, 2, vec![hypothesis], rows.clone());
                Finding::hard(draw.unwrap(), 2, 1)
            })
            .collect();
        let target = |state: usize| Target {
            var: hypothesis,
            states: (0..3).map(|s| s == state).collect(),
        };
        let targets = [target(0), target(1), target(2)];
        let options = Options::default();
        let engine = Engine::new(&net, &found, &targets, &[], &[], &options).unwrap();
        for (p, published) in engine.targets().iter().zip(decibans) {
            let shown = Chance::new(*p).unwrap().decibans();
            assert!(
                (shown - published).abs() < 1.1e-3,
                "{draws}: {shown} {published}"
            );
        }
    }
}

/// Burglary (Pearl 1988; Russell & Norvig): burglary, earthquake, alarm, John, Mary.
fn burglary() -> (Network, [VarId; 5]) {
    let mut net = Network::new();
    let burglary = net.add_table("b", 2, vec![], vec![0.999, 0.001]).unwrap();
    let quake = net.add_table("e", 2, vec![], vec![0.998, 0.002]).unwrap();
    let rows = vec![0.999, 0.001, 0.71, 0.29, 0.06, 0.94, 0.05, 0.95];
    let alarm = net.add_table("a", 2, vec![burglary, quake], rows).unwrap();
    let john = net
        .add_table("j", 2, vec![alarm], vec![0.95, 0.05, 0.1, 0.9])
        .unwrap();
    let mary = net
        .add_table("m", 2, vec![alarm], vec![0.99, 0.01, 0.3, 0.7])
        .unwrap();
    (net, [burglary, quake, alarm, john, mary])
}

fn present(var: VarId) -> Target {
    Target {
        var,
        states: vec![false, true],
    }
}

/// Published: P(B|a) = .373551228, and with the earthquake known .003268424: explained away. The
/// stories of "both call" by hand: P(j, m) = .002084100239 (published); given the alarm both call
/// with .9·.7, else with .05·.01.
#[test]
fn an_earthquake_explains_the_burglar_away() {
    let (net, [burglary, quake, alarm, john, mary]) = burglary();
    let options = Options::default();
    let chance = |found: &[Finding]| {
        let engine = Engine::new(&net, found, &[present(burglary)], &[], &[], &options);
        engine.unwrap().targets()[0]
    };
    let rings = Finding::hard(alarm, 2, 1);
    let shakes = Finding::hard(quake, 2, 1);
    assert!((chance(std::slice::from_ref(&rings)) - 0.373_551_228).abs() < 1e-9);
    assert!((chance(&[rings, shakes]) - 0.003_268_424).abs() < 1e-9);

    let found = [Finding::hard(john, 2, 1), Finding::hard(mary, 2, 1)];
    let targets = [present(burglary), present(quake)];
    let engine = Engine::new(&net, &found, &targets, &[], &[], &options).unwrap();
    let now = (engine.targets(), engine.log_evidence());
    let stories = Stories::search(&net, &targets, &found, now, Effort::default()).unwrap();
    let calls = |alarm: f64| alarm * 0.63 + (1.0 - alarm) * 0.0005;
    let both = 0.002_084_100_239;
    let by_hand = [
        (vec![], 0.999 * 0.998 * calls(0.001) / both),
        (vec![0], 0.001 * 0.998 * calls(0.94) / both),
        (vec![1], 0.999 * 0.002 * calls(0.29) / both),
        (vec![0, 1], 0.001 * 0.002 * calls(0.95) / both),
    ];
    assert_eq!(stories.told.len(), 4);
    assert!((stories.covered.get() - 1.0).abs() < 1e-9);
    for (causes, p) in by_hand {
        let story = stories
            .told
            .iter()
            .find(|story| story.events == causes)
            .unwrap();
        assert!((story.probability.get() - p).abs() < 1e-9, "{causes:?}");
    }
}

/// Published inputs, by hand: chest clinic, P(d) = .43597060, P(x) = .11029004, P(d, x) =
/// .07067010: short breath and a shadow speak for each other. Burglary: the alarm rings and Mary
/// does not call, P(a) and P(¬m) from the published tables.
#[test]
fn conflict_of_published_networks() {
    let clinic = conflict_log10(
        &[0.435_970_6_f64.ln(), 0.110_290_04_f64.ln()],
        0.070_670_1_f64.ln(),
    );
    let by_hand = (0.435_970_6 * 0.110_290_04 / 0.070_670_1_f64).log10();
    assert!((clinic - by_hand).abs() < 1e-12);
    assert!(clinic < 0.0);

    let (net, [_, _, alarm, _, mary]) = burglary();
    let options = Options::default();
    let log = |found: &[Finding]| {
        let engine = Engine::new(&net, found, &[], &[], &[], &options);
        engine.unwrap().log_evidence()
    };
    let rings = Finding::hard(alarm, 2, 1);
    let silent = Finding::hard(mary, 2, 0);
    // P(a) = .002516442; P(¬m) = 1 − .7 P(a) − .01 (1 − P(a)); P(a, ¬m) = .3 P(a).
    let p =
        0.001 * 0.002 * 0.95 + 0.001 * 0.998 * 0.94 + 0.999 * 0.002 * 0.29 + 0.999 * 0.998 * 0.001;
    let by_hand = ((1.0 - 0.7 * p - 0.01 * (1.0 - p)) / 0.3_f64).log10();
    let alone = [
        log(std::slice::from_ref(&rings)),
        log(std::slice::from_ref(&silent)),
    ];
    let conflict = conflict_log10(&alone, log(&[rings, silent]));
    assert!((conflict - by_hand).abs() < 1e-9, "{conflict} {by_hand}");
    assert!(conflict > 0.3);
}

/// A random network: causes, worst-of nodes above each other, signs.
fn random_network(random: &mut ChaCha8Rng) -> (Network, Vec<Target>, Vec<VarId>) {
    let mut net = Network::new();
    let row = |random: &mut ChaCha8Rng, states: usize| {
        let raw: Vec<f64> = (0..states)
            .map(|_| random.random_range(0.05..1.0))
            .collect();
        let sum: f64 = raw.iter().sum();
        raw.into_iter().map(|x| x / sum).collect::<Vec<f64>>()
    };
    let condition = net
        .add_noisy_max("condition", vec![0.6, 0.4], vec![])
        .unwrap();
    let mut targets = Vec::new();
    for n in 0..4 {
        let low = random.random_range(0.02..0.3);
        let link = Link {
            parent: condition,
            push: vec![vec![1.0, 0.0], vec![0.7, 0.3]],
        };
        let fault = net.add_noisy_max(format!("fault {n}"), vec![1.0 - low, low], vec![link]);
        let fault = fault.unwrap();
        // Absent, present without a leak, two kinds of leak.
        let mut rows = vec![1.0, 0.0, 0.0, 0.0, 0.0];
        rows.extend(row(random, 3));
        let push = net
            .add_table(format!("push {n}"), 4, vec![fault], rows)
            .unwrap();
        targets.push(Target {
            var: push,
            states: vec![false, false, true, true],
        });
    }
    let mut signs = Vec::new();
    for n in 0..3 {
        let mut links = Vec::new();
        for target in &targets {
            if random.random_bool(0.7) {
                let none = vec![1.0, 0.0, 0.0];
                let push = vec![none.clone(), none, row(random, 3), row(random, 3)];
                links.push(Link {
                    parent: target.var,
                    push,
                });
            }
        }
        let sign = net.add_noisy_max(format!("sign {n}"), vec![0.9, 0.07, 0.03], links);
        let sign = sign.unwrap();
        let gate = net.add_gate(
            format!("gate {n}"),
            sign,
            condition,
            &[true, random.random_bool(0.5)],
        );
        signs.push(if n == 2 { gate.unwrap() } else { sign });
    }
    (net, targets, signs)
}

/// Second method: enumeration of all sixteen sets of causes, each by the slow engine.
#[test]
fn stories_agree_with_enumeration() {
    for seed in 0..40 {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let (net, targets, signs) = random_network(&mut random);
        let found: Vec<Finding> = signs
            .iter()
            .map(|&sign| Finding::hard(sign, 3, random.random_range(0..3)))
            .collect();
        let Ok(slow) = oracle(&net, &found, &targets, &[], &[]) else {
            continue;
        };
        let mut all: Vec<(Vec<usize>, f64)> = (0..16_usize)
            .map(|set| {
                let causes: Vec<usize> = (0..4).filter(|n| set >> n & 1 == 1).collect();
                let mut with = found.clone();
                for (n, target) in targets.iter().enumerate() {
                    let so = causes.contains(&n);
                    let likelihood = target
                        .states
                        .iter()
                        .map(|&of| f64::from(u8::from(of == so)));
                    with.push(Finding::soft(target.var, likelihood.collect()));
                }
                let p = oracle(&net, &with, &[], &[], &[]).map_or(0.0, |of| of.evidence);
                (causes, p / slow.evidence)
            })
            .collect();
        all.sort_by(|a, b| b.1.total_cmp(&a.1));
        let effort = Effort {
            told: 3,
            worlds: 16,
        };
        let now = (slow.targets.as_slice(), slow.evidence.ln());
        let stories = Stories::search(&net, &targets, &found, now, effort).unwrap();
        assert!(stories.proved, "{seed}");
        assert_eq!(stories.told.len(), 3);
        for (story, (causes, p)) in stories.told.iter().zip(&all) {
            assert!((story.probability.get() - p).abs() < 1e-9, "{seed}");
            assert_eq!(&story.events, causes, "{seed}");
        }
        let covered: f64 = all[..3].iter().map(|(_, p)| p).sum();
        assert!((stories.covered.get() - covered).abs() < 1e-9);
        assert!(stories.others_at_most.get() + 1e-9 >= all[3].1, "{seed}");
    }
}

/// Second method: the belief without a finding and with an answer, each by a case of its own; and
/// what every answer does averages to what is believed now.
#[test]
fn a_hunch_agrees_with_cases_of_its_own() {
    let loaded = rules::load_embedded();
    let base = loaded.rules.as_ref().unwrap();
    let path =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/hunches/wrong.yaml");
    let mut sources = Sources::new();
    let file = sources.add(Store::load(&path).unwrap());
    let job = JobFile::read(file, &sources).unwrap_or_else(|_| panic!("the job reads"));
    let layout = loaded.layout(&job.layout).unwrap();
    let graph = CausalGraph::expand(base, layout).unwrap();
    let case = resolve(&job, base, layout, &graph, &Shop::default(), 0.08).unwrap();
    for typed in [
        "@upper_hose_engine_end",
        "pitted_port@upper_hose_engine_end",
    ] {
        let suspect = find_suspect(base, layout, &graph, typed).unwrap();
        let hunch = Hunch::of(&case, suspect, true).unwrap();
        for weight in &hunch.weights {
            let mut without = case.clone();
            without.found.remove(weight.found);
            let belief = Belief::of(&without, &[]).unwrap();
            let (shown, _) = weight.last.unwrap();
            assert!((shown.get() - belief.chance_of(suspect)).abs() < 1e-9);
        }
        let sum: f64 = hunch
            .weights
            .iter()
            .filter_map(|of| of.in_order)
            .map(|(_, db)| db)
            .sum();
        let moved = hunch.now.decibans() - hunch.start.decibans();
        assert!((sum - moved).abs() < 1e-6, "{sum} {moved}");
        assert!(!hunch.settlers.checks.is_empty());
        for check in &hunch.settlers.checks {
            let effects = check.effects.iter();
            let mean: f64 = effects
                .map(|of| of.probability.get() * of.after.get())
                .sum();
            assert!((mean - hunch.now.get()).abs() < 1e-8);
            let pairs: Vec<(f64, f64)> = check
                .effects
                .iter()
                .map(|of| (of.probability.get(), of.after.get()))
                .collect();
            let same = same_decision(hunch.now.get(), hunch.decision.act_from.get(), &pairs);
            assert!((1.0 - same - check.changes.get()).abs() < 1e-9);
        }
        let check = &hunch.settlers.checks[0];
        let (option, effect) = (&check.asked.options[0], &check.effects[0]);
        let mut then = case.clone();
        let hard = |&(var, state): &(VarId, usize)| {
            Finding::hard(var, graph.node(var).states.len(), state)
        };
        then.found[0]
            .findings
            .extend(option.setting.iter().map(hard));
        let after = Belief::of(&then, &[]).unwrap().chance_of(suspect);
        assert!((after - effect.after.get()).abs() < 1e-8);
    }
    assert!(matches!(
        find_suspect(base, layout, &graph, "radiator core").unwrap(),
        Suspect::Place(_)
    ));
}
