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
    let name = case.filled(of, &case.rules.checks[of.check].named.name);
    match of.cover_on {
        Some(cover) => format!("{name}, with {} on", case.layout.covers[cover].named.name),
        None => name,
    }
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
