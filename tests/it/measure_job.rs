//! Measurements in a job: gauge logs, strengths and port maps in place of typed answers, the
//! balance, and the command `hold`. Logs come from a simulator of the test's own (Boyle's law,
//! published) or from `gauge_simulator`; what ranks where is a trade fact.

use std::fs;
use std::path::Path;

use seepwise::advise::{Account, Belief, Case, Ranking, Shop};
use seepwise::ids::Id;
use seepwise::job::{JobFile, JobProblem, read_gauge_log, resolve};
use seepwise::measure::balance::Account as Outcome;
use seepwise::measure::hold::{AirSpace, Hold, Reading, Verdict, read_hold};
use seepwise::notice::codes;
use seepwise::reading::hold_levels;
use seepwise::source::{SourceFile, Sources};

use crate::gauge_simulator::{Dice, Stratum, draw};
use crate::program::told;
use crate::vehicle::{LEVELS, MINIBUS};

const PSI: f64 = 6.894_757;
const ATMOSPHERE: f64 = 101.325;

/// Air by Boyle's law over a leak that follows the pressure, hoses of 2 mL/kPa, the pumped-up air
/// settling by 0.5 psi in the first minutes; read to a step.
fn readings(leak: f64, air_ml: f64, minutes: u32, every: u32, step_psi: f64) -> Vec<(f64, f64)> {
    const STRETCH: f64 = 2.0;
    let start = 14.5 * PSI + ATMOSPHERE;
    let mut lost = 0.0;
    let mut read = Vec::new();
    for tick in 0..=minutes * 100 {
        let rest = air_ml + lost - STRETCH * start;
        let absolute =
            ((rest * rest + 4.0 * STRETCH * start * air_ml).sqrt() - rest) / (2.0 * STRETCH);
        let gauge = absolute - ATMOSPHERE;
        let minute = f64::from(tick) / 100.0;
        if tick % (every * 100) == 0 {
            let shown = gauge / PSI - 0.5 * (1.0 - (-minute / 0.6).exp());
            read.push((minute, (shown / step_psi).round() * step_psi));
        }
        lost += leak * gauge / (start - ATMOSPHERE) * 0.01;
    }
    read
}

/// The same as it stands in a job, at 18 °C throughout.
fn rows(leak: f64, air_ml: f64, minutes: u32, every: u32, step_psi: f64) -> String {
    let rows: Vec<String> = readings(leak, air_ml, minutes, every, step_psi)
        .into_iter()
        .map(|(minute, psi)| format!("[{minute}, {psi:.3}, 18.0, 18.0]"))
        .collect();
    format!("[{}]", rows.join(", "))
}

fn entry(check: &str, leak: f64, minutes: u32, every: u32, step: f64) -> String {
    format!(
        "  - {{gauge: {check}, unit: psi, air_ml: [100, 160], coolant_l: 12, step: {step}, readings: {}}}\n",
        rows(leak, 130.0, minutes, every, step)
    )
}

const LOSS: &str = "  - {check: loss_reported, answer: slow}\n";

fn job(log: &str) -> JobFile {
    let mut sources = Sources::new();
    let text = format!("job: 1\nlayout: crew_minibus\nlog:\n{log}");
    let file = sources.add(SourceFile::new("a.yaml", &text));
    JobFile::read(file, &sources).unwrap_or_else(|found| panic!("{:?}", found.views(&sources)))
}

fn case_of(job: &JobFile) -> Result<Case<'static>, Vec<JobProblem>> {
    let vehicle = &*MINIBUS;
    resolve(
        job,
        &vehicle.rules,
        &vehicle.layout,
        &vehicle.graph,
        &Shop::default(),
        0.1,
    )
}

fn good(log: &str) -> Case<'static> {
    case_of(&job(log)).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

fn ranked(case: &Case<'_>) -> Vec<String> {
    let ranking = Ranking::of(case, &Belief::of(case, &[]).unwrap()).unwrap();
    let name = |part| case.layout.parts[part].named.id.clone();
    (ranking.leaks.iter().filter(|leak| !leak.apart))
        .map(|leak| name(leak.part))
        .collect()
}

fn leak_of(case: &Case<'_>, place: &str) -> f64 {
    let belief = Belief::of(case, &[]).unwrap();
    let (part, _) = (case.layout.parts.enumerated())
        .find(|(_, part)| part.named.id == place)
        .unwrap();
    belief.leaks[part].unwrap()
}

fn refused(log: &str) -> (&'static str, usize, String) {
    let mut sources = Sources::new();
    let text = format!("job: 1\nlayout: crew_minibus\nlog:\n{log}");
    let file = sources.add(SourceFile::new("a.yaml", &text));
    let views = match JobFile::read(file, &sources) {
        Err(notices) => notices.views(&sources),
        Ok(job) => {
            let mut notices = seepwise::notice::Notices::new();
            for problem in case_of(&job).expect_err("refused") {
                notices.push(problem.notice().expect("its place is known"));
            }
            notices.views(&sources)
        }
    };
    let first = &views[0];
    let help = first.help.clone().unwrap_or_default();
    (first.code, first.line, format!("{} {help}", first.message))
}

/// Kind: arithmetic. The mean over a band is the mean of its halves, weighted by their widths in
/// logarithms; warm coolant leaves the bands as they are.
#[test]
fn likelihoods_integrate_over_the_bands() {
    let read = |leak: f64| {
        let log: Vec<Reading> = readings(leak, 300.0, 20, 1, 0.1)
            .into_iter()
            .map(|(minute, psi)| Reading {
                minute,
                gauge_kpa: psi * PSI,
                coolant_c: Some(18.0),
                air_c: Some(18.0),
            })
            .collect();
        read_hold(&Hold::new(log, AirSpace::Known(300.0), 8.0)).unwrap()
    };
    let result = read(0.4);
    let bands = result.likelihood_of_bands(&[(0.1, 0.3), (0.3, 2.7), (0.1, 2.7)]);
    let joined = (bands[0] + 2.0 * bands[1]) / 3.0;
    assert!(
        (joined / bands[2] - 1.0).abs() < 0.01,
        "{joined} {}",
        bands[2]
    );
    // The same through the bridge: levels that halve a band, with nothing between.
    let fine = hold_levels(&result, &[None, Some((0.1, 0.3)), Some((0.3, 2.7))], 90.0);
    let blunder = 0.005;
    let pure: Vec<f64> = fine.iter().map(|l| l * (1.0 + blunder) - blunder).collect();
    assert!((pure[1] / pure[2] / (bands[0] / bands[1]) - 1.0).abs() < 0.01);
    // A log that plainly shows a leak speaks for the level that holds it, and never wholly against
    // others.
    let levels = hold_levels(&read(1.2), &LEVELS, 18.0);
    assert!(
        levels[2] > 20.0 * levels[0] && levels[0] > 0.0,
        "{levels:?}"
    );
    assert!(levels.iter().all(|&l| l > 0.0 && l <= 1.0));
}

/// Kind: published, from memory. Evidence of strength k for a wrong hypothesis turns up with a
/// chance of at most 1/k (Birnbaum 1962; Royall 2000): sealed systems seldom speak for a leak.
#[test]
fn sealed_logs_speak_for_no_leak() {
    let mut dice = Dice::new(77);
    let (mut misleading, mut read) = (0, 0);
    for _ in 0..80 {
        let sealed = draw(&mut dice, Stratum::Sealed);
        let Ok(result) = read_hold(&sealed.hold) else {
            continue;
        };
        read += 1;
        let levels = hold_levels(&result, &LEVELS, 20.0);
        misleading += u32::from(levels[1..].iter().any(|&l| l > 8.0 * levels[0]));
        assert_eq!(
            levels.iter().copied().fold(0.0, f64::max).to_bits(),
            1.0_f64.to_bits()
        );
    }
    assert!(read > 60);
    // At most one in eight; twice the standard deviation above it.
    let most = f64::from(read) / 8.0 + 2.0 * (f64::from(read) * 7.0 / 64.0).sqrt();
    assert!(f64::from(misleading) <= most, "{misleading} of {read}");
}

/// Kind: trade fact. Three hours at one temperature on a fine gauge rule out what drips cold.
#[test]
fn a_sealed_log_raises_no_leak_that_the_gauge_sees() {
    let before = good(LOSS);
    let after = good(&format!("{LOSS}{}", entry("cold_hold", 0.0, 180, 12, 0.05)));
    for place in [
        "radiator_core",
        "pump_seal",
        "heater_core",
        "tester",
        "core_plugs_left",
    ] {
        let (was, is) = (leak_of(&before, place), leak_of(&after, place));
        assert!(is < was, "{place}: {was} → {is}");
    }
    assert!(after.found.last().unwrap().normal);
}

/// Kind: consistency with the typed answer, whose strengths are the rule author's.
#[test]
fn a_leaking_log_ranks_like_the_typed_answer() {
    let measured = good(&format!("{LOSS}{}", entry("cold_hold", 0.6, 20, 1, 0.1)));
    let typed = good(&format!("{LOSS}  - {{check: cold_hold, answer: falls}}\n"));
    assert!(measured.measured[0].falls);
    let (by_log, by_word) = (ranked(&measured), ranked(&typed));
    assert_eq!(by_log[0], by_word[0]);
    for place in &by_word[..5] {
        assert!(
            by_log[..8].contains(place),
            "{place} not in {:?}",
            &by_log[..8]
        );
    }
    let before = good(LOSS);
    assert!(leak_of(&measured, "radiator_core") > leak_of(&before, "radiator_core"));
    assert!(leak_of(&measured, "cap") < leak_of(&before, "cap"));
}

/// Two readings and nothing else, as most people note a hold: between what the same log says with an air space at either
/// end of what is taken for it. Kind: a second way to the same number.
#[test]
fn the_needle_alone_speaks_of_the_vehicle_s_own_air() {
    let usual_ml = MINIBUS.layout.air_space_ml;
    let leak = |fields: &str| {
        let case = good(&format!(
            "  - {{gauge: cold_hold, {fields}readings: [[0, 15], [40, 11]]}}\n"
        ));
        case.measured[0].leak
    };
    let with = |air_ml: f64| {
        let litres = MINIBUS.layout.coolant_litres;
        leak(&format!("air_ml: {air_ml}, coolant_l: {litres}, "))
    };
    let (alone, little, much) = (leak(""), with(0.6 * usual_ml), with(2.0 * usual_ml));
    assert!(little.most_ml_per_min < much.most_ml_per_min);
    assert!(
        alone.least_ml_per_min > 0.7 * little.least_ml_per_min,
        "{alone:?} {little:?}"
    );
    assert!(
        alone.most_ml_per_min < 1.3 * much.most_ml_per_min,
        "{alone:?} {much:?}"
    );
    assert!(alone.most_ml_per_min > little.least_ml_per_min);
}

/// Kind: the project's own rules.
#[test]
fn a_measurement_and_an_answer_replace_each_other() {
    let log = entry("cold_hold", 0.6, 20, 1, 0.1);
    let typed = "  - {check: cold_hold, answer: holds}\n";
    let last = good(&format!("{typed}{log}"));
    assert_eq!(last.found.len(), 1);
    assert!(last.found[0].words.starts_with("gauge log of 20 min: "));
    let first = good(&format!("{log}{typed}"));
    assert_eq!(first.found.len(), 1);
    assert!(!first.found[0].words.contains("gauge log"));
    let withdrawn = good(&format!("{log}  - {{withdrawn: 1}}\n"));
    assert!(withdrawn.found.is_empty() && withdrawn.measured.is_empty());
}

/// Kind: common practice. The tester first, on a blank.
#[test]
fn a_hold_before_the_blank_test_says_so() {
    let log = entry("cold_hold", 0.6, 20, 1, 0.1);
    assert!(good(&log).found[0].words.contains("blank"));
    let tested = good(&format!("  - {{check: blank_test, answer: holds}}\n{log}"));
    assert!(!tested.found[1].words.contains("blank"));
    let measured = good(&format!("{}{log}", entry("blank_test", 0.0, 20, 1, 0.1)));
    assert!(!measured.found[1].words.contains("not tried"));
}

/// Kind: arithmetic. Half a litre in 14 days of 1.5 hours is 0.4 mL/min hot, which a cold leak of
/// 0.3 mL/min explains and one of 40 mL/min does not.
#[test]
fn the_leak_is_held_against_the_loss() {
    let confirmed = "  - {confirmed: core_corroded, at: radiator_core}\n";
    let loss = "  - {loss: 0.5 L, days: 14, hours_a_day: 1.5}\n";
    let outcome = |leak: f64, minutes: u32, loss: &str| {
        let log = entry("cold_hold", leak, minutes, 1, 0.1);
        let case = good(&format!("{loss}{log}{confirmed}"));
        Account::of(&case, &[])
            .unwrap()
            .map(|account| account.balance.account)
    };
    assert_eq!(outcome(0.3, 40, loss), Some(Outcome::For));
    let more = "  - {loss: 20 L, days: 2, hours_a_day: 1.5}\n";
    assert!(matches!(outcome(0.3, 40, more), Some(Outcome::Part { .. })));
    assert_eq!(outcome(0.3, 40, ""), None);
    let unnamed = good(&format!("{loss}{}", entry("cold_hold", 0.3, 40, 1, 0.1)));
    assert_eq!(Account::of(&unnamed, &[]).unwrap(), None);
}

/// Kind: trade facts. 20 % is thin, 50 % is not; a port with a channel is pitted across.
#[test]
fn strengths_and_port_maps_answer_their_checks() {
    let thin = |entry: &str| {
        let case = good(&format!(
            "  - {{coolant: strength, glycol: ethylene, {entry}}}\n"
        ));
        let belief = Belief::of(&case, &[]).unwrap();
        let (id, _) = (case.rules.conditions.enumerated())
            .find(|(_, condition)| condition.named.id == "coolant_thinned")
            .unwrap();
        (
            belief.conditions[id.index()].unwrap(),
            case.found[0].words.clone(),
        )
    };
    let (weak, words) = thin("percent: 20");
    let (usual, _) = thin("percent: 50");
    assert!(weak > 0.5 && usual < 0.1, "{weak} {usual}");
    assert!(
        words.contains("measured 20 %") && words.contains("too thin"),
        "{words}"
    );
    // A published freeze point of 20 % ethylene glycol: −8 to −9 °C.
    let (by_scale, words) = thin("refractometer_c: -9");
    assert!((by_scale - weak).abs() < 0.02, "{words}");

    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("port.yaml"),
        "port: 1\nname: a\nmaterial: alloy\noutside_diameter_mm: 38\nbead_mm: [2, 5]\nland_end_mm: 30\nclamp_width_mm: 10\nclamp_at_mm: 16\npits:\n  - {around_deg: [80, 140], along_mm: [5, 30], depth_mm: 1.2}\n",
    )
    .unwrap();
    let mut mapped = job("  - {port: hose_off, at: lower_hose_pump_end, file: port.yaml}\n");
    mapped.attach(folder.path()).unwrap();
    let case = case_of(&mapped).unwrap();
    assert!(
        case.found[0].words.contains("pits across the land"),
        "{}",
        case.found[0].words
    );
    let typed = good("  - {check: hose_off, at: lower_hose_pump_end, answer: {pits: across}}\n");
    assert_eq!(case.found[0].findings, typed.found[0].findings);
}

#[test]
fn entries_read_back_as_they_were_written() {
    let log = "  - {gauge: cold_hold, unit: bar, air_ml: 130, coolant_l: 12.5, readings: [[0, 1], [1.5, 0.98, 18], [3, 0.97, 18, 17.5]]}\n\
               \x20 - {gauge: night_hold, unit: kpa, air_ml: [100, 250.5], coolant_l: 8, glycol: propylene, percent: 45, hose_ml_per_kpa: [1, 2.5], step: 2, file: \"night log.csv\"}\n\
               \x20 - {gauge: cold_hold, air_from_draw: [50, 14, 12.5], coolant_l: 8, readings: [[0, 14], [5, 13.5]]}\n\
               \x20 - {gauge: cold_hold, readings: [[0, 15], [30, 14.5]]}\n\
               \x20 - {coolant: strength, glycol: ethylene, refractometer_c: -21.5}\n\
               \x20 - {coolant: strength, glycol: propylene, percent: 40}\n\
               \x20 - {coolant: strength, glycol: ethylene, hydrometer: 1.062, at_c: 20}\n\
               \x20 - {port: hose_off, at: lower_hose_pump_end, file: ports/rear.yaml}\n\
               \x20 - {loss: 500 mL, days: 14, hours_a_day: 1.5}\n\
               \x20 - {loss: 0.3 L, days: 7}\n";
    let first = job(log);
    assert_eq!(first.log.len(), 10);
    let mut sources = Sources::new();
    let file = sources.add(SourceFile::new("b.yaml", &first.write()));
    assert_eq!(JobFile::read(file, &sources).unwrap(), first);
}

#[test]
fn bad_entries_are_refused_at_their_line() {
    let rows = "readings: [[0, 14], [1, 14], [2, 14], [5, 14]]";
    for (log, code, says) in [
        (
            format!("{{gauge: blank_test, {rows}}}"),
            codes::MISSING_KEY,
            "air_ml",
        ),
        (
            format!("{{gauge: cold_hold, air_ml: 300, air_from_draw: [50, 14, 12], {rows}}}"),
            codes::WRONG_KIND,
            "once",
        ),
        (
            "{gauge: cold_hold, air_ml: 300, coolant_l: 8}".to_owned(),
            codes::MISSING_KEY,
            "readings",
        ),
        (
            format!("{{gauge: cold_hold, air_ml: some, coolant_l: 8, {rows}}}"),
            codes::WRONG_KIND,
            "some",
        ),
        (
            format!("{{gauge: cold_hold, air_ml: [1], coolant_l: 8, {rows}}}"),
            codes::WRONG_KIND,
            "2 numbers",
        ),
        (
            format!("{{gauge: cold_hold, unit: atm, air_ml: 300, coolant_l: 8, {rows}}}"),
            codes::UNKNOWN_NAME,
            "atm",
        ),
        (
            "{gauge: cold_hold, air_ml: 300, coolant_l: 8, readings: [[0], [1, 2]]}".to_owned(),
            codes::WRONG_KIND,
            "[minute, pressure]",
        ),
        (
            "{gauge: cold_hold, air_ml: 300, coolant_l: 8, readings: [[0, 14]]}".to_owned(),
            codes::OUT_OF_RANGE,
            "takes two",
        ),
        (
            format!("{{gauge: cold_hold, air_ml: 2, coolant_l: 8, {rows}}}"),
            codes::OUT_OF_RANGE,
            "air space",
        ),
        (
            format!("{{gauge: level_now, air_ml: 300, coolant_l: 8, {rows}}}"),
            codes::NOT_HERE,
            "cold_hold",
        ),
        (
            format!("{{gauge: cold_held, air_ml: 300, coolant_l: 8, {rows}}}"),
            codes::UNKNOWN_NAME,
            "cold_hold",
        ),
        (
            "{gauge: cold_hold, air_ml: 300, coolant_l: 8, file: x.csv}".to_owned(),
            codes::UNREADABLE,
            "x.csv",
        ),
        (
            "{coolant: strength, glycol: ethylene}".to_owned(),
            codes::MISSING_KEY,
            "percent",
        ),
        (
            "{coolant: strength, percent: 40}".to_owned(),
            codes::MISSING_KEY,
            "glycol",
        ),
        (
            "{coolant: strength, glycol: ethylene, refractometer_c: -80}".to_owned(),
            codes::OUT_OF_RANGE,
            "80",
        ),
        (
            "{coolant: cold_hold, glycol: ethylene, percent: 40}".to_owned(),
            codes::NOT_HERE,
            "strength",
        ),
        (
            "{port: hose_off, at: lower_hose_pump_end}".to_owned(),
            codes::MISSING_KEY,
            "file",
        ),
        (
            "{loss: 0.5, days: 14}".to_owned(),
            codes::WRONG_KIND,
            "unit",
        ),
        ("{loss: 0.5 L}".to_owned(), codes::MISSING_KEY, "days"),
        (
            "{loss: 0.5 L, days: 0}".to_owned(),
            codes::OUT_OF_RANGE,
            "days",
        ),
    ] {
        let (found, line, message) = refused(&format!("  - note: first\n  - {log}\n"));
        assert_eq!((found, line), (code, 5), "{log}: {message}");
        assert!(message.contains(says), "{log}: {message}");
    }
    let mut missing = job("  - {gauge: cold_hold, air_ml: 300, coolant_l: 8, file: none.csv}\n");
    let problems = missing.attach(Path::new("no-such-folder")).unwrap_err();
    assert!(
        problems[0].to_string().starts_with("entry 1: "),
        "{}",
        problems[0]
    );
}

fn log_problem(text: &str) -> (usize, String) {
    let mut sources = Sources::new();
    let file = sources.add(SourceFile::new("a.csv", text));
    let view = read_gauge_log(file, &sources)
        .unwrap_err()
        .views(&sources)
        .remove(0);
    (
        view.line,
        format!("{} {}", view.message, view.help.unwrap_or_default()),
    )
}

#[test]
fn tables_are_read_and_refused_at_their_line() {
    let mut sources = Sources::new();
    let text = "# Monday\n\nAir_C; minute ;bar\n18,5;0;1\n".replace("18,5", "18.5");
    let file = sources.add(SourceFile::new("a.csv", &text));
    let read = read_gauge_log(file, &sources).unwrap().readings;
    assert_eq!(read.len(), 1);
    assert!((read[0].gauge_kpa - 100.0).abs() < 1e-9 && read[0].air_c == Some(18.5));
    for (text, line, says) in [
        ("min,psi\n0,14\n", 1, "minute"),
        ("minute\n0\n", 1, "psi"),
        ("minute,psi,bar\n0,1,1\n", 1, "one unit"),
        ("minute,psi\n0,14\n1,\n", 3, "no pressure"),
        ("minute,psi\n0,14\n\n1,abc\n", 4, "abc"),
        ("minute,psi\r\n0,14\r\n1,13,9\r\n", 3, "3 values"),
        ("minute;psi\n0;14\n1;13,9\n", 3, "point"),
        ("minute,psi\n0,nan\n", 2, "no number"),
        ("", 1, "minute"),
    ] {
        let (at, message) = log_problem(text);
        assert!(message.contains(says), "{text:?}: {message}");
        assert_eq!(at, line, "{text:?}: {message}");
    }
}

#[test]
fn the_command_reads_a_log() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).display().to_string();
    let save = |name: &str, leak: f64| {
        let lines = readings(leak, 300.0, 30, 1, 0.1).into_iter();
        let lines: Vec<String> = lines
            .map(|(minute, psi)| format!("{minute},{psi:.2},18.0,18.0"))
            .collect();
        let text = format!("minute,psi,coolant_c,air_c\n{}\n", lines.join("\n"));
        fs::write(path(name), text).unwrap();
    };
    save("falls.csv", 0.8);
    save("sealed.csv", 0.0);
    let rest = [
        "--air-ml",
        "250..350",
        "--coolant-litres",
        "8",
        "--step",
        "0.1 psi",
    ];
    let run = |name: &str, more: &[&str]| {
        let file = path(name);
        let args: Vec<&str> = (["hold", file.as_str()].iter())
            .chain(&rest)
            .chain(more)
            .copied()
            .collect();
        told(&args)
    };
    let svg = path("a.svg");
    let (code, out, errors) = run("falls.csv", &["--svg", &svg]);
    assert_eq!((code, errors.as_str()), (1, ""));
    assert!(
        out.starts_with("It falls") && out.contains("a sealed system"),
        "{out}"
    );
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    let drawing = fs::read_to_string(svg).unwrap();
    assert!(drawing.contains("minutes since") && drawing.contains("psi"));
    let (code, out, _) = run("sealed.csv", &["--json"]);
    assert_eq!(code, 0, "{out}");
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(json["verdict"], "holds");
    for key in [
        "leak_ml_per_min",
        "low",
        "high",
        "settled_after_minute",
        "smallest_leak_ml_per_min",
    ] {
        assert!(json[key].is_number(), "{key}: {out}");
    }
    assert!(json["wait_until_minute"].is_null() && json["notes"].is_array());
    let (code, out, _) = run("falls.csv", &["--json"]);
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!((code, json["verdict"].as_str()), (1, Some("falls")));
    let (low, high) = (
        json["low"].as_f64().unwrap(),
        json["high"].as_f64().unwrap(),
    );
    assert!(low < 0.8 && 0.8 < high, "{low} {high}");

    fs::write(path("short.csv"), "minute,psi\n0,14\n1,13\n1,12\n").unwrap();
    let (code, _, errors) = run("short.csv", &[]);
    assert!(code == 2 && errors.contains("short.csv:4"), "{errors}");
    let (code, _, errors) = told(&["hold", &path("falls.csv"), "--coolant-litres", "8"]);
    assert!(code == 2 && errors.contains("--air-ml"), "{errors}");
    let (code, _, errors) = run("falls.csv", &["--percent", "99"]);
    assert!(code == 2 && errors.contains("99"), "{errors}");
}

/// Kind: arithmetic and the project's limits. 0.5 L in 14 days of 1.5 hours: 0.397 mL/min.
#[test]
fn the_command_plans_within_the_limit() {
    let plan = |more: &[&str]| {
        let usual = [
            "hold",
            "--plan",
            "--loss",
            "0.5 L",
            "--days",
            "14",
            "--hours-a-day",
            "1.5",
            "--air-ml",
            "300",
            "--coolant-litres",
            "8",
            "--step",
            "0.5 psi",
        ];
        told(&usual.iter().chain(more).copied().collect::<Vec<_>>())
    };
    let (code, out, errors) = plan(&["--hot", "12 psi", "--layout", "crew_minibus", "--json"]);
    assert_eq!(code, 0, "{errors}");
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert!((json["hot_ml_per_min"].as_f64().unwrap() - 0.397).abs() < 0.001);
    assert!((json["limit_kpa"].as_f64().unwrap() - 15.0 * PSI).abs() < 0.1);
    let (code, out, _) = plan(&["--hot", "12 psi", "--layout", "crew_minibus"]);
    assert!(code == 0 && out.starts_with("Hold for "), "{out}");
    for (more, says) in [
        (
            &["--test", "20 psi", "--layout", "crew_minibus"][..],
            "limit",
        ),
        (&["--hot", "20 psi", "--layout", "crew_minibus"], "limit"),
        (&["--test", "12 psi"], "limit"),
        (&["--layout", "crew_minibuss"], "crew_minibus"),
    ] {
        let (code, _, errors) = plan(more);
        assert!(code == 2 && errors.contains(says), "{more:?}: {errors}");
    }
}

/// A verdict that the whole way agrees with the measuring code itself.
#[test]
fn the_verdict_is_that_of_the_hold() {
    let log: Vec<Reading> = readings(0.6, 130.0, 20, 1, 0.1)
        .into_iter()
        .map(|(minute, psi)| Reading {
            minute,
            gauge_kpa: psi * PSI,
            coolant_c: Some(18.0),
            air_c: Some(18.0),
        })
        .collect();
    let hold = Hold {
        graduation_kpa: Some(0.1 * PSI),
        ..Hold::new(log, AirSpace::Between(100.0, 160.0), 12.0)
    };
    let result = read_hold(&hold).unwrap();
    let case = good(&entry("cold_hold", 0.6, 20, 1, 0.1));
    assert_eq!(result.verdict, Verdict::Falls);
    let leak = case.measured[0].leak;
    assert!((leak.least_ml_per_min - result.interval_ml_per_min.0).abs() < 0.01);
    assert!(leak.cold);
}
