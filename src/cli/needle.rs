//! What the needle did, in a few words, as a gauge log.
//!
//! In: `15 to 14 in 30`, as typed for a hold. Out: an entry of two readings.

use crate::advise::Case;
use crate::ids::TaskId;
use crate::job::{Entry, GaugeLog, Readings};
use crate::measure::units::{PressureUnit, Unit};
use crate::show::{takes_a_needle, task_id};

const MINUTES_AN_HOUR: f64 = 60.0;

/// What was typed for a hold as a gauge log; none if it is no such sentence, or no such check.
///
/// # Errors
/// A pressure without a unit that fits the limit only in another one: what to type.
pub(super) fn gauge_entry(
    case: &Case<'_>,
    task: TaskId,
    typed: &str,
) -> Result<Option<Entry>, String> {
    if takes_a_needle(case, task) && readings(typed).is_none() {
        let pointed = with_points(typed);
        if readings(&pointed).is_some() {
            return Err(format!("Write decimals with a point: `{pointed}`."));
        }
    }
    let read = readings(typed).filter(|_| takes_a_needle(case, task));
    let Some((unit, rows)) = read else {
        return Ok(None);
    };
    let start = rows[0][1];
    if unit.is_none()
        && let Some((limit, _)) = case.limit_psi()
        && let Some(meant) = meant_unit(start, limit)
    {
        return Err(format!(
            "{start} psi, where the limit is {}: is that {meant}? Then type the unit, as in `{}`. If it is psi, type `{start} psi to …`.",
            case.limit_words(),
            typed.replacen(" to ", &format!(" {meant} to "), 1),
        ));
    }
    let named = task_id(case, task);
    let (check, at) = match named.split_once('@') {
        Some((check, at)) => (check.to_owned(), Some(at.to_owned())),
        None => (named, None),
    };
    Ok(Some(Entry::Gauge(GaugeLog {
        check,
        at,
        readings: Readings::Here(rows),
        unit: unit.unwrap_or(PressureUnit::Psi),
        air: None,
        coolant_l: None,
        mixture: None,
        hose_ml_per_kpa: None,
        step: None,
    })))
}

/// The same with points for decimal commas, which a list of answers has read as `15, 5`.
fn with_points(typed: &str) -> String {
    typed.replace(", ", ".").replace(',', ".")
}

/// The unit in which a pressure comes near the limit, where in psi it is far from it.
fn meant_unit(start: f64, limit_psi: f64) -> Option<&'static str> {
    let near = |psi: f64| (0.5..1.5).contains(&(psi / limit_psi));
    let far = !(0.25..2.5).contains(&(start / limit_psi));
    let fits = |unit: PressureUnit| near(PressureUnit::Psi.of_base(unit.to_base(start)));
    let units = [
        ("bar", PressureUnit::Bar),
        ("kPa", PressureUnit::KiloPascal),
    ];
    let mut fitting = units.into_iter().filter(|(_, unit)| far && fits(*unit));
    fitting.next().map(|(word, _)| word)
}

/// `15 to 14 in 30`, `1 bar to 0.95 in 2 h`: minutes where no unit of time is named; the unit of both
/// pressures, if one is.
fn readings(typed: &str) -> Option<(Option<PressureUnit>, Vec<Vec<f64>>)> {
    let (from, rest) = typed.split_once(" to ")?;
    let (to, time) = rest.split_once(" in ")?;
    let (from, first) = with_unit(from)?;
    let (to, second) = with_unit(to)?;
    let unit = match (first, second) {
        ("", "") => None,
        ("", one) | (one, "") => Some(pressure_unit(one)?),
        (one, other) if one == other => Some(pressure_unit(one)?),
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

/// The unit of a gauge.
fn pressure_unit(word: &str) -> Option<PressureUnit> {
    match word {
        "psi" => Some(PressureUnit::Psi),
        "kpa" => Some(PressureUnit::KiloPascal),
        "bar" => Some(PressureUnit::Bar),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::{meant_unit, readings};
    use crate::measure::units::PressureUnit;

    /// A bar is 14.5 psi: who types 1 on a gauge in bar has not pumped to a fifteenth of the limit.
    #[test]
    fn a_pressure_far_from_the_limit_is_asked_about() {
        for (start, meant) in [
            (1.0, Some("bar")),
            (1.4, Some("bar")),
            (100.0, Some("kPa")),
            (15.0, None),
            (7.0, None),
            (20.0, None),
            (0.2, None),
        ] {
            assert_eq!(meant_unit(start, 15.0), meant, "{start}");
        }
        // The limit of an old radiator: 1 is neither.
        assert_eq!(meant_unit(1.0, 4.0), None);
    }

    #[test]
    fn the_needle_in_a_few_words() {
        let rows = |minutes, from, to| vec![vec![0.0, from], vec![minutes, to]];
        for (typed, expected) in [
            ("15 to 14 in 30", (None, rows(30.0, 15.0, 14.0))),
            (
                "15 psi to 14.5 psi in 30 min",
                (Some(PressureUnit::Psi), rows(30.0, 15.0, 14.5)),
            ),
            (
                "1 bar to 0.95 in 2 h",
                (Some(PressureUnit::Bar), rows(120.0, 1.0, 0.95)),
            ),
            (
                "90kpa to 85kpa in 45 minutes",
                (Some(PressureUnit::KiloPascal), rows(45.0, 90.0, 85.0)),
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
