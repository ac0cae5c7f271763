//! Drills and twins.
//!
//! Sources: Wilson's interval, a published worked figure (Newcombe 1998, Statistics in Medicine 17,
//! table I: 81 of 263 gives 0.2553 to 0.3662, 15 of 148 gives 0.0624 to 0.1605, 0 of 20 gives 0 to
//! 0.1611, 1 of 29 gives 0.0061 to 0.1718); kind: published. The drawn vehicles are checked against
//! the exact engine, a second method.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use seepwise::advise::Shop;
use seepwise::graph::CausalGraph;
use seepwise::ids::{Id, VarId};
use seepwise::infer::{Engine, Finding, Options};
use seepwise::job::{Entry, JobFile, resolve};
use seepwise::rules::{self, Loaded};
use seepwise::train::{
    Drill, Field, Played, Policy, Share, Strain, Tally, Truth, draw, draw_with_loss,
    learn_checklist, twins,
};

fn on<T>(layout: &str, then: impl FnOnce(&Field<'_>) -> T) -> T {
    on_strained(layout, Strain::default(), then)
}

fn on_strained<T>(layout: &str, strain: Strain, then: impl FnOnce(&Field<'_>) -> T) -> T {
    let loaded: Loaded = rules::load_embedded();
    let base = loaded
        .rules
        .as_ref()
        .expect("the built-in rules have no errors");
    let layout = loaded.layout(layout).expect("a built-in layout");
    let graph = CausalGraph::expand(base, layout).expect("a graph");
    then(&Field {
        rules: base,
        layout,
        graph: &graph,
        shop: Shop::default(),
        waiting_counts: 0.08,
        truth: Truth::of(&graph, strain, 5),
    })
}

#[test]
fn shares_carry_wilsons_interval() {
    let near = |a: f64, b: f64| (a - b).abs() < 5e-5;
    for (count, of, low, high) in [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ] {
        let share = Share::of(count, of);
        assert!(near(share.low, low) && near(share.high, high), "{share:?}");
    }
    assert_eq!(Share::of(0, 0).high.to_bits(), 1.0_f64.to_bits());
}

/// Every node of 4,000 drawn vehicles against the exact marginals: no state may be off by more than
/// five standard errors (one in 1.7 million by chance for each).
#[test]
fn drawn_vehicles_have_the_chances_of_the_rules() {
    on("standby_generator", |field| {
        const VEHICLES: u32 = 4_000;
        let network = &field.graph.network;
        let mut random = ChaCha8Rng::seed_from_u64(3);
        let mut counts: Vec<Vec<u32>> = network
            .ids()
            .map(|var| vec![0; network.node(var).states])
            .collect();
        for _ in 0..VEHICLES {
            for (count, state) in counts
                .iter_mut()
                .zip(draw(field.graph, &field.truth, &mut random).states)
            {
                count[state] += 1;
            }
        }
        let wanted: Vec<VarId> = (field.graph.causes.iter())
            .flat_map(|cause| [cause.fault, cause.push])
            .chain(field.graph.leak_of.iter().flatten().copied())
            .collect();
        let engine = Engine::new(network, &[], &[], &wanted, &[], &Options::default()).unwrap();
        let mut compared = 0;
        for var in wanted {
            for (state, p) in engine.marginal(var).unwrap().into_iter().enumerate() {
                let n = f64::from(VEHICLES);
                let seen = f64::from(counts[var.index()][state]);
                let slack = 5.0 * (n * p * (1.0 - p)).sqrt() + 3.0;
                assert!(
                    (seen - n * p).abs() <= slack,
                    "{} state {state}: {seen} of {n}, expected {}",
                    network.node(var).name,
                    n * p
                );
                compared += 1;
            }
        }
        assert!(compared > 200);
    });
}

/// What a repair adds to 4,000 vehicles, against the exact marginals of the graph that has it: the
/// same limits.
#[test]
fn what_a_repair_adds_is_drawn_with_its_chances() {
    use seepwise::graph::{Odds, Renewal, Renewed};
    use seepwise::rules::base::Reason;
    on("standby_generator", |field| {
        const VEHICLES: u32 = 4_000;
        let cause = (0..field.graph.causes.len())
            .find(|&cause| field.graph.causes[cause].leaking.contains(&true))
            .unwrap();
        let renewal = Renewal {
            faults: vec![Renewed {
                cause,
                odds: Odds {
                    fails: 0.3,
                    new: 0.2,
                },
                repaired: true,
                reason: Reason::default(),
            }],
            ..Renewal::default()
        };
        let renewed = field.graph.renew(field.rules, &renewal).unwrap();
        let added: Vec<VarId> = (renewed.network.ids())
            .skip(field.graph.network.len())
            .filter(|&var| {
                !matches!(
                    renewed.node(var).kind,
                    seepwise::graph::NodeKind::Sign { .. }
                )
            })
            .collect();
        assert!(added.contains(&renewed.causes[cause].push));
        let mut random = ChaCha8Rng::seed_from_u64(8);
        let mut counts = vec![[0_u32; 16]; added.len()];
        for _ in 0..VEHICLES {
            let mut drawn = draw(field.graph, &field.truth, &mut random);
            drawn.extend(&renewed, &field.truth, &mut random);
            for (count, var) in counts.iter_mut().zip(&added) {
                count[drawn.states[var.index()]] += 1;
            }
        }
        let engine =
            Engine::new(&renewed.network, &[], &[], &added, &[], &Options::default()).unwrap();
        for (count, &var) in counts.iter().zip(&added) {
            for (&seen, p) in count.iter().zip(engine.marginal(var).unwrap()) {
                let n = f64::from(VEHICLES);
                let slack = 5.0 * (n * p * (1.0 - p)).sqrt() + 3.0;
                assert!(
                    (f64::from(seen) - n * p).abs() <= slack,
                    "{seen} of {}",
                    n * p
                );
            }
        }
    });
}

/// Looks at a hidden place see nothing of any leak; elsewhere they do. Kind: own inputs.
#[test]
fn a_hidden_place_shows_nothing() {
    use seepwise::graph::NodeKind;
    let strain = Strain {
        hidden_place: true,
        ..Strain::default()
    };
    on_strained("standby_generator", strain, |field| {
        let mut random = ChaCha8Rng::seed_from_u64(4);
        let (mut hidden, mut elsewhere) = (0, 0);
        for _ in 0..2_000 {
            let drawn = draw(field.graph, &field.truth, &mut random);
            for var in field.graph.network.ids() {
                if let NodeKind::Seen(part) = field.graph.node(var).kind {
                    let shows = usize::from(drawn.states[var.index()] > 0);
                    if Some(part) == drawn.hidden {
                        hidden += shows;
                    } else {
                        elsewhere += shows;
                    }
                }
            }
        }
        assert_eq!(hidden, 0);
        assert!(elsewhere > 100, "{elsewhere}");
    });
}

/// Noise moves base rates, belongs to the fault and not to the place, and is the same for the same
/// seed. Kind: own inputs.
#[test]
fn noise_belongs_to_the_rule() {
    use seepwise::infer::Family;
    let strain = Strain {
        noise: 1.0,
        ..Strain::default()
    };
    on_strained("standby_generator", strain, |field| {
        let again = Truth::of(field.graph, strain, 5);
        let mut shifts = std::collections::BTreeMap::new();
        let mut moved = 0;
        for cause in &field.graph.causes {
            let own = &field.graph.network.node(cause.fault).family;
            let strained = field.truth.family(field.graph, cause.fault, None);
            assert_eq!(strained, again.family(field.graph, cause.fault, None));
            let (Family::NoisyMax { background: a, .. }, Family::NoisyMax { background: b, .. }) =
                (own, strained.as_ref())
            else {
                continue;
            };
            let shift = (b[1] / b[0]).ln() - (a[1] / a[0]).ln();
            moved += usize::from(shift.abs() > 0.1);
            let first = *shifts.entry(cause.place.fault).or_insert(shift);
            assert!((shift - first).abs() < 1e-6, "{shift} and {first}");
        }
        // One in thirteen normal numbers lies within 0.1 of 0.
        assert!(moved > field.graph.causes.len() / 2, "{moved}");
    });
}

/// Where every answer is wrong, none is what the vehicle shows. Kind: own inputs.
#[test]
fn a_wrong_answer_is_another_one() {
    let first_answers = |wrong_answers| {
        let strain = Strain {
            wrong_answers,
            ..Strain::default()
        };
        on_strained("standby_generator", strain, |field| {
            let order = ["level_now", "frost_habit", "smell_habit"].map(str::to_owned);
            let drill = Drill {
                jobs: 3,
                seed: 2,
                policies: vec![Policy::Checklist(order.to_vec())],
                threads: 1,
            };
            let drilled = drill.run(field, &|_, _| {}).unwrap();
            let first = |played: &Played| {
                let found = played
                    .job
                    .log
                    .iter()
                    .filter_map(|logged| match &logged.entry {
                        Entry::Found(found) if found.check == "level_now" => {
                            Some(found.answer.clone())
                        }
                        _ => None,
                    });
                found.collect::<Vec<_>>()
            };
            drilled[0].played.iter().map(first).collect::<Vec<_>>()
        })
    };
    let (right, wrong) = (first_answers(0.0), first_answers(1.0));
    for (right, wrong) in right.iter().zip(&wrong) {
        assert_eq!((right.len(), wrong.len()), (1, 1));
        assert_ne!(right, wrong);
    }
}

/// P(cause | loss reported) from the engine against the vehicles that report a loss: the same
/// figures that `rank` prints for a fresh complaint.
#[test]
fn vehicles_with_a_loss_have_the_chances_after_the_complaint() {
    on("standby_generator", |field| {
        const VEHICLES: u32 = 800;
        let reports: Vec<VarId> = (field.graph.tasks.iter())
            .filter(|task| field.rules.checks[task.check].reports_loss)
            .flat_map(|task| task.signs.iter().copied())
            .collect();
        assert_eq!(reports.len(), 1);
        let network = &field.graph.network;
        let mut some = vec![1.0; network.node(reports[0]).states];
        some[0] = 0.0;
        let pushes: Vec<VarId> = field.graph.causes.iter().map(|cause| cause.push).collect();
        let findings = [Finding::soft(reports[0], some)];
        let engine =
            Engine::new(network, &findings, &[], &pushes, &[], &Options::default()).unwrap();
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let mut leaks = vec![0_u32; pushes.len()];
        for _ in 0..VEHICLES {
            let drawn = draw_with_loss(
                field.rules,
                field.layout,
                field.graph,
                &field.truth,
                &mut random,
            )
            .unwrap();
            for at in drawn.sources(field.rules, field.layout, field.graph) {
                leaks[at] += 1;
            }
        }
        // Vehicles without any cause are not drawn: the shares are those given at least one.
        let sum: f64 = leaks.iter().map(|&n| f64::from(n)).sum::<f64>() / f64::from(VEHICLES);
        let exact: Vec<f64> = (field.graph.causes.iter().zip(&pushes))
            .map(|(cause, push)| {
                let p = engine.marginal(*push).unwrap();
                let leaking = cause.leaking.iter().zip(&p);
                leaking.filter(|(leaks, _)| **leaks).map(|(_, p)| p).sum()
            })
            .collect();
        let own = |at: &usize| {
            let part = field.graph.causes[*at].place.part;
            !field.rules.kinds[field.layout.parts[part].kind].apart
        };
        let total: f64 = (0..exact.len()).filter(own).map(|at| exact[at]).sum();
        for at in (0..exact.len()).filter(own) {
            let (n, p) = (f64::from(VEHICLES), exact[at] * sum / total);
            let slack = 5.0 * (n * p).sqrt() + 3.0;
            assert!((f64::from(leaks[at]) - n * p).abs() <= slack, "cause {at}");
        }
    });
}

#[test]
fn a_drill_is_the_same_on_any_number_of_threads() {
    on("standby_generator", |field| {
        let order = learn_checklist(field, 11, 60).unwrap();
        // This set starts by itself. It is locked off first, else nothing near its fan could be listed.
        let lists = |check: &str| order.iter().any(|task| task == check);
        assert!(
            lists("look_at_joint@cap") && lists("weep_hole_look@pump_seal"),
            "{order:?}"
        );
        let drill = |threads| {
            Drill {
                jobs: 2,
                seed: 9,
                policies: vec![Policy::Checklist(order.clone()), Policy::Random],
                threads,
            }
            .run(field, &|_, _| {})
            .unwrap()
        };
        let (one, two) = (drill(1), drill(2));
        for (a, b) in one.iter().zip(&two) {
            assert_eq!(a.played, b.played);
        }
        // The same vehicles for each way of choosing.
        assert_eq!(one[0].played[0].sources, one[1].played[0].sources);
    });
}

/// By hand: two forecasts, 0.8 that came true and 0.2 that did not, miss by 0.2 each: Brier 0.04.
#[test]
fn a_tally_counts_as_by_hand() {
    let job = |found: bool, minutes: f64, forecast: (f64, bool)| Played {
        sources: vec![seepwise::ids::PartId::from_index(0)],
        found: if found {
            vec![seepwise::ids::PartId::from_index(0)]
        } else {
            Vec::new()
        },
        minutes,
        waiting: 10.0,
        held_up: 10.0,
        forecast: vec![forecast],
        ..Played::default()
    };
    let jobs = [job(true, 10.0, (0.8, true)), job(false, 30.0, (0.2, false))];
    let tally = Tally::of(&jobs.each_ref(), 0.1);
    assert_eq!((tally.all_found.count, tally.all_found.of), (1, 2));
    assert!((tally.minutes - 20.0).abs() < 1e-12 && (tally.cost - 21.0).abs() < 1e-12);
    assert!((tally.brier.unwrap() - 0.04).abs() < 1e-12);
    assert_eq!(tally.reliability[8].true_ones, 1);
    assert_eq!(tally.reliability[2].forecasts, 1);
    // Of three jobs one leaks where the rules name no part, and says so.
    let unnamed = Played {
        unnamed_leaks: true,
        ended_unnamed: true,
        ..job(false, 50.0, (0.1, false))
    };
    // Two that lose coolant at two places; at one of them not by a leak.
    let two = |leaks: usize| Played {
        sources: vec![
            seepwise::ids::PartId::from_index(0),
            seepwise::ids::PartId::from_index(1),
        ],
        leaks,
        ..job(true, 20.0, (0.5, true))
    };
    let both = Played {
        found: two(2).sources,
        ..two(2)
    };
    let several = Tally::of(&[&two(1), &both], 0.1);
    let jobs = [jobs[0].clone(), jobs[1].clone(), unnamed];
    let tally = Tally::of(&jobs.each_ref(), 0.1);
    let counts = |share: Share| (share.count, share.of);
    assert_eq!(counts(tally.all_found), (1, 3));
    assert_eq!(counts(tally.all_found_of_named), (1, 2));
    assert_eq!(counts(tally.unnamed_told), (1, 1));
    assert_eq!(counts(several.all_found_of_several), (1, 2));
    assert_eq!(counts(several.all_found_of_several_leaks), (1, 1));
}

/// The figures of pairs against an engine for each cause by itself, with every other cause ruled
/// out for good: a second method. Kind: the definition in `twins`.
#[test]
fn twins_have_the_figures_of_vehicles_with_one_cause() {
    use seepwise::infer::Question;
    on("standby_generator", |field| {
        let (rules, layout, graph) = (field.rules, field.layout, field.graph);
        let none = std::collections::BTreeSet::new();
        let tasks: Vec<_> = (graph.tasks.enumerated())
            .filter(|(_, task)| task.zone.is_none() && task.cover_on.is_none())
            .map(|(id, _)| id)
            .collect();
        let nothing = std::collections::BTreeSet::new();
        let questions: Vec<Question> = (tasks.iter())
            .map(|&id| graph.ask(rules, layout, id, &none, &nothing).question)
            .collect();
        let alone = |place| -> Vec<Vec<f64>> {
            let findings: Vec<Finding> = (graph.causes.iter())
                .map(|cause| {
                    let wanted = cause.place == place;
                    let likelihood = (cause.leaking.iter())
                        .map(|&leaks| f64::from(u8::from(leaks == wanted)))
                        .collect();
                    Finding::soft(cause.push, likelihood)
                })
                .collect();
            let options = Options::default();
            let mut engine =
                Engine::new(&graph.network, &findings, &[], &[], &questions, &options).unwrap();
            (0..questions.len())
                .map(|number| engine.answers(number).unwrap().probability)
                .collect()
        };
        let entropy =
            |p: &[f64]| -> f64 { p.iter().filter(|p| **p > 0.0).map(|p| -p * p.log2()).sum() };
        let pairs = twins((rules, layout, graph), None, usize::MAX).unwrap();
        for pair in pairs.iter().step_by(pairs.len() / 6) {
            let (one, other) = (alone(pair.one), alone(pair.other));
            let both = one.iter().zip(&other);
            let affinity: f64 = (both.clone())
                .map(|(p, q)| {
                    p.iter()
                        .zip(q)
                        .map(|(p, q)| (p * q).max(0.0).sqrt())
                        .sum::<f64>()
                })
                .product();
            // Entropy of the mixture less that of its halves: the same divergence, written otherwise.
            let bits = both.map(|(p, q)| {
                let mixed: Vec<f64> = p
                    .iter()
                    .zip(q)
                    .map(|(p, q)| f64::midpoint(*p, *q))
                    .collect();
                entropy(&mixed) - f64::midpoint(entropy(p), entropy(q))
            });
            let bits: Vec<f64> = bits.collect();
            let (best, told) = pair.best.unwrap();
            let place = tasks.iter().position(|&task| task == best).unwrap();
            assert!((pair.alike - affinity).abs() < 1e-4, "{pair:?}: {affinity}");
            assert!(
                (told - bits[place]).abs() < 1e-4,
                "{pair:?}: {}",
                bits[place]
            );
            assert!(bits.iter().all(|bits| *bits < told + 1e-4), "{pair:?}");
        }
    });
}

#[test]
fn twins_are_sorted_and_a_settling_check_tells_a_bit() {
    on("standby_generator", |field| {
        let job = JobFile {
            layout: field.layout.named.id.clone(),
            ..JobFile::default()
        };
        let case = resolve(
            &job,
            field.rules,
            field.layout,
            field.graph,
            &field.shop,
            0.08,
        )
        .unwrap();
        let pairs = twins((case.rules, case.layout, &case.graph), None, usize::MAX).unwrap();
        assert!(pairs.windows(2).all(|two| two[0].alike >= two[1].alike));
        for pair in &pairs {
            let bits = pair.best.map_or(0.0, |(_, bits)| bits);
            assert!((0.0..=1.0 + 1e-9).contains(&bits));
            // A check with affinity b tells at most sqrt(1 - b²) bits (Lin 1991, both are bounded
            // by the total variation); all checks together leave no more alike than the best one.
            assert!(
                pair.alike <= 1.0 - bits * bits / 2.0 + 1e-9 || bits < 1e-6,
                "{pair:?}"
            );
        }
    });
}

/// An exercise: what a block forbids is refused and counted, until it is made safe; the planted
/// fault is among the sources; naming it is right. Kind: own inputs.
#[test]
fn an_exercise_refuses_what_a_block_forbids_and_knows_what_it_planted() {
    use seepwise::advise::{Suspect, offers};
    use seepwise::train::{Done, Practice, draw_planted};
    on("standby_generator", |field| {
        let cause = (0..field.graph.causes.len())
            .find(|&cause| field.graph.causes[cause].leaking.contains(&true))
            .unwrap();
        let mut random = ChaCha8Rng::seed_from_u64(11);
        let drawn =
            draw_planted(field.rules, field.layout, field.graph, cause, &mut random).unwrap();
        let mut practice = Practice::begin(field, drawn, ChaCha8Rng::seed_from_u64(3)).unwrap();
        // A set that can start by itself keeps hands off until it is locked.
        let (task, block) = offers(&practice.case().unwrap()).blocked[0];
        assert_eq!(practice.check(task).unwrap(), Done::Blocked(block));
        assert_eq!((practice.refused.len(), practice.checks), (1, 0));
        practice.clear(block);
        assert!(matches!(practice.check(task).unwrap(), Done::Shows(_)));
        assert_eq!(practice.check(task).unwrap(), Done::NotNow);
        assert!(practice.checks == 1 && practice.minutes > 0.0);
        let debrief = practice.debrief(Some(Suspect::Cause(cause))).unwrap();
        assert!(debrief.sources.contains(&cause));
        assert_eq!(debrief.right, Some(true));
        assert!(debrief.worth.len() >= 2);
    });
}
