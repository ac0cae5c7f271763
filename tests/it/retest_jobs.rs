//! Jobs with repairs, on the built-in rules: what they say, what they refuse, how they are closed.
//! Kind: own inputs and common practice.

use std::path::Path;

use seepwise::advise::{Belief, Case, Proposals, Ranking, Retest, Shop, Verdict};
use seepwise::chance::Chance;
use seepwise::graph::NodeKind;
use seepwise::ids::TaskId;
use seepwise::job::{JobFile, JobProblem, find_task, resolve};
use seepwise::notice::codes;
use seepwise::reading::dry_levels;
use seepwise::show::{Page, task_id, verdict_text};
use seepwise::source::{SourceFile, Sources};

use crate::program::told_here;
use crate::vehicle::MINIBUS;

fn read(log: &str) -> Result<JobFile, Vec<(&'static str, String)>> {
    let mut sources = Sources::new();
    let text = format!("job: 1\nlayout: crew_minibus\nlog:\n{log}");
    let file = sources.add(SourceFile::new("a.yaml", &text));
    JobFile::read(file, &sources).map_err(|notices| {
        let views = notices.views(&sources).into_iter();
        views.map(|view| (view.code, view.message)).collect()
    })
}

fn case(log: &str) -> Result<Case<'static>, Vec<JobProblem>> {
    resolve(
        &read(log).expect("read"),
        &MINIBUS.rules,
        &MINIBUS.layout,
        &MINIBUS.graph,
        &Shop::default(),
        0.08,
    )
}

fn good(log: &str) -> Case<'static> {
    case(log).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

/// The chance that a place leaks now.
fn leaks(case: &Case<'_>, place: &str) -> f64 {
    let belief = Belief::of(case, &[]).unwrap();
    let part = case.layout.parts.enumerated();
    let mut part = part.filter(|(_, part)| part.named.id == place);
    let (part, _) = part.next().expect("a place");
    belief.leaks[part].expect("it can leak")
}

const FOUND: &str = "  - {check: loss_reported, answer: slow}\n  - {check: cold_hold, answer: falls}\n  - {check: look_pumped, at: radiator_core, answer: drops}\n  - {confirmed: core_corroded, at: radiator_core}\n";
const MENDED: &str = "  - {repaired: core_corroded@radiator_core, how: new radiator}\n";

/// The radiator found and mended, and what came after: the case, the verdict and the first check.
fn mended(log: &str) -> (Case<'static>, Verdict, TaskId) {
    let case = good(&format!("{FOUND}{MENDED}{log}"));
    let (proposals, belief) = Proposals::of(&case).unwrap();
    let ranking = Ranking::of(&case, &belief).unwrap();
    let verdict = Verdict::of(&case, &ranking, &belief, &proposals).unwrap();
    (case, verdict, proposals.checks[0].asked.task)
}

#[test]
fn findings_before_and_after_a_repair_stand_beside_each_other() {
    let before = good(FOUND);
    let after = good(&format!(
        "{FOUND}{MENDED}  - {{check: cold_hold, answer: holds}}\n"
    ));
    assert!(leaks(&before, "radiator_core") > 0.999);
    assert!(leaks(&after, "radiator_core") < 0.1);
    // Both holds count: the first of before, the second of since.
    let holds = after
        .found
        .iter()
        .filter(|found| found.words.starts_with("cold hold"));
    let when: Vec<String> = holds.map(|found| after.when(found)).collect();
    assert_eq!(when, ["before the repair: ", "since the repair: "]);
    // In one state the later answer replaces the earlier, as ever.
    let twice = "  - {check: cold_hold, answer: falls}\n  - {check: cold_hold, answer: holds}\n";
    let twice = good(&format!("{FOUND}{MENDED}{twice}"));
    assert_eq!(twice.found.len(), after.found.len());
    let (once, again) = (
        leaks(&after, "radiator_core"),
        leaks(&twice, "radiator_core"),
    );
    assert!((once - again).abs() < 1e-12, "{once} {again}");
}

#[test]
fn a_look_at_the_bench_speaks_of_before() {
    let renewed = "  - {repaired: radiator_core, how: new radiator}\n";
    let opened = "  - {check: look_pumped, at: radiator_core, answer: drops}\n";
    let bath = "  - {check: core_bath, at: radiator_core, answer: bubbles, before_repair: 2}\n";
    let unsure = good(&format!("{opened}{renewed}"));
    let bench = good(&format!("{opened}{renewed}{bath}"));
    let source = |case: &Case<'_>| seepwise::advise::sources(case).unwrap()[0].leaked.get();
    assert!(source(&bench) > source(&unsure) + 0.1);
    // The old radiator's bath says next to nothing about the new one.
    assert!(leaks(&bench, "radiator_core") < leaks(&unsure, "radiator_core") + 0.05);
    assert_eq!(bench.set_up, unsure.set_up);
}

#[test]
fn the_retest_says_what_it_lacks_and_comes_first() {
    let (case, verdict, first) = mended("");
    assert!(matches!(verdict, Verdict::Retest { .. }), "{verdict:?}");
    let retest = Retest::of(&case).expect("repaired");
    assert_eq!(retest.lacking().count(), 4);
    assert!(retest.lacking().any(|part| part.lacking.contains(&first)));
    let dry = "  - {check: cold_hold, answer: holds}\n  - {check: heat_cycle_watch, answer: both_ways}\n  - {check: look_after_hot_stop, at: radiator_core, answer: dry}\n  - {check: look_coldest_hour, at: radiator_core, answer: dry}\n";
    let proved = good(&format!("{FOUND}{MENDED}{dry}"));
    let retest = Retest::of(&proved).expect("repaired");
    let lacking: Vec<usize> = retest.lacking().map(|part| part.proof).collect();
    assert!(retest.complete(), "{lacking:?}");
    // What was done before the repair proves nothing.
    let early = good(&format!("{FOUND}{dry}{MENDED}"));
    assert_eq!(Retest::of(&early).expect("repaired").lacking().count(), 4);
    let falls = good(&format!(
        "{FOUND}{MENDED}  - {{check: cold_hold, answer: falls}}\n"
    ));
    assert!(Retest::of(&falls).expect("repaired").falls());
}

/// Common practice: a vehicle that may still leak goes to work with its level marked, and the job is
/// closed once the mark was reached again.
#[test]
fn what_only_doubt_asks_for_comes_last() {
    let told = |log: &str| {
        let (case, verdict, first) = mended(log);
        (verdict, task_id(&case, first))
    };
    let hold = "  - {check: cold_hold, answer: holds}\n";
    let dry = "  - {check: heat_cycle_watch, answer: both_ways}\n  - {check: look_after_hot_stop, at: radiator_core, answer: dry}\n  - {check: look_coldest_hour, at: radiator_core, answer: dry}\n";
    let (verdict, first) = told(&format!("{hold}{dry}"));
    let Verdict::Watch { remains: before } = verdict else {
        panic!("{verdict:?} {first}")
    };
    assert!(before.get() >= 0.01);
    assert_eq!(first, "level_week");
    let week = |answer: &str| format!("  - {{check: level_week, answer: {answer}}}\n");
    // A week is too little for a few drops a day: then a month, with less doubt.
    let (verdict, first) = told(&format!("{hold}{dry}{}", week("same")));
    let Verdict::Watch { remains: after } = verdict else {
        panic!("{verdict:?} {first}")
    };
    assert!(after < before);
    assert_eq!(first, "level_month");
    let month = |answer: &str| format!("  - {{check: level_month, answer: {answer}}}\n");
    let (verdict, first) = told(&format!("{hold}{dry}{}{}", week("same"), month("same")));
    let Verdict::Proved { remains: proved } = verdict else {
        panic!("{verdict:?} {first}")
    };
    assert!(proved < after);
    // It falls, and nothing else speaks for a leak: it is marked once more.
    let sound = "  - {check: night_hold, answer: holds}\n  - {check: overflow_catch, answer: dry}\n  - {check: hose_hard_cold, answer: soft}\n  - {check: look_at_joint, at: overflow, answer: dry}\n  - {check: cap_on_adapter, at: cap, answer: good}\n  - {check: level_night, answer: same}\n";
    let all = format!("{hold}{dry}{sound}{}", week("same"));
    let (verdict, first) = told(&format!("{all}{}", month("fell")));
    assert!(matches!(verdict, Verdict::Watch { .. }), "{verdict:?}");
    assert_eq!(first, "level_month");
    let once_more = "  - {check: level_month, answer: same, again: yes}\n";
    let (verdict, first) = told(&format!("{all}{}{once_more}", month("fell")));
    assert!(
        matches!(verdict, Verdict::Proved { .. }),
        "{verdict:?} {first}"
    );
    // Where little doubt is left it is not asked for; before the rest is done it is not, either.
    let case = good(&format!("{FOUND}{MENDED}{hold}{dry}"));
    let retest = Retest::of(&case).expect("repaired");
    let at = |p: f64| retest.lacking_at(&case, Chance::new(p).unwrap()).len();
    assert_eq!((at(0.0029), at(0.003), at(0.0099), at(0.01)), (0, 1, 1, 2));
    let case = good(&format!("{FOUND}{MENDED}{hold}"));
    let retest = Retest::of(&case).expect("repaired");
    let in_doubt = Chance::new(0.1).unwrap();
    assert_eq!(
        retest.lacking_at(&case, in_doubt),
        retest.lacking().collect::<Vec<_>>()
    );
    let case = good(&format!("{FOUND}{MENDED}{hold}{dry}{}", week("fell")));
    assert!(Retest::of(&case).expect("repaired").falls());
}

/// Common practice: one part of a retest that speaks against all the rest is settled by a week in use
/// with the level marked, not by taking the vehicle apart.
#[test]
fn a_false_alarm_in_the_retest_is_settled_by_a_week_in_use() {
    let told = |log: &str| {
        let (case, verdict, first) = mended(log);
        let retest = Retest::of(&case).expect("repaired");
        (verdict, retest, first, case)
    };
    let dry = "  - {check: cold_hold, answer: holds}\n  - {check: look_after_hot_stop, at: radiator_core, answer: dry}\n  - {check: look_coldest_hour, at: radiator_core, answer: dry}\n";
    let alarm = "  - {check: heat_cycle_watch, answer: not_drawn}\n";
    let week = |answer: &str| format!("  - {{check: level_week, answer: {answer}}}\n");
    // Likely enough to be a leak: it is looked for.
    let (verdict, retest, ..) = told(&format!("{dry}{alarm}"));
    assert!(retest.falls());
    assert!(matches!(verdict, Verdict::GoOn), "{verdict:?}");
    // The overflow looked at and sound, little is left that could draw air.
    let sound = "  - {check: look_at_joint, at: overflow, answer: dry}\n  - {check: overflow_line_look, at: overflow, answer: sound}\n  - {check: return_valve_lift, at: cap, answer: moves}\n  - {check: cap_on_adapter, at: cap, answer: good}\n  - {check: night_hold, answer: holds}\n  - {check: overflow_catch, answer: dry}\n  - {check: hose_hard_cold, answer: soft}\n";
    let (verdict, retest, first, case) = told(&format!("{dry}{alarm}{sound}"));
    let Verdict::Watch { remains } = verdict else {
        panic!("{verdict:?}")
    };
    assert!(retest.is_false_alarm(&case, remains));
    assert_eq!(task_id(&case, first), "level_week");
    assert!(!retest.is_false_alarm(&case, Chance::new(0.15).unwrap()));
    let month = "  - {check: level_month, answer: same}\n";
    let (verdict, retest, _, case) = told(&format!("{dry}{alarm}{sound}{}{month}", week("same")));
    assert!(matches!(verdict, Verdict::Proved { .. }), "{verdict:?}");
    assert!(retest.falls() && !retest.complete());
    let mut page = Page::new(80, false);
    verdict_text(&mut page, &case, &verdict);
    let page: Vec<&str> = page.text().split_whitespace().collect();
    let page = page.join(" ");
    assert!(page.contains("The retest is complete. The"), "{page}");
    assert!(page.contains("most likely a false alarm"), "{page}");
    // Neither does it keep the vehicle back, as the same alarm did before the week.
    let released = |log: &str| {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("job.yaml");
        let head = "job: 1\nlayout: crew_minibus\nlog:\n";
        std::fs::write(&file, format!("{head}{FOUND}{MENDED}{log}")).unwrap();
        told_here(&["release", file.to_str().unwrap()]).1
    };
    let after = released(&format!("{dry}{alarm}{sound}{}", week("same")));
    assert!(!after.contains("Do not release"), "{after}");
    let before = released(&format!("{dry}{alarm}{sound}"));
    assert!(before.contains("Do not release"), "{before}");
    let (verdict, retest, _, case) = told(&format!("{dry}{alarm}{sound}{}", week("fell")));
    // It can be watched once more, but two falls are no false alarm.
    assert!(retest.is_false_alarm(&case, Chance::new(0.01).unwrap()));
    assert!(
        !matches!(verdict, Verdict::Watch { .. } | Verdict::Proved { .. }),
        "{verdict:?}"
    );
}

/// Common practice: nobody is told to do what the log says is done.
#[test]
fn what_the_list_lacks_is_not_sent_for_twice() {
    let told_with = |log: &str, most_telling: Option<(&str, f64)>| {
        let case = good(log);
        let covers = &case.set_up.covers_off;
        let task = |check: &str| {
            find_task(case.rules, case.layout, &case.graph, check, None, covers).expect("a task")
        };
        let end = Verdict::NothingLeft {
            best_bits_per_hour: 0.1,
            likeliest: Some(Chance::new(0.5).unwrap()),
            unnamed: true,
            most_telling: most_telling.map(|(check, bits)| (task(check), bits)),
        };
        let mut page = Page::new(80, false);
        verdict_text(&mut page, &case, &end);
        page.text().replace('\n', " ")
    };
    let told = |log: &str| told_with(log, None);
    let reported = "  - {check: loss_reported, answer: slow}\n";
    let before = told(reported);
    assert!(before.contains("follow every pipe"), "{before}");
    let after = told(&format!(
        "{reported}  - {{check: unlisted_look, at: elsewhere, answer: all_listed}}\n"
    ));
    assert!(!after.contains("follow every pipe"), "{after}");
    assert!(after.contains("somebody else"), "{after}");
    // A customer who must know is told what it takes.
    let dear = told_with(reported, Some(("night_hold", 0.4)));
    assert!(!before.contains("whatever it takes"), "{before}");
    assert!(
        dear.contains("whatever it takes is: hold overnight [night_hold], 0.40 bits"),
        "{dear}"
    );
}

/// Common practice: nobody is sent twice for what the repair has not touched.
#[test]
fn the_retest_lacks_only_what_can_be_done() {
    let by_task = |case: &Case<'_>, proof: &str| {
        let retest = Retest::of(case).expect("repaired");
        let named =
            |part: &&seepwise::advise::ProofState| case.rules.retest[part.proof].named.id == proof;
        let part = retest.parts.iter().find(named).expect("a part");
        let names = part.lacking.iter().map(|&task| task_id(case, task));
        names.collect::<Vec<_>>()
    };
    // The ear hears outside leaks only: setting the level changes nothing there.
    let set = "  - {repaired: overfilled_cold, how: set to the mark}\n";
    let heard = "  - {check: hiss_listen, answer: quiet}\n";
    let silent = by_task(&good(set), "hot_stop");
    assert!(silent.contains(&"hiss_listen".to_owned()), "{silent:?}");
    let listened = by_task(&good(&format!("{heard}{set}")), "hot_stop");
    assert!(!listened.contains(&"hiss_listen".to_owned()));
    // A new radiator is an outside leak mended: it is listened for again.
    let again = by_task(&good(&format!("{FOUND}{heard}{MENDED}")), "hot_stop");
    assert!(again.contains(&"hiss_listen".to_owned()), "{again:?}");
    // What was proved at one place stays proved when another is repaired.
    let look = "  - {check: look_coldest_hour, at: radiator_core, answer: dry}\n";
    let first = format!("{FOUND}{MENDED}{look}");
    assert_eq!(by_task(&good(&first), "cold_morning"), [""; 0]);
    let cap = "  - {repaired: cap_seal_cut@cap, how: new cap}\n";
    let wet = look.replace("dry", "wet");
    let still_wet = good(&format!("{FOUND}{MENDED}{wet}{cap}"));
    assert!(Retest::of(&still_wet).expect("repaired").falls());
    let both = by_task(&good(&format!("{first}{cap}")), "cold_morning");
    let at_core = "look_coldest_hour@radiator_core".to_owned();
    assert!(!both.is_empty() && !both.contains(&at_core), "{both:?}");
}

/// Common practice: while a hose has burst no pressure builds, so that a dry look under pressure says
/// little about what leaks near full pressure only; mended and looked at again, it does. One gate does for
/// every occasion, since it counts leaks that are open on all of them.
#[test]
fn a_burst_hose_hides_what_needs_pressure() {
    let header = |log: &str| {
        let case = good(log);
        let belief = Belief::of(&case, &[]).unwrap();
        let causes = case.graph.causes.iter().zip(&belief.causes);
        let mut here = causes
            .filter(|(cause, _)| case.rules.faults[cause.place.fault].named.id == "tube_to_header");
        *here.next().expect("the fault").1
    };
    let dry = "  - {check: look_pumped, at: radiator_core, answer: dry}\n";
    let burst = "  - {confirmed: perished, at: upper_hose}\n  - {check: look_at_joint, at: upper_hose, answer: runs}\n  - {check: look_pumped, at: upper_hose, answer: runs}\n";
    // What the dry look leaves of the chance, with and without the burst hose.
    let left = |before: &str| header(&format!("{before}{dry}")) / header(before);
    let reported = "  - {check: loss_reported, answer: quick}\n";
    let (tight, open) = (left(reported), left(&format!("{reported}{burst}")));
    assert!(open > 1.2 * tight, "{open} {tight}");
    // From the repair on the look counts again.
    let mended = format!("{reported}{burst}  - {{repaired: perished@upper_hose, how: new hose}}\n");
    let again = left(&mended);
    assert!(again < open, "{again} {open}");
    let gates = MINIBUS.graph.graph.node_weights();
    let gates = gates.filter(|node| matches!(node.kind, NodeKind::PressureGone));
    assert_eq!(gates.count(), 1);
}

#[test]
fn a_refill_changes_the_coolant_for_later_checks_only() {
    let thin = "  - {check: strength, answer: thin}\n";
    let refill = "  - {refilled: 10 L, percent: 50}\n";
    let thinned = |case: &Case<'_>| {
        let belief = Belief::of(case, &[]).unwrap();
        let named = case.rules.conditions.iter();
        let at = named
            .clone()
            .position(|of| of.named.id == "coolant_thinned");
        belief.conditions[at.expect("declared")].expect("possible")
    };
    let (before, after) = (good(thin), good(&format!("{thin}{refill}")));
    assert!(thinned(&before) > 0.4 && thinned(&after) < 0.1);
    // Ports that thin coolant has eaten stay eaten.
    let belief = |case: &Case<'_>| Belief::of(case, &[]).unwrap();
    let (was, is) = (belief(&before), belief(&after));
    for (a, b) in was.present.iter().zip(&is.present) {
        assert!((a - b).abs() < 1e-12, "{a} {b}");
    }
    // Poured in thin it is thin again; a litre changes nothing.
    assert!(thinned(&good("  - {refilled: 10 L, percent: 20}\n")) > 0.9);
    let litre = good(&format!("{thin}  - {{refilled: 1 L, percent: 50}}\n"));
    assert!((thinned(&litre) - thinned(&before)).abs() < 1e-12);
}

#[test]
fn dry_days_count_by_their_number_and_only_once_the_air_is_out() {
    // By hand: a seep of 0.002 to 0.03 mL/min loses 100 mL in 7 days of 24 h from
    // 100/10080 = 0.00992 mL/min up; ln(4.96)/ln(15) = 0.5914 of the band loses less.
    let bands = [None, Some((0.002, 0.03))];
    let seven = dry_levels(&bands, 7.0, 24.0, 100.0, 0.04);
    assert!((seven[0] - 1.0).abs() < 1e-12);
    assert!(
        (seven[1] - (0.5914 + 0.4086 * 0.04)).abs() < 1e-4,
        "{seven:?}"
    );
    let missed = |days: f64| dry_levels(&bands, days, 24.0, 100.0, 0.04)[1];
    assert!((missed(1.0) - 1.0).abs() < 1e-12 && (missed(60.0) - 0.04).abs() < 1e-12);
    assert!(
        [1.0, 4.0, 9.0, 20.0]
            .map(missed)
            .is_sorted_by(|a, b| a >= b)
    );

    let spell = "  - {dry_spell: level_week, days: 14}\n";
    let dry = good(&format!("{FOUND}{MENDED}{spell}"));
    assert!(
        dry.found
            .last()
            .expect("found")
            .words
            .starts_with("14 dry days")
    );
    let wet = good(&format!(
        "{FOUND}  - {{repaired: core_corroded@radiator_core, refilled: 9 L, percent: 50}}\n{spell}"
    ));
    assert_eq!(wet.found.len(), dry.found.len() - 1);
    assert!(
        wet.told.last().expect("told").1.contains("no evidence"),
        "{:?}",
        wet.told
    );
    let settled = good(&format!(
        "{FOUND}  - {{repaired: core_corroded@radiator_core, refilled: 9 L, percent: 50}}\n  - {{topped_up: 0.2 L}}\n  - {{topped_up: 0.1 L}}\n{spell}"
    ));
    assert_eq!(settled.found.len(), dry.found.len());
    let fell = good(&format!(
        "{FOUND}  - {{repaired: core_corroded@radiator_core, refilled: 9 L, percent: 50}}\n  - {{check: level_week, answer: fell}}\n"
    ));
    assert!(fell.told.last().expect("told").1.contains("no evidence"));
}

#[test]
fn what_can_not_be_repaired_is_refused() {
    let refused = |log: &str, code: &str, says: &str| {
        let problems = case(log).expect_err(log);
        assert_eq!(problems.len(), 1, "{log}: {problems:#?}");
        assert_eq!(problems[0].code, code, "{log}: {problems:#?}");
        let text = problems[0].to_string();
        assert!(text.contains(says), "{log}: {text}");
    };
    refused(
        "  - {repaired: no_such@radiator_core}\n",
        codes::UNKNOWN_NAME,
        "no fault",
    );
    refused(
        "  - {repaired: core_corroded@cap}\n",
        codes::NOT_HERE,
        "cannot have `core_corroded`",
    );
    refused(
        "  - {repaired: core_corroded@nowhere}\n",
        codes::UNKNOWN_NAME,
        "no place `nowhere`",
    );
    refused(
        "  - {repaired: lower_seals_perished}\n",
        codes::NOT_HERE,
        "cannot have `lower_seals_perished`",
    );
    refused(
        "  - {repaired: [radiator_core, core_corroded@radiator_core]}\n",
        codes::DUPLICATE_NAME,
        "twice",
    );
    refused(
        "  - {repaired: [core_corroded@radiator_core, core_corroded@radiator_core]}\n",
        codes::DUPLICATE_NAME,
        "twice",
    );
    refused(
        "  - {repaired: core_corroded@radiator_core, cleaned: [nowhere]}\n",
        codes::UNKNOWN_NAME,
        "nowhere",
    );
    refused(
        "  - {refilled: 90 L, percent: 50}\n",
        codes::OUT_OF_RANGE,
        "holds about 12 L",
    );
    refused(
        "  - {dry_spell: cold_hold, days: 3}\n",
        codes::NOT_HERE,
        "takes no dry spell",
    );
    refused(
        "  - {check: cold_hold, answer: falls, before_repair: 1}\n",
        codes::OUT_OF_RANGE,
        "no earlier repair",
    );
    refused(
        &format!("{MENDED}  - {{note: so, before_repair: 1}}\n"),
        codes::UNKNOWN_KEY,
        "only what was found",
    );
}

#[test]
fn bad_entries_are_refused_at_their_place() {
    let refused = |log: &str, code: &str, says: &str| {
        let problems = read(log).expect_err(log);
        let found = problems
            .iter()
            .any(|(of, message)| *of == code && message.contains(says));
        assert!(found, "{log}: {problems:#?}");
    };
    refused(
        "  - {repaired: []}\n",
        codes::EMPTY_TEXT,
        "at least one fault",
    );
    refused(
        "  - {repaired: [a@b], at: c}\n",
        codes::WRONG_KIND,
        "name their places",
    );
    refused(
        "  - {repaired: a@b, refilled: 3 L}\n",
        codes::MISSING_KEY,
        "how strong",
    );
    refused(
        "  - {repaired: a@b, refilled: 3, percent: 50}\n",
        codes::WRONG_KIND,
        "unit",
    );
    refused(
        "  - {refilled: 3 L, percent: 130}\n",
        codes::OUT_OF_RANGE,
        "between 0 and 100",
    );
    refused(
        "  - {refilled: 0 L, percent: 50}\n",
        codes::OUT_OF_RANGE,
        "more than nothing",
    );
    refused("  - {topped_up: 0.3}\n", codes::WRONG_KIND, "unit");
    refused(
        "  - {dry_spell: level_week, days: -3}\n",
        codes::OUT_OF_RANGE,
        "more than 0",
    );
    refused("  - {dry_spell: level_week}\n", codes::MISSING_KEY, "days");
    refused(
        "  - {handed_over: the night shift}\n",
        codes::MISSING_KEY,
        "open",
    );
    refused(
        "  - {repaired: a@b, check: c}\n",
        codes::UNKNOWN_KEY,
        "two things at once",
    );
}

fn seepwise(args: &[&str]) -> (u8, String) {
    let (code, out, errors) = told_here(args);
    (code, out + &errors)
}

fn kept(folder: &Path, log: &str) -> String {
    let path = folder.join("job.yaml");
    std::fs::write(&path, format!("job: 1\nlayout: crew_minibus\nlog:\n{log}")).unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn a_job_is_closed_when_it_is_done_or_with_a_word_why() {
    let folder = tempfile::tempdir().unwrap();
    let dry = "  - {check: cold_hold, answer: holds}\n  - {check: heat_cycle_watch, answer: both_ways}\n  - {check: look_after_hot_stop, at: radiator_core, answer: dry}\n  - {check: look_coldest_hour, at: radiator_core, answer: dry}\n  - {dry_spell: level_week, days: 21}\n  - {check: level_month, answer: same}\n";
    // Not done: it says why and leaves the file as it is.
    let path = kept(folder.path(), &format!("{FOUND}{MENDED}"));
    let text = std::fs::read_to_string(&path).unwrap();
    let (code, said) = seepwise(&["job", "close", &path]);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("The retest lacks: hold at 15 psi"), "{said}");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
    // With a word why.
    let (code, said) = seepwise(&["job", "close", &path, "--open", "it is needed tonight"]);
    assert_eq!(code, 0, "{said}");
    let closed = std::fs::read_to_string(&path).unwrap();
    assert!(
        closed.contains("open: \"it is needed tonight\"") && closed.contains("sources_at_least"),
        "{closed}"
    );
    assert_eq!(seepwise(&["replay", "--brief", &path]).0, 0);
    // Closed once.
    let (code, said) = seepwise(&["job", "close", &path]);
    assert!(code == 2 && said.contains("was closed in entry"), "{said}");
    // Done: it closes, and replays as expected.
    let path = kept(folder.path(), &format!("{FOUND}{MENDED}{dry}"));
    let (code, said) = seepwise(&["job", "close", &path]);
    assert_eq!(code, 0, "{said}");
    let (code, said) = seepwise(&["replay", "--brief", &path]);
    assert!(code == 0 && said.contains("as expected"), "{said}");
    // Its own expectations are missed: it says so and stays as it is, or is saved with a word why.
    let own = "expect:\n  leaks_at_least: {pump_seal: 99}\n";
    let path = kept(folder.path(), &format!("{FOUND}{MENDED}{dry}{own}"));
    let text = std::fs::read_to_string(&path).unwrap();
    let (code, said) = seepwise(&["job", "close", &path]);
    assert!(code == 1 && said.contains("place pump_seal has"), "{said}");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
    let (code, said) = seepwise(&["job", "close", &path, "--open", "to be looked at"]);
    assert!(code == 0 && said.contains("NOT as expected"), "{said}");
    let closed = std::fs::read_to_string(&path).unwrap();
    assert!(closed.contains("pump_seal: 99"), "{closed}");
    assert_eq!(seepwise(&["replay", "--brief", &path]).0, 1);
    // Once closed, nothing is proposed.
    let (code, said) = seepwise(&["next", &path]);
    assert!(
        code == 0 && said.contains("was closed in entry") && !said.contains("Next:"),
        "{said}"
    );
    // Nothing in it.
    for (log, says) in [
        ("  []\n", "this job is empty"),
        (
            "  - {check: loss_reported, answer: slow}\n",
            "Nothing has been confirmed",
        ),
    ] {
        let path = kept(folder.path(), log);
        let (code, said) = seepwise(&["job", "close", &path]);
        assert!(code > 0 && said.contains(says), "{said}");
    }
}
