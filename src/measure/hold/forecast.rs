//! What a log could show at all: a sound system is thought up, read by the same gauge at the same
//! or later minutes, and the same fit says how large a leak it could not tell from none.

use super::curve::rough;
use super::log::{AirEstimate, Hold, Reading};
use super::model::Model;
use super::propagation::Sites;
use super::thermal::{Thermal, unseen_k};

/// Readings of an imagined log.
const READINGS: u32 = 16;
/// A gauge as steady as most, graduations.
const USUAL_NOISE: f64 = 0.25;
/// The longest wait worth proposing, minutes: a night.
pub const LONGEST_WAIT_MINUTES: f64 = 720.0;
/// So many standard deviations of the leak make both verdicts likely: a sound system is called so,
/// and a leak that matters is seen.
const BOTH_WAYS: f64 = 3.7;

/// Standard deviation of the leak, mL/min, as the fit would find it for a sound system read at the
/// minutes of `hold`, with temperatures as known as `thermal` has them.
pub(super) fn leak_spread(
    hold: &Hold,
    thermal: &Thermal,
    air: &AirEstimate,
    graduation_kpa: f64,
) -> f64 {
    let first = Model::new(hold, thermal, air, graduation_kpa, 1.0);
    let mut sound = hold.clone();
    for (index, reading) in sound.readings.iter_mut().enumerate() {
        let gauge = first
            .vessel
            .gauge_after(first.expected[index], first.air_c[index]);
        reading.gauge_kpa = ((gauge / graduation_kpa).round() * graduation_kpa).max(0.0);
    }
    sound.readings[0].gauge_kpa = sound.readings[0].gauge_kpa.max(graduation_kpa);
    let model = Model::new(&sound, thermal, air, graduation_kpa, 1.0);
    rough(&model, USUAL_NOISE * graduation_kpa, &mut Sites::default()).spread
}

/// A hold of `minutes`, at steady temperatures, in sixteen readings that lie closer at the start.
fn imagined(hold: &Hold, thermal: &Thermal, minutes: f64) -> (Hold, Thermal) {
    let start = hold.readings[0];
    let readings: Vec<Reading> = (0..READINGS)
        .map(|i| {
            let share = f64::from(i) / f64::from(READINGS - 1);
            Reading {
                minute: start.minute + (minutes - start.minute) * share.powf(1.5),
                ..start
            }
        })
        .collect();
    let count = readings.len();
    let unseen = unseen_k(minutes - start.minute);
    let spread = |noted: bool, known: f64, otherwise: f64| if noted { known } else { otherwise };
    let imagined_thermal = Thermal {
        coolant_c: vec![thermal.coolant_c[0]; count],
        air_c: vec![thermal.air_c[0]; count],
        coolant_spread_k: spread(thermal.coolant_noted, thermal.coolant_spread_k, unseen),
        air_spread_k: spread(
            thermal.air_noted,
            thermal.air_spread_k,
            if thermal.together {
                0.5 * unseen
            } else {
                unseen
            },
        ),
        ..thermal.clone()
    };
    let mut longer = hold.clone();
    longer.readings = readings;
    (longer, imagined_thermal)
}

/// The minute from which a hold would decide about a leak of `rate` mL/min either way; `None` if
/// not within a night.
pub(super) fn minutes_to_decide(
    hold: &Hold,
    thermal: &Thermal,
    air: &AirEstimate,
    graduation_kpa: f64,
    rate: f64,
) -> Option<f64> {
    let decides = |minutes: f64| {
        let (longer, steady) = imagined(hold, thermal, minutes);
        BOTH_WAYS * leak_spread(&longer, &steady, air, graduation_kpa) <= rate
    };
    let begin = hold.readings[0].minute;
    let mut high = 5.0;
    while !decides(begin + high) {
        high *= 1.6;
        if high > LONGEST_WAIT_MINUTES {
            return None;
        }
    }
    let mut low = if high > 5.0 {
        high / 1.6
    } else {
        return Some(begin + high);
    };
    for _ in 0..4 {
        let middle = f64::midpoint(low, high);
        if decides(begin + middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(begin + high)
}
