//! Names and figures in words.

use crate::advise::{Case, Suspect};
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

/// A cause with its place: "radiator core (seam split)".
pub fn full_name(case: &Case<'_>, cause: usize) -> String {
    let place = case.graph.causes[cause].place;
    format!(
        "{} ({})",
        place_name(case, place.part),
        cause_name(case, place)
    )
}

/// What is suspected, in words.
pub fn suspect_name(case: &Case<'_>, suspect: Suspect) -> String {
    match suspect {
        Suspect::Cause(cause) => full_name(case, cause),
        Suspect::Place(part) => format!("{} (any fault there)", place_name(case, part)),
    }
}

/// What is suspected, as typed: `fault@place`, or `@place` for any fault there.
pub fn suspect_id(case: &Case<'_>, suspect: Suspect) -> String {
    match suspect {
        Suspect::Cause(cause) => {
            let place = case.graph.causes[cause].place;
            format!(
                "{}@{}",
                case.rules.faults[place.fault].named.id, case.layout.parts[place.part].named.id
            )
        }
        Suspect::Place(part) => format!("@{}", case.layout.parts[part].named.id),
    }
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

/// A task's name with place and zone filled in, as something to do: once more, if it has been done.
pub fn task_name(case: &Case<'_>, task: TaskId) -> String {
    let again = case.graph.tasks[task].again;
    let again = if again { ", once more" } else { "" };
    format!("{}{again}", done_name(case, task))
}

/// A task's name with place and zone filled in, as something done.
pub fn done_name(case: &Case<'_>, task: TaskId) -> String {
    let of = &case.graph.tasks[task];
    let name = case.filled(of, &case.rules.checks[of.check].named.name);
    let covered = of
        .cover_on
        .map(|cover| &case.layout.covers[cover].named.name);
    let covered = covered.map_or_else(String::new, |cover| format!(", with {cover} on"));
    format!("{name}{covered}")
}

/// A text of the rules where no vehicle is named.
pub fn anywhere(text: &str) -> String {
    text.replace("{place}", "the place")
        .replace("{zone}", "the zone")
        .replace("{limit}", "the limit")
}

/// Work and waiting in words: "3 min", "4 min of work and 40 min of waiting".
pub fn minutes_text(hands: f64, waiting: f64) -> String {
    if waiting > 0.5 && hands > 0.4 {
        format!(
            "{} of work and {} of waiting",
            time_text(hands),
            time_text(waiting)
        )
    } else if waiting > 0.5 {
        format!("{} of waiting", time_text(waiting))
    } else {
        time_text(hands)
    }
}

/// A time in words; under ten minutes to the half minute.
pub fn time_text(minutes: f64) -> String {
    if minutes >= 1440.0 {
        format!("{:.1} days", minutes / 1440.0).replace(".0 ", " ")
    } else if minutes >= 120.0 {
        format!("{:.1} hours", minutes / 60.0).replace(".0 ", " ")
    } else if minutes >= 9.75 {
        format!("{minutes:.0} min")
    } else {
        let halves = (minutes * 2.0).round().max(1.0) / 2.0;
        format!("{halves} min")
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

#[cfg(test)]
mod tests {
    use super::minutes_text;

    #[test]
    fn times_are_told_as_a_clock_is_read() {
        let told = [
            (0.5, 0.0, "0.5 min"),
            (0.1, 0.0, "0.5 min"),
            (3.0, 0.0, "3 min"),
            (4.0, 40.0, "4 min of work and 40 min of waiting"),
            (0.0, 720.0, "12 hours of waiting"),
            (18.2, 2880.0, "18 min of work and 2 days of waiting"),
            (150.0, 0.0, "2.5 hours"),
        ];
        for (hands, waiting, words) in told {
            assert_eq!(minutes_text(hands, waiting), words);
        }
    }
}
