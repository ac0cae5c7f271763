//! What people type in `trace` and `practice`, and what stands in the job afterwards.
//! Kind: common practice (no source).

use std::io::Write;
use std::path::PathBuf;

use assert_cmd::Command;

/// Types lines into a command: output, errors.
fn type_into(args: &[&str], typed: &str) -> (String, String) {
    let output = Command::new(assert_cmd::cargo::cargo_bin!("seepwise"))
        .args(args)
        .env("SEEPWISE_SHOP", "no-such-file.yaml")
        .env("NO_COLOR", "1")
        .write_stdin(typed)
        .output()
        .unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (text(output.stdout), text(output.stderr))
}

struct Job {
    folder: tempfile::TempDir,
}

impl Job {
    fn of(layout: &str, log: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let text = format!(
            "job: 1\nlayout: {layout}\nlog:\n  - {{check: loss_reported, answer: slow}}\n{log}"
        );
        std::fs::write(folder.path().join("job.yaml"), text).unwrap();
        Self { folder }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("job.yaml")
    }

    fn trace(&self, typed: &str) -> String {
        type_into(&["trace", self.path().to_str().unwrap()], typed).0
    }

    fn log(&self) -> String {
        std::fs::read_to_string(self.path()).unwrap()
    }

    fn add(&self, entry: &str) {
        let mut file = std::fs::OpenOptions::new()
            .append(true)
            .open(self.path())
            .unwrap();
        writeln!(file, "  - {entry}").unwrap();
    }
}

/// A bar is 14.5 psi. Who types 1 on a cap of 15 psi has read a gauge in bar, and is asked instead of believed.
#[test]
fn a_needle_far_from_the_limit_is_asked_about() {
    let job = Job::of("crew_minibus", "  - {repaired: cap}\n");
    let told = job.trace("1 to 0.9 in 30\nquit\n");
    assert!(
        job.trace("15,5 to 14,5 in 30\nquit\n")
            .contains("`15.5 to 14.5 in 30`"),
        "a decimal comma"
    );
    assert!(
        told.contains("is that bar?") && !job.log().contains("gauge"),
        "{told}"
    );
    job.trace("1 bar to 0.9 in 30\nquit\n");
    assert!(job.log().contains("unit: bar"), "{}", job.log());
}

/// Nothing must ever be so, but it may be so all the same: the reason is told, and how to get out of it.
#[test]
fn a_set_up_that_must_never_be_is_called_so_and_left() {
    let job = Job::of(
        "station_car",
        "  - {set_up: {temperature: hot}}\n  - {check: look_at_joint, at: cap, answer: wet}\n",
    );
    let told = job.trace("now system=open, fill=drained\nnext\nquit\n");
    assert!(
        told.contains("Is that so?") && told.contains("throws boiling coolant"),
        "{told}"
    );
    assert!(!told.contains("Nothing left"), "{told}");
    assert!(job.log().contains("fill: drained"));
}

/// `wet: front` is wet somewhere there; a place named with it is seen by itself.
#[test]
fn a_zone_that_is_wet_is_wet_somewhere() {
    let job = Job::of("crew_minibus", "");
    job.trace("enough\nwet: front; dry: radiator_core\nlog\nquit\n");
    let log = job.log();
    assert!(
        log.contains("answer: {somewhere: wet}") && log.contains("radiator_core: dry"),
        "{log}"
    );
}

/// What was proposed with a cover off was looked at with it off, however the answer is typed.
#[test]
fn a_zone_proposed_uncovered_is_seen_uncovered() {
    let job = Job::of("support_van", "");
    // Skip on until a zone comes with a cover to take off.
    let told = job.trace(&format!("enough\n{}quit\n", "skip\n".repeat(40)));
    let proposed: Vec<&str> = told.split("\nNext: ").collect();
    let at = proposed.iter().position(|text| {
        let head = text.lines().next().unwrap_or_default();
        head.starts_with("look over") && text.contains("take off")
    });
    let at = at.expect("a zone behind a cover is proposed");
    let zone = proposed[at]
        .split('@')
        .nth(1)
        .and_then(|rest| rest.split(']').next());
    job.trace(&format!(
        "enough\n{}dry: {}\nquit\n",
        "skip\n".repeat(at - 1),
        zone.unwrap()
    ));
    assert!(job.log().contains("covers_off"), "{}", job.log());
}

/// A check and its answer with an equals sign, or a colon, and no blank.
#[test]
fn a_check_is_named_with_or_without_blanks() {
    let job = Job::of("crew_minibus", "  - {check: cold_hold, answer: falls}\n");
    job.trace("level_pattern=one_level\nlevel_now: low\nquit\n");
    let log = job.log();
    assert!(
        log.contains("{check: level_pattern, answer: one_level}"),
        "{log}"
    );
    assert!(log.contains("{check: level_now, answer: low}"), "{log}");
}

/// Who left questions out is not asked them all again the next day.
#[test]
fn questions_left_out_are_not_asked_again() {
    let job = Job::of("crew_minibus", "");
    let first = |told: &str| {
        told.find("Question ")
            .map(|at| told[at..].lines().next().unwrap().to_owned())
    };
    let begun = first(&job.trace("quit\n")).expect("a question");
    job.add("{check: vapour_habit, answer: none}");
    let told = job.trace("quit\n");
    assert!(told.contains("that you left out"), "{told}");
    assert_ne!(first(&told).expect("the next question"), begun);
    job.add("{check: cold_hold, answer: falls}");
    assert_eq!(first(&job.trace("quit\n")), None);
}

/// For scripts: JSON alone on standard output, what is said on the way beside it.
#[test]
fn practice_gives_json_alone() {
    let args = ["practice", "crew_minibus", "--seed", "4", "--json"];
    let (out, errors) = type_into(&args, "where_seen\nguess pump seal\n");
    let value: serde_json::Value = serde_json::from_str(&out).expect("JSON alone");
    assert!(
        value["named"]
            .as_str()
            .is_some_and(|named| named.contains("pump"))
    );
    assert!(errors.contains("Exercise on the"));
}

/// A hold of which nobody is sure proves nothing: it stays on the list of what is lacking.
#[test]
fn a_guessed_hold_is_no_proof() {
    for (sure, lacks) in [("guess", true), ("fairly", false)] {
        let entries = format!(
            "  - {{repaired: cap}}\n  - {{check: cold_hold, answer: holds, sure: {sure}}}\n"
        );
        let job = Job::of("crew_minibus", &entries);
        let told = job.trace("quit\n");
        assert_eq!(
            told.contains("Still lacking: hold at"),
            lacks,
            "{sure}: {told}"
        );
    }
}

/// A hold that can't tell says so at once, and until when to go on; what is taken back is named.
#[test]
fn what_the_needle_says_is_told_and_what_undo_takes_back() {
    let job = Job::of("crew_minibus", "  - {repaired: cap}\n");
    let told = job.trace("cold_hold = 15 to 15 in 15\nundo\nquit\n");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        told.contains("Gauge log of 15 min: cold hold at 15 psi (103 kPa): can't tell"),
        "{told}"
    );
    assert!(told.contains("Taken back: gauge log of 15 min"), "{told}");
}

/// A fault can be confirmed in plain words where they are its alone; a full stop, or "I think", is no part of an answer.
#[test]
fn plain_words_are_understood() {
    let job = Job::of(
        "crew_minibus",
        "  - {check: puddle_seen, answer: none}\n  - {check: where_seen, answer: nowhere}\n",
    );
    job.trace("confirmed pump seal worn\nlevel_now = Low.\nlamp_habit = 2, I think\nquit\n");
    let log = job.log();
    assert!(log.contains("confirmed: seal_worn, at: pump_seal"), "{log}");
    assert!(log.contains("level_now, answer: low"), "{log}");
    assert!(log.contains("sure: fairly"), "{log}");
}

/// A slip at the first guess of an exercise is told, and asked again.
#[test]
fn a_first_guess_can_be_typed_again() {
    let args = [
        "practice",
        "crew_minibus",
        "--seed",
        "3",
        "--guess-first",
        "--plant",
        "head gasket",
    ];
    let (told, _) = type_into(&args, "hlpp\npump seal\nquit\n");
    assert_eq!(
        told.matches("what do you think it is?").count(),
        2,
        "{told}"
    );
}

/// Some pits or pits right across decide what is done with a port: the bare word is asked back.
#[test]
fn a_sign_that_shows_several_things_is_asked_back() {
    let job = Job::of("rescue_boat", "");
    let told = job.trace("hose_off@suction_hose_exchanger_end = pits\nhose_off@suction_hose_exchanger_end = pits=some\nquit\n");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        told.contains("`pits`: which? Type `pits=some` (some pits) or `pits=across`"),
        "{told}"
    );
    let log = job.log();
    assert_eq!(log.matches("hose_off").count(), 1, "{log}");
    assert!(log.contains("pits=some"), "{log}");
}

/// Who looked under a cover that the job has on is told what to type, not what a file would need.
#[test]
fn a_look_that_saw_only_covers_says_what_to_type() {
    let job = Job::of("water_tender", "");
    let told = job.trace("look_over@top = dry\nquit\n");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        told.contains("type `undo`, then `off engine_cover`, then your line again"),
        "{told}"
    );
}
