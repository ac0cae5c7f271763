//! The program as a user runs it: exit codes, messages, pipes. Kind: the project's own promises
//! (README, "For scripts").

use assert_cmd::Command;
use serde_json::Value;

/// The program, without any shop's file.
fn seepwise(args: &[&str]) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("seepwise"));
    command
        .args(args)
        .env("SEEPWISE_SHOP", "no-such-file.yaml")
        .env("NO_COLOR", "1");
    command
}

fn told(args: &[&str]) -> (i32, String, String) {
    let output = seepwise(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        output.status.code().unwrap(),
        text(output.stdout),
        text(output.stderr),
    )
}

#[test]
fn ranking_as_json_is_sorted_and_holds_chances() {
    let (code, out, _) = told(&[
        "rank",
        "--layout",
        "crew_minibus",
        "--found",
        "loss_reported=slow",
        "--json",
    ]);
    assert_eq!(code, 0);
    let value: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(value["layout"], "crew_minibus");
    for list in ["faults", "leaks"] {
        let chances: Vec<f64> = value[list]
            .as_array()
            .unwrap()
            .iter()
            .map(|of| of["probability"].as_f64().unwrap())
            .collect();
        assert!(chances.len() > 20);
        assert!(chances.windows(2).all(|pair| pair[0] >= pair[1]));
        assert!(chances.iter().all(|p| (0.0..=1.0).contains(p)));
    }
}

#[test]
fn wrong_names_get_a_suggestion_and_code_2() {
    let cases: [(&[&str], &str); 4] = [
        (&["rank", "--layout", "crew_minibuss"], "crew_minibus"),
        (
            &[
                "rank",
                "--layout",
                "crew_minibus",
                "--found",
                "loss_report=slow",
            ],
            "loss_reported",
        ),
        (
            &[
                "rank",
                "--layout",
                "crew_minibus",
                "--found",
                "loss_reported=slw",
            ],
            "slow",
        ),
        (
            &[
                "why",
                "--layout",
                "crew_minibus",
                "--cause",
                "pitted_prt@radiator_core",
            ],
            "pitted_prt",
        ),
    ];
    for (args, hint) in cases {
        let (code, out, errors) = told(args);
        assert_eq!(code, 2, "{args:?}");
        assert_eq!(out, "");
        assert!(errors.contains(hint), "{args:?}: {errors}");
    }
}

#[test]
fn a_bad_job_file_is_shown_at_its_line_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.yaml");
    let text = "job: 1\nlayout: crew_minibus\nlog:\n  - {chek: loss_reported, answer: slow}\n";
    std::fs::write(&path, text).unwrap();
    let (code, _, errors) = told(&["trace", path.to_str().unwrap()]);
    assert_eq!(code, 2);
    assert!(errors.contains("job.yaml:4:"), "{errors}");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
}

#[test]
fn an_answer_too_much_is_refused_and_the_job_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.yaml");
    let lines = "it drinks\nnonsense\nslow\nquit\n";
    let output = seepwise(&[
        "trace",
        "--layout",
        "standby_generator",
        path.to_str().unwrap(),
    ])
    .write_stdin(lines)
    .output()
    .unwrap();
    let story = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(story.contains("Nothing was noted"), "{story}");
    assert!(story.lines().all(|line| line.chars().count() <= 80));
    let saved = std::fs::read_to_string(&path).unwrap();
    assert!(
        saved.contains("{check: loss_reported, answer: slow}"),
        "{saved}"
    );
    assert!(!saved.contains("nonsense"));
}

#[test]
fn next_as_json_names_check_place_gain_minutes_and_set_up() {
    let (code, out, _) = told(&[
        "next",
        "--layout",
        "standby_generator",
        "--found",
        "loss_reported=slow",
        "--json",
    ]);
    assert_eq!(code, 0);
    let value: Value = serde_json::from_str(&out).unwrap();
    let checks = value["checks"].as_array().unwrap();
    assert!(checks.len() > 10);
    for check in checks {
        assert!(check["check"].is_string());
        assert!(check["gain_bits"].as_f64().unwrap() >= 0.0);
        assert!(check["minutes"].as_f64().is_some());
        assert!(check["setup"].is_object());
        let sum: f64 = check["answers"]
            .as_array()
            .unwrap()
            .iter()
            .map(|of| of["probability"].as_f64().unwrap())
            .sum();
        assert!((sum - 1.0).abs() < 1e-9);
    }
}
