//! The program as a user runs it: exit codes, messages, pipes. Kind: the project's own promises
//! (README, "For scripts").

use assert_cmd::Command;
use serde_json::Value;

use crate::program::told_here;

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
    // The line may be broken anywhere.
    let flat = story.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("Nothing was noted."), "{story}");
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

/// A job traced with these lines: the story, and the job as it was saved.
fn traced(layout: &str, lines: &str) -> (String, String) {
    traced_whole(layout, &format!("it drinks\n{lines}"))
}

/// The same, the complaint among the lines.
fn traced_whole(layout: &str, lines: &str) -> (String, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.yaml");
    let output = seepwise(&["trace", "--layout", layout, path.to_str().unwrap()])
        .write_stdin(lines)
        .output()
        .unwrap();
    let story = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(0), "{story}");
    assert!(story.lines().all(|line| line.chars().count() <= 80));
    (story, std::fs::read_to_string(&path).unwrap())
}

#[test]
fn a_beginning_or_a_number_stands_for_an_answer() {
    let (story, saved) = traced("standby_generator", "sl\n1\nquit\n");
    assert!(story.contains("Question 1 of "), "{story}");
    assert!(
        saved.contains("{check: loss_reported, answer: slow}"),
        "{saved}"
    );
    // The second question's first answer, whatever it is called, is saved under its name.
    assert_eq!(saved.matches("check:").count(), 2, "{saved}");
    assert!(!saved.contains("answer: 1"), "{saved}");
}

#[test]
fn a_wrong_answer_is_told_shortly_what_to_type() {
    let (story, saved) = traced("standby_generator", "maybe\nquit\n");
    let told =
        "`maybe` is no answer here. Type none, leaks, slow, quick or pours. Nothing was noted.";
    let flat = story.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains(told), "{story}");
    assert!(!saved.contains("check:"), "{saved}");
}

#[test]
fn enough_ends_the_questions_and_next_leaves_them_out() {
    let (story, _) = traced("standby_generator", "slow\nenough\nnext\nquit\n");
    let (_, after) = story.split_once("> enough").unwrap();
    assert!(!after.contains("Question "), "{after}");
    let (_, listed) = after.split_once("Worth checking next").unwrap();
    let (listed, _) = listed.split_once("> quit").unwrap();
    assert!(listed.contains("[look_"), "{listed}");
    assert!(!listed.contains("[loss_when]"), "{listed}");
}

#[test]
fn a_set_up_without_its_facet_is_refused_with_what_to_write() {
    let (story, saved) = traced("standby_generator", "now hot\nnow\nquit\n");
    assert!(story.contains("Write `now temperature=hot`."), "{story}");
    assert!(story.contains("FACET=VALUE"), "{story}");
    assert!(!saved.contains("set_up"), "{saved}");
}

#[test]
fn not_seen_is_no_answer_to_a_question() {
    let (story, saved) = traced("standby_generator", "not seen\ncan't tell\nquit\n");
    assert!(story.contains("This is a question"), "{story}");
    assert!(!saved.contains("seen:"), "{saved}");
    assert!(saved.contains("cant_tell"), "{saved}");
}

#[test]
fn signs_are_asked_one_after_the_other_or_typed_at_once() {
    let asked = "slow\nenough\nweep_hole_look@pump_seal = wet\n2\nquit\n";
    let at_once = "slow\nenough\nweep_hole_look@pump_seal = hole=wet, begins=here\nquit\n";
    let words = "slow\nenough\nweep_hole_look@pump_seal = wet here\nquit\n";
    let answer = "hole=wet, begins=here";
    for lines in [asked, at_once, words] {
        let (story, saved) = traced("crew_minibus", lines);
        assert!(saved.contains(answer), "{story}\n{saved}");
        assert_eq!(story.contains("Then, where it begins"), lines == asked);
    }
    // Enter leaves the later sign out.
    let left = "slow\nenough\nweep_hole_look@pump_seal = wet\n\nquit\n";
    let (_, saved) = traced("crew_minibus", left);
    assert!(saved.contains("hole=wet"), "{saved}");
    assert!(!saved.contains("begins"), "{saved}");
}

#[test]
fn undo_takes_a_whole_line_back_and_the_log_shows_what_replaced_what() {
    let lines = "slow\nloss_reported = quick\nenough\ndry: top, front\nundo\nlog\nquit\n";
    let (story, saved) = traced("crew_minibus", lines);
    assert!(
        story.contains("1. loss_reported: slow (replaced by 2)"),
        "{story}"
    );
    assert!(saved.contains("{withdrawn: 3}"), "{saved}");
    assert!(saved.contains("{withdrawn: 4}"), "{saved}");
}

#[test]
fn an_unknown_vehicle_is_asked_for_again() {
    let output = seepwise(&["trace"])
        .write_stdin("x\nstandby\n\nquit\n")
        .output()
        .unwrap();
    let story = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(0), "{story}");
    assert!(story.contains("`x` is no vehicle here"), "{story}");
    assert!(story.contains("Question 1 of "), "{story}");
}

#[test]
fn a_look_at_a_covered_place_names_the_cover() {
    let lines = "slow\nenough\nlook_at_joint@heater_hose_engine_end = dry\nquit\n";
    let (story, _) = traced("crew_minibus", lines);
    let flat = story.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("`off air_duct`"), "{story}");
}

/// Kind: the project's own promise: a hunch is double-checked where the job is traced.
#[test]
fn a_hunch_is_double_checked_while_a_job_is_traced() {
    let lines = "slow\nenough\nhunch\nhunch pump seal\nhunch @no_such\nquit\n";
    let (story, saved) = traced("crew_minibus", lines);
    assert!(story.contains("What do you suspect? Type"), "{story}");
    assert!(story.contains("pump shaft seal: "), "{story}");
    assert!(story.contains("there is no place"), "{story}");
    assert_eq!(saved.matches("check:").count(), 1, "{saved}");
}

/// `help` is no complaint.
#[test]
fn help_at_the_first_question_is_help() {
    let (story, saved) = traced_whole("crew_minibus", "help\nIt drinks.\nquit\n");
    assert!(story.contains("Type a sentence"), "{story}");
    assert!(
        saved.contains("It drinks.") && !saved.contains("help"),
        "{saved}"
    );
}

/// What is supposed is no entry of the log yet, and is not called one.
#[test]
fn a_wrong_supposition_is_called_by_its_words() {
    let job = "scenarios/hunches/wrong.yaml";
    let (code, _, errors) = told(&["what-if", job, "gas_tst=gas"]);
    assert_eq!(code, 2);
    assert!(
        errors.contains("`gas_tst=gas`: There is no check"),
        "{errors}"
    );
    assert!(!errors.contains("entry"), "{errors}");
}

/// A set-up is said once: no "dye no dye in", no "second circuit second circuit closed".
#[test]
fn a_set_up_is_not_said_twice() {
    for layout in ["command_car", "standby_generator"] {
        let (story, _) = traced(layout, "quit\n");
        let story = story.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(!story.contains("dye no dye"), "{story}");
        assert!(!story.contains("second circuit second circuit"), "{story}");
    }
}

/// Own inputs: what a user looks up before an entry is written.
#[test]
fn a_place_and_a_check_say_what_can_be_entered() {
    let (code, place, _) = told_here(&["layouts", "crew_minibus", "pump_seal"]);
    assert_eq!(code, 0);
    for part in [
        "seal_worn:",
        "weep_hole_look@pump_seal:",
        "look_over@front:",
    ] {
        assert!(place.contains(part), "{part}\n{place}");
    }
    assert!(place.lines().all(|line| line.chars().count() <= 80));
    let (_, json, _) = told_here(&["layouts", "crew_minibus", "pump_seal", "--json"]);
    let json: Value = serde_json::from_str(&json).unwrap();
    let checks = json["checks"].as_array().unwrap();
    assert!(checks.contains(&"weep_hole_look".into()));
    let (_, elsewhere, _) = told_here(&["layouts", "crew_minibus", "elsewhere"]);
    assert!(elsewhere.contains("name no fault there"), "{elsewhere}");
    let (code, _, errors) = told_here(&["layouts", "no_such", "pump_seal"]);
    assert_eq!(code, 2);
    assert!(!errors.contains("; ;"), "{errors}");
    let (code, _, errors) = told_here(&["layouts", "crew_minibus", "pump_sael"]);
    assert_eq!(code, 2);
    assert!(errors.contains("pump_seal"), "{errors}");
    // All that can be entered on a layout: where it can be done, and the answers.
    let (code, all, _) = told_here(&["layouts", "crew_minibus", "--checks"]);
    assert_eq!(code, 0);
    assert!(all.lines().all(|line| line.chars().count() <= 80));
    let lines: Vec<&str> = all.lines().map(str::trim).collect();
    let below = |check: &str| {
        let at = lines.iter().position(|line| line.starts_with(check));
        at.map(|at| lines[at + 1])
    };
    assert!(below("· screen_habit:").is_some_and(|line| line.contains("clear | ")));
    assert!(below("· weep_hole_look:").is_some_and(|line| line.starts_with("hole: clean | ")));
    // The minibus has no fire pump to ask about.
    assert_eq!(below("· pumping_habit:"), None);
    let (_, json, _) = told_here(&["layouts", "crew_minibus", "--checks", "--json"]);
    let json: Value = serde_json::from_str(&json).unwrap();
    let checks = json["checks"].as_array().unwrap();
    let look = checks.iter().find(|check| check["check"] == "look_over");
    assert!(
        look.unwrap()["zones"]
            .as_array()
            .unwrap()
            .contains(&"front".into())
    );
    let (code, _, _) = told_here(&["layouts", "crew_minibus", "pump_seal", "--checks"]);
    assert_eq!(code, 2);
    let (_, json, _) = told_here(&["rules", "show", "weep_hole_look", "--json"]);
    let json: Value = serde_json::from_str(&json).unwrap();
    let entry = json["check"]["entry"].as_str().unwrap();
    assert!(entry.contains("answer: {hole: "), "{entry}");
    for form in [&["--json"][..], &[]] {
        let (_, shown, _) = told_here(&[&["rules", "show", "look_at_joint"], form].concat());
        assert!(!shown.contains("{place}"), "{shown}");
    }
    // A look over a zone takes the answers of the look at a place.
    let (_, shown, _) = told_here(&["rules", "show", "look_over"]);
    assert!(shown.contains("at: ZONE, answer: PLACE="), "{shown}");
    assert!(shown.contains("· dry: "), "{shown}");
    let (code, _, errors) = told_here(&["rules", "show", "no_such", "--json"]);
    assert_eq!(code, 2);
    assert!(errors.contains("rules show"), "{errors}");
    // What a ranking says where no place leads, and where many alike are left.
    let rank = |found: &str| {
        let of = ["rank", "--layout", "crew_minibus", "--top", "2", "--found"];
        told_here(&[&of[..], &[found]].concat()).1
    };
    assert!(rank("loss_reported=slow").contains("of one kind"));
    let none = told_here(&[
        "rank",
        "--layout",
        "crew_minibus",
        "--found",
        "loss_reported=none",
        "--found",
        "level_week=same",
        "--found",
        "cold_hold=holds",
    ]);
    assert!(none.1.contains("No place stands out"), "{}", none.1);
    // A place goes by its id with the words apart, though a longer id fits as well.
    let of = ["--layout", "command_car", "--found", "loss_reported=slow"];
    let (code, hunch, _) = told_here(&[&["hunch"][..], &of, &["oil", "cooler"]].concat());
    assert_eq!(code, 0);
    assert!(hunch.contains("engine-oil cooler at the filter"), "{hunch}");
}

/// A finding with which too much hangs together is left out of the figures and named, and the rest is worked out.
#[test]
fn a_finding_too_many_is_left_out_and_named() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("two_leaks.yaml");
    std::fs::write(
        &job,
        "job: 1\nlayout: station_car\nlog:\n\
             \x20 - {check: loss_reported, answer: quick}\n\
             \x20 - {check: smell_habit, answer: bonnet, sure: fairly}\n\
             \x20 - {check: renewed_asked, at: temperature_sender, answer: no_better, sure: fairly}\n\
             \x20 - {check: gearbox_top_look, answer: crust}\n\
             \x20 - {check: clutch_habit, answer: \"yes\", sure: fairly}\n\
             \x20 - {check: where_seen, answer: {back: \"yes\", belt_end: \"yes\"}}\n\
             \x20 - {gauge: cold_hold, readings: [[0, 15], [10, 8]]}\n\
             \x20 - {check: where_drops_pumped, answer: belt_end, sure: fairly}\n\
             \x20 - {check: vapour_habit, answer: somewhere}\n\
             \x20 - {check: look_over_hot, at: belt_end, answer: dry, sure: fairly}\n\
             \x20 - {check: renewed_asked, at: pump_seal, answer: not_renewed}\n\
             \x20 - {check: look_at_joint, at: radiator_core, answer: dry}\n\
             \x20 - {check: look_at_joint, at: left_seam, answer: dry}\n\
             \x20 - {check: look_at_joint, at: right_seam, answer: dry}\n\
             \x20 - {check: carpet_lift, answer: dry}\n\
             \x20 - {check: heater_box_look, at: heater_core, answer: dry}\n\
             \x20 - {check: gas_test, answer: unchanged}\n\
             \x20 - {loss: 0.5 L, days: 7}\n",
    )
    .unwrap();
    let (code, out, errors) = told_here(&["rank", job.to_str().unwrap(), "--json"]);
    assert_eq!((code, errors.as_str()), (0, ""));
    let value: Value = serde_json::from_str(&out).unwrap();
    let left_out = value["left_out"].as_array().unwrap();
    assert_eq!(left_out.len(), 1, "{left_out:?}");
    let entry = left_out[0]["entry"].as_u64().unwrap();
    assert!(value["leaks"][0]["probability"].as_f64().unwrap() > 0.05);
    // Without it the same comes out, and nothing more is left out.
    let mut text = std::fs::read_to_string(&job).unwrap();
    text = format!("{text}  - {{withdrawn: {entry}}}\n");
    std::fs::write(&job, text).unwrap();
    let (_, out, _) = told_here(&["rank", job.to_str().unwrap(), "--json"]);
    let without: Value = serde_json::from_str(&out).unwrap();
    assert!(without["left_out"].as_array().unwrap().is_empty());
    let first = |value: &Value| value["leaks"][0]["probability"].as_f64().unwrap();
    assert!((first(&value) - first(&without)).abs() < 1e-6);
}

/// The needle of a hold, typed as it was noted, becomes a gauge log.
#[test]
fn a_hold_takes_the_needle_in_a_few_words() {
    let lines = "cold_hold = 15 psi to 9 in 30 min\nlog\ncold_hold = 15 to 9\ncold_hold = 15 to 8 in 30 again\nlevel_week = 15 to 9 in 30\nquit\n";
    let (out, errors) = traced("crew_minibus", lines);
    assert!(
        out.contains("gauge log of 30 min: cold hold at 15 psi"),
        "{out}{errors}"
    );
    assert_eq!(out.matches("Nothing was").count(), 3, "{out}");
}

/// A file that can't be replayed keeps none of the others back, and a folder without any is no success.
#[test]
fn replay_goes_on_past_a_bad_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().to_str().unwrap();
    let (code, _, errors) = told_here(&["replay", at]);
    assert!(code == 2 && errors.contains("no job file"), "{errors}");
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    write(
        "a_bad.yaml",
        "job: 1\nlayout: crew_minibus\nlog:\n\t- {note: x}\n",
    );
    write(
        "b_good.yml",
        "job: 1\nlayout: crew_minibus\nlog:\n  - {check: loss_reported, answer: slow}\nexpect:\n  leaks_at_most: {cap: 90}\n",
    );
    let (code, out, errors) = told_here(&["replay", at, "--brief"]);
    assert_eq!(code, 2);
    assert!(
        out.contains("b_good: as expected.") && out.contains("a tab indents this line"),
        "{out}"
    );
    assert!(errors.contains("1 of 2 files"), "{errors}");
}

/// A drawing never goes over a file of another kind.
#[test]
fn a_drawing_spares_other_files() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("monday.csv");
    let text = "minute,psi\n0,15\n10,14\n20,13\n30,12\n";
    std::fs::write(&log, text).unwrap();
    let at = log.to_str().unwrap();
    let (code, _, errors) = told_here(&[
        "hold",
        at,
        "--air-ml",
        "300",
        "--coolant-litres",
        "8",
        "--svg",
        at,
    ]);
    assert!(code == 2 && errors.contains(".svg"), "{errors}");
    assert_eq!(std::fs::read_to_string(&log).unwrap(), text);
}

/// What is passed over makes room for what comes next: a list of hundreds is not at its end after a page.
#[test]
fn skipping_goes_on_to_the_next_check() {
    let typed = format!("it drips\nenough\n{}quit\n", "skip\n".repeat(15));
    let output = seepwise(&["trace", "--layout", "tow_pickup"])
        .write_stdin(typed)
        .output()
        .unwrap();
    let told = String::from_utf8(output.stdout).unwrap();
    let proposed: Vec<&str> = told
        .lines()
        .filter(|line| line.starts_with("Next: "))
        .collect();
    let different: std::collections::BTreeSet<&&str> = proposed.iter().collect();
    assert_eq!((proposed.len(), different.len()), (16, 16), "{proposed:?}");
    assert!(!told.contains("Nothing left"));
}

/// A block is told in full once, not after every question; a number typed without braces is taken as in a
/// job file.
#[test]
fn a_block_is_told_once_and_a_number_needs_no_braces() {
    let output = seepwise(&["trace", "--layout", "standby_generator"])
        .write_stdin(
            "it drips\nslow\nonly_in_use\nTopped up: 0.3 L\nloss: 1 L, days: 7\nlog\nquit\n",
        )
        .output()
        .unwrap();
    let told = String::from_utf8(output.stdout).unwrap();
    assert_eq!(told.matches("STOP").count(), 1);
    assert!(told.contains("topped up cold: 0.3 L"), "{told}");
    assert!(told.contains("1 L in 7 days"), "{told}");
}

#[test]
fn a_closed_job_is_not_traced_on() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("a.yaml");
    let text = "job: 1\nlayout: crew_minibus\nlog:\n  - {check: loss_reported, answer: slow}\n  - {closed: sold}\n";
    std::fs::write(&job, text).unwrap();
    let (code, _, errors) = told(&["trace", job.to_str().unwrap()]);
    assert_eq!(code, 2);
    assert!(
        errors.contains("closed in entry 2") && errors.contains("{withdrawn: 2}"),
        "{errors}"
    );
    assert_eq!(std::fs::read_to_string(&job).unwrap(), text);
}

#[test]
fn a_rule_base_that_is_not_there_is_bad_input() {
    for args in [
        &["rules", "review", "--rules", "nowhere"][..],
        &["rules", "review", "--rules", "nowhere", "--json"],
    ] {
        let (code, out, errors) = told(args);
        assert_eq!((code, out.is_empty()), (2, true));
        assert!(errors.contains("cannot read nowhere"), "{errors}");
    }
}

/// A name that a scenario expects and the vehicle does not have is a slip of the pen, told at its line, and no
/// failure of the rules.
#[test]
fn what_is_expected_of_nothing_is_told_at_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.yaml");
    let replayed = |expect: &str| {
        let text = format!(
            "job: 1\nlayout: crew_minibus\nlog:\n  - {{check: loss_reported, answer: slow}}\nexpect:\n  {expect}\n"
        );
        std::fs::write(&path, text).unwrap();
        told_here(&["replay", path.to_str().unwrap(), "--brief"])
    };
    for (expect, hint) in [
        (
            "causes_at_least: {seal_wurn@pump_seal: 5}",
            "did you mean `seal_worn`?",
        ),
        (
            "causes_at_most: {seal_worn@pump_seel: 95}",
            "did you mean `pump_seal`?",
        ),
        ("leaks_at_least: {capp: 5}", "did you mean `cap`?"),
        ("leaks_at_most: {capp: 5}", "did you mean `cap`?"),
        ("first: [capp]", "did you mean `cap`?"),
        ("among_first: {n: 3, places: [capp]}", "did you mean `cap`?"),
        (
            "conditions_at_least: {coolant_overdu: 5}",
            "did you mean `coolant_overdue`?",
        ),
        ("next_among: [cold_hald]", "did you mean `cold_hold`?"),
        ("next_among: [look_at_joint@capp]", "did you mean `cap`?"),
        ("blocked: [milky_oyl]", "did you mean `milky_oil`?"),
        ("sources_at_least: {capp: 5}", "did you mean `cap`?"),
    ] {
        let (code, out, errors) = replayed(expect);
        assert_eq!(code, 2, "{expect}: {out}{errors}");
        assert!(
            errors.contains("job.yaml:6:") && errors.contains(hint),
            "{expect}: {errors}"
        );
    }
    let known = "causes_at_most: {pump_seal.seal_worn@pump_seal: 95}\n  next_among: [look_at_joint@cap, cold_hold]\n  sources_at_least: {}";
    let (code, out, errors) = replayed(known);
    assert!(code < 2, "{out}{errors}");
    // What can be named under `repaired:` is a place or a fault.
    let text = "job: 1\nlayout: crew_minibus\nlog:\n  - {check: loss_reported, answer: slow}\n  - {repaired: capp}\n";
    std::fs::write(&path, text).unwrap();
    let (code, _, errors) = told_here(&["rank", path.to_str().unwrap()]);
    assert!(
        code == 2 && errors.contains("no place or fault `capp`"),
        "{errors}"
    );
    assert!(errors.contains("did you mean `cap`?"), "{errors}");
}

/// Whoever writes a rule needs the ids that exist; each section can be listed, as data too.
#[test]
fn the_ids_of_a_section_are_listed() {
    for (section, id, says) in [
        ("attributes", "reach", "of the part"),
        ("blocks", "milky_oil", "coolant in the engine oil"),
        ("cautions", "scald", "hand-warm"),
        ("checks", "look_at_joint", "the place"),
        ("conditions", "aged_hoses", "aged"),
        ("duties", "idle", "idle"),
        ("facets", "temperature", "cold, hot"),
        ("gathers", "sleeves", "kinds: injector_sleeve, fuel_cooler"),
        ("leak_kinds", "at_speed", "speed"),
        ("occasions", "cold_hold", "needs_pressure"),
        ("spaces", "fuel_return", "holds fuel"),
        ("tools", "torch", "torch"),
        ("ways", "let_cool", "cool"),
    ] {
        let (code, out, errors) = told_here(&["rules", "show", section]);
        assert_eq!(code, 0, "{errors}");
        assert!(out.contains(&format!("· {id}: ")), "{section}: {out}");
        let (_, out, _) = told_here(&["rules", "show", section, "--json"]);
        let told: serde_json::Value = serde_json::from_str(&out).unwrap();
        let mut rows = told[section].as_array().unwrap().iter();
        let row = rows.find(|row| row["id"] == id).unwrap();
        assert!(row["says"].as_str().unwrap().contains(says), "{row}");
    }
    for (typed, help) in [
        ("spacess", "Did you mean `spaces`?"),
        ("milky_oil", "`seepwise rules show blocks` names it."),
    ] {
        let (code, _, errors) = told_here(&["rules", "show", typed]);
        assert!(code == 2 && errors.contains(help), "{errors}");
    }
}

/// Of a job that expects nothing one line says so, and `met` is neither true nor false: it could be taken for a
/// passed test.
#[test]
fn a_brief_replay_says_where_nothing_is_expected() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plain.yaml");
    let text = "job: 1\nlayout: crew_minibus\nlog:\n  - {check: loss_reported, answer: slow}\n";
    for expect in ["", "expect: {}\n", "expect: {first: []}\n"] {
        std::fs::write(&path, format!("{text}{expect}")).unwrap();
        let (code, out, _) = told_here(&["replay", path.to_str().unwrap(), "--brief"]);
        assert!(
            code == 0 && out.contains("plain: it says nothing of what must come out"),
            "{out}"
        );
        let (_, out, _) = told_here(&["replay", path.to_str().unwrap(), "--json"]);
        let told: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!(told[0]["met"], serde_json::Value::Null);
    }
}

/// Names are compared as they are looked up: by id or by what people call it. A wrong one is told where it
/// stands, also when the same word is right elsewhere, and by whatever reads the expectations.
#[test]
fn what_is_expected_can_be_named_as_people_call_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.yaml");
    let file = path.to_str().unwrap();
    let write = |expect: &str| {
        let text = format!(
            "job: 1\nlayout: crew_minibus\nlog:\n  - {{check: oil_look, answer: {{oil: milky}}}}\nexpect:\n{expect}"
        );
        std::fs::write(&path, text).unwrap();
    };
    write(
        "  leaks_at_most: {Radiator cap: 99}\n  blocked: [coolant in the engine oil]\n  conditions_at_least: {Coolant overdue: 0}\n  causes_at_most: {cap.cap_weak@cap: 99}\n",
    );
    let (code, out, errors) = told_here(&["replay", file, "--brief"]);
    assert!(code == 0 && out.contains("as expected"), "{out}{errors}");
    write("  leaks_at_most: {cap: 99}\n  conditions_at_least: {cap: 0}\n");
    for command in [["replay", file], ["job", "close"]] {
        let args: Vec<&str> = command
            .into_iter()
            .chain((command[0] == "job").then_some(file))
            .collect();
        let (code, _, errors) = told_here(&args);
        assert!(code == 2 && errors.contains("job.yaml:7:"), "{errors}");
    }
}

/// Pairs of one place are those that it has a hand in.
#[test]
fn twins_of_one_place_are_its_own() {
    let twins = |args: &[&str]| {
        let args = [&["rules", "twins", "pump_set"], args, &["--json"]].concat();
        let (code, out, errors) = told_here(&args);
        assert_eq!(code, 0, "{errors}");
        let told: serde_json::Value = serde_json::from_str(&out).unwrap();
        told["twins"].as_array().unwrap().clone()
    };
    let all = twins(&["--top", "9999"]);
    let of_the_cap = |pair: &serde_json::Value| {
        let mut sides = ["one", "other"].into_iter();
        sides.any(|side| pair[side].as_str().unwrap().ends_with("@cap"))
    };
    let expected: Vec<_> = all
        .iter()
        .filter(|pair| of_the_cap(pair))
        .cloned()
        .collect();
    assert!(!expected.is_empty() && expected.len() < all.len());
    assert_eq!(twins(&["cap", "--top", "9999"]), expected);
    let (code, _, errors) = told_here(&["rules", "twins", "pump_set", "capp"]);
    assert!(
        code == 2 && errors.contains("did you mean `cap`?"),
        "{errors}"
    );
}

/// Where the drawn jobs and the drawing go is looked at before hours are spent on playing.
#[test]
fn a_drill_looks_first_where_it_is_to_write() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    std::fs::write(at("file"), "").unwrap();
    std::fs::create_dir(at("used")).unwrap();
    std::fs::write(at("used/drawn-0001.yaml"), "job: 1\n").unwrap();
    let drill = ["rules", "drill", "pump_set", "--jobs", "100000"];
    for (option, path, says) in [
        ("--keep", at("file"), "name another folder"),
        ("--keep", at("used"), "holds drawn jobs already"),
        (
            "--svg",
            at("nowhere/x.svg"),
            "name a file in a folder that exists",
        ),
    ] {
        let args: Vec<&str> = drill.into_iter().chain([option, &path]).collect();
        let (code, _, errors) = told_here(&args);
        assert!(
            code == 2 && errors.contains(says) && errors.contains(&path),
            "{errors}"
        );
    }
}
