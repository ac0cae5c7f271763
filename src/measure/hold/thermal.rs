//! What the log says of the temperatures, and how much they may have drifted unseen.

use super::graduation::roughness;
use super::log::Reading;

/// Temperatures that were not noted may have drifted by 3 K either way (95 %) …
const UNSEEN_K: f64 = 1.53;
/// … but through a night by 10 K: a bay cools that much by morning.
const UNSEEN_OVERNIGHT_K: f64 = 5.1;
const SHORT_MINUTES: f64 = 180.0;
const NIGHT_MINUTES: f64 = 480.0;
/// Unseen, the air may go its own way by half as much again.
const APART: f64 = 0.5;
/// A thermometer's own wander, K.
const THERMOMETER_K: f64 = 0.1;
/// End to end, two readings rounded to a step are off by 0.41 of it.
const ROUNDED: f64 = 0.41;
/// How near the ends of the log a temperature must have been noted, as a share of its length.
const NEAR_END: f64 = 0.12;

/// Temperatures at every reading, and the standard deviation of what may be added to them.
#[derive(Debug, Clone)]
pub(super) struct Thermal {
    pub coolant_c: Vec<f64>,
    pub air_c: Vec<f64>,
    /// Drift of the coolant that the log does not show, end to end, K.
    pub coolant_spread_k: f64,
    /// Drift of the air that the log does not show, K.
    pub air_spread_k: f64,
    /// How exactly each single temperature was read, K.
    pub coolant_reading_k: f64,
    pub air_reading_k: f64,
    /// Whether the unseen drift of the coolant takes the air with it.
    pub together: bool,
    pub coolant_noted: bool,
    pub air_noted: bool,
}

/// Assumed where nobody noted a temperature, °C.
const ASSUMED_C: f64 = 20.0;

impl Thermal {
    pub(super) fn of(readings: &[Reading]) -> Self {
        let coolant = noted(readings, |reading| reading.coolant_c);
        let air = noted(readings, |reading| reading.air_c);
        let minutes = readings[readings.len() - 1].minute - readings[0].minute;
        let unseen = unseen_k(minutes);
        let anywhere = |of: fn(&Reading) -> Option<f64>| readings.iter().find_map(of);
        let resting = anywhere(|reading| reading.coolant_c)
            .or_else(|| anywhere(|reading| reading.air_c))
            .unwrap_or(ASSUMED_C);
        match (coolant, air) {
            (Some(coolant), Some(air)) => Self {
                coolant_spread_k: thermometer_k(&coolant),
                air_spread_k: thermometer_k(&air).hypot(0.05 * range(&air)),
                coolant_reading_k: reading_k(&coolant),
                air_reading_k: reading_k(&air),
                coolant_c: coolant,
                air_c: air,
                together: false,
                coolant_noted: true,
                air_noted: true,
            },
            (Some(coolant), None) => Self {
                coolant_spread_k: thermometer_k(&coolant),
                air_spread_k: unseen,
                coolant_reading_k: reading_k(&coolant),
                air_reading_k: reading_k(&coolant),
                air_c: coolant.clone(),
                coolant_c: coolant,
                together: false,
                coolant_noted: true,
                air_noted: false,
            },
            // Litres of coolant follow the bay late: by half, give or take.
            (None, Some(air)) => Self {
                coolant_spread_k: unseen.max(0.5 * range(&air)),
                air_spread_k: thermometer_k(&air).hypot(0.05 * range(&air)),
                coolant_reading_k: 0.0,
                air_reading_k: reading_k(&air),
                coolant_c: air
                    .iter()
                    .map(|celsius| air[0] + 0.5 * (celsius - air[0]))
                    .collect(),
                air_c: air,
                together: false,
                coolant_noted: false,
                air_noted: true,
            },
            (None, None) => Self {
                coolant_c: vec![resting; readings.len()],
                air_c: vec![resting; readings.len()],
                coolant_spread_k: unseen,
                air_spread_k: APART * unseen,
                coolant_reading_k: 0.0,
                air_reading_k: 0.0,
                together: true,
                coolant_noted: false,
                air_noted: false,
            },
        }
    }
}

/// Standard deviation of a drift that nobody noted, K.
pub(super) fn unseen_k(minutes: f64) -> f64 {
    let night = ((minutes - SHORT_MINUTES) / (NIGHT_MINUTES - SHORT_MINUTES)).clamp(0.0, 1.0);
    UNSEEN_K + night * (UNSEEN_OVERNIGHT_K - UNSEEN_K)
}

/// Standard deviation of the drift between two ends of a noted temperature, K.
pub(super) fn thermometer_k(celsius: &[f64]) -> f64 {
    THERMOMETER_K.hypot(ROUNDED * step(celsius))
}

/// Standard deviation of one reading of a noted temperature, K: rounding, and what it wavers by.
fn reading_k(celsius: &[f64]) -> f64 {
    (0.29 * step(celsius)).max(roughness(celsius))
}

/// The coarsest of 1, 0.5, 0.2 and 0.1 K of which all temperatures are multiples; 0 if none.
fn step(celsius: &[f64]) -> f64 {
    [1.0, 0.5, 0.2, 0.1]
        .into_iter()
        .find(|step| {
            celsius
                .iter()
                .all(|t| (t / step - (t / step).round()).abs() < 1e-3)
        })
        .unwrap_or(0.0)
}

pub(super) fn range(values: &[f64]) -> f64 {
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    high - low
}

/// The noted temperatures, filled in between; `None` unless noted at both ends.
fn noted(readings: &[Reading], of: impl Fn(&Reading) -> Option<f64>) -> Option<Vec<f64>> {
    let known: Vec<(f64, f64)> = readings
        .iter()
        .filter_map(|reading| of(reading).map(|celsius| (reading.minute, celsius)))
        .collect();
    let (first, last) = (readings[0].minute, readings[readings.len() - 1].minute);
    let slack = NEAR_END * (last - first);
    if known.len() < 2 || known[0].0 > first + slack || known[known.len() - 1].0 < last - slack {
        return None;
    }
    let mut after = 0;
    Some(
        readings
            .iter()
            .map(|reading| {
                while after < known.len() && known[after].0 < reading.minute {
                    after += 1;
                }
                match (
                    after.checked_sub(1).map(|before| known[before]),
                    known.get(after),
                ) {
                    (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (reading.minute - a.0) / (b.0 - a.0),
                    (Some(a), None) => a.1,
                    (None, Some(b)) => b.1,
                    (None, None) => ASSUMED_C,
                }
            })
            .collect(),
    )
}
