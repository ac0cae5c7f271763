//! A zone line → entries of the log.
//!
//! In: answers, each with the zones and places that show it. Out: one look over each zone with its
//! exceptions, and a look at each place whose zone was not named.

use crate::advise::Case;
use crate::graph::Asked;
use crate::ids::TaskId;
use crate::job::{AnswerGiven, Entry, Found, uncovered};
use crate::rules::base::Scope;
use crate::rules::layout::SOMEWHERE;

/// The entries of a zone line.
///
/// # Errors
/// What to type instead, where a name is no zone or place of this vehicle.
pub(super) fn zone_entries(
    case: &Case<'_>,
    best: &Asked,
    groups: &[(String, Vec<String>)],
) -> Result<Vec<Entry>, String> {
    let of = |task: TaskId| &case.rules.checks[case.graph.tasks[task].check];
    let sweep = match of(best.task).scope {
        Scope::Sweep(_) => Some(of(best.task)),
        _ => case
            .rules
            .checks
            .iter()
            .find(|check| matches!(check.scope, Scope::Sweep(_))),
    };
    let Some((sweep, Scope::Sweep(swept))) = sweep.map(|sweep| (sweep, &sweep.scope)) else {
        return Err("These rules have no look over a whole zone.".to_owned());
    };
    let again = matches!(of(best.task).scope, Scope::Sweep(_)) && case.graph.tasks[best.task].again;
    // "Wet: left" is wet somewhere there; "dry: left" is dry all over.
    let normal = |answer: &String| {
        let answers = &case.rules.checks[*swept].signs[0].answers;
        let dry = &answers[0];
        *answer == dry.id || answers.iter().all(|known| known.id != *answer)
    };
    let zone = |name: &str| {
        case.layout
            .zones
            .iter()
            .position(|zone| zone.named.id == name)
    };
    let part = |name: &str| case.layout.parts.iter().find(|part| part.named.id == name);
    let mut entries: Vec<Found> = Vec::new();
    let zoned = |name: &str| {
        part(name)
            .and_then(|part| part.zone)
            .map(|zone| case.layout.zones[zone].named.id.clone())
    };
    for (answer, names) in groups {
        for name in names.iter().filter(|name| zone(name).is_some()) {
            entries.push(Found {
                check: sweep.named.id.clone(),
                at: Some(name.clone()),
                answer: if normal(answer) {
                    AnswerGiven::One(answer.clone())
                } else {
                    AnswerGiven::Several(vec![(SOMEWHERE.to_owned(), answer.clone())])
                },
                again,
                ..Found::default()
            });
        }
    }
    for (answer, names) in groups {
        for name in names.iter().filter(|name| zone(name).is_none()) {
            if part(name).is_none() {
                return Err(format!(
                    "`{name}` is no zone or place of this vehicle; `seepwise layouts {}` lists them.",
                    case.layout.named.id
                ));
            }
            let within = entries.iter_mut().find(|entry| {
                entry.at.is_some() && entry.at == zoned(name) && entry.check == sweep.named.id
            });
            match (within, answer.as_str()) {
                (Some(entry), "not seen") => entry.not_seen.push(name.clone()),
                (Some(entry), "in part" | "seen in part") => entry.in_part.push(name.clone()),
                (Some(entry), _) => entry.except.push((name.clone(), answer.clone())),
                (None, "not seen") => {}
                (None, _) => entries.push(Found {
                    check: case.rules.checks[*swept].named.id.clone(),
                    at: Some(name.clone()),
                    answer: AnswerGiven::One(answer.clone()),
                    again,
                    ..Found::default()
                }),
            }
        }
    }
    // What was proposed with a cover off was looked at so.
    let zone = case.graph.tasks[best.task].zone;
    let zone = zone.map(|zone| &case.layout.zones[zone].named.id);
    let proposed = |entry: &Found| entry.check == sweep.named.id && entry.at.as_ref() == zone;
    let off = uncovered(case, best).filter(|_| entries.iter().any(proposed));
    let entries = entries.into_iter().map(Entry::Found);
    Ok(off.into_iter().chain(entries).collect())
}
