//! The forecast as the plan asks for it: a system that nobody has pumped up yet.

use super::forecast::minutes_to_decide;
use super::log::{AirEstimate, AirSpace, Hold, Reading};
use super::thermal::Thermal;

/// The minute from which a hold at `gauge_kpa` decides about a leak of `rate` mL/min either way,
/// temperatures noted and steady; `None` if not within a night.
pub(in crate::measure) fn minutes_to_decide_about(
    rate: f64,
    gauge_kpa: f64,
    air_ml: f64,
    graduation_kpa: f64,
    system: &Hold,
) -> Option<f64> {
    let reading = |minute| Reading {
        minute,
        gauge_kpa,
        coolant_c: Some(20.0),
        air_c: Some(20.0),
    };
    let hold = Hold {
        readings: vec![reading(0.0), reading(5.0)],
        air: AirSpace::Known(air_ml),
        graduation_kpa: Some(graduation_kpa),
        ..system.clone()
    };
    let (least, most) = system.stretch_ml_per_kpa;
    let air = AirEstimate {
        middle_ml: air_ml,
        per_stretch: 0.0,
        ln_spread: 0.1,
        stretch: f64::midpoint(least, most),
        stretch_spread: (most - least) / 12.0_f64.sqrt(),
    };
    minutes_to_decide(
        &hold,
        &Thermal::of(&hold.readings),
        &air,
        graduation_kpa,
        rate,
    )
}
