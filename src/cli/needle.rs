//! What the needle did, in a few words, as a gauge log.
//!
//! In: `15 to 14 in 30`, as typed for a hold. Out: an entry of two readings.

use crate::advise::Case;
use crate::ids::TaskId;
use crate::job::{Entry, GaugeLog, Readings};
use crate::measure::units::PressureUnit;
use crate::show::{takes_a_needle, task_id};

const MINUTES_AN_HOUR: f64 = 60.0;

/// What was typed for a hold as a gauge log; none if it is no such sentence, or no such check.
pub(super) fn gauge_entry(case: &Case<'_>, task: TaskId, typed: &str) -> Option<Entry> {
    if !takes_a_needle(case, task) {
        return None;
    }
    let (unit, rows) = readings(typed)?;
    let named = task_id(case, task);
    let (check, at) = match named.split_once('@') {
        Some((check, at)) => (check.to_owned(), Some(at.to_owned())),
        None => (named, None),
    };
    Some(Entry::Gauge(GaugeLog {
        check,
        at,
        readings: Readings::Here(rows),
        unit,
        air: None,
        coolant_l: None,
        mixture: None,
        hose_ml_per_kpa: None,
        step: None,
    }))
}

/// `15 to 14 in 30`, `1 bar to 0.95 in 2 h`: psi and minutes where no unit is named. Pressures are in one
/// unit.
fn readings(typed: &str) -> Option<(PressureUnit, Vec<Vec<f64>>)> {
    let (from, rest) = typed.split_once(" to ")?;
    let (to, time) = rest.split_once(" in ")?;
    let (from, first) = with_unit(from)?;
    let (to, second) = with_unit(to)?;
    let unit = match (first, second) {
        ("", one) | (one, "") => pressure_unit(one)?,
        (one, other) if one == other => pressure_unit(one)?,
        _ => return None,
    };
    let (time, unit_of_time) = with_unit(time)?;
    let minutes = match unit_of_time {
        "" | "min" | "mins" | "minute" | "minutes" => time,
        "h" | "hr" | "hour" | "hours" => time * MINUTES_AN_HOUR,
        _ => return None,
    };
    Some((unit, vec![vec![0.0, from], vec![minutes, to]]))
}

/// A number and what stands behind it.
fn with_unit(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let end = text
        .find(|letter: char| !letter.is_ascii_digit() && letter != '.')
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    Some((number.parse().ok()?, unit.trim()))
}

/// The unit of a gauge; psi where none is named.
fn pressure_unit(word: &str) -> Option<PressureUnit> {
    match word {
        "" | "psi" => Some(PressureUnit::Psi),
        "kpa" => Some(PressureUnit::KiloPascal),
        "bar" => Some(PressureUnit::Bar),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::readings;
    use crate::measure::units::PressureUnit;

    #[test]
    fn the_needle_in_a_few_words() {
        let rows = |minutes, from, to| vec![vec![0.0, from], vec![minutes, to]];
        for (typed, expected) in [
            (
                "15 to 14 in 30",
                (PressureUnit::Psi, rows(30.0, 15.0, 14.0)),
            ),
            (
                "15 psi to 14.5 psi in 30 min",
                (PressureUnit::Psi, rows(30.0, 15.0, 14.5)),
            ),
            (
                "1 bar to 0.95 in 2 h",
                (PressureUnit::Bar, rows(120.0, 1.0, 0.95)),
            ),
            (
                "90kpa to 85kpa in 45 minutes",
                (PressureUnit::KiloPascal, rows(45.0, 90.0, 85.0)),
            ),
        ] {
            assert_eq!(readings(typed), Some(expected), "{typed}");
        }
        for not in [
            "falls",
            "15 to 14",
            "15 psi to 1 bar in 30",
            "15 to 14 in a while",
            "x to y in z",
            "-1 to 2 in 3",
        ] {
            assert_eq!(readings(not), None, "{not}");
        }
    }
}
