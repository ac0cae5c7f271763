//! `coolant` and `port` as a user runs them. Values: the published ones of `measure_coolant`;
//! the rest are the project's own promises (exit codes, lines of problems).

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::program::told;

fn coolant(args: &[&str]) -> Value {
    let all: Vec<&str> = ["coolant", "--json", "--glycol", "ethylene"]
        .iter()
        .chain(args)
        .copied()
        .collect();
    let (code, out, errors) = told(&all);
    assert_eq!(code, 0, "{errors}");
    serde_json::from_str(&out).unwrap()
}

fn near(found: &Value, wanted: f64, tolerance: f64) {
    let found = found.as_f64().unwrap();
    assert!(
        (found - wanted).abs() <= tolerance,
        "{found} is not {wanted} ± {tolerance}"
    );
}

#[test]
fn properties_and_sums_as_json() {
    let half = coolant(&[
        "--percent",
        "50",
        "--at",
        "20 °C",
        "--cap",
        "15 psi",
        "--system",
        "10 L",
    ]);
    near(&half["freeze_c"], -37.11, 0.1);
    near(&half["boil_c"], 129.4, 2.0);
    near(&half["density_kg_m3"], 1073.3, 5.0);
    near(&half["expansion_room_ml"], 411.0, 30.0);
    let sums = coolant(&[
        "--percent",
        "30",
        "--system",
        "8 L",
        "--want",
        "50",
        "--fill",
        "95",
    ]);
    near(&sums["replace_ml"], 2461.5, 0.1);
    let thin = coolant(&[
        "--percent",
        "50",
        "--system",
        "8 L",
        "--lost",
        "1.5 L",
        "--times",
        "3",
    ]);
    near(&thin["percent_after"], 26.819, 0.001);
    let strong = coolant(&["--percent", "70", "--system", "8 L", "--want", "50"]);
    near(&strong["replace_ml"], 8000.0 * 20.0 / 70.0, 0.1);
    assert_eq!(strong["warnings"].as_array().unwrap().len(), 1);
    let read = coolant(&["--refractometer", "-34.8 °F"]);
    near(&read["percent"], 50.0, 0.5);
}

#[test]
fn text_in_the_units_that_are_liked() {
    let args = [
        "coolant",
        "--glycol",
        "ethylene",
        "--percent",
        "50",
        "--cap",
        "15 psi",
        "--units",
        "US",
    ];
    let (code, out, _) = told(&args);
    assert_eq!(code, 0);
    for wanted in ["first ice at -35 °F", "15.0 psi", "inhibited concentrate"] {
        assert!(out.contains(wanted), "{wanted}\n{out}");
    }
}

/// What goes beyond the published tables is said, in text and as data; what does not, is not.
#[test]
fn what_is_continued_beyond_the_tables_is_said() {
    let hot = ["--percent", "50", "--at", "110 °C", "--hot", "118 °C"];
    let names = |of: &Value| of["continued_beyond_tables"].clone();
    // The density of ethylene concentrate is published to 121 °C, its viscosity to 100 °C.
    assert_eq!(names(&coolant(&hot)), serde_json::json!(["viscosity"]));
    // The tables of propylene end at 100 °C.
    let propylene = [
        "--glycol",
        "propylene",
        "--percent",
        "50",
        "--hot",
        "118 °C",
    ];
    let all: Vec<&str> = ["coolant", "--json"]
        .iter()
        .chain(&propylene)
        .copied()
        .collect();
    let propylene: Value = serde_json::from_str(&told(&all).1).unwrap();
    assert_eq!(names(&propylene), serde_json::json!(["growth"]));
    let cool = coolant(&["--percent", "50", "--hot", "95 °C"]);
    assert_eq!(names(&cool), serde_json::json!([]));
    let said = |args: &[&str]| {
        let start = ["coolant", "--glycol", "ethylene"];
        let all: Vec<&str> = start.iter().chain(args).copied().collect();
        let flat = told(&all)
            .1
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        flat.contains("viscosity (±10 %)")
    };
    assert!(said(&hot));
    assert!(!said(&["--percent", "50", "--hot", "118 °C"]));
}

#[test]
fn bad_input_is_code_2_with_what_to_write() {
    let start = ["coolant", "--glycol", "ethylene"];
    for (args, wanted) in [
        (vec!["--percent", "50", "--cap", "15"], "15 psi or 15 kPa"),
        (vec!["--percent", "50", "--at", "150 °C"], "125.0 °C"),
        (
            vec!["--percent", "20", "--at", "-20 °C"],
            "begins to freeze",
        ),
        (vec!["--percent", "70"], "0 to 60.0 %"),
        (vec!["--percent", "half"], "write it as in 50"),
        (
            vec!["--percent", "50", "--cap", "-3 psi"],
            "as its stamp says",
        ),
        (vec!["--percent", "50", "--hot", "130 °C"], "125.0 °C"),
        (
            vec!["--percent", "50", "--system", "2 gallons"],
            "2 imperial gallons",
        ),
        (
            vec!["--percent", "50", "--units", "stone"],
            "metric, US or imperial",
        ),
        (
            vec![
                "--percent",
                "30",
                "--system",
                "8 L",
                "--want",
                "50",
                "--fill",
                "water",
            ],
            "fill with more",
        ),
    ] {
        let all: Vec<&str> = start.iter().copied().chain(args.iter().copied()).collect();
        let (code, _, errors) = told(&all);
        assert_eq!(code, 2, "{args:?}");
        assert!(errors.contains(wanted), "{args:?}\n{errors}");
    }
}

const PORT: &str = "port: 1
name: rear housing
material: alloy
outside_diameter_mm: 38
bead_mm: [2, 5]
land_end_mm: 30
wall_mm: 4
clamp_width_mm: 10
clamp_at_mm: 16
pits:
  - {around_deg: [350, 20], along_mm: [14, 30], depth_mm: 0.6}
";

fn file(folder: &Path, name: &str, text: &str) -> String {
    let path = folder.join(name);
    fs::write(&path, text).unwrap();
    path.display().to_string()
}

#[test]
fn a_port_is_graded_and_drawn() {
    let folder = tempfile::tempdir().unwrap();
    let port = file(folder.path(), "rear.yaml", PORT);
    let drawing = folder.path().join("rear.svg");
    let (code, out, errors) = told(&["port", &port, "--svg", drawing.to_str().unwrap()]);
    assert_eq!(code, 0, "{errors}");
    for wanted in [
        "rear housing: use",
        "5.0 to 15.0 mm",
        "lets through at most",
        "11 mm back",
        "█",
    ] {
        assert!(out.contains(wanted), "{wanted}\n{out}");
    }
    assert!(fs::read_to_string(drawing).unwrap().starts_with("<svg"));
    let (_, out, _) = told(&["port", &port, "--json"]);
    let value: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(value["ports"][0]["grade"], "use");
    assert_eq!(value["ports"][0]["as_found"]["channel"], true);
}

#[test]
fn a_bench_is_sorted_and_scrap_is_code_1() {
    let folder = tempfile::tempdir().unwrap();
    let good = file(folder.path(), "good.yaml", PORT);
    let deep = PORT
        .replace("rear housing", "front housing")
        .replace("[350, 20]", "[0, 300]")
        .replace("[14, 30]", "[5, 30]")
        .replace("0.6", "2");
    let bad = file(folder.path(), "bad.yaml", &deep);
    let (code, out, _) = told(&["port", &good, &bad]);
    assert_eq!(code, 1);
    let (front, rear) = (
        out.find("front housing: scrap"),
        out.find("rear housing: use"),
    );
    assert!(front.is_some() && front < rear, "{out}");
}

#[test]
fn a_port_file_is_read_strictly() {
    let folder = tempfile::tempdir().unwrap();
    for (from, to, wanted) in [
        ("wall_mm", "wal_mm", "bad.yaml:7:1"),
        ("port: 1", "port: 2", "bad.yaml:1:7"),
        (
            "outside_diameter_mm: 38",
            "outside_diameter_mm: 38 mm",
            "bad.yaml:4:22",
        ),
        ("alloy", "gold", "bad.yaml:3:11"),
        ("depth_mm: 0.6", "depth_mm: .nan", "bad.yaml:11:"),
        ("[2, 5]", "[2, 5, 7]", "bad.yaml:5:17"),
        ("[2, 5]", "[2]", "bad.yaml:5:10"),
        ("land_end_mm: 30\n", "", "land_end_mm"),
        ("[14, 30]", "[30, 14]", "smaller value first"),
    ] {
        let path = file(folder.path(), "bad.yaml", &PORT.replace(from, to));
        let (code, _, errors) = told(&["port", &path]);
        assert_eq!(code, 2, "{to}");
        assert!(errors.contains(wanted), "{to}\n{errors}");
    }
}
