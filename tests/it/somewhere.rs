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
    for beside in [
        "",
        "  - {check: look_at_joint, at: pump_seal, answer: dry}\n",
        "  - {check: look_at_joint, at: pump_joint, answer: crust, sure: fairly}\n",
    ] {
        agrees(&format!("{SLOW}{UNCOVERED}{beside}"));
    }
}

/// Compares the chances after a log and [`WET`] with those worked out from findings on the places alone.
fn agrees(log: &str) {
    let told = case(&format!("{log}{WET}"));
    let plain = case(log);
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

/// A technician looks over a zone cold, pumped up and hot, and sees it wet each time: all three are weighed.
#[test]
fn three_looks_over_one_zone_can_be_weighed_together() {
    let look = |check: &str, zone: &str, answer: &str| {
        format!("  - {{check: {check}, at: {zone}, answer: {{somewhere: {answer}}}}}\n")
    };
    let covers = "  - {covers_off: [engine_cover, right_liner, left_liner]}\n";
    for zone in ["right", "left", "front", "top", "below"] {
        let looks = [
            look("look_over", zone, "wet"),
            look("look_over_pumped", zone, "damp"),
            look("look_over_hot", zone, "wet"),
        ];
        let case = case(&format!("{SLOW}{covers}{}", looks.concat()));
        Belief::of(&case, &[]).unwrap_or_else(|error| panic!("{zone}: {error:?}"));
    }
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
    assert_eq!(count(&format!("{}{WET}", over("dry"))), 1);
    let pump = "  - {check: look_at_joint, at: pump_seal, answer: dry}\n";
    assert_eq!(count(&format!("{WET}{pump}")), 1);
    let except = over("{somewhere: wet}, except: {pump_seal: dry}, not_seen: [pump_joint]");
    assert_eq!(count(&except), 1);
    let refused = |answer: &str| read(&over(answer)).expect_err("refused");
    assert!(refused("{somewhere: dry}").starts_with(codes::WRONG_KIND));
    assert!(refused("{somewhere: wet, pump_seal: dry}").contains("stands alone"));
    assert!(refused("{somewhere: soaked}").starts_with(codes::UNKNOWN_NAME));
}

/// The highest chance of a place.
fn highest(log: &str) -> f64 {
    let case = case(&format!("{SLOW}{UNCOVERED}{log}"));
    let belief = Belief::of(&case, &[]).unwrap();
    belief.leaks.iter().flatten().copied().fold(0.0, f64::max)
}

/// What was wet is at least that wet, also where not all of the zone was seen; that all over was dry before is taken
/// back by it; and where every place was seen dry by itself it says so.
#[test]
fn what_was_seen_wet_counts_in_full() {
    let wet = highest(WET);
    let dry = "  - {check: look_over, at: right, answer: dry}\n";
    let close = |other: f64| (other - wet).abs() < 1e-9;
    assert!(close(highest(&format!("{dry}{WET}"))));
    assert!(close(highest(&WET.replace("}}", "}, seen: in_part}"))));
    assert!(highest(&WET.replace("}}", "}, sure: guess}")) < wet);
    let all = case(&format!("{UNCOVERED}{dry}{WET}"));
    assert!(all.behind_covers.is_empty());
    let off = &all.set_up.covers_off;
    let (rules, layout, graph) = (&TENDER.rules, &TENDER.layout, &TENDER.graph);
    let sweep = find_task(rules, layout, graph, "look_over", Some("right"), off).unwrap();
    let nothing = std::collections::BTreeSet::new();
    let places = graph.ask(rules, layout, sweep, off, &nothing).places;
    let looks = places.iter().map(|&place| {
        let id = &layout.parts[graph.tasks[place].part.unwrap()].named.id;
        format!("  - {{check: look_at_joint, at: {id}, answer: dry}}\n")
    });
    let looks = looks.collect::<Vec<_>>().concat();
    let none = case(&format!("{UNCOVERED}{looks}{WET}"));
    assert_eq!(none.behind_covers.len(), 1);
    Belief::of(&none, &[]).expect("possible all the same");
}

/// After a repair it speaks of before: what was wet somewhere is no sign that something still leaks.
#[test]
fn after_a_repair_it_speaks_of_before() {
    let mended =
        "  - {check: look_at_joint, at: pump_seal, answer: runs}\n  - {repaired: pump_seal}\n";
    let hold = "  - {check: cold_hold, answer: holds}\n";
    let before = highest(&format!("{WET}{mended}{hold}"));
    let since = highest(&format!("{mended}{hold}{WET}"));
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
