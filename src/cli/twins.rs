//! `rules twins`: the faults that the checks can hardly tell apart, and what check is missing.

use serde_json::{Value, json};

use crate::advise::Case;
use crate::cli::Desk;
use crate::cli::args::{Args, TwinsArgs};
use crate::cli::failure::Failure;
use crate::cli::world::{World, problems};
use crate::graph::Place;
use crate::job::{JobFile, find_part};
use crate::show::{cause_name, place_name, task_id, task_name};
use crate::train::{Twins, twins};

/// A check that tells less between two causes than this tells nothing worth naming, bits.
const NOTHING: f64 = 0.005;

pub(super) fn show(desk: &mut Desk<'_>, args: &Args, of: &TwinsArgs) -> Result<bool, Failure> {
    let world = World::load(args, desk.surroundings)?;
    let vehicle = world.vehicle(&of.layout)?;
    let job = JobFile {
        layout: of.layout.clone(),
        ..JobFile::default()
    };
    let case =
        (vehicle.case(&job, world.waiting_counts(None)?)).map_err(|found| problems(&found))?;
    let at = of.place.as_ref().map(|place| find_part(case.layout, place));
    let at = at.transpose().map_err(|found| problems(&[found]))?;
    let found = twins((case.rules, case.layout, &case.graph), at, of.top)?;
    if args.json {
        let told: Vec<Value> = found.iter().map(|pair| as_json(&case, pair)).collect();
        desk.json(&json!({"layout": of.layout, "twins": told}))?;
        return Ok(true);
    }
    let mut page = desk.page();
    let whose = at.map_or_else(String::new, |part| {
        format!(" from what {} can have", place_name(&case, part))
    });
    page.heading(&format!(
        "Hardest to tell apart{whose} on {}",
        case.layout.named.name
    ));
    page.para(
        "Two vehicles, each with one of the two faults and nothing else. How much of them stays alike after every check, \
         the check that tells most between them (1 bit would settle it), and what a better one would have to go by.",
    );
    if found.is_empty() {
        page.para("No pair to show: nothing that the rules name can be wrong there, or `--top 0` was asked for.");
    }
    for pair in &found {
        let name = |place: Place| {
            format!(
                "{} ({})",
                place_name(&case, place.part),
                cause_name(&case, place)
            )
        };
        let best = pair.best.filter(|(_, bits)| *bits >= NOTHING).map_or_else(
            || "no check tells anything".to_owned(),
            |(task, bits)| format!("best {}, {bits:.2} bits", task_name(&case, task)),
        );
        page.item(
            "·",
            &format!(
                "{:.0} %: {} and {}: {best}",
                100.0 * pair.alike,
                name(pair.one),
                name(pair.other)
            ),
        );
        if pair.same_repair {
            page.item(" ", "One repair mends both: they need not be told apart.");
            continue;
        }
        let differ = differences(&case, pair);
        if differ.is_empty() {
            page.item(
                " ",
                "The rules know no difference in when, how much or why they leak.",
            );
        }
        for text in differ {
            page.item(" ", &text);
        }
        page.item(" ", &format!("Missing: {}", missing(&case, pair)));
    }
    desk.put(page.text())?;
    Ok(true)
}

fn as_json(case: &Case<'_>, pair: &Twins) -> Value {
    let cause = |place: Place| {
        format!(
            "{}@{}",
            case.rules.faults[place.fault].named.id, case.layout.parts[place.part].named.id
        )
    };
    json!({
        "one": cause(pair.one), "other": cause(pair.other), "alike": pair.alike,
        "best": pair.best.map(|(task, bits)| json!({"check": task_id(case, task), "bits": bits})),
        "same_repair": pair.same_repair,
        "differ": differences(case, pair),
        "missing": if pair.same_repair { Value::Null } else { json!(missing(case, pair)) },
    })
}

/// In what two causes differ, a sentence each.
fn differences(case: &Case<'_>, pair: &Twins) -> Vec<String> {
    let rules = case.rules;
    let (one, other) = (cause_name(case, pair.one), cause_name(case, pair.other));
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let mut told = Vec::new();
    if let Some((a, b)) = pair.lacking.into {
        let (a, b) = (&rules.spaces[a].named.name, &rules.spaces[b].named.name);
        told.push(format!("Where to: {one} into {a}, {other} into {b}."));
    }
    if let Some((kind, a, b)) = pair.lacking.when {
        let (a, b) = (percent(a), percent(b));
        let kind = &rules.leak_kinds[kind].named.name;
        told.push(format!(
            "When: {kind} {a} of the time for {one}, {b} for {other}."
        ));
    }
    if let Some((level, a, b)) = pair.lacking.how_much {
        let (a, b) = (percent(a), percent(b));
        let level = &rules.levels[level].named.name;
        told.push(format!(
            "How much: {level} {a} of the time for {one}, {b} for {other}."
        ));
    }
    let (a, b) = &pair.lacking.fed_by;
    for (name, conditions) in [(one, a), (other, b)] {
        if !conditions.is_empty() {
            let fed: Vec<&str> = (conditions.iter())
                .map(|&condition| rules.conditions[condition].named.name.as_str())
                .collect();
            told.push(format!("Why: only {name} is fed by {}.", fed.join(", ")));
        }
    }
    told
}

/// What kind of look or test would tell two causes apart.
fn missing(case: &Case<'_>, pair: &Twins) -> String {
    let rules = case.rules;
    let lacking = &pair.lacking;
    let shows = |place: Place| {
        let fault = &rules.faults[place.fault];
        let text = fault.shows.trim_end_matches('.');
        if text.is_empty() {
            &fault.named.name
        } else {
            text
        }
        .to_owned()
    };
    let named = |checks: &[crate::ids::CheckId]| -> Vec<String> {
        let id = |check: &crate::ids::CheckId| format!("`{}`", rules.checks[*check].named.id);
        checks.iter().map(id).collect()
    };
    let signs = format!(
        "\"{}\" for the one, \"{}\" for the other",
        shows(pair.one),
        shows(pair.other)
    );
    if !lacking.same_place {
        if let Some((a, b)) = lacking.into {
            let (a, b) = (&rules.spaces[a].named.name, &rules.spaces[b].named.name);
            return format!("a test of what comes out into {a} and what into {b}; {signs}.");
        }
        return format!("a look, a card or a wipe at each of the two places by itself; {signs}.");
    }
    let mut looks: Vec<String> = named(&lacking.looks.0);
    looks.extend(named(&lacking.looks.1));
    looks.sort();
    looks.dedup();
    let itself = if looks.is_empty() {
        format!(
            "no check looks at the part itself. A look at it opened up or in the hand: {signs}."
        )
    } else {
        format!(
            "too little told by the checks of the part itself ({}). A closer look, or an answer for each: {signs}.",
            looks.join(", ")
        )
    };
    match lacking.when {
        Some((kind, ..)) => {
            let kind = &rules.leak_kinds[kind].named.name;
            format!(
                "{itself} Or the same look at the place twice, once when a leak that is open {kind} runs and once when it does not."
            )
        }
        None => itself,
    }
}
