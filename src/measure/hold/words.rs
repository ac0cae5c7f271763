//! What to know and do after a hold, in plain sentences.

use super::log::{AirEstimate, Hold};
use super::result::{HoldResult, LooksLike, Verdict};
use super::thermal::Thermal;
use super::vessel::KPA_PER_PSI;

/// Below this, less air gains little: the hoses' stretch takes over.
const SMALL_AIR_ML: f64 = 200.0;
/// Above this, the air hides everything.
const LARGE_AIR_ML: f64 = 4000.0;

/// A number with two digits that count.
pub fn two_digits(value: f64) -> String {
    if value <= 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    #[allow(clippy::cast_possible_truncation)]
    let magnitude = value.log10().floor() as i32;
    let step = 10.0_f64.powi(magnitude - 1);
    let rounded = (value / step).round() * step;
    let decimals = usize::try_from(1 - magnitude).unwrap_or(0);
    format!("{rounded:.decimals$}")
}

pub(super) fn notes(
    result: &HoldResult,
    hold: &Hold,
    thermal: &Thermal,
    air: &AirEstimate,
    with_temperatures: Option<f64>,
) -> Vec<String> {
    let mut notes = Vec::new();
    let (low, high) = result.interval_ml_per_min;
    let matters = two_digits(result.leak_that_matters_ml_per_min);
    match result.verdict {
        Verdict::Falls => {
            notes.push(format!(
                "It leaks: {} mL/min at the test pressure, between {} and {}.",
                two_digits(result.leak_ml_per_min),
                two_digits(low),
                two_digits(high)
            ));
            let told = hold.leak_that_matters_ml_per_min;
            if told.is_some_and(|matters| high < matters) {
                notes.push(format!(
                    "That is less than the {matters} mL/min that matter: look for a second leak, or one that opens only hot."
                ));
            }
            notes.push("A leak in the tester's own joint looks the same: try the tester blank, at the same pressure for as long.".to_owned());
        }
        Verdict::Holds => notes.push(format!(
            "It holds: a leak of {} mL/min or more would have shown. A leak that opens only hot or at speed is not ruled out.",
            two_digits(result.smallest_leak_ml_per_min)
        )),
        Verdict::CannotTell => {
            notes.push(format!(
                "Can't tell yet: {matters} mL/min matter, and this log could have shown {} mL/min at best.",
                two_digits(result.smallest_leak_ml_per_min)
            ));
            notes.extend(what_next(result, thermal, air, with_temperatures));
        }
    }
    if hold.leak_that_matters_ml_per_min.is_none() && result.verdict != Verdict::Falls {
        notes.push(format!(
            "No loss was given; a leak of {matters} mL/min was taken as the one that matters."
        ));
    }
    match result.looks_like {
        LooksLike::Settling => notes.push(format!(
            "Most of the fall is the pumped-up air settling; it was over by minute {}.",
            two_digits(result.settled_after_minute.max(1.0))
        )),
        LooksLike::Creep => notes.push("Most of the fall looks like hoses still creeping: pump up again, wait five minutes, and hold once more.".to_owned()),
        LooksLike::Cooling if thermal.coolant_noted || thermal.air_noted => {
            notes.push("Most of the fall is cooling, as the temperatures show.".to_owned());
        }
        LooksLike::Warming => notes.push("The system warms up and the pressure rises with it: that hides a leak.".to_owned()),
        LooksLike::Cooling | LooksLike::Leak | LooksLike::Steady => {}
    }
    if hold.graduation_kpa.is_none() {
        notes.push(format!(
            "The gauge's graduation was not given; {} kPa ({} psi) was taken from the readings.",
            two_digits(result.graduation_kpa),
            two_digits(result.graduation_kpa / KPA_PER_PSI)
        ));
    }
    notes
}

fn what_next(
    result: &HoldResult,
    thermal: &Thermal,
    air: &AirEstimate,
    with_temperatures: Option<f64>,
) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(minute) = result.wait_until_minute {
        notes.push(format!(
            "Go on holding until minute {minute:.0}. If nobody stays with it, fit a relief valve no higher than the limit."
        ));
    }
    let missing = match (thermal.coolant_noted, thermal.air_noted) {
        (false, false) => Some("the temperatures of coolant and air"),
        (false, true) => Some("the coolant's temperature"),
        (true, false) => Some("the temperature of the air"),
        (true, true) => None,
    };
    if let Some(missing) = missing {
        let until = with_temperatures.map_or(String::new(), |minute| {
            format!(": then minute {minute:.0} is enough")
        });
        notes.push(format!(
            "Note {missing} at every reading, to a tenth of a kelvin{until}. Warming hides a leak just as cooling fakes one."
        ));
    }
    if result.wait_until_minute.is_none() && with_temperatures.is_none() {
        if air.middle_ml > LARGE_AIR_ML {
            notes.push(format!(
                "With {} L of air no hold will show it: fill up first.",
                two_digits(air.middle_ml / 1000.0)
            ));
        } else if air.middle_ml > SMALL_AIR_ML {
            notes.push(format!(
                "Once temperatures are equal, fill up until about {SMALL_AIR_ML:.0} mL of air are left, or use a finer gauge."
            ));
        } else {
            notes.push("Use a finer gauge, or dye and a card instead of a hold.".to_owned());
        }
    }
    notes
}
