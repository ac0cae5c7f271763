//! From the likelihood curve to a leak, a verdict and a picture.

use super::super::band::closed_band;
use super::curve::Curve;
use super::forecast::{leak_spread, minutes_to_decide};
use super::graduation::{roughness, working_graduation};
use super::log::{EARLIEST_END_MINUTE, Hold, HoldError, Reading, air_pieces, check};
use super::model::Model;
use super::propagation::{Sites, propagate};
use super::thermal::{Thermal, thermometer_k};
use super::unknowns::Cause;
use super::words;

/// Half of 1.96² would be the leaks of a 95 % interval; a little more for what the model simplifies.
const NINETY_FIVE: f64 = 2.1;
/// Half of 2.33²: what lies above is excluded at 99 %.
const NINETY_NINE: f64 = 2.71;
/// A fall counts from so many standard deviations on: one sound system in two hundred, were
/// everything normal.
const FALLS: f64 = 2.6;
/// Air and hoses may settle gently or fully: both are considered, equally likely.
const UNREST: [f64; 2] = [0.3, 1.3];
const MIDDLING_UNREST: [f64; 1] = [0.9];
const FEW_PIECES: usize = 4;
/// More readings than this are thinned: they say little more.
const MOST_FITTED: usize = 60;
/// A sag of the settling air is over when less than this is left, kPa.
const SETTLED_KPA: f64 = 0.2;

/// What the hold says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Any leak is smaller than the one that matters.
    Holds,
    /// It leaks.
    Falls,
    /// Neither can be said yet.
    CannotTell,
}

/// What most of the fall of the gauge looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LooksLike {
    /// Less than a graduation either way.
    Steady,
    /// The pumped-up air cooling in the first minutes.
    Settling,
    /// The hoses giving way slowly.
    Creep,
    /// Coolant and air cooling.
    Cooling,
    /// Coolant and air warming: the pressure rises.
    Warming,
    /// A leak.
    Leak,
}

/// One point of the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Minutes since pumping stopped.
    pub minute: f64,
    /// As read, kPa.
    pub read_kpa: f64,
    /// As fitted, kPa.
    pub fitted_kpa: f64,
    /// What a sound system would have shown, kPa.
    pub sound_kpa: f64,
}

/// What a hold says.
#[derive(Debug, Clone)]
pub struct HoldResult {
    /// Likeliest leak at the test pressure (the first reading), mL/min.
    pub leak_ml_per_min: f64,
    /// 95 % interval of it.
    pub interval_ml_per_min: (f64, f64),
    /// Holds, falls, or not to be told.
    pub verdict: Verdict,
    /// What the fall looks like.
    pub looks_like: LooksLike,
    /// The smallest leak that this log could have shown, mL/min.
    pub smallest_leak_ml_per_min: f64,
    /// The leak that the verdict was about, mL/min.
    pub leak_that_matters_ml_per_min: f64,
    /// The pumped-up air has settled from this minute on.
    pub settled_after_minute: f64,
    /// If it can't be told: hold on until this minute; `None` if waiting does not help.
    pub wait_until_minute: Option<f64>,
    /// What one graduation was taken for, kPa.
    pub graduation_kpa: f64,
    /// The picture.
    pub points: Vec<Point>,
    /// What to know and do, in plain sentences.
    pub notes: Vec<String>,
    curve: Curve,
}

impl HoldResult {
    /// Likelihood of the log for each band of leaks (from, to; mL/min), the leak log-uniform within
    /// the band, relative to the likeliest leak. A band that starts at 0 is half "no leak at all",
    /// half the hundredfold below its end; one without end is cut at a hundredfold of its start.
    pub fn likelihood_of_bands(&self, bands_ml_per_min: &[(f64, f64)]) -> Vec<f64> {
        const PANELS: u32 = 160;
        bands_ml_per_min
            .iter()
            .map(|&(from, to)| {
                let (low, to) = closed_band(from, to);
                let width = (to / low).ln();
                let spread = (0..PANELS)
                    .map(|panel| {
                        let rate =
                            low * (width * (f64::from(panel) + 0.5) / f64::from(PANELS)).exp();
                        self.curve.ln_at(rate).exp()
                    })
                    .sum::<f64>()
                    / f64::from(PANELS);
                if from > 0.0 {
                    spread
                } else {
                    f64::midpoint(spread, self.curve.ln_at(0.0).exp())
                }
            })
            .collect()
    }
}

/// Reads a hold.
///
/// # Errors
/// [`HoldError`], if the log can't be read at all.
pub fn read_hold(hold: &Hold) -> Result<HoldResult, HoldError> {
    check(hold)?;
    let gauge: Vec<f64> = hold
        .readings
        .iter()
        .map(|reading| reading.gauge_kpa)
        .collect();
    let graduation = working_graduation(hold.graduation_kpa, &gauge);
    let hold = &Hold {
        readings: thinned(&hold.readings),
        ..hold.clone()
    };
    let thermal = Thermal::of(&hold.readings);
    let pieces = air_pieces(hold, graduation)?;
    // Where the vessel itself is wide open, one middling unrest saves half the work.
    let unrests: &[f64] = if pieces.len() > FEW_PIECES {
        &MIDDLING_UNREST
    } else {
        &UNREST
    };
    let models: Vec<Model> = pieces
        .iter()
        .flat_map(|air| unrests.iter().map(move |&unrest| (air, unrest)))
        .map(|(air, unrest)| Model::new(hold, &thermal, air, graduation, unrest))
        .collect();
    refuse_rise(&models[models.len() / 2], hold, graduation)?;

    let curve = Curve::new(&models, &noises(hold, graduation));
    let leak = curve.best();
    let interval = curve.within(NINETY_FIVE);
    let (likeliest, noise_kpa) = curve.likeliest_piece(leak);
    let air = &pieces[likeliest / unrests.len()];
    let spread = leak_spread(hold, &thermal, air, graduation);
    let matters = hold.leak_that_matters();
    let falls = curve.ln_at(0.0) < -FALLS * FALLS / 2.0;
    let could_show = FALLS * spread;
    let smallest = if falls {
        could_show
    } else {
        could_show.max(curve.within(NINETY_NINE).1)
    };
    let verdict = if falls {
        Verdict::Falls
    } else if smallest <= matters {
        Verdict::Holds
    } else {
        Verdict::CannotTell
    };

    let model = &models[likeliest];
    let story = Story::new(model, leak, noise_kpa);
    let last_minute = hold.readings[hold.readings.len() - 1].minute;
    let mut result = HoldResult {
        leak_ml_per_min: leak,
        interval_ml_per_min: interval,
        verdict,
        looks_like: story.looks_like(model, graduation),
        smallest_leak_ml_per_min: smallest,
        leak_that_matters_ml_per_min: matters,
        settled_after_minute: story.settled_after(model),
        wait_until_minute: None,
        graduation_kpa: graduation,
        points: story.points(model, hold),
        notes: Vec::new(),
        curve,
    };
    let mut with_temperatures = None;
    if verdict == Verdict::CannotTell {
        let later = |thermal: &Thermal| {
            minutes_to_decide(hold, thermal, air, graduation, matters).map(|minute| {
                minute
                    .max(last_minute + 0.25 * (last_minute - hold.readings[0].minute))
                    .max(EARLIEST_END_MINUTE)
                    .ceil()
            })
        };
        result.wait_until_minute = later(&thermal);
        if !(thermal.coolant_noted && thermal.air_noted) {
            with_temperatures = later(&noted_throughout(&thermal));
        }
    }
    result.notes = words::notes(&result, hold, &thermal, air, with_temperatures);
    Ok(result)
}

/// The same hold, had both temperatures been noted to a tenth of a kelvin.
fn noted_throughout(thermal: &Thermal) -> Thermal {
    let spread = thermometer_k(&[20.1]);
    Thermal {
        coolant_spread_k: spread,
        air_spread_k: spread,
        together: false,
        coolant_noted: true,
        air_noted: true,
        ..thermal.clone()
    }
}

/// At most [`MOST_FITTED`] readings, the first dozen and the last among them.
fn thinned(readings: &[Reading]) -> Vec<Reading> {
    const KEPT_AT_START: usize = 12;
    if readings.len() <= MOST_FITTED {
        return readings.to_vec();
    }
    let rest = readings.len() - 1 - KEPT_AT_START;
    let wanted = MOST_FITTED - KEPT_AT_START;
    readings[..KEPT_AT_START]
        .iter()
        .copied()
        .chain((1..=wanted).map(|i| readings[KEPT_AT_START + i * rest / wanted]))
        .collect()
}

/// Gauge noises to consider, kPa, with their chances: a needle that never wavers, one read
/// well, as usual, badly; and
/// whatever the readings themselves show.
fn noises(hold: &Hold, graduation: f64) -> Vec<(f64, f64)> {
    let gauge: Vec<f64> = hold
        .readings
        .iter()
        .map(|reading| reading.gauge_kpa)
        .collect();
    let rough = roughness(&gauge);
    let mut noises = vec![
        (0.03 * graduation, 0.3),
        (0.18 * graduation, 0.45),
        (0.5 * graduation, 0.2),
    ];
    if rough > graduation {
        noises.extend([(rough, 0.03), (2.0 * rough, 0.02)]);
    }
    noises
}

/// A rise that neither noted nor unseen warming explains, nor the gauge's own unsteadiness.
fn refuse_rise(model: &Model, hold: &Hold, graduation: f64) -> Result<(), HoldError> {
    let gauge: Vec<f64> = hold
        .readings
        .iter()
        .map(|reading| reading.gauge_kpa)
        .collect();
    let unsteady_kpa = 3.0 * graduation + 5.0 * roughness(&gauge);
    let unseen = model.temperature_spread();
    let mut lowest = (0, model.unexplained_room(0));
    for (index, unseen) in unseen.iter().enumerate() {
        let room = model.unexplained_room(index);
        if lowest.1 - room > 3.0 * unseen + unsteady_kpa * model.give[index] {
            return Err(HoldError::Rises {
                from: model.minutes[lowest.0],
                to: model.minutes[index],
                rise_kpa: (lowest.1 - room) / model.give[index],
            });
        }
        if room > lowest.1 {
            lowest = (index, room);
        }
    }
    Ok(())
}

/// What the fit makes of the log: the room that each cause takes, at the likeliest leak.
struct Story {
    settling: Vec<f64>,
    creep: Vec<f64>,
    temperature: Vec<f64>,
    leak: Vec<f64>,
    rest: Vec<f64>,
}

impl Story {
    fn new(model: &Model, leak: f64, noise_kpa: f64) -> Self {
        let (rows, unknowns, bounds) = model.system(leak, noise_kpa, None);
        let found = propagate(&rows, unknowns, &bounds, &mut Sites::default()).mean;
        let from = |cause| model.room_from(cause, leak, &found);
        let sum =
            |a: Vec<f64>, b: &[f64]| -> Vec<f64> { a.iter().zip(b).map(|(a, b)| a + b).collect() };
        let flowed: Vec<f64> = model.leaked.iter().map(|room| leak * room).collect();
        Self {
            settling: from(Cause::Settling),
            creep: from(Cause::Creep),
            temperature: sum(from(Cause::Temperature), &model.expected),
            leak: sum(from(Cause::Law), &flowed),
            rest: sum(from(Cause::Start), &from(Cause::Vessel)),
        }
    }

    fn points(&self, model: &Model, hold: &Hold) -> Vec<Point> {
        (0..model.minutes.len())
            .map(|i| {
                let sound = self.settling[i] + self.creep[i] + self.temperature[i] + self.rest[0];
                let fitted = sound - self.rest[0] + self.rest[i] + self.leak[i];
                let gauge = |room| model.vessel.gauge_after(room, model.air_c[i]).max(0.0);
                Point {
                    minute: model.minutes[i],
                    read_kpa: hold.readings[i].gauge_kpa,
                    fitted_kpa: gauge(fitted),
                    sound_kpa: gauge(sound),
                }
            })
            .collect()
    }

    fn looks_like(&self, model: &Model, graduation: f64) -> LooksLike {
        let last = model.minutes.len() - 1;
        let give = model.give[last];
        let air =
            model.vessel.air_ml * (1.0 - (model.air_c[last] + 273.15) / (model.air_c[0] + 273.15));
        let cooling = self.temperature[last] + air;
        let parts = [
            (LooksLike::Leak, self.leak[last]),
            (LooksLike::Cooling, cooling),
            (LooksLike::Settling, self.settling[last]),
            (LooksLike::Creep, self.creep[last]),
        ];
        let fall: f64 = parts.iter().map(|(_, room)| room / give).sum();
        if -cooling / give > graduation / 2.0 && fall < 0.0 {
            return LooksLike::Warming;
        }
        let largest = parts.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        match largest {
            Some(&(cause, room)) if room / give > 0.6 * graduation => cause,
            _ => LooksLike::Steady,
        }
    }

    fn settled_after(&self, model: &Model) -> f64 {
        let last = self.settling.len() - 1;
        let left = |i: usize| (self.settling[last] - self.settling[i]) / model.give[0];
        let index = (0..=last).find(|&i| left(i) < SETTLED_KPA).unwrap_or(last);
        model.minutes[index]
    }
}
