//! A log becomes a case.

use std::collections::BTreeSet;

use crate::vehicle::TENDER;
use seepwise::advise::{Case, Offer, SawNothing, Shop, offers};
use seepwise::graph::CausalGraph;
use seepwise::ids::{FacetId, Id};
use seepwise::job::{
    Entry, JobFile, JobProblem, LogReader, find_cause, find_facet_value, find_task, resolve,
};
use seepwise::notice::codes;
use seepwise::show::task_id;
use seepwise::source::{SourceFile, Sources};

fn case(log: &str) -> Result<Case<'static>, Vec<JobProblem>> {
    let mut sources = Sources::new();
    let text = format!("job: 1\nlayout: water_tender\nlog:\n{log}");
    let file = sources.add(SourceFile::new("a.yaml", &text));
    let job = JobFile::read(file, &sources).expect("read");
    resolve(
        &job,
        &TENDER.rules,
        &TENDER.layout,
        &TENDER.graph,
        &Shop::default(),
        0.1,
    )
}

fn good(log: &str) -> Case<'static> {
    case(log).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

fn problem(log: &str) -> JobProblem {
    let mut problems = case(log).expect_err("refused");
    assert_eq!(problems.len(), 1, "{problems:#?}");
    problems.remove(0)
}

fn value(case: &Case<'_>, facet: &str) -> String {
    let at = case
        .rules
        .facets
        .iter()
        .position(|known| known.named.id == facet)
        .expect("a facet");
    case.rules.facets.iter().nth(at).expect("a facet").values[case.set_up.values[at]]
        .named
        .id
        .clone()
}

/// What people enter: the rear first, the top an hour later. Signs left out were not looked at, so what
/// was said of them stands; a choice from the list is the whole answer.
#[test]
fn an_answer_that_names_signs_leaves_the_others_as_they_were() {
    let signs = |log: &str| {
        let case = good(log);
        let found = || case.found.iter().flat_map(|found| &found.findings);
        let vars: BTreeSet<_> = found().map(|finding| finding.var).collect();
        // No sign is answered twice.
        assert_eq!(found().count(), vars.len());
        vars.len()
    };
    let back = "  - {check: where_seen, answer: {back: \"yes\"}}\n";
    let top = "  - {check: where_seen, answer: {top: \"yes\"}}\n";
    let back_not = "  - {check: where_seen, answer: {back: \"no\"}}\n";
    assert_eq!(signs(back), 1);
    assert_eq!(signs(&format!("{back}{top}")), 2);
    assert_eq!(signs(&format!("{back}{top}{back_not}")), 2);
    let nowhere = "  - {check: where_seen, answer: nowhere}\n";
    assert_eq!(signs(&format!("{back}{top}{nowhere}")), signs(nowhere));
}

#[test]
fn answers_become_findings_and_later_ones_replace() {
    let case = good(
        "  - {check: look_at_joint, at: tank, answer: crust}\n  - {check: look_at_joint, at: tank, answer: dry, sure: fairly}\n",
    );
    assert_eq!(case.found.len(), 1);
    let found = &case.found[0];
    assert_eq!((found.entry, found.normal), (2, true));
    assert_eq!(found.words, "look at side tank: dry (fairly sure)");
    // Fairly sure: 0.8, the rest spread over the other three answers.
    let rest = 0.2 / 3.0;
    let expected = [0.8, rest, rest, rest];
    assert!(
        found.findings[0]
            .likelihood
            .iter()
            .zip(expected)
            .all(|(a, b)| (a - b).abs() < 1e-12),
        "{found:?}"
    );
}

#[test]
fn several_signs_raise_blocks_until_cleared_or_withdrawn() {
    let milky = "  - {check: oil_look, answer: {oil: milky, oil_level: right}}\n";
    let up = |case: &Case<'_>| {
        case.blocks
            .iter()
            .any(|block| case.rules.blocks[*block].named.id == "milky_oil")
    };
    let case = good(milky);
    assert!(up(&case));
    assert_eq!(case.found[0].findings.len(), 2);
    assert_eq!(value(&case, "lift"), "raised");
    let typed = good("  - {check: oil_look, answer: \"oil=milky, oil_level=right\"}\n");
    assert_eq!(typed.found, case.found);
    assert!(up(&good(&format!(
        "{milky}  - {{check: oil_look, answer: {{oil: clean}}}}\n"
    ))));
    assert!(!up(&good(&format!("{milky}  - {{cleared: milky_oil}}\n"))));
    assert!(!up(&good(&format!("{milky}  - {{withdrawn: 1}}\n"))));
    assert!(up(&good(&format!(
        "{milky}  - {{withdrawn: 1}}\n  - {{withdrawn: 2}}\n"
    ))));
}

#[test]
fn a_sweep_is_a_look_at_each_place() {
    let case = good(
        "  - {check: look_over, at: front, answer: dry, except: {upper_hose: wet}, not_seen: [tank], in_part: [cap]}\n",
    );
    let at = |id: &str| {
        let task = find_task(
            case.rules,
            case.layout,
            &case.graph,
            "look_at_joint",
            Some(id),
            &BTreeSet::new(),
        )
        .expect("a task");
        (
            case.found.iter().find(|found| found.task == Some(task)),
            case.passed_over.contains(&task),
        )
    };
    assert_eq!(at("upper_hose").0.map(|found| found.normal), Some(false));
    assert_eq!(at("radiator_core").0.map(|found| found.normal), Some(true));
    assert_eq!(at("tank"), (None, true));
    assert!((at("cap").0.expect("seen").findings[0].likelihood[0] - 0.65).abs() < 1e-12);
    // What one part of a place shows is true of the place, whatever the rest shows.
    let wet = good(
        "  - {check: look_over, at: front, answer: dry, except: {cap: wet}, in_part: [cap]}\n",
    );
    let cap = wet.found.iter().find(|found| !found.normal).expect("wet");
    assert_eq!(cap.findings[0].likelihood, [0.0, 0.0, 1.0, 1.0]);
    // The highest wet place: what lies below it stays open.
    // A heater core is looked at by its box: what can be done there is named.
    let problem_there = problem("  - {check: look_at_joint, at: heater_core, answer: wet}\n");
    assert_eq!(problem_there.code, codes::NOT_HERE);
    assert!(
        problem_there
            .help
            .is_some_and(|help| help.contains("heater_box_look"))
    );
    // "It runs at the front" is not "every place at the front runs".
    let problem = problem("  - {check: look_over, at: front, answer: wet}\n");
    assert_eq!(problem.code, codes::WRONG_KIND);
    let help = problem.help.as_deref().unwrap_or("");
    assert!(
        help.contains("=wet`") && help.contains("radiator_core"),
        "{help}"
    );
    let case = good("  - {check: look_over, at: front, answer: \"upper_hose=wet\"}\n");
    let heights: Vec<f64> = case
        .found
        .iter()
        .filter_map(|found| case.graph.tasks[found.task?].part)
        .map(|part| case.layout.parts[part].height_cm)
        .collect();
    assert!(
        heights.len() > 1 && heights.iter().all(|height| *height >= 118.0),
        "{heights:?}"
    );
    assert_eq!(case.found.iter().filter(|found| !found.normal).count(), 1);
}

#[test]
fn covers_choose_the_task() {
    let look = "{check: look_at_joint, at: upper_hose_engine_end, answer: dry}\n";
    let on = good(&format!("  - {look}"));
    let off = good(&format!("  - {{covers_off: [engine_cover]}}\n  - {look}"));
    let both = good(&format!(
        "  - {look}  - {{covers_off: [engine_cover]}}\n  - {look}"
    ));
    let task = |case: &Case<'_>| case.graph.tasks[case.found[0].task.expect("a task")].clone();
    assert!(task(&on).cover_on.is_some() && on.set_up.covers_off.is_empty());
    assert!(task(&off).cover_off.is_some() && off.set_up.covers_off.len() == 1);
    assert_eq!(both.found.len(), 2);
}

#[test]
fn set_ups_change_only_as_far_as_needed() {
    let case = good(
        "  - set_up: {temperature: hot, engine: running}\n  - {check: look_at_joint, at: tank, answer: dry}\n",
    );
    assert_eq!(
        (value(&case, "engine"), value(&case, "temperature")),
        ("off".to_owned(), "hot".to_owned())
    );
    let (facet, hot) = find_facet_value(case.rules, "temperature", "hot").expect("found");
    assert_eq!(case.set_up.values[facet.index()], hot);
    let asked = good("  - {set_up: {engine: running}}\n  - {check: loss_reported, answer: slow}\n");
    assert_eq!(value(&asked, "engine"), "running");
}

/// Own inputs: an answer goes by its choice, by the answer that the choice shows, or by its sign; what a
/// look over a zone can't see is told, not passed over in silence.
#[test]
fn an_answer_is_taken_in_each_form_and_a_blind_look_is_told() {
    let states = |answer: &str| {
        let case = good(&format!("  - {{check: coolant_look, answer: {answer}}}\n"));
        let found = &case.found[0].findings;
        let film = found.iter().find(|finding| {
            case.graph
                .node(finding.var)
                .label
                .contains("oil in the coolant")
        });
        film.expect("the film is answered").likelihood.clone()
    };
    let film = states("{oil: film}");
    assert_eq!(film.iter().filter(|chance| **chance > 0.0).count(), 1);
    for other in [
        "film",
        "oily",
        "\"oil=film\"",
        "\"{oil: film}\"",
        "\"{oil=film}\"",
    ] {
        assert_eq!(states(other), film, "{other}");
    }
    let look = "  - {check: look_over, at: top, answer: dry}\n";
    let covered = good(look);
    let told = covered.behind_covers.iter();
    let told: Vec<String> = told.map(SawNothing::words_for_a_file).collect();
    assert!(covered.found.is_empty() && told.len() == 1, "{told:?}");
    assert!(told[0].contains("covers_off: [engine_cover]"), "{told:?}");
    let seen = good(&format!("  - {{covers_off: [engine_cover]}}\n{look}"));
    assert!(seen.found.len() > 3 && seen.behind_covers.is_empty());
    // What was seen wet and stays so is no look behind a cover.
    let wet = good(&format!("  - {{covers_off: [engine_cover]}}\n{look}{look}"));
    assert!(wet.behind_covers.is_empty());
}

/// Own inputs: from wherever two checks leave the vehicle, there is a way to every set-up that there
/// was a way to on arrival, but for what no way undoes: dye that is in, an engine that is washed.
#[test]
fn no_check_leaves_the_vehicle_where_nothing_leads_on() {
    let needs = |case: &Case<'_>, offer: &Offer| case.graph.tasks[offer.asked.task].needs.clone();
    let arrived = good("  - {check: loss_reported, answer: slow}\n");
    let mut by_needs: Vec<Offer> = Vec::new();
    for offer in offers(&arrived).open {
        let mut known = by_needs.iter();
        // A sweep's answer names its places: a single look stands for it.
        let single = offer.asked.places.is_empty();
        if single && known.all(|other| needs(&arrived, other) != needs(&arrived, &offer)) {
            by_needs.push(offer);
        }
    }
    assert!(by_needs.len() > 20, "{}", by_needs.len());
    let entry = |offer: &Offer| {
        let id = task_id(&arrived, offer.asked.task);
        let (check, at) = id
            .split_once('@')
            .map_or((&*id, String::new()), |(check, at)| {
                (check, format!(", at: {at}"))
            });
        let normal = &offer.asked.options[0].id;
        format!("  - {{check: {check}{at}, answer: \"{normal}\"}}\n")
    };
    // Whether some way leads from a value of a facet to another one.
    let ways_back = |now: usize, facet: FacetId| {
        let mut to = arrived.rules.ways.iter().flat_map(|way| &way.to);
        to.any(|&(moved, value)| moved == facet && value != now)
    };
    for (at, first) in by_needs.iter().enumerate() {
        // Every third pair, so that it does not take long.
        for second in by_needs.iter().skip(at % 3).step_by(3) {
            let log = format!("{}{}", entry(first), entry(second));
            let case = good(&log);
            let open = offers(&case).open;
            let reached: Vec<_> = open.iter().map(|offer| needs(&case, offer)).collect();
            let told = case.answered();
            for wanted in &by_needs {
                let task = wanted.asked.task;
                let gone = told.contains(&task) || case.spoiled.contains(&task);
                let needed = needs(&arrived, wanted);
                let undone = |(facet, allowed): &(FacetId, Vec<usize>)| {
                    let now = case.set_up.values[facet.index()];
                    allowed.contains(&now) || ways_back(now, *facet)
                };
                let never_again = !needed.iter().all(undone);
                assert!(
                    gone || never_again || reached.contains(&needed),
                    "{} after:\n{log}",
                    task_id(&case, task)
                );
            }
        }
    }
}

#[test]
fn what_teaches_nothing_is_passed_over() {
    for entry in [
        "answer: cant_tell",
        "answer: cant_do",
        "answer: dry, seen: not",
        "seen: not",
    ] {
        let case = good(&format!(
            "  - {{check: look_at_joint, at: tank, {entry}}}\n"
        ));
        assert!(
            case.found.is_empty() && case.passed_over.len() == 1,
            "{entry}"
        );
    }
}

#[test]
fn confirmed_and_ruled_out_name_a_cause() {
    let v = &*TENDER;
    let place = v
        .graph
        .causes
        .iter()
        .find(|cause| cause.leaking.iter().filter(|leaks| **leaks).count() > 1)
        .expect("a cause");
    let fault = &v.rules.faults[place.place.fault].named.id;
    let part = &v.layout.parts[place.place.part].named.id;
    let found = find_cause(
        &v.rules,
        &v.layout,
        &v.graph,
        &format!("{fault}@{part}"),
        None,
    )
    .expect("found");
    assert_eq!(&v.graph.causes[found], place);
    let confirmed = good(&format!("  - {{confirmed: {fault}, at: {part}}}\n"));
    let likelihood = &confirmed.found[0].findings[0].likelihood;
    assert!(
        likelihood
            .iter()
            .zip(&place.leaking)
            .all(|(l, leaks)| (*l > 0.5) == *leaks)
    );
    let ruled_out = good(&format!(
        "  - {{confirmed: {fault}, at: {part}}}\n  - {{ruled_out: {fault}, at: {part}}}\n"
    ));
    assert_eq!(ruled_out.found.len(), 1);
    assert_eq!(
        (
            ruled_out.found[0].findings[0].var,
            ruled_out.found[0].findings[0].likelihood[0]
        ),
        (place.fault, 1.0)
    );
}

#[test]
fn spoiled_tasks_are_marked() {
    let v = &*TENDER;
    let spoiler = v.graph.tasks.iter().find(|task| {
        let check = &v.rules.checks[task.check];
        task.part.is_none() && task.zone.is_none() && !check.spoils.is_empty()
    });
    let Some(spoiler) = spoiler else { return };
    let check = &v.rules.checks[spoiler.check];
    let case = good(&format!(
        "  - {{check: {}, answer: cant_tell}}\n",
        check.named.id
    ));
    let spoiled = v
        .graph
        .tasks
        .enumerated()
        .filter(|(_, task)| check.spoils.contains(&task.check) && task.check != spoiler.check);
    assert!(spoiled.map(|(id, _)| id).eq(case.spoiled.iter().copied()));
}

#[test]
fn problems_name_the_entry_and_what_is_meant() {
    let unknown = problem("  - {note: x}\n  - {check: look_at_joint, at: tank, answer: crst}\n");
    assert_eq!(
        (unknown.entry, unknown.code),
        (Some(2), codes::UNKNOWN_NAME)
    );
    assert!(
        unknown.at.is_some() && unknown.to_string().contains("did you mean `crust`?"),
        "{unknown}"
    );
    for (entry, meant) in [
        (
            "check: look_at_joitn, at: tank, answer: dry",
            "`look_at_joint`",
        ),
        ("check: look_at_joint, at: tnk, answer: dry", "`tank`"),
        ("check: look_at_joint, answer: dry", "add `at:`"),
        (
            "check: loss_reported, at: tank, answer: slow",
            "leave out `at:`",
        ),
        (
            "check: oil_look, answer: clean",
            "oil=clean, oil_level=right",
        ),
        (
            "check: look_at_joint, at: tank, answer: dry, not_seen: [cap]",
            "seen: in_part",
        ),
        ("cleared: milky_oli", "`milky_oil`"),
        ("covers_off: [engine_covr]", "`engine_cover`"),
        ("set_up: {engine: runing}", "`running`"),
        ("withdrawn: 1", "take this entry out"),
        ("confirmed: nonsense, at: tank", "no fault at"),
    ] {
        let problem = problem(&format!("  - {{{entry}}}\n"));
        assert!(problem.to_string().contains(meant), "{entry}: {problem}");
    }
}

/// "The rest is dry" is said of the rest: a place seen wet stays so until it is named again.
#[test]
fn a_look_over_the_rest_leaves_standing_what_was_seen() {
    let wet = "  - {check: look_at_joint, at: upper_hose, answer: crust}\n";
    let shown = |log: &str| {
        let case = good(log);
        let place = |task| {
            case.graph.tasks[task]
                .part
                .map(|part| case.layout.parts[part].named.id.clone())
        };
        let at = case
            .found
            .iter()
            .find(|found| found.task.and_then(place).as_deref() == Some("upper_hose"));
        at.map(|found| found.normal)
    };
    let over = "  - {check: look_over, at: front, answer: dry}\n";
    assert_eq!(shown(over), Some(true));
    assert_eq!(shown(&format!("{wet}{over}")), Some(false));
    let named = "  - {check: look_over, at: front, answer: dry, except: {upper_hose: dry}}\n";
    assert_eq!(shown(&format!("{wet}{named}")), Some(true));
}

/// Read on entry by entry a log gives the same case as read at once (a second method), also where entries are
/// withdrawn, and after a problem.
#[test]
fn a_log_read_on_is_the_log_read_at_once() {
    let loaded = seepwise::rules::load_embedded();
    let rules = loaded.rules.as_ref().unwrap();
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let mut files: Vec<_> = (std::fs::read_dir(folder).unwrap())
        .map(|file| file.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .collect();
    files.sort();
    let (mut steps, mut withdrawn) = (0, 0);
    // Every fourth, and each that takes something back.
    for (at, path) in files.iter().enumerate() {
        let text = std::fs::read_to_string(path).unwrap();
        let takes_back = text.contains("withdrawn:");
        if at % 4 != 0 && !takes_back {
            continue;
        }
        withdrawn += usize::from(takes_back);
        let mut sources = Sources::new();
        let file = sources.add(SourceFile::new("a.yaml", &text));
        let job = JobFile::read(file, &sources).unwrap();
        let layout = loaded.layout(&job.layout).unwrap();
        let graph = CausalGraph::expand(rules, layout).unwrap();
        let shop = Shop::default();
        let mut reader = LogReader::new(rules, layout, &graph, &shop, 0.03);
        for length in 0..=job.log.len() {
            let so_far = JobFile {
                log: job.log[..length].to_vec(),
                ..job.clone()
            };
            let on = reader
                .read(&so_far)
                .map(|case| format!("{:?}", told(&case)));
            let anew = resolve(&so_far, rules, layout, &graph, &shop, 0.03);
            assert_eq!(
                on,
                anew.map(|case| format!("{:?}", told(&case))),
                "{}",
                path.display()
            );
            steps += 1;
        }
        let mut bad = job.clone();
        bad.log
            .push(Entry::Cleared("no_such_block".to_owned()).into());
        assert!(reader.read(&bad).is_err());
        let whole = resolve(&job, rules, layout, &graph, &shop, 0.03);
        assert_eq!(reader.read(&job).is_ok(), whole.is_ok());
    }
    assert!(
        steps > 200 && withdrawn > 0,
        "{steps} steps, {withdrawn} with a withdrawal"
    );
}

/// What a case holds, but for the graph, whose nodes are counted.
fn told(case: &Case<'_>) -> impl std::fmt::Debug {
    (
        case.found.clone(),
        case.told.clone(),
        case.set_up.values.clone(),
        (
            case.blocks.clone(),
            case.passed_over.clone(),
            case.spoiled.clone(),
        ),
        (case.graph.network.ids().count(), case.evidence().len()),
    )
}
