//! What the tool takes care of before a step, and what it does in which order: as a technician would.
//! Kind: common practice (no source), but where a test says otherwise.

use std::path::PathBuf;

use seepwise::advise::{Shop, Step, way_to};
use seepwise::graph::CausalGraph;
use seepwise::ids::FacetId;
use seepwise::job::{JobFile, resolve};
use seepwise::rules::base::RuleBase;
use seepwise::source::{SourceFile, Sources};
use serde_json::Value;

use crate::program::{told_here, told_in_shop};

/// A job in a folder of its own.
fn job(text: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.yaml");
    std::fs::write(&path, text).unwrap();
    (folder, path)
}

/// What a command says of a job, as JSON.
fn json(args: &[&str], text: &str) -> Value {
    let (_folder, path) = job(text);
    let path = path.to_str().unwrap();
    let args: Vec<&str> = args.iter().copied().chain([path, "--json"]).collect();
    let (_, out, errors) = told_here(&args);
    serde_json::from_str(&out).unwrap_or_else(|_| panic!("no JSON: {errors}"))
}

fn checks(next: &Value) -> impl Iterator<Item = &Value> {
    next["checks"].as_array().unwrap().iter()
}

const ROUGH: &str = "job: 1
layout: crew_minibus
log:
  - {check: loss_reported, answer: quick}
  - {check: exhaust_habit, answer: white_warm}
  - {check: crank_habit, answer: rough}
  - {check: loss_when, answer: only_in_use}
  - {check: puddle_seen, answer: none}
";

const SLOW: &str = "job: 1
layout: crew_minibus
log:
  - {check: loss_reported, answer: slow}
";

/// Liquid in a cylinder bends a rod at the first turn: likely enough, it is told before every start, and
/// before nothing else.
#[test]
fn a_cylinder_that_may_hold_coolant_is_turned_by_hand_before_each_start() {
    let warned = |check: &Value| {
        let given = check["cautions"].as_array().unwrap();
        given.contains(&"liquid_before_start".into())
    };
    let starts = |check: &Value| {
        let mut way = check["way"].as_array().unwrap().iter();
        check["setup"]["engine"] != "off" || way.any(|step| step == "start_cold")
    };
    let asked = |check: &Value| check["cautions"].as_array().unwrap().is_empty();
    let rough = json(&["next"], ROUGH);
    let mut before_a_start = 0;
    for check in checks(&rough).filter(|check| !asked(check)) {
        assert_eq!(warned(check), starts(check), "{}", check["check"]);
        before_a_start += usize::from(starts(check));
    }
    assert!(before_a_start > 0);
    let slow = json(&["next"], SLOW);
    assert!(!checks(&slow).any(warned));
}

/// What runs at a joint empties the tank before the driver looks again, whatever the loss reported.
#[test]
fn a_joint_that_runs_keeps_the_vehicle_back() {
    let wet = |answer: &str| {
        let text = format!(
            "job: 1\nlayout: crew_minibus\nlog:\n  - {{loss: 0.3 L, days: 14}}\n  - {{check: look_over, at: front, answer: upper_hose_radiator_end={answer}}}\n"
        );
        json(&["release", "--minutes", "1"], &text)
    };
    assert_eq!(wet("crust")["decision"], "as_it_is");
    let runs = wet("runs");
    assert_eq!(runs["decision"], "kept_back");
    assert_eq!(runs["release"], false);
}

/// A zone wholly behind a panel is looked over with the panel off, not joint by joint.
#[test]
fn a_zone_behind_a_panel_is_proposed_with_the_panel_off() {
    let text = "job: 1
layout: standby_generator
log:
  - {check: loss_reported, answer: quick}
  - {check: loss_when, answer: also_standing}
  - {check: puddle_seen, answer: spot}
  - {cleared: starts_by_itself}
  - {check: look_over, at: top, answer: dry}
  - {check: look_over, at: front, answer: dry}
  - {check: look_over, at: below, answer: dry}
";
    let next = json(&["next"], text);
    let look =
        checks(&next).find(|check| check["check"] == "look_over" && check["place"] == "right");
    let way = look.expect("a look over the right side")["way"]
        .as_array()
        .unwrap();
    assert!(way.contains(&"take off side_panel".into()), "{way:?}");
}

/// A joint is wiped dry and watched for a bead with the cover off: no hand reaches it otherwise.
#[test]
fn nothing_is_wiped_through_a_cover() {
    let (_, out, _) = told_here(&["graph", "standby_generator"]);
    let graph: Value = serde_json::from_str(&out).unwrap();
    let tasks = graph["tasks"].as_array().unwrap();
    let mut behind = 0;
    for task in tasks
        .iter()
        .filter(|task| task["check"] == "first_bead_watch")
    {
        assert_eq!(task["cover_on"], Value::Null, "{task}");
        behind += usize::from(!task["cover_off"].is_null());
    }
    assert!(behind > 0);
}

/// The hold shows what the repair is worth while the vehicle is still there; what takes a night follows.
#[test]
fn a_repair_is_held_under_pressure_before_anything_takes_a_night() {
    let text = "job: 1
layout: standby_generator
log:
  - {check: loss_reported, answer: quick}
  - {check: loss_when, answer: also_standing}
  - {cleared: starts_by_itself}
  - {covers_off: [side_panel]}
  - {check: look_over, at: right, answer: heater_return_block_end=wet}
  - {confirmed: clamp_slack, at: heater_return_block_end}
  - {repaired: clamp_slack@heater_return_block_end, how: new clamp}
  - {topped_up: 0.5 L}
";
    let next = json(&["next"], text);
    assert_eq!(checks(&next).next().unwrap()["check"], "cold_hold");
    let held = format!("{text}  - {{check: cold_hold, answer: holds}}\n");
    let next = json(&["next"], &held);
    assert_ne!(checks(&next).next().unwrap()["check"], "cold_hold");
}

/// What stands behind a fault is no other fault that might be found instead of it.
#[test]
fn a_sheet_says_once_what_feeds_a_fault() {
    let text = "job: 1
layout: crew_coach
log:
  - {loss: 2 L, days: 7}
  - {covers_off: [tail_tray]}
  - {check: look_over, at: below, answer: retarder_hose_pump_end=runs}
  - {confirmed: clamp_slack, at: retarder_hose_pump_end}
";
    let sheet = json(&["sheet"], text);
    for work in sheet["works"].as_array().unwrap() {
        let feeds: Vec<&Value> = work["fed_by"].as_array().unwrap().iter().collect();
        assert!(!feeds.is_empty());
        for other in work["others"].as_array().unwrap() {
            let again = |feeder: &&&Value| {
                feeder["fault"] == other["fault"] && feeder["place"] == work["place"]
            };
            assert!(!feeds.iter().any(|feeder| again(&feeder)), "{other}");
        }
    }
}

const REPAIRED: &str = "job: 1
layout: crew_minibus
log:
  - {check: loss_reported, answer: slow}
  - {check: weep_hole_look, at: pump_seal, answer: {hole: wet, begins: here}}
  - {check: look_pumped, at: pump_seal, answer: drops}
  - {repaired: pump_seal, how: new pump}
";

/// What runs after a repair that held is a leak all the same, wherever it is.
#[test]
fn a_repair_that_held_releases_nothing_that_leaks_elsewhere() {
    let release = |more: &str| {
        let text = format!("{REPAIRED}  - {{check: cold_hold, answer: holds}}\n{more}");
        json(&["release", "--minutes", "90"], &text)
    };
    assert_eq!(release("")["decision"], "proved");
    let runs = release("  - {check: look_over, at: front, answer: upper_hose_radiator_end=runs}\n");
    assert_eq!(runs["decision"], "kept_back");
    // Lost since, so it is no old story.
    let lost = release("  - {loss: 3 L, days: 1}\n");
    assert_eq!(lost["decision"], "kept_back");
}

/// A hold of which nobody can tell yet what it shows, or far below the limit, proves no repair.
#[test]
fn a_hold_that_tells_nothing_is_no_proof() {
    let first = |readings: &str| {
        let text = format!("{REPAIRED}  - {{gauge: cold_hold, readings: {readings}}}\n");
        let next = json(&["next"], &text);
        let release = json(&["release", "--minutes", "90"], &text);
        let lacking = |check: &Value| check["check"] == "cold_hold";
        (checks(&next).any(lacking), release["decision"].clone())
    };
    for readings in ["[[0, 15], [30, 13]]", "[[0, 1], [60, 1]]"] {
        assert_eq!(first(readings), (true, "after_work".into()), "{readings}");
    }
}

/// A guard of belt or fan that is off is put back before anything turns, and not asked for where nothing does.
#[test]
fn a_guard_that_is_off_is_put_back_before_anything_turns() {
    let told = |covers: &str| {
        let text = format!(
            "job: 1\nlayout: work_boat\nlog:\n  - {{check: loss_reported, answer: slow}}\n{covers}"
        );
        let next = json(&["next"], &text);
        let (mut turning, mut still) = (0, 0);
        for check in checks(&next) {
            let warned = check["cautions"]
                .as_array()
                .unwrap()
                .contains(&"guard_back".into());
            let starts = |step: &Value| step.as_str().is_some_and(|way| way.starts_with("start_"));
            let turns = check["setup"]["engine"] != "off"
                || check["way"].as_array().unwrap().iter().any(starts);
            turning += usize::from(warned && turns);
            still += usize::from(warned && !turns);
        }
        (turning > 0, still)
    };
    assert_eq!(told(""), (false, 0));
    assert_eq!(told("  - {covers_off: [belt_guard]}\n"), (true, 0));
    let on_again = "  - {covers_off: [belt_guard]}\n  - {covers_on: [belt_guard]}\n";
    assert_eq!(told(on_again), (false, 0));
}

/// What was taken off is named before the vehicle leaves, also while work is still to be done.
#[test]
fn covers_are_put_back_before_it_leaves() {
    let text = "job: 1\nlayout: rescue_boat\nlog:\n  - {check: loss_reported, answer: slow}\n  - {covers_off: [belt_guard]}\n  - {repaired: pump_seal}\n";
    let release = json(&["release", "--minutes", "900"], text);
    assert_eq!(release["decision"], "after_work");
    let back = release["covers_back"].as_array().unwrap();
    assert!(back.contains(&"belt_guard".into()), "{back:?}");
    let (_folder, path) = job(text);
    let (_, told, _) = told_here(&["release", "--minutes", "900", path.to_str().unwrap()]);
    assert!(told.contains("Back on before it leaves"), "{told}");
    // Nobody waits: what was repaired is named once, however many faults it can have.
    let (_, told, _) = told_here(&["release", path.to_str().unwrap()]);
    let words = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("Repaired: circulating pump shaft seal. A repair that"),
        "{told}"
    );
}

/// Without coolant nothing is started, warmed, pumped, dyed or left overnight; what has it drained is filled first.
#[test]
fn a_drained_system_is_filled_before_it_is_used() {
    for state in [
        "temperature: cold, system: open",
        "temperature: hot",
        "engine: running, temperature: cold",
    ] {
        let text = format!(
            "job: 1\nlayout: crew_minibus\nlog:\n  - {{check: loss_reported, answer: slow}}\n  - {{set_up: {{{state}, fill: drained}}}}\n"
        );
        let mut used = 0;
        for check in checks(&json(&["next"], &text)) {
            let way: Vec<&str> = check["way"]
                .as_array()
                .unwrap()
                .iter()
                .filter_map(Value::as_str)
                .collect();
            let uses = |step: &&str| {
                ["start_", "warm_", "join_", "stand_", "add_dye", "drive"]
                    .iter()
                    .any(|use_of| step.starts_with(use_of))
            };
            if let Some(first) = way.iter().position(uses) {
                used += 1;
                assert!(
                    way[..first].contains(&"refill"),
                    "{state}: {} {way:?}",
                    check["check"]
                );
            }
        }
        assert!(used > 0, "{state}");
    }
}

/// Whether a way or a check has the engine run, or the vehicle used.
fn runs(base: &RuleBase, check: &Value) -> bool {
    let engine = |value: &(FacetId, usize)| {
        let facet = &base.facets[value.0];
        facet.named.id == "engine" && facet.values[value.1].named.id != "off"
    };
    let mut way = check["way"].as_array().unwrap().iter();
    let on_the_way = way.any(|step| {
        let step = step.as_str().unwrap();
        let way = base.ways.iter().find(|way| way.named.id == step);
        way.is_some_and(|way| way.to.iter().chain(&way.meanwhile).any(engine))
    });
    let named = check["check"].as_str();
    let of = base
        .checks
        .iter()
        .find(|of| Some(of.named.id.as_str()) == named);
    on_the_way
        || !["off", "cranked"].contains(&check["setup"]["engine"].as_str().unwrap())
        || of.is_some_and(|of| of.meanwhile.iter().any(engine))
}

/// Coolant in the fuel seizes the injection pump, coolant in the oil the bearings: the engine is not run and the
/// vehicle not used, neither for a check nor on the way to one, and it stays until that is mended. Taking the block
/// away mends nothing.
#[test]
fn coolant_in_fuel_or_oil_keeps_the_engine_off() {
    let loaded = seepwise::rules::load_embedded();
    let base = loaded.rules.as_ref().unwrap();
    for (layout, finding, block, clean) in [
        (
            "crew_coach",
            "{check: fuel_filter_look, at: fuel_cooler, answer: coolant}",
            "coolant_in_fuel",
            "answer: fuel",
        ),
        (
            "crew_minibus",
            "{check: oil_laboratory, answer: coolant}",
            "milky_oil",
            "answer: clean",
        ),
    ] {
        let found = format!(
            "job: 1\nlayout: {layout}\nlog:\n  - {{check: loss_reported, answer: slow}}\n  - {finding}\n"
        );
        let next = json(&["next", "--top", "40"], &found);
        let ran: Vec<&Value> = checks(&next).filter(|check| runs(base, check)).collect();
        assert!(checks(&next).next().is_some() && ran.is_empty(), "{ran:#?}");
        let bundles = next["bundles"].as_array().unwrap();
        assert!(
            !bundles.iter().any(|bundle| runs(base, bundle)),
            "{bundles:#?}"
        );
        let mut blocked = next["blocked"].as_array().unwrap().iter();
        assert!(blocked.any(|of| of["check"] == "level_week" && of["block"] == block));
        let release = |text: &str| json(&["release", "--minutes", "30"], text)["decision"].clone();
        assert_eq!(release(&found), "kept_back");
        let cleared = format!("{found}  - {{cleared: {block}}}\n");
        assert_eq!(release(&cleared), "kept_back");
        let clean = found.replace("answer: coolant", clean);
        assert!(checks(&json(&["next", "--top", "40"], &clean)).any(|check| runs(base, check)));
        assert_ne!(release(&clean), "kept_back");
    }
}

/// A repair is done cold with the engine off, whatever was so before; a refill leaves the vehicle full and closed;
/// a heat cycle that was watched to its end leaves it cold.
#[test]
fn what_was_done_leaves_the_vehicle_as_it_does() {
    let way = |log: &str, check: &str| {
        let (_folder, path) = job(&format!(
            "job: 1\nlayout: crew_minibus\nlog:\n  - {{check: loss_reported, answer: slow}}\n{log}"
        ));
        let text = std::fs::read_to_string(&path).unwrap();
        way_of(&text, check)
    };
    let stood = "  - {set_up: {stood: night, temperature: cold}}\n  - {repaired: cap}\n";
    assert!(way(stood, "drip_card").contains(&"stand_overnight".to_owned()));
    let hot = "  - {set_up: {temperature: hot}}\n  - {repaired: cap}\n";
    assert!(way(hot, "hiss_listen").contains(&"warm_up".to_owned()));
    let drained = "  - {set_up: {system: open, fill: drained}}\n";
    assert!(way(drained, "level_week").contains(&"refill".to_owned()));
    let full = format!("{drained}  - {{refilled: 5 L, percent: 50}}\n");
    assert!(!way(&full, "level_week").contains(&"refill".to_owned()));
    let cycle = "  - {check: heat_cycle_watch, answer: both_ways}\n";
    assert!(way(cycle, "hiss_listen").contains(&"warm_up".to_owned()));
}

/// The way to a check, as ids.
fn way_of(text: &str, check: &str) -> Vec<String> {
    let loaded = seepwise::rules::load_embedded();
    let base = loaded.rules.as_ref().unwrap();
    let mut sources = Sources::new();
    let file = sources.add(SourceFile::new("job.yaml", text));
    let job = JobFile::read(file, &sources).unwrap();
    let layout = loaded.layout(&job.layout).unwrap();
    let graph = CausalGraph::expand(base, layout).unwrap();
    let case = resolve(&job, base, layout, &graph, &Shop::default(), 0.03).unwrap();
    let of = base.checks.iter().find(|of| of.named.id == check).unwrap();
    let journey = way_to(&case, &of.needs).unwrap();
    let ways = journey.steps.iter().filter_map(|step| match step {
        Step::Way(way) => Some(base.ways[*way].named.id.clone()),
        Step::Cover(_) => None,
    });
    ways.collect()
}

/// A month without a fall is more than a week without one; a gasket is proved by a test for gas, and what let
/// coolant into the oil by a look at the oil.
#[test]
fn a_retest_asks_for_what_proves_that_repair() {
    let lacking = |repaired: &str, log: &str| {
        let text = format!(
            "job: 1\nlayout: crew_minibus\nlog:\n  - {{check: loss_reported, answer: slow}}\n  - {{repaired: {repaired}}}\n  - {{check: cold_hold, answer: holds}}\n{log}"
        );
        let (_folder, path) = job(&text);
        let (_, out, _) = told_here(&["job", "close", path.to_str().unwrap()]);
        out.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert!(lacking("gasket_cylinder", "").contains("no gas in the coolant"));
    assert!(!lacking("cap", "").contains("no gas in the coolant"));
    let tested = "  - {check: gas_test_after_load, answer: unchanged}\n";
    assert!(!lacking("gasket_cylinder", tested).contains("no gas in the coolant"));
    assert!(lacking("gasket_oil", "").contains("clean oil after some running"));
    let proved = "  - {check: level_night, answer: same}\n  - {check: hiss_listen, answer: quiet}\n  - {check: look_after_hot_stop, at: cap, answer: dry}\n  - {check: heat_cycle_watch, answer: both_ways}\n";
    let month = format!("{proved}  - {{check: level_month, answer: same}}\n");
    assert!(!lacking("cap", &month).contains("a week in use"));
}

/// A place that was renewed whole is named once, however many faults it could have had.
#[test]
fn a_repaired_place_is_named_once() {
    let (_folder, path) = job(
        "job: 1\nlayout: crew_minibus\nlog:\n  - {check: loss_reported, answer: slow}\n  - {repaired: cap}\n",
    );
    let (_, out, errors) = told_here(&["sheet", path.to_str().unwrap()]);
    assert!(
        out.contains("Repaired in entry 2: radiator cap."),
        "{out}{errors}"
    );
}

/// Whoever has no tester sees which checks that costs, instead of wondering why no hold is proposed.
#[test]
fn what_a_missing_tool_costs_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let shop = folder.path().join("shop.yaml");
    std::fs::write(&shop, "shop: 1\nlacks: [pressure_tester]\n").unwrap();
    let (_folder, path) = job(SLOW);
    let next = |json: &[&str]| {
        let args = [&["next", path.to_str().unwrap()], json].concat();
        let (code, out, errors) = told_in_shop(&shop, &args);
        assert_eq!(code, 0, "{errors}");
        out
    };
    let words = next(&[]).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("the shop lacks a hand-pumped pressure tester with adapters: ")
            && words.contains("; cold hold at 15 psi (103 kPa); "),
        "{words}"
    );
    let told: Value = serde_json::from_str(&next(&["--json"])).unwrap();
    let mut lacking = told["lacking"].as_array().unwrap().iter();
    assert!(lacking.any(|of| of["check"] == "cold_hold" && of["tool"] == "pressure_tester"));
    // A tool for the way there counts as well.
    std::fs::write(&shop, "shop: 1\nlacks: [lift]\n").unwrap();
    let told: Value = serde_json::from_str(&next(&["--json"])).unwrap();
    let lacking = told["lacking"].as_array().unwrap();
    assert!(!lacking.is_empty() && lacking.iter().all(|of| of["tool"] == "lift"));
    assert!(
        json(&["next"], SLOW)["lacking"]
            .as_array()
            .unwrap()
            .is_empty()
    );
}
