//! `layouts --checks`: all that can be asked and done on one vehicle, with the answers that a job file
//! takes.
//!
//! In: a vehicle. Out: its checks in four groups, as text or JSON.
//!
//! Example: `puddle_seen`, a question of the complaint, takes `none`, `spot` or `puddle`.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::cli::rules::asked;
use crate::cli::world::Vehicle;
use crate::ids::{CheckId, PartId, ZoneId};
use crate::rules::RuleBase;
use crate::rules::base::{Answering, Check, Scope};
use crate::show::{Page, anywhere};

/// A check that can be done on the vehicle.
struct Doable {
    check: CheckId,
    places: BTreeSet<PartId>,
    zones: BTreeSet<ZoneId>,
}

/// What stands over the groups of checks.
const GROUPS: [&str; 4] = [
    "Questions of the complaint",
    "Checks of the whole vehicle",
    "Looks over a zone: write `at: ZONE`, and `{PLACE: wet}`, or `{somewhere: wet}` where you can't see where it begins",
    "Checks of one place: write `at: PLACE`",
];

/// The number of a check's group.
fn group_of(check: &Check) -> usize {
    match check.scope {
        _ if check.intake => 0,
        Scope::Vehicle => 1,
        Scope::Sweep(_) => 2,
        Scope::Parts(_) => 3,
    }
}

fn doable(vehicle: &Vehicle<'_>) -> Vec<Doable> {
    let of = |check: CheckId| {
        let tasks = || {
            vehicle
                .graph
                .tasks
                .iter()
                .filter(|task| task.check == check)
        };
        tasks().next().map(|_| Doable {
            check,
            places: tasks().filter_map(|task| task.part).collect(),
            zones: tasks().filter_map(|task| task.zone).collect(),
        })
    };
    vehicle.rules.checks.ids().filter_map(of).collect()
}

/// All checks of a vehicle, one line for each and one for its answers.
pub(super) fn text(page: &mut Page, vehicle: &Vehicle<'_>) {
    let (rules, layout) = (vehicle.rules, vehicle.layout);
    let all = doable(vehicle);
    let check = |of: &Doable| &rules.checks[of.check];
    page.heading(&format!("{}  [{}]", layout.named.name, layout.named.id));
    for (group, heading) in GROUPS.iter().enumerate() {
        page.heading(heading);
        for of in all.iter().filter(|of| group_of(check(of)) == group) {
            let at: Vec<&str> = if of.zones.is_empty() {
                of.places
                    .iter()
                    .map(|&part| &layout.parts[part].named.id[..])
                    .collect()
            } else {
                of.zones
                    .iter()
                    .map(|&zone| &layout.zones[zone].named.id[..])
                    .collect()
            };
            let named = &check(of).named;
            page.item(
                "·",
                &format!(
                    "{}: {}{}",
                    named.id,
                    anywhere(&named.name),
                    where_words(&at)
                ),
            );
            page.aside(&answers(rules, check(of)));
        }
    }
    page.aside("`seepwise rules show NAME` shows a check, how it is done and what each answer means. To any check you can answer `cant_tell`.");
}

/// Where it can be done, if that is not the whole vehicle; of many places only how many.
fn where_words(at: &[&str]) -> String {
    match at.len() {
        0 => String::new(),
        1..=4 => format!(", at {}", at.join(", ")),
        many => format!(", at {many} places"),
    }
}

/// The answers a check takes.
fn answers(rules: &RuleBase, check: &Check) -> String {
    let choices = match &check.answering {
        Answering::Each => &[][..],
        Answering::Choice(choices) => choices,
    };
    if !choices.is_empty() {
        let ids: Vec<&str> = choices.iter().map(|choice| &choice.named.id[..]).collect();
        return ids.join(" | ");
    }
    let signs = asked(rules, check);
    let each = signs.iter().map(|sign| {
        let ids: Vec<&str> = sign.answers.iter().map(|answer| &answer.id[..]).collect();
        let ids = ids.join(" | ");
        if signs.len() == 1 {
            ids
        } else {
            format!("{}: {ids}", sign.named.id)
        }
    });
    each.collect::<Vec<_>>().join("; ")
}

/// The same for scripts.
pub(super) fn json(vehicle: &Vehicle<'_>) -> Value {
    let (rules, layout) = (vehicle.rules, vehicle.layout);
    let told = |of: &Doable| {
        let check = &rules.checks[of.check];
        let places = of.places.iter().map(|&part| &layout.parts[part].named.id);
        let zones = of.zones.iter().map(|&zone| &layout.zones[zone].named.id);
        let signs = asked(rules, check).iter().map(|sign| {
            let answers: Vec<&String> = sign.answers.iter().map(|answer| &answer.id).collect();
            (sign.named.id.clone(), json!(answers))
        });
        let choices: Vec<&String> = match &check.answering {
            Answering::Each => Vec::new(),
            Answering::Choice(choices) => choices.iter().map(|choice| &choice.named.id).collect(),
        };
        json!({
            "check": check.named.id,
            "name": anywhere(&check.named.name),
            "complaint": check.intake,
            "places": places.collect::<Vec<_>>(),
            "zones": zones.collect::<Vec<_>>(),
            "signs": signs.collect::<serde_json::Map<_, _>>(),
            "choices": choices,
        })
    };
    json!({
        "layout": layout.named.id,
        "name": layout.named.name,
        "checks": doable(vehicle).iter().map(told).collect::<Vec<_>>(),
    })
}
