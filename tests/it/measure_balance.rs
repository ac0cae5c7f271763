//! Found against lost, and a loss in numbers, as evidence. Kind: a second method (the likelihoods
//! integrated over a grid here, the beliefs by the law of total probability over the four levels of
//! one node), and the arithmetic of litres and minutes.

use std::path::Path;

use seepwise::advise::{Account, Belief, Case, Ranking, Shop, Verdict};
use seepwise::advise::{Explanation, Proposals};
use seepwise::graph::NodeKind;
use seepwise::ids::VarId;
use seepwise::infer::{Engine, Finding, Network, Options};
use seepwise::job::{JobFile, resolve};
use seepwise::measure::balance::{Account as Outcome, MeasuredLeak, balance};
use seepwise::measure::plan::{LossWhen, ReportedLoss, Scaling};
use seepwise::reading::{loss_levels, rest_levels};
use seepwise::source::{SourceFile, Sources};

use crate::program::told_here;
use crate::vehicle::{LEVELS, MINIBUS};

const STEPS: u32 = 400;

fn case_of(log: &str) -> Case<'static> {
    let mut sources = Sources::new();
    let text = format!("job: 1\nlayout: crew_minibus\nlog:\n{log}");
    let file = sources.add(SourceFile::new("a.yaml", &text));
    let mut job =
        JobFile::read(file, &sources).unwrap_or_else(|found| panic!("{:?}", found.views(&sources)));
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    job.attach(&folder).expect("the logs are there");
    let of = &*MINIBUS;
    resolve(
        &job,
        &of.rules,
        &of.layout,
        &of.graph,
        &Shop::default(),
        0.1,
    )
    .unwrap_or_else(|problems| panic!("{problems:#?}"))
}

const COMPLAINT: &str = "  - {check: loss_reported, answer: slow}\n";
const NIGHT: &str = "  - {gauge: night_hold, unit: psi, air_ml: [100, 160], coolant_l: 12, step: 0.1, file: measured/night_small_leak.csv}\n";
const CONFIRMED: &str = "  - {confirmed: clamp_set_back, at: upper_hose_radiator_end}\n";
const LARGE: &str = "  - {loss: 1.5 L, days: 14, hours_a_day: 1.5}\n";
const SMALL: &str = "  - {loss: 0.5 L, days: 14}\n";

fn log_uniform(low: f64, high: f64, steps: u32) -> Vec<f64> {
    (0..=steps)
        .map(|i| low * (high / low).powf(f64::from(i) / f64::from(steps)))
        .collect()
}

/// By the trapezoid rule over the logarithm, where the program takes middles: the chance density of
/// the loss that was told, on the scale on which a sum that fits exactly has 1.
fn by_grid(loss: &ReportedLoss, found: (f64, f64), band: Option<(f64, f64)>) -> f64 {
    let told = loss.ml_per_min();
    let least: f64 = match loss.when {
        LossWhen::Running { .. } => 1.0,
        LossWhen::DayAndNight => 0.02,
    };
    let shares: Vec<f64> = (0..5).map(|i| least.powf(f64::from(i) / 4.0)).collect();
    let weight = |i: usize, n: usize| if i == 0 || i + 1 == n { 0.5 } else { 1.0 };
    let found = if found.1 > 0.0 {
        log_uniform(found.0, found.1, 60)
    } else {
        vec![0.0]
    };
    let rest = band.map_or(vec![0.0], |(low, high)| log_uniform(low, high, STEPS));
    let (mut sum, mut all) = (0.0, 0.0);
    for (i, r) in rest.iter().enumerate() {
        for (j, f) in found.iter().enumerate() {
            for share in &shares {
                let of = weight(i, rest.len()) * weight(j, found.len());
                let off = ((f + share * r) / told).ln() / 0.2;
                sum += of * (-off * off / 2.0).exp();
                all += of;
            }
        }
    }
    let any = 0.2 * std::f64::consts::TAU.sqrt() / (2000.0_f64 / 0.002).ln();
    0.97 * sum / all + 0.03 * any
}

fn leak(least: f64, most: f64) -> MeasuredLeak {
    MeasuredLeak {
        least_ml_per_min: least,
        most_ml_per_min: most,
        gauge_kpa: 82.7,
        cold: true,
    }
}

fn running(litres: f64, days: f64, hours_per_day: f64) -> ReportedLoss {
    ReportedLoss {
        litres,
        days,
        when: LossWhen::Running { hours_per_day },
    }
}

/// Within 3 % of the grid, each level; no leak is what the program reads as less than the first.
#[test]
fn likelihoods_agree_with_a_grid() {
    let near = |found: &[f64], wanted: Vec<f64>| {
        for (found, wanted) in found.iter().zip(&wanted) {
            assert!(
                (found - wanted).abs() <= 0.03 * wanted + 1e-4,
                "{found} is not {wanted}"
            );
        }
    };
    for loss in [
        running(1.5, 14.0, 1.5),
        running(0.05, 14.0, 1.5),
        running(20.0, 14.0, 1.5),
        ReportedLoss {
            when: LossWhen::DayAndNight,
            ..running(0.5, 14.0, 1.0)
        },
    ] {
        let measured = leak(0.015, 0.034);
        let of = balance(&[measured], &loss, 82.7, &Scaling::HALF_ETHYLENE).unwrap();
        let found = of.found_ml_per_min;
        let wanted = LEVELS.map(|band| by_grid(&loss, found, band));
        near(&rest_levels(&of, &LEVELS), wanted.to_vec());
        let alone = LEVELS.map(|band| by_grid(&loss, (0.0, 0.0), band));
        near(&loss_levels(&loss, &LEVELS)[1..], alone[1..].to_vec());
    }
}

/// A seen source and an unseen one, by hand: what is believed of the unseen one is its prior times
/// the likelihood, over the sum. Rates are large or small beside what was found, so the likelihood
/// points one way or the other.
#[test]
fn two_sources_by_hand() {
    let prior = [0.90, 0.05, 0.04, 0.01];
    let chance_of_another = |loss: &ReportedLoss| {
        let of = balance(&[leak(0.02, 0.03)], loss, 82.7, &Scaling::HALF_ETHYLENE).unwrap();
        let mut net = Network::new();
        let unseen = net.add_table("unseen", 4, vec![], prior.to_vec()).unwrap();
        let finding = Finding::soft(unseen, rest_levels(&of, &LEVELS));
        let engine = engine(&net, &[finding], unseen);
        let wanted: Vec<f64> = LEVELS
            .iter()
            .zip(prior)
            .map(|(band, p)| p * by_grid(loss, of.found_ml_per_min, *band))
            .collect();
        let by_hand = 1.0 - wanted[0] / wanted.iter().sum::<f64>();
        let told = 1.0 - engine.marginal(unseen).unwrap()[0];
        assert!((told - by_hand).abs() < 0.01, "{told} is not {by_hand}");
        told
    };
    let before = 1.0 - prior[0];
    // 0.8 mL/min of which 0.02 to 0.14 was found; and 0.06, which the find is.
    assert!(chance_of_another(&running(1.0, 14.0, 1.5)) > 5.0 * before);
    assert!(chance_of_another(&running(0.075, 14.0, 1.5)) < before);
}

fn engine(net: &Network, findings: &[Finding], wanted: VarId) -> Engine {
    Engine::new(net, findings, &[], &[wanted], &[], &Options::default()).unwrap()
}

fn another(case: &Case<'_>) -> f64 {
    let (proposals, belief) = Proposals::of(case).unwrap();
    let ranking = Ranking::of(case, &belief).unwrap();
    match Verdict::of(case, &ranking, &belief, &proposals).unwrap() {
        Verdict::Repair { another, .. } | Verdict::AnotherLikely { another, .. } => another.get(),
        other => panic!("{other:?}"),
    }
}

fn leak_of(case: &Case<'_>, place: &str) -> f64 {
    let belief = Belief::of(case, &[]).unwrap();
    let mut parts = case.layout.parts.enumerated();
    let (part, _) = parts.find(|(_, part)| part.named.id == place).unwrap();
    belief.leaks[part].unwrap()
}

/// The same job with and without the balance's finding: part of the loss makes another source
/// likelier, all of it less likely; and the cap, in whose place the tester sat, with it.
#[test]
fn the_balance_moves_the_chance_of_another_source() {
    for (loss, rises) in [(LARGE, true), (SMALL, false)] {
        let with = case_of(&format!("{COMPLAINT}{loss}{NIGHT}{CONFIRMED}"));
        let at = (with.found.iter())
            .position(|found| found.words.starts_with("found against lost"))
            .expect("the balance is a finding");
        let mut without = with.clone();
        without.found.remove(at);
        let (before, after) = (another(&without), another(&with));
        assert_eq!(after > before, rises, "{before} → {after}");
        let cap = (leak_of(&without, "cap"), leak_of(&with, "cap"));
        assert_eq!(cap.1 > cap.0, rises, "{cap:?}");
        let why = Explanation::of(&with, cause_at(&with, "cap")).unwrap();
        let reading = &why.readings[at];
        assert_eq!(reading.last_decibans > 0.0, rises);
        assert!(reading.last_decibans.abs() > 0.5);
    }
}

fn cause_at(case: &Case<'_>, place: &str) -> usize {
    let at = |cause: &seepwise::graph::Cause| {
        case.layout.parts[cause.place.part].named.id == place && cause.leaking.contains(&true)
    };
    case.graph.causes.iter().position(at).unwrap()
}

/// The law of total probability over the levels of the unseen leaks: what is believed of the cap is
/// its chance at each level, weighed by that level's chance and by the likelihood of the grid.
#[test]
fn beliefs_agree_with_total_probability() {
    let case = case_of(&format!("{COMPLAINT}{LARGE}{NIGHT}{CONFIRMED}"));
    let account = Account::of(&case, &[]).unwrap().unwrap();
    assert!(matches!(account.balance.account, Outcome::Part { .. }));
    let (mut others, mut unseen) = (Vec::new(), None);
    for found in &case.found {
        if found.words.starts_with("found against lost") {
            unseen = Some(found.findings[0].var);
        } else {
            others.extend(found.findings.iter().cloned());
        }
    }
    let unseen = unseen.unwrap();
    assert_eq!(case.graph.node(unseen).kind, NodeKind::Gather);
    let mut parts = case.layout.parts.enumerated();
    let (cap, _) = parts.find(|(_, part)| part.named.id == "cap").unwrap();
    let leaks = case.graph.leak_of[cap].unwrap();
    let loss = case.loss.as_ref().unwrap().told;
    let net = &case.graph.network;
    let all = engine(net, &others, unseen).log_evidence();
    let (mut sum, mut of_cap) = (0.0, 0.0);
    for (level, band) in LEVELS.iter().enumerate() {
        let mut findings = others.clone();
        findings.push(Finding::hard(unseen, 4, level));
        let at_level = engine(net, &findings, leaks);
        let weight = (at_level.log_evidence() - all).exp()
            * by_grid(&loss, account.balance.found_ml_per_min, *band);
        sum += weight;
        of_cap += weight * (1.0 - at_level.marginal(leaks).unwrap()[0]);
    }
    let (told, by_levels) = (leak_of(&case, "cap"), of_cap / sum);
    assert!((told / by_levels - 1.0).abs() < 0.05, "{told}, {by_levels}");
}

/// A loss is counted once: with it in numbers the complaint says only that something was lost, and
/// whether it was told as slow or quick makes no difference.
#[test]
fn the_loss_is_counted_once() {
    let quick = COMPLAINT.replace("slow", "quick");
    for rest in ["", NIGHT, "confirmed"] {
        let rest = match rest {
            "confirmed" => format!("{NIGHT}{CONFIRMED}"),
            log => log.to_owned(),
        };
        let slow = case_of(&format!("{COMPLAINT}{LARGE}{rest}"));
        let other = case_of(&format!("{quick}{LARGE}{rest}"));
        let unasked = case_of(&format!("{LARGE}{rest}"));
        let evidence = |case: &Case<'_>| {
            let mut all: Vec<(VarId, Vec<f64>)> = case
                .evidence()
                .into_iter()
                .map(|finding| (finding.var, finding.likelihood))
                .collect();
            all.sort_by_key(|(var, _)| *var);
            all
        };
        assert_eq!(evidence(&slow), evidence(&other));
        assert_eq!(evidence(&slow), evidence(&unasked));
    }
    // No reading feeds two findings.
    let whole = case_of(&format!("{COMPLAINT}{LARGE}{NIGHT}{CONFIRMED}"));
    assert_eq!(
        whole.evidence().len(),
        4,
        "complaint, hold, source, balance"
    );
}

/// What the gauge did not see is not measured by it: a confirmed cap is not what a hold with the
/// tester in its place measured, so nothing is weighed, whatever the loss.
#[test]
fn a_hold_does_not_measure_the_cap() {
    let cap = "  - {confirmed: cap_weak, at: cap}\n";
    let case = case_of(&format!("{COMPLAINT}{LARGE}{NIGHT}{cap}"));
    assert_eq!(Account::of(&case, &[]).unwrap(), None);
    let both = case_of(&format!("{COMPLAINT}{LARGE}{NIGHT}{cap}{CONFIRMED}"));
    let account = Account::of(&both, &[]).unwrap().unwrap();
    let places = account.sources.iter().map(|&at| {
        let part = both.graph.causes[at].place.part;
        both.layout.parts[part].named.id.as_str()
    });
    assert_eq!(places.collect::<Vec<_>>(), ["upper_hose_radiator_end"]);
}

/// The sections of the advice agree: what is found against lost gives no advice of its own, and names
/// only what the gauge saw. Here a cap is found after the core, where the tester had sat in its place.
#[test]
fn the_account_does_not_contradict_the_verdict() {
    let (code, story, _) = told_here(&["replay", "scenarios/measured_core_for_a_part.yaml"]);
    assert_eq!(code, 0, "{story}");
    let (_, end) = story.split_once("Stop looking and repair").expect("found");
    let end = end.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(end.contains("Found: radiator cap"), "{end}");
    assert!(
        end.contains("Found against lost (radiator core; gauge log of entry 8)"),
        "{end}"
    );
    let (_, account) = end.split_once("Found against lost").expect("told");
    assert!(!account.contains("Look on"), "{end}");
}

/// A log made after a repair measures what is left, not what was lost before.
#[test]
fn a_retest_is_not_held_against_the_old_loss() {
    let repaired = "  - {repaired: clamp_set_back@upper_hose_radiator_end, how: clamp}\n";
    let case = case_of(&format!("{COMPLAINT}{LARGE}{CONFIRMED}{repaired}{NIGHT}"));
    assert_eq!(Account::of(&case, &[]).unwrap(), None);
    let before = case_of(&format!("{COMPLAINT}{LARGE}{NIGHT}{CONFIRMED}{repaired}"));
    assert!(Account::of(&before, &[]).unwrap().is_some());
    let kept = |found: &&seepwise::advise::Answered| found.words.starts_with("found against lost");
    assert_eq!(before.found.iter().filter(kept).count(), 1);
}

/// Kind: arithmetic. 2 L a day in an hour and a half are 22 mL/min, 700 times the largest seep; a
/// decilitre a month over as long is 0.04 mL/min, a fiftieth of the smallest stream.
#[test]
fn a_loss_in_numbers_speaks_of_the_levels() {
    let much = loss_levels(&running(2.0, 1.0, 1.5), &LEVELS);
    assert!(
        much[3] > 15.0 * much[1] && much[3] > 15.0 * much[2],
        "{much:?}"
    );
    let little = loss_levels(&running(0.1, 30.0, 1.5), &LEVELS);
    assert!(little[2] > 15.0 * little[3], "{little:?}");
    let stands = ReportedLoss {
        when: LossWhen::DayAndNight,
        ..running(0.1, 30.0, 1.0)
    };
    let night = loss_levels(&stands, &LEVELS);
    assert!(night[1] > 15.0 * night[3], "{night:?}");
    // Without a leak a tale may be of any size: no size makes it impossible.
    for levels in [&much, &little, &night] {
        assert!(levels.iter().all(|&of| of > 0.0 && of <= 1.0));
    }
}

/// Kind: trade fact. A lot in a day is no seep and points to what bursts; a little in a month is no
/// burst hose.
#[test]
fn a_loss_in_numbers_moves_the_beliefs() {
    let worst = |loss: &str| {
        let mut case = case_of(&format!(
            "  - {{check: loss_reported, answer: leaks}}\n{loss}"
        ));
        let gathers = |var: VarId| case.graph.node(var).kind == NodeKind::Gather;
        let all = case.found.iter().flat_map(|found| &found.findings);
        let var = all.map(|finding| finding.var).find(|&var| gathers(var));
        let var = var.expect("the loss is a finding on the worst leak");
        let of = |case: &Case<'_>| {
            let engine = engine(&case.graph.network, &case.evidence(), var);
            engine.marginal(var).unwrap()
        };
        let after = of(&case);
        for found in &mut case.found {
            found.findings.retain(|finding| finding.var != var);
        }
        (of(&case), after)
    };
    let (before, much) = worst("  - {loss: 2 L, days: 1, hours_a_day: 1.5}\n");
    let odds = |of: &[f64]| of[3] / of[1];
    assert!(
        odds(&much) > 20.0 * odds(&before) && much[3] > 0.5,
        "{before:?} → {much:?}"
    );
    let (before, little) = worst("  - {loss: 0.1 L, days: 30, hours_a_day: 1.5}\n");
    assert!(
        little[3] / little[2] < before[3] / before[2] / 20.0,
        "{before:?} → {little:?}"
    );
}
