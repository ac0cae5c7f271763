//! A zone that shows something, nobody saw where: against the same chance worked out another way.

use seepwise::advise::{Belief, Case, Shop};
use seepwise::infer::Finding;
use seepwise::job::{JobFile, find_task, resolve};
use seepwise::notice::codes;
use seepwise::source::{SourceFile, Sources};

use crate::vehicle::TENDER;

/// How often what shows belongs to no place, as the job module has it.
const OF_NO_PLACE: f64 = 0.02;

fn read(log: &str) -> Result<Case<'static>, String> {
    let mut sources = Sources::new();
    let text = format!("job: 1\nlayout: water_tender\nlog:\n{log}");
    let file = sources.add(SourceFile::new("a.yaml", &text));
    let job = JobFile::read(file, &sources).expect("read");
    let shop = Shop::default();
    let case = resolve(
        &job,
        &TENDER.rules,
        &TENDER.layout,
        &TENDER.graph,
        &shop,
        0.1,
    );
    case.map_err(|problems| format!("{} {}", problems[0].code, problems[0].message))
}

fn case(log: &str) -> Case<'static> {
    read(log).unwrap_or_else(|problem| panic!("{problem}"))
}

const SLOW: &str =
    "  - {check: loss_reported, answer: slow}\n  - {check: belt_habit, answer: squeals}\n";
const WET: &str = "  - {check: look_over, at: right, answer: {somewhere: wet}}\n";
const UNCOVERED: &str = "  - {covers_off: [right_liner]}\n";

/// Second method, inclusion and exclusion: P(leak, wet somewhere) = P(leak) − P(leak, wet nowhere), each with
/// findings on the places' own signs only; a fiftieth the other way round. Kind: arithmetic.
#[test]
fn wet_somewhere_is_not_wet_nowhere() {
    let told = case(&format!("{SLOW}{UNCOVERED}{WET}"));
    let plain = case(&format!("{SLOW}{UNCOVERED}"));
    let (rules, layout, graph) = (&TENDER.rules, &TENDER.layout, &TENDER.graph);
    let off = &plain.set_up.covers_off;
    let sweep = find_task(rules, layout, graph, "look_over", Some("right"), off).unwrap();
    let asked = graph.ask(
        rules,
        layout,
        sweep,
        off,
        &std::collections::BTreeSet::new(),
    );
    assert!(asked.places.len() >= 4, "a zone of several places");
    let look = &rules.checks[graph.tasks[asked.places[0]].check];
    let answers = &look.signs[0].answers;
    let wet = answers
        .iter()
        .position(|answer| answer.id == "wet")
        .unwrap();
    let mut nowhere = plain.evidence();
    nowhere.extend(asked.places.iter().map(|&place| {
        let below = |state| f64::from(u8::from(state < wet));
        let weights = (0..answers.len()).map(below).collect();
        Finding::soft(graph.tasks[place].signs[0], weights)
    }));
    let belief = |case: &Case<'_>, evidence: &[Finding]| {
        let mut with = case.clone();
        with.found[0].findings = evidence.to_vec();
        with.found.truncate(1);
        let belief = Belief::of(&with, &[]).unwrap();
        (belief.log_evidence().exp(), belief)
    };
    let (all, everywhere) = belief(&plain, &plain.evidence());
    let (none, dry) = belief(&plain, &nowhere);
    let (_, said) = belief(&told, &told.evidence());
    let wet = (1.0 - OF_NO_PLACE) * (all - none) + OF_NO_PLACE * none;
    let mut moved = 0.0_f64;
    for (part, leaks) in said.leaks.enumerated() {
        let (Some(leaks), Some(before), Some(dry)) =
            (leaks, everywhere.leaks[part], dry.leaks[part])
        else {
            continue;
        };
        let both = all * before - none * dry;
        let expected = ((1.0 - OF_NO_PLACE) * both + OF_NO_PLACE * none * dry) / wet;
        assert!((leaks - expected).abs() < 1e-9, "{leaks} {expected}");
        moved = moved.max((leaks - before).abs());
    }
    assert!(moved > 0.02, "it tells something: {moved}");
}

/// A later look that names the place, or finds it dry, stands in its place; a place seen dry at the same time is
/// out; one that shows nothing at any place is still possible. Kind: common practice.
#[test]
fn what_is_seen_later_stands_in_its_place() {
    let count = |log: &str| {
        let case = case(&format!("{UNCOVERED}{log}"));
        Belief::of(&case, &[]).expect("possible");
        let somewhere = |words: &str| words.contains("nobody saw where it begins");
        case.found
            .iter()
            .filter(|found| somewhere(&found.words))
            .count()
    };
    assert_eq!(count(WET), 1);
    assert_eq!(count(&format!("{WET}{WET}")), 1);
    let over = |answer: &str| format!("  - {{check: look_over, at: right, answer: {answer}}}\n");
    assert_eq!(count(&format!("{WET}{}", over("dry"))), 0);
    let pump = "  - {check: look_at_joint, at: pump_seal, answer: dry}\n";
    assert_eq!(count(&format!("{WET}{pump}")), 1);
    let except = over("{somewhere: wet}, except: {pump_seal: dry}, not_seen: [pump_joint]");
    assert_eq!(count(&except), 1);
    let dry_at_each = {
        let case = case(UNCOVERED);
        let parts = TENDER.layout.parts.iter();
        let right = TENDER
            .layout
            .zones
            .iter()
            .position(|zone| zone.named.id == "right");
        let right = right.expect("a zone");
        let here = parts.filter(|part| {
            part.zone
                .is_some_and(|zone| seepwise::ids::Id::index(zone) == right)
        });
        let look = |id: &str| {
            let off = &case.set_up.covers_off;
            find_task(
                &TENDER.rules,
                &TENDER.layout,
                &TENDER.graph,
                "look_at_joint",
                Some(id),
                off,
            )
            .is_ok()
        };
        let entries = here.filter(|part| look(&part.named.id)).map(|part| {
            let id = &part.named.id;
            format!("  - {{check: look_at_joint, at: {id}, answer: dry}}\n")
        });
        entries.collect::<Vec<_>>().concat()
    };
    assert!(dry_at_each.lines().count() >= 4);
    assert_eq!(count(&format!("{WET}{dry_at_each}")), 1);
    let refused = |answer: &str| read(&over(answer)).expect_err("refused");
    assert!(refused("{somewhere: dry}").starts_with(codes::WRONG_KIND));
    assert!(refused("{somewhere: soaked}").starts_with(codes::UNKNOWN_NAME));
}

/// After a repair it speaks of before: what was wet somewhere is no sign that something still leaks.
#[test]
fn after_a_repair_it_speaks_of_before() {
    let of = |log: &str| {
        let case = case(&format!("{SLOW}{UNCOVERED}{log}"));
        let belief = Belief::of(&case, &[]).unwrap();
        belief.leaks.iter().flatten().copied().fold(0.0, f64::max)
    };
    let mended =
        "  - {check: look_at_joint, at: pump_seal, answer: runs}\n  - {repaired: pump_seal}\n";
    let hold = "  - {check: cold_hold, answer: holds}\n";
    let before = of(&format!("{WET}{mended}{hold}"));
    let since = of(&format!("{mended}{hold}{WET}"));
    assert!(since > 2.0 * before, "{since} {before}");
}

/// What runs, wherever it begins, empties the tank before anybody looks again. Kind: common practice.
#[test]
fn what_runs_somewhere_keeps_the_vehicle_back() {
    use seepwise::advise::{Leaving, Release};
    let decision = |answer: &str| {
        let log = format!("  - {{check: look_over, at: right, answer: {{somewhere: {answer}}}}}\n");
        let case = case(&format!("{SLOW}{UNCOVERED}{log}"));
        Release::of(&case, Some(1.0)).unwrap().decision
    };
    assert!(matches!(decision("runs"), Leaving::KeptBack(_)));
    assert!(!matches!(decision("crust"), Leaving::KeptBack(_)));
}
