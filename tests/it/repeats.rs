//! Checks that are done again in the same state: another week, another night.

use std::path::Path;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use seepwise::advise::{Belief, Case, Ranking, Shop, offers};
use seepwise::graph::CausalGraph;
use seepwise::ids::{Id, TaskId};
use seepwise::job::{JobFile, JobProblem, find_task, resolve};
use seepwise::rules::{Loaded, load_sources};
use seepwise::show::task_id;
use seepwise::source::disk::read_file;
use seepwise::source::{SourceFile, Sources};
use seepwise::train::{Policy, Strain, Truth, draw_with_loss};

use crate::vehicle::{TENDER, Vehicle};

/// A strip shows thinned coolant (base 20 %) in 80 of 100, and glows without it in 10.
const CHECKS: &str = "
rules: 1
checks:
  strip:
    name: strip
    minutes: 1
    waiting: 5
    ask: Does the strip fade?
    how: [Dip it.]
    repeats: {independent_after: 30}
    because: Thin coolant fades it.
    source: practice
    answers: {holds: holds, fades: fades}
    background: {fades: 10}
    reads: [{condition: coolant_thinned, shows: {fades: 80}}]
";

fn small() -> Vehicle {
    let bad = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad");
    let read =
        |name: &str| read_file(&bad.join(name), name).expect("a file of the small rule base");
    let files = vec![
        read("_rules.yaml"),
        read("_layout.yaml"),
        SourceFile::new("strip.yaml", CHECKS),
    ];
    let Loaded { rules, layouts, .. } = load_sources(files);
    let rules = rules.expect("the small rule base has no errors");
    let layout = layouts.into_iter().next().expect("its layout");
    let graph = CausalGraph::expand(&rules, &layout).expect("expanded");
    Vehicle {
        rules,
        layout,
        graph,
    }
}

fn case<'v>(vehicle: &'v Vehicle, log: &str) -> Result<Case<'v>, Vec<JobProblem>> {
    let mut sources = Sources::new();
    let layout = &vehicle.layout.named.id;
    let text = format!("job: 1\nlayout: {layout}\nlog:\n{log}");
    let file = sources.add(SourceFile::new("a.yaml", &text));
    let job = JobFile::read(file, &sources).expect("read");
    let Vehicle {
        rules,
        layout,
        graph,
    } = vehicle;
    resolve(&job, rules, layout, graph, &Shop::default(), 0.1)
}

fn good<'v>(vehicle: &'v Vehicle, log: &str) -> Case<'v> {
    case(vehicle, log).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

fn task(case: &Case<'_>, check: &str, at: Option<&str>) -> TaskId {
    let covers = &case.set_up.covers_off;
    find_task(case.rules, case.layout, &case.graph, check, at, covers).expect("a task")
}

/// Odds of thinned coolant after the strip's answers in `log`.
fn odds(vehicle: &Vehicle, log: &str) -> f64 {
    let case = good(vehicle, log);
    let ranking =
        Ranking::of(&case, &Belief::of(&case, &[]).expect("a belief")).expect("a ranking");
    let thinned = ranking.conditions.first().expect("the condition");
    thinned.probability.get() / (1.0 - thinned.probability.get())
}

/// Bayes' rule by hand. Kind: a second method.
#[test]
fn repeats_count_beside_each_other_and_changed_answers_do_not() {
    let vehicle = small();
    let fades = "  - {check: strip, answer: fades}\n";
    let fades_again = "  - {check: strip, answer: fades, again: yes}\n";
    let holds = "  - {check: strip, answer: holds}\n";
    let holds_again = "  - {check: strip, answer: holds, again: yes}\n";
    let prior = 0.2 / 0.8;
    let (faded, held) = ((1.0 - 0.2 * 0.9) / 0.1, (0.2 * 0.9) / 0.9);
    let told = |logs: &[&str], expected: f64| {
        let odds = odds(&vehicle, &logs.concat());
        assert!(
            (odds / expected - 1.0).abs() < 1e-9,
            "{odds} against {expected}: {logs:?}"
        );
    };
    told(&[fades], prior * faded);
    told(&[fades, fades_again], prior * faded * faded);
    told(
        &[fades, fades_again, holds_again],
        prior * faded * faded * held,
    );
    // A new answer that is not said to be of a repeat changes the last one.
    told(&[fades, holds], prior * held);
    told(&[fades, fades_again, holds], prior * faded * held);
    // The first time can't be a repeat: it counts once all the same.
    told(&[fades_again], prior * faded);
    let case = good(&vehicle, &format!("{fades}{fades_again}{holds}"));
    let words: Vec<&str> = case
        .found
        .iter()
        .map(|found| found.words.as_str())
        .collect();
    assert_eq!(words, ["strip: fades", "strip: holds (done again)"]);
    // Withdrawn, a repeat leaves what was before.
    let withdrawn = "  - {withdrawn: 1}\n";
    told(&[fades, holds_again, withdrawn], prior * held);
}

/// The time between belongs to the repeat.
#[test]
fn what_can_be_done_again_is_offered_again_for_the_time_it_takes() {
    let vehicle = small();
    let open = |case: &Case<'_>, check: &str| {
        let offered = offers(case).open;
        let named = |id: TaskId| &case.rules.checks[case.graph.tasks[id].check].named.id;
        offered.iter().any(|offer| named(offer.asked.task) == check)
    };
    let waits = |case: &Case<'_>| case.graph.tasks[task(case, "strip", None)].waiting;
    let fresh = good(&vehicle, "");
    assert!((waits(&fresh) - 5.0).abs() < 1e-9);
    let done = good(
        &vehicle,
        "  - {check: strip, answer: fades}\n  - {check: oil_look, answer: clear}\n",
    );
    assert!(open(&done, "strip") && !open(&done, "oil_look"));
    assert!((waits(&done) - 35.0).abs() < 1e-9);
    let again = good(
        &vehicle,
        "  - {check: strip, answer: fades}\n  - {check: strip, answer: fades, again: yes}\n",
    );
    assert!((waits(&again) - 35.0).abs() < 1e-9);
    // What told nothing is not proposed once more.
    let nothing = good(&vehicle, "  - {check: strip, answer: cant_tell}\n");
    assert!(!open(&nothing, "strip"));
}

#[test]
fn a_check_whose_repeats_show_the_same_can_not_be_done_again() {
    let vehicle = small();
    let log =
        "  - {check: oil_look, answer: clear}\n  - {check: oil_look, answer: milky, again: yes}\n";
    let problems = case(&vehicle, log).expect_err("refused");
    assert!(
        problems[0]
            .message
            .contains("done again, `oil_look` shows the same again"),
        "{problems:?}"
    );
}

/// Common practice: a mended vehicle is marked and lit afresh; a zone is lit again once all of it has been.
#[test]
fn after_a_repair_a_check_is_done_for_the_first_time() {
    let lit = "  - {check: where_it_glows, answer: nowhere}\n";
    let state = |log: &str, check: &str, at: Option<&str>| {
        let case = good(&TENDER, log);
        let task = &case.graph.tasks[task(&case, check, at)];
        (task.again, task.waiting)
    };
    assert_eq!(state("", "where_it_glows", None), (false, 0.0));
    assert_eq!(state(lit, "where_it_glows", None), (true, 10_080.0));
    let repaired = format!("{lit}  - {{repaired: seal_worn@pump_seal}}\n");
    assert_eq!(state(&repaired, "where_it_glows", None), (false, 0.0));
    let zone = TENDER
        .layout
        .zones
        .iter()
        .next()
        .expect("a zone")
        .named
        .id
        .as_str();
    let covers: Vec<&str> = (TENDER.layout.covers.iter())
        .map(|cover| cover.named.id.as_str())
        .collect();
    let covers = format!("  - {{covers_off: [{}]}}\n", covers.join(", "));
    let looked = format!("{covers}  - {{check: dye_over, at: {zone}, answer: dark}}\n");
    assert_eq!(state(&covers, "dye_over", Some(zone)), (false, 0.0));
    assert_eq!(state(&looked, "dye_over", Some(zone)), (true, 10_080.0));
}

/// What a vehicle will show at a repeat stays drawn when an entry before it is withdrawn.
#[test]
fn what_was_drawn_for_a_repeat_stays_with_its_name() {
    let Vehicle {
        rules,
        layout,
        graph,
    } = &*TENDER;
    let truth = Truth::of(graph, Strain::default(), 0);
    let random = &mut ChaCha8Rng::seed_from_u64(5);
    let mut drawn = draw_with_loss(rules, layout, graph, &truth, random).expect("a vehicle");
    let week = "  - {check: level_week, answer: fell}\n";
    let night = "  - {check: level_night, answer: fell}\n";
    let both = good(&TENDER, &format!("{week}{night}"));
    drawn.extend(&both.graph, &truth, random);
    let of = |case: &Case<'_>| case.graph.tasks[task(case, "level_night", None)].signs[0];
    // Were it drawn anew, it would be the same in half the cases or more: so it is set.
    let marked = 1 - drawn.states[of(&both).index()];
    drawn.states[of(&both).index()] = marked;
    let one = good(&TENDER, &format!("{week}{night}  - {{withdrawn: 1}}\n"));
    drawn.extend(&one.graph, &truth, random);
    assert_eq!(drawn.states.len(), one.graph.network.len());
    assert_ne!(of(&both), of(&one));
    assert_eq!(drawn.states[of(&one).index()], marked);
}

/// A fixed list is worked off once: a rival that marked the level for ever would be no rival. Kind: own
/// input.
#[test]
fn a_fixed_list_is_worked_off_once() {
    let vehicle = small();
    let list = Policy::Checklist(vec!["strip".to_owned(), "oil_look".to_owned()]);
    let random = &mut ChaCha8Rng::seed_from_u64(1);
    let mut next = |log: &str| {
        let case = good(&vehicle, log);
        let belief = Belief::of(&case, &[]).expect("a belief");
        let taken = list.of_offers(&case, &belief, offers(&case).open, random);
        taken.map(|offer| task_id(&case, offer.asked.task))
    };
    assert_eq!(next("").as_deref(), Some("strip"));
    let done = "  - {check: strip, answer: fades}\n";
    assert_eq!(next(done).as_deref(), Some("oil_look"));
    let all = format!("{done}  - {{check: oil_look, answer: clear}}\n");
    assert_eq!(next(&all), None);
}

/// Nobody is sent to watch the same thing a fifth time: what one check misses has something in common from time
/// to time (common practice). What was done is still weighed, and a repair opens it again.
#[test]
fn a_check_is_offered_four_times_in_one_state() {
    let vehicle = small();
    let offered = |times: usize, end: &str| {
        let again = "  - {check: strip, answer: holds, again: yes}\n".repeat(times - 1);
        let case = good(
            &vehicle,
            &format!("  - {{check: strip, answer: holds}}\n{again}{end}"),
        );
        let strip = task(&case, "strip", None);
        let mut open = offers(&case).open.into_iter();
        open.any(|offer| offer.asked.task == strip)
    };
    assert!(offered(3, ""));
    assert!(!offered(4, ""));
    assert!(!offered(5, ""));
    let vehicle = &*TENDER;
    let weeks = "  - {check: level_week, answer: same}\n".to_owned()
        + &"  - {check: level_week, answer: same, again: yes}\n".repeat(3);
    let offered = |log: &str| {
        let case = good(vehicle, log);
        let week = task(&case, "level_week", None);
        let mut open = offers(&case).open.into_iter();
        open.any(|offer| offer.asked.task == week)
    };
    assert!(!offered(&weeks));
    assert!(offered(&format!("{weeks}  - {{repaired: cap}}\n")));
}
