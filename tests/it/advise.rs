//! What is proposed: safe ways only, exact gains, blocks kept. Kinds: common practice (no step without
//! its caution, blocks), and a second method for the gains: conditioning on every answer.

use std::collections::BTreeSet;

use seepwise::advise::{
    Answered, Belief, Case, Feeder, Proposals, Ranking, Shop, Step, Verdict, held_up, offers,
};
use seepwise::chance::entropy_bits;
use seepwise::graph::{CausalGraph, NodeKind, Place};
use seepwise::ids::{Id, TaskId, VarId};
use seepwise::infer::Finding;
use seepwise::job::{AnswerGiven, Entry, Found, JobFile, resolve};
use seepwise::rules::base::SetUpNeeds;
use seepwise::rules::{self, Layout, Loaded, RuleBase};

fn job(layout: &str, found: &[(&str, &str)]) -> JobFile {
    let entry = |(check, answer): &(&str, &str)| {
        let (check, at) = check
            .split_once('@')
            .map_or((*check, None), |(check, at)| (check, Some(at.to_owned())));
        let answer = AnswerGiven::One((*answer).to_owned());
        Entry::Found(Found {
            check: check.to_owned(),
            at,
            answer,
            ..Found::default()
        })
        .into()
    };
    JobFile {
        layout: layout.to_owned(),
        log: found.iter().map(entry).collect(),
        ..JobFile::default()
    }
}

fn with_case(
    loaded: &Loaded,
    layout: &str,
    found: &[(&str, &str)],
    then: impl Fn(&RuleBase, &Layout, &Case<'_>),
) {
    let base = loaded.rules.as_ref().expect("the built-in rules load");
    let layout = loaded.layout(layout).expect("a built-in layout");
    let graph = CausalGraph::expand(base, layout).unwrap();
    let job = job(&layout.named.id, found);
    let case = resolve(&job, base, layout, &graph, &Shop::default(), 0.08).unwrap();
    then(base, layout, &case);
}

/// The case with one more answer.
fn with_answer<'a>(case: &Case<'a>, setting: &[(VarId, usize)]) -> Case<'a> {
    let mut then = case.clone();
    let hard = |&(var, state): &(VarId, usize)| {
        Finding::hard(var, case.graph.node(var).states.len(), state)
    };
    then.found[0].findings.extend(setting.iter().map(hard));
    then
}

fn meets(values: &[usize], needs: &SetUpNeeds) -> bool {
    needs
        .iter()
        .all(|(facet, allowed)| allowed.contains(&values[facet.index()]))
}

/// Walks each way step by step: every step may be taken, no set-up on the way is among `never`,
/// none is blocked, and the end is what the check needs.
#[test]
fn every_way_is_legal_at_every_step() {
    let loaded = rules::load_embedded();
    for layout in &loaded.layouts {
        let found = [("loss_reported", "slow")];
        with_case(&loaded, &layout.named.id, &found, |base, layout, case| {
            let (proposals, _) = Proposals::of(case).unwrap();
            assert!(proposals.checks.len() > 10);
            let mut long = 0;
            for proposal in &proposals.checks {
                let mut values = case.set_up.values.clone();
                for &step in &proposal.journey.steps {
                    let Step::Way(way) = step else { continue };
                    long += 1;
                    let way = &base.ways[way];
                    assert!(layout.holds(&way.only, None));
                    assert!(
                        meets(&values, &way.needs),
                        "{} can't be taken",
                        way.named.id
                    );
                    for &(facet, value) in &way.to {
                        values[facet.index()] = value;
                    }
                    assert!(!base.never.iter().any(|never| meets(&values, &never.set_up)));
                    for &block in &case.blocks {
                        let forbids = &base.blocks[block].forbids;
                        assert!(
                            !forbids
                                .iter()
                                .any(|(facet, not)| not.contains(&values[facet.index()]))
                        );
                    }
                }
                assert_eq!(values, proposal.journey.to.values);
                assert!(meets(&values, &case.graph.tasks[proposal.asked.task].needs));
            }
            assert!(long > 0, "{}: no way had a step", layout.named.id);
        });
    }
}

/// Milky oil forbids running the engine: nothing proposed runs it, on the way or at the end, and
/// what would need it is named as blocked (TRADE rule: coolant in the oil, no running).
#[test]
fn milky_oil_keeps_the_engine_off() {
    let loaded = rules::load_embedded();
    let found = [
        ("loss_reported", "slow"),
        ("oil_look", "oil=milky, oil_level=right"),
    ];
    with_case(&loaded, "water_tender", &found, |base, _, case| {
        let engine = base
            .facets
            .enumerated()
            .find(|(_, facet)| facet.named.id == "engine")
            .unwrap();
        let running = engine
            .1
            .values
            .iter()
            .position(|value| value.named.id == "running")
            .unwrap();
        let (proposals, _) = Proposals::of(case).unwrap();
        assert!(!proposals.blocked.is_empty());
        for proposal in &proposals.checks {
            assert_ne!(proposal.journey.to.values[engine.0.index()], running);
        }
    });
}

/// Second method for the gain: the entropy of every cause after conditioning on each answer,
/// weighted by the answer's chance from P(evidence). To 1e-8 bits.
#[test]
fn gains_agree_with_conditioning_on_every_answer() {
    let loaded = rules::load_embedded();
    let found = [
        ("loss_reported", "slow"),
        ("puddle_seen", "spot"),
        ("look_at_joint@radiator_core", "crust"),
    ];
    with_case(&loaded, "standby_generator", &found, |_, _, case| {
        let (proposals, now) = Proposals::of(case).unwrap();
        let before: f64 = now.causes.iter().map(|&p| entropy_bits(p)).sum();
        let mut compared = 0;
        for proposal in proposals.checks.iter().take(12) {
            let mut after = 0.0;
            let mut total = 0.0;
            for option in &proposal.asked.options {
                let then = with_answer(case, &option.setting);
                let belief = Belief::of(&then, &[]).unwrap();
                let chance = (belief.log_evidence() - now.log_evidence()).exp();
                after += chance * belief.causes.iter().map(|&p| entropy_bits(p)).sum::<f64>();
                total += chance;
            }
            let name = &proposal.asked.options[0].text;
            assert!(
                (total - 1.0).abs() < 1e-9,
                "{name}: the answers' chances add up to {total}"
            );
            assert!(
                (before - after - proposal.gain_bits).abs() < 1e-8,
                "{name}: {} against {}",
                before - after,
                proposal.gain_bits
            );
            compared += 1;
        }
        assert_eq!(compared, 12);
    });
}

/// Second method: the two expected costs themselves. To repair the likeliest place needlessly costs c,
/// to put a right repair off costs 1: repairing is reasonable while (1 − p) · c ≤ p. And only where the best
/// check tells less than the policy asks for.
#[test]
fn a_place_is_acted_on_where_a_needless_repair_costs_less_than_waiting() {
    let loaded = rules::load_embedded();
    let found = [("loss_reported", "slow"), ("cap_on_adapter@cap", "early")];
    with_case(&loaded, "crew_minibus", &found, |base, _, case| {
        let (proposals, belief) = Proposals::of(case).unwrap();
        let ranking = Ranking::of(case, &belief).unwrap();
        let first = &ranking.leaks[0];
        assert_eq!(case.layout.parts[first.part].named.id, "cap");
        let p = first.probability.get();
        let with_policy = |needless: f64, act_below: f64| {
            let mut other = base.clone();
            other.policy.needless_repair = needless;
            other.policy.needless_repairs.clear();
            other.policy.act_below_bits_per_hour = act_below;
            let mut case = case.clone();
            case.rules = &other;
            Verdict::of_checks(&case, &ranking, &proposals)
        };
        let best = proposals.best_bits_per_hour();
        for needless in [0.1, 0.3, 0.6, 0.7, 0.75, 1.0, 4.0] {
            let reasonable = (1.0 - p) * needless <= p;
            let told = with_policy(needless, best + 1.0);
            match &told {
                Verdict::Act { named, leaks, .. } => {
                    assert!(reasonable, "{needless} {p}");
                    assert_eq!(case.graph.causes[named[0]].place.part, first.part);
                    assert_eq!(*leaks, first.probability);
                }
                Verdict::GoOn => assert!(!reasonable, "{needless} {p}"),
                _ => panic!("{told:?}"),
            }
            assert_eq!(with_policy(needless, best - 0.1), Verdict::GoOn);
        }
    });
}

/// Common practice: nobody takes a head off before the dear checks that may spare it; for a clamp
/// nobody does any.
#[test]
fn a_dear_suspect_is_worth_a_dear_check() {
    let loaded = rules::load_embedded();
    let floor = |found: &[(&str, &str)], suspect: &str, share: f64| {
        with_case(&loaded, "standby_generator", found, |base, layout, case| {
            let (proposals, belief) = Proposals::of(case).unwrap();
            let ranking = Ranking::of(case, &belief).unwrap();
            let first = &ranking.leaks[0];
            assert_eq!(layout.parts[first.part].named.id, suspect);
            assert!(first.probability.get() >= 0.25);
            let wanted = base.policy.floor_bits_per_hour * share;
            assert!((proposals.floor_bits_per_hour - wanted).abs() < 1e-12);
        });
    };
    let swallowed = [
        ("loss_reported", "slow"),
        ("gas_test", "gas"),
        ("bores_after_night", "damp"),
    ];
    // A head off for nothing counts 19, anything else 6.
    floor(&swallowed, "gasket_cylinder", 6.0 / 19.0);
    let early = [("loss_reported", "slow"), ("cap_on_adapter@cap", "early")];
    floor(&early, "cap", 1.0);
}

/// Common practice: what is at none of the parts that are known is somewhere else, and then the
/// advice is not to repair the likeliest.
#[test]
fn what_is_at_no_part_of_the_rules_is_said_to_be_somewhere_else() {
    let loaded = rules::load_embedded();
    let found = [("loss_reported", "slow"), ("night_hold", "falls")];
    with_case(&loaded, "standby_generator", &found, |_, layout, case| {
        let mut case = case.clone();
        let tight: Vec<Finding> = (case.graph.causes.iter())
            .filter(|cause| layout.parts[cause.place.part].named.id != "elsewhere")
            .map(|cause| {
                let leaking = cause.leaking.iter();
                let likelihood = leaking.map(|&leaks| if leaks { 1e-6 } else { 1.0 });
                Finding::soft(cause.push, likelihood.collect())
            })
            .collect();
        case.found.push(Answered {
            entry: 3,
            task: None,
            words: "every part was opened up and was tight".to_owned(),
            findings: tight,
            normal: true,
        });
        let (proposals, belief) = Proposals::of(&case).unwrap();
        let ranking = Ranking::of(&case, &belief).unwrap();
        let first = ranking.leaks.iter().find(|leak| !leak.apart).unwrap();
        assert_eq!(layout.parts[first.part].named.id, "elsewhere");
        let impatient = Proposals {
            floor_bits_per_hour: proposals.best_bits_per_hour() + 0.1,
            ..proposals
        };
        match Verdict::of_checks(&case, &ranking, &impatient) {
            Verdict::NothingLeft {
                likeliest,
                unnamed,
                most_telling,
                ..
            } => {
                assert_eq!(likeliest, Some(first.probability));
                assert!(unnamed);
                // Whatever it takes, what tells most is named.
                let gains = impatient.checks.iter().map(|check| check.gain_bits);
                let most = gains.fold(0.0, f64::max);
                let told = most_telling.map(|(_, bits)| bits);
                assert_eq!(told, (most >= 0.1).then_some(most));
            }
            other => panic!("{other:?}"),
        }
    });
}

/// A quick estimate picks what is weighed exactly. Second method: conditioning on every answer of every
/// check of one sign; by itself none may be much better for its time, the way included, than the one
/// proposed first.
#[test]
fn no_check_that_is_passed_over_would_be_much_better() {
    let loaded = rules::load_embedded();
    let found = [
        ("loss_reported", "slow"),
        ("where_seen", "nowhere"),
        ("look_at_joint@cap", "dry"),
        ("look_at_joint@radiator_core", "crust"),
    ];
    with_case(&loaded, "standby_generator", &found, |base, _, case| {
        let (proposals, now) = Proposals::of(case).unwrap();
        let apart = |cause: usize| {
            let part = case.graph.causes[cause].place.part;
            base.kinds[case.layout.parts[part].kind].apart
        };
        let bits = |of: &Belief| -> f64 {
            let causes = of.causes.iter().enumerate();
            causes
                .filter(|(cause, _)| !apart(*cause))
                .map(|(_, &p)| entropy_bits(p))
                .sum()
        };
        let weighed: BTreeSet<TaskId> = proposals.checks.iter().map(|of| of.asked.task).collect();
        let mut compared = 0;
        for offer in offers(case).open {
            let passed_over = !weighed.contains(&offer.asked.task);
            if !passed_over || offer.asked.question.signs.len() > 1 {
                continue;
            }
            let mut after = 0.0;
            for option in &offer.asked.options {
                let then = with_answer(case, &option.setting);
                let belief = Belief::of(&then, &[]).unwrap();
                after += (belief.log_evidence() - now.log_evidence()).exp() * bits(&belief);
            }
            let check = &base.checks[case.graph.tasks[offer.asked.task].check];
            let policy = &base.policy;
            let turning = if check.intake {
                policy.asking_minutes
            } else {
                policy.turning_minutes
            };
            let rate = (bits(&now) - after) / (offer.minutes(case).max(0.5) + turning);
            let best = proposals.checks[0].rate;
            assert!(
                rate < 1.25 * best,
                "{}: {rate} against {best}",
                check.named.id
            );
            compared += 1;
        }
        assert!(compared > 30, "{compared}");
    });
}

/// Nine unlikely answers together leave doubles few digits. Second method for what is proposed then:
/// conditioning on each answer. Chances to 1e-6, the likeliest cause after an answer to 1e-4.
#[test]
fn unlikely_answers_together_are_still_told_right() {
    let loaded = rules::load_embedded();
    let found = [
        ("loss_reported", "quick"),
        ("puddle_seen", "puddle"),
        ("smell_habit", "bonnet"),
        ("where_seen", "top"),
        ("how_it_began", "at_once"),
        ("work_then_loss", "yes"),
        ("belt_habit", "thrown"),
        ("overheating_habit", "warm"),
        ("loss_when", "also_standing"),
    ];
    with_case(&loaded, "crew_minibus", &found, |_, _, case| {
        let (proposals, now) = Proposals::of(case).unwrap();
        assert!(Ranking::of(case, &now).unwrap().causes.len() > 100);
        // Advice asks for fewer digits than a ranking: a posterior may be 1e-5 off.
        let close = Belief::of(case, &[]).unwrap();
        for (quick, close) in now.causes.iter().zip(&close.causes) {
            assert!((quick - close).abs() < 1e-5, "{quick} against {close}");
        }
        // The rarest answers are the hardest.
        let mut answers: Vec<_> = (proposals.checks.iter())
            .flat_map(|check| check.asked.options.iter().zip(&check.outcomes))
            .collect();
        assert!(answers.len() >= 10);
        answers.sort_by(|a, b| a.1.probability.get().total_cmp(&b.1.probability.get()));
        for (option, outcome) in answers.into_iter().take(4) {
            let then = with_answer(case, &option.setting);
            let belief = Belief::of(&then, &[]).unwrap();
            let chance = (belief.log_evidence() - now.log_evidence()).exp();
            assert!((chance - outcome.probability.get()).abs() < 1e-6);
            let (first, p) = outcome.first.unwrap();
            assert!((belief.causes[first] - p.get()).abs() < 1e-4);
        }
    });
}

/// The chance that a place leaks, read off its faults without a node for the place. Kind: second method:
/// P(findings and the leak) / P(findings), the leak being a node of the network.
#[test]
fn a_place_leaks_as_often_as_its_node_says() {
    let loaded = rules::load_embedded();
    let found = [
        ("loss_reported", "slow"),
        ("where_seen", "top"),
        ("smell_habit", "bonnet"),
        ("work_then_loss", "yes"),
    ];
    let several = std::cell::Cell::new(0);
    with_case(&loaded, "crew_minibus", &found, |_, _, case| {
        let now = Belief::of(case, &[]).unwrap();
        for (part, leak) in case.graph.leak_of.enumerated() {
            let Some(leak) = *leak else {
                assert_eq!(now.leaks[part], None);
                continue;
            };
            let then = with_answer(case, &[(leak, 1)]);
            let both = Belief::of(&then, &[]).unwrap().log_evidence();
            let chance = (both - now.log_evidence()).exp();
            let told = now.leaks[part].unwrap();
            assert!((chance - told).abs() < 1e-9, "{chance} against {told}");
            let likely = |&(cause, p): &(&seepwise::graph::Cause, &f64)| {
                cause.place.part == part && *p > 1e-3
            };
            let causes = case.graph.causes.iter().zip(&now.causes);
            several.set(several.get() + usize::from(causes.filter(likely).count() > 1));
        }
    });
    // Where one fault alone can leak there would be nothing to get wrong.
    assert!(several.get() > 10);
}

/// What feeds a fault, read from the rules, against the arrows of the graph. Kind: second method.
#[test]
fn what_feeds_a_fault_is_what_the_graph_draws_arrows_from() {
    let loaded = rules::load_embedded();
    let mut of_partners = 0;
    for layout in loaded.layouts.iter().map(|layout| &layout.named.id) {
        let found = [("loss_reported", "slow")];
        let partners = std::cell::Cell::new(0);
        with_case(&loaded, layout, &found, |_, _, case| {
            let ranking = Ranking::of(case, &Belief::of(case, &[]).unwrap()).unwrap();
            let nameable: Vec<Place> = case.graph.causes.iter().map(|of| of.place).collect();
            for cause in &ranking.causes {
                let fault = case.graph.causes[cause.cause].fault;
                let mut drawn: Vec<Place> = case
                    .graph
                    .arrows_into(fault)
                    .into_iter()
                    .filter_map(|(parent, _)| match case.graph.node(parent).kind {
                        NodeKind::Fault(place) | NodeKind::Push(place) => Some(place),
                        _ => None,
                    })
                    .filter(|place| nameable.contains(place))
                    .collect();
                let mut told: Vec<Place> = cause
                    .fed_by
                    .iter()
                    .filter_map(|(feeder, _)| match feeder {
                        Feeder::Fault(place) => Some(*place),
                        Feeder::Condition(_) => None,
                    })
                    .collect();
                drawn.sort_unstable();
                told.sort_unstable();
                assert_eq!(told, drawn, "{layout}: {:?}", cause.place);
                let elsewhere = told.iter().filter(|by| by.part != cause.place.part);
                partners.set(partners.get() + elsewhere.count());
            }
        });
        of_partners += partners.get();
    }
    assert!(of_partners > 0, "no rule leads from part to part");
}

/// Checks at the end of one way share it: each of them gets at least the rate of their bundle, and
/// no bundle looks at a place twice. Without that a pumped system, which pays only by many looks,
/// never comes first. Second method: the sums done here. Kind: own inputs.
#[test]
fn checks_at_the_end_of_one_way_share_it() {
    let loaded = rules::load_embedded();
    let found = [("loss_reported", "slow"), ("puddle_seen", "none")];
    with_case(&loaded, "crew_minibus", &found, |base, _, case| {
        let (proposals, _) = Proposals::of(case).unwrap();
        let of = |task| {
            let mut all = proposals.checks.iter();
            all.find(|check| check.asked.task == task).unwrap()
        };
        let mut shared = 0;
        for bundle in &proposals.bundles {
            let mut minutes = bundle.journey.cost(case.waiting_counts);
            let (mut bits, mut places) = (0.0, Vec::new());
            for &task in &bundle.tasks {
                let check = of(task);
                let turning = base.policy.turning_minutes;
                minutes += (check.minutes + case.waiting_counts * held_up(check.waiting)).max(0.5)
                    + turning;
                bits += check.gain_bits - check.spoils.0;
                places.extend(match &check.asked.places[..] {
                    [] => vec![task],
                    looked => looked.to_vec(),
                });
                assert!(check.rate >= bundle.rate() - 1e-12);
                let own = (check.minutes + case.waiting_counts * held_up(check.waiting)).max(0.5);
                let alone = (check.gain_bits - check.spoils.0)
                    / (own + turning + check.journey.cost(case.waiting_counts));
                shared += usize::from(check.rate > alone * 1.01);
            }
            assert!((bundle.rate() - bits / minutes).abs() < 1e-12);
            let count = places.len();
            places.sort_unstable();
            places.dedup();
            assert_eq!(places.len(), count, "a place is looked at twice");
        }
        assert!(shared > 0, "sharing made no difference");
        let rates = proposals.checks.windows(2);
        assert!(rates.into_iter().all(|pair| pair[0].rate >= pair[1].rate));
    });
}
