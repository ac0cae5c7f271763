//! Names and figures in words.

use crate::advise::Case;
use crate::graph::Place;
use crate::ids::{PartId, TaskId};

/// A part's name.
pub fn place_name<'a>(case: &'a Case<'_>, part: PartId) -> &'a str {
    &case.layout.parts[part].named.name
}

/// A fault's name.
pub fn cause_name<'a>(case: &'a Case<'_>, place: Place) -> &'a str {
    &case.rules.faults[place.fault].named.name
}

/// A task as typed: `check` or `check@place`.
pub fn task_id(case: &Case<'_>, task: TaskId) -> String {
    let of = &case.graph.tasks[task];
    let check = &case.rules.checks[of.check].named.id;
    let part = of.part.map(|part| &case.layout.parts[part].named.id);
    let zone = of.zone.map(|zone| &case.layout.zones[zone].named.id);
    part.or(zone)
        .map_or_else(|| check.clone(), |at| format!("{check}@{at}"))
}

/// A task's name with place and zone filled in.
pub fn task_name(case: &Case<'_>, task: TaskId) -> String {
    let of = &case.graph.tasks[task];
    let name = filled(case, task, &case.rules.checks[of.check].named.name);
    match of.cover_on {
        Some(cover) => format!("{name}, with {} on", case.layout.covers[cover].named.name),
        None => name,
    }
}

/// A text of a check with `{place}`, `{zone}` and `{limit}` filled in.
pub(super) fn filled(case: &Case<'_>, task: TaskId, text: &str) -> String {
    let of = &case.graph.tasks[task];
    let mut text = text.replace("{limit}", &limit_text(case));
    if let Some(part) = of.part {
        text = text.replace("{place}", place_name(case, part));
    }
    if let Some(zone) = of
        .zone
        .or_else(|| of.part.and_then(|part| case.layout.parts[part].zone))
    {
        text = text.replace("{zone}", &case.layout.zones[zone].named.name);
    }
    text
}

/// The test-pressure limit in words: "13 psi (90 kPa)".
pub fn limit_text(case: &Case<'_>) -> String {
    case.limit_psi().map_or_else(
        || "the limit on the plate or in the handbook".to_owned(),
        |(psi, _)| format!("{psi:.0} psi ({:.0} kPa)", psi * 6.894_757),
    )
}

/// Minutes in words.
pub fn minutes_text(hands: f64, waiting: f64) -> String {
    let time = |minutes: f64| {
        if minutes >= 1440.0 {
            format!("{:.0} days", minutes / 1440.0)
        } else if minutes >= 120.0 {
            format!("{:.0} hours", minutes / 60.0)
        } else {
            format!("{:.0} min", minutes.max(1.0))
        }
    };
    if waiting > 0.5 && hands > 0.4 {
        format!("{} work, {} waiting", time(hands), time(waiting))
    } else if waiting > 0.5 {
        format!("{} waiting", time(waiting))
    } else {
        time(hands)
    }
}

/// A list in words: "a, b and c".
pub(super) fn listed(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}
