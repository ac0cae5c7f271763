//! What is printed and handed on: repair sheets and releases, each read whole before it was
//! accepted. Kinds: trade facts, common practice of a workshop, invented jobs.

use crate::program::told_here;

fn told(command: &str, job: &str, more: &[&str]) -> String {
    let path = format!("{}/scenarios/{job}.yaml", env!("CARGO_MANIFEST_DIR"));
    let all: Vec<&str> = [&[command, &path], more].concat();
    let (_, text, errors) = told_here(&all);
    assert_eq!(errors, "", "{command} {job}");
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{command} {job}: wider than 80 columns"
    );
    text
}

#[test]
fn repair_sheets_are_told_whole() {
    for job in [
        "measured_port_and_strength",
        "boat_exchanger",
        "coach_frame_line",
    ] {
        insta::assert_snapshot!(format!("sheet_{job}"), told("sheet", job, &[]));
    }
}

#[test]
fn releases_are_told_whole() {
    let jobs: [(&str, &[&str]); 3] = [
        ("heater_core", &[]),
        ("closed_with_a_remainder", &[]),
        ("measured_tester_mended", &["--minutes", "60"]),
    ];
    for (job, more) in jobs {
        insta::assert_snapshot!(format!("release_{job}"), told("release", job, more));
    }
}

/// The mixing rule: 38 L at m % of which x L give way to concentrate make
/// (38 − x)·m + x·100 = 38·50, so x = 38·(50 − m)/(100 − m). Kind: arithmetic.
#[test]
fn measured_coolant_is_brought_to_strength_by_the_mixing_rule() {
    let path = format!(
        "{}/scenarios/measured_port_and_strength.yaml",
        env!("CARGO_MANIFEST_DIR")
    );
    let (_, text, _) = told_here(&["sheet", &path, "--json"]);
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let coolant = &value["coolant"];
    let figure = |of: &serde_json::Value| of.as_f64().unwrap();
    let (all, kept) = (figure(&coolant["litres"]), &coolant["measured"]);
    let had = figure(&kept["percent"]);
    let exchange = all * (50.0 - had) / (100.0 - had);
    assert!((20.0..40.0).contains(&had), "{had}");
    assert!((figure(&kept["exchange_litres"]) - exchange).abs() < 1e-9);
}

/// A mended tester is no repaired vehicle: nothing is proved by it, and nothing released.
#[test]
fn a_mended_tester_asks_for_no_retest() {
    let next = told("next", "measured_tester_mended", &[]);
    assert!(!next.contains("Repaired"), "{next}");
    let release = told("release", "measured_tester_mended", &[]);
    assert!(release.contains("Do not release"), "{release}");
}
