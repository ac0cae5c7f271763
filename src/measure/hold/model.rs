//! The hold as a linear model of volumes.
//!
//! For a given vessel, a gauge reading says how much room the liquid must have given up
//! ([`Vessel::room_for`]), to within half a graduation. That room is the sum of what leaked
//! (linear in the leak), what shrank on cooling, what the pumped-up air gave on settling, and
//! how far the hoses crept. Everything unknown enters linearly, also the air space and the
//! stretch, so that intervals on sums of normal unknowns are all there is to it.

use super::log::{AirEstimate, Hold, vessel};
use super::propagation::Bound;
use super::thermal::{Thermal, range};
use super::vessel::{ATMOSPHERE_KPA, Vessel, ZERO_CELSIUS_K, relative_viscosity, vapour_kpa};

/// Time constants of the settling air, minutes, and how much it may sag, kPa (5–11 kPa with 2–33 s
/// were seen; slower in still air).
const SETTLING: [(f64, f64); 3] = [(0.1, 5.0), (0.35, 5.0), (1.2, 2.0)];
/// Time constants of hose creep, minutes, and how much of the elastic stretch each may add.
/// Rubber creeps by a few per cent in each decade of time: common practice.
const CREEP: [(f64, f64); 4] = [(2.0, 0.03), (10.0, 0.04), (50.0, 0.04), (250.0, 0.04)];
/// Published values of the contraction lie within ±12 % of their middle.
const CONTRACTION_SPREAD: f64 = 0.065;
/// Power of the pressure that the leak follows: orifice ½, laminar 1.
const LAW: (f64, f64) = (0.75, 0.2);
/// How far the leak follows the viscosity: orifice not at all, laminar fully.
const VISCOUS: (f64, f64) = (0.5, 0.4);
/// How far the air over the coolant is filled with steam.
const STEAM: (f64, f64) = (0.35, 0.35);
/// Below these the columns for viscosity and steam say nothing.
const VISCOUS_FROM_K: f64 = 2.0;
const STEAM_FROM_K: f64 = 3.0;
/// How far an unseen drift may bend away from a straight line, as a share of itself.
const BEND: f64 = 0.35;

/// What an unknown stands for; the parts of a fall are told apart by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cause {
    /// The first reading's own error.
    Start,
    Settling,
    Creep,
    Temperature,
    Vessel,
    Law,
}

/// One unknown: what it adds to the room, per standard deviation, at each reading.
#[derive(Debug, Clone)]
struct Column {
    cause: Cause,
    /// Room whatever the leak, mL.
    room: Vec<f64>,
    /// Room in proportion to the leak, mL for 1 mL/min.
    by_leak: Vec<f64>,
    only_positive: bool,
}

/// How far the vessel may differ from the middle one, standard deviations of air and stretch; the
/// second takes the air along where a draw measured both together.
#[derive(Debug, Clone, Copy)]
struct Doubt {
    air_ml: f64,
    stretch: f64,
    air_with_stretch: f64,
}

/// The linear model of one log for one vessel.
#[derive(Debug, Clone)]
pub(super) struct Model {
    pub vessel: Vessel,
    pub minutes: Vec<f64>,
    /// Room that the readings call for, from and to, mL.
    low: Vec<f64>,
    high: Vec<f64>,
    /// Room per kPa at each reading.
    pub give: Vec<f64>,
    pub air_c: Vec<f64>,
    /// Variance of the room from reading the thermometers, mL².
    thermometer: Vec<f64>,
    /// Minutes at full flow up to each reading: what a leak of 1 mL/min has lost, mL.
    pub leaked: Vec<f64>,
    /// Room that is expected without any leak, mL (cooling as noted, mean steam).
    pub expected: Vec<f64>,
    columns: Vec<Column>,
    doubt: Doubt,
}

impl Model {
    pub(super) fn new(
        hold: &Hold,
        thermal: &Thermal,
        air: &AirEstimate,
        graduation_kpa: f64,
        unrest: f64,
    ) -> Self {
        let readings = &hold.readings;
        let (start, start_minute) = (readings[0].gauge_kpa + ATMOSPHERE_KPA, readings[0].minute);
        let minutes: Vec<f64> = readings.iter().map(|reading| reading.minute).collect();
        let vessel = vessel(hold, air, thermal.air_c[0]);
        let half = graduation_kpa / 2.0;
        let room_at = |index: usize, shift: f64| {
            vessel.room_for(readings[index].gauge_kpa + shift, thermal.air_c[index])
        };
        let count = readings.len();
        let indices = 0..count;
        let absolute: Vec<f64> = readings
            .iter()
            .map(|reading| reading.gauge_kpa + ATMOSPHERE_KPA)
            .collect();
        let warmth: Vec<f64> = thermal
            .air_c
            .iter()
            .map(|celsius| (celsius + ZERO_CELSIUS_K) / (thermal.air_c[0] + ZERO_CELSIUS_K))
            .collect();
        let air_give: Vec<f64> = indices
            .clone()
            .map(|i| vessel.air_ml * start * warmth[i] / (absolute[i] * absolute[i]))
            .collect();
        let shrunk: Vec<f64> = thermal
            .coolant_c
            .iter()
            .map(|&celsius| {
                -1000.0 * hold.coolant_l * hold.expansion.growth(thermal.coolant_c[0], celsius)
            })
            .collect();

        let mut columns = Vec::new();
        let nothing = vec![0.0; count];
        let mut push = |cause, only_positive, room: Vec<f64>, by_leak: Vec<f64>| {
            if room.iter().chain(&by_leak).any(|value| value.abs() > 1e-9) {
                columns.push(Column {
                    cause,
                    room,
                    by_leak,
                    only_positive,
                });
            }
        };
        let start_give = vessel.give_ml_per_kpa();
        let flow = |law: f64, viscous: f64| leaked(hold, thermal, law, viscous);
        let usual_flow = flow(LAW.0, VISCOUS.0);
        // If the start was really lower than read, the leak at the start was smaller than thought.
        let start_spread = 2.0 * graduation_kpa;
        push(
            Cause::Start,
            false,
            vec![start_spread * start_give; count],
            usual_flow
                .iter()
                .map(|room| LAW.0 * start_spread / vessel.start_gauge_kpa * room)
                .collect(),
        );
        let mut add =
            |cause, only_positive, room| push(cause, only_positive, room, nothing.clone());
        for (constant, sag_kpa) in SETTLING {
            let left = |minute: f64| (-minute / constant).exp();
            add(
                Cause::Settling,
                true,
                minutes
                    .iter()
                    .map(|&t| unrest * start_give * sag_kpa * (left(start_minute) - left(t)))
                    .collect(),
            );
        }
        let stretch = vessel.stretch_ml_per_kpa;
        for (constant, share) in CREEP {
            let left = |minute: f64| (-minute / constant).exp();
            add(
                Cause::Creep,
                true,
                minutes
                    .iter()
                    .map(|&t| {
                        unrest
                            * share
                            * stretch
                            * vessel.start_gauge_kpa
                            * (left(start_minute) - left(t))
                    })
                    .collect(),
            );
        }
        // Temperatures: per kelvin of cooling, coolant and air give this much room.
        let coolant_per_k: Vec<f64> = thermal
            .coolant_c
            .iter()
            .map(|&celsius| {
                1000.0 * hold.coolant_l * hold.expansion.growth(celsius - 0.5, celsius + 0.5)
            })
            .collect();
        let air_per_k: Vec<f64> = indices
            .clone()
            .map(|i| vessel.air_ml * start / absolute[i] / (thermal.air_c[0] + ZERO_CELSIUS_K))
            .collect();
        let length = minutes[count - 1] - start_minute;
        let straight: Vec<f64> = minutes
            .iter()
            .map(|t| (t - start_minute) / length)
            .collect();
        let bent: Vec<f64> = straight
            .iter()
            .map(|x| BEND * 4.0 * x * (1.0 - x))
            .collect();
        let drift = |shape: &[f64], coolant_k: f64, air_k: f64| -> Vec<f64> {
            indices
                .clone()
                .map(|i| shape[i] * (coolant_k * coolant_per_k[i] + air_k * air_per_k[i]))
                .collect()
        };
        let (coolant_k, air_k) = (thermal.coolant_spread_k, thermal.air_spread_k);
        let along_k = if thermal.together { coolant_k } else { 0.0 };
        add(
            Cause::Temperature,
            false,
            drift(&straight, coolant_k, along_k),
        );
        add(Cause::Temperature, false, drift(&straight, 0.0, air_k));
        add(
            Cause::Temperature,
            false,
            drift(&bent, coolant_k, along_k.max(air_k)),
        );
        let thermometer = indices
            .clone()
            .map(|i| {
                (thermal.coolant_reading_k * coolant_per_k[i]).powi(2)
                    + (thermal.air_reading_k * air_per_k[i]).powi(2)
            })
            .collect();
        add(
            Cause::Temperature,
            false,
            shrunk
                .iter()
                .map(|room| CONTRACTION_SPREAD * room)
                .collect(),
        );
        let mut expected = shrunk;
        if range(&thermal.air_c) > STEAM_FROM_K {
            // Steam adds to the gauge, as if there were less room.
            let steam: Vec<f64> = indices
                .clone()
                .map(|i| {
                    -air_give[i] * (vapour_kpa(thermal.air_c[i]) - vapour_kpa(thermal.air_c[0]))
                })
                .collect();
            for (sum, room) in expected.iter_mut().zip(&steam) {
                *sum += STEAM.0 * room;
            }
            add(
                Cause::Temperature,
                false,
                steam.iter().map(|room| STEAM.1 * room).collect(),
            );
        }
        let by_law: Vec<f64> = flow(1.0, VISCOUS.0)
            .iter()
            .zip(flow(0.5, VISCOUS.0))
            .map(|(laminar, orifice)| LAW.1 * (laminar - orifice) / 0.5)
            .collect();
        push(Cause::Law, false, nothing.clone(), by_law);
        if range(&thermal.coolant_c) > VISCOUS_FROM_K {
            let by_viscosity: Vec<f64> = flow(LAW.0, 1.0)
                .iter()
                .zip(flow(LAW.0, 0.0))
                .map(|(full, none)| VISCOUS.1 * (full - none))
                .collect();
            push(Cause::Law, false, nothing.clone(), by_viscosity);
        }
        Self {
            vessel,
            low: indices.clone().map(|i| room_at(i, half)).collect(),
            high: indices.clone().map(|i| room_at(i, -half)).collect(),
            give: air_give.iter().map(|give| give + stretch).collect(),
            air_c: thermal.air_c.clone(),
            thermometer,
            leaked: usual_flow,
            minutes,
            expected,
            columns,
            doubt: Doubt {
                air_ml: vessel.air_ml * air.ln_spread,
                stretch: air.stretch_spread,
                air_with_stretch: air.per_stretch,
            },
        }
    }

    /// What the doubt about the vessel adds at one reading, per standard deviation of air and of
    /// stretch: a larger vessel would call for more room at the pressure that this leak leads to.
    fn vessel_room(&self, index: usize, rate: f64) -> [f64; 2] {
        let start = self.vessel.start_gauge_kpa + ATMOSPHERE_KPA;
        let room = self.expected[index] + rate * self.leaked[index];
        let absolute = self.vessel.gauge_after(room, self.air_c[index]) + ATMOSPHERE_KPA;
        let warmth = (self.air_c[index] + ZERO_CELSIUS_K) / (self.vessel.start_c + ZERO_CELSIUS_K);
        let compressed = start * warmth / absolute - 1.0;
        [
            -self.doubt.air_ml * compressed,
            -self.doubt.stretch * (start - absolute + self.doubt.air_with_stretch * compressed),
        ]
    }

    /// Weights and intervals for a leak of `rate` mL/min and a gauge noise of `noise_kpa`. With
    /// `free_scale` the leak itself is one more unknown, in units of that many mL/min around `rate`.
    pub(super) fn system(
        &self,
        rate: f64,
        noise_kpa: f64,
        free_scale: Option<f64>,
    ) -> (Vec<f64>, usize, Vec<Bound>) {
        let unknowns = self.columns.len() + 2 + usize::from(free_scale.is_some());
        let positive = self
            .columns
            .iter()
            .filter(|column| column.only_positive)
            .count();
        let mut rows = Vec::with_capacity((self.minutes.len() + positive) * unknowns);
        let mut bounds = Vec::with_capacity(self.minutes.len() + positive);
        for i in 0..self.minutes.len() {
            rows.extend(
                self.columns
                    .iter()
                    .map(|column| column.room[i] + rate * column.by_leak[i]),
            );
            rows.extend(self.vessel_room(i, rate));
            if let Some(scale) = free_scale {
                rows.push(scale * self.leaked[i]);
            }
            let base = self.expected[i] + rate * self.leaked[i];
            bounds.push(Bound {
                low: self.low[i] - base,
                high: self.high[i] - base,
                noise_variance: (self.give[i] * noise_kpa).powi(2) + self.thermometer[i],
            });
        }
        for (index, _) in self
            .columns
            .iter()
            .enumerate()
            .filter(|(_, column)| column.only_positive)
        {
            let at = rows.len();
            rows.resize(at + unknowns, 0.0);
            rows[at + index] = 1.0;
            bounds.push(Bound {
                low: 0.0,
                high: f64::INFINITY,
                noise_variance: 0.0,
            });
        }
        (rows, unknowns, bounds)
    }

    /// Room at each reading that the unknowns of one cause account for, mL.
    pub(super) fn room_from(&self, cause: Cause, rate: f64, unknowns: &[f64]) -> Vec<f64> {
        let of_columns = |i: usize| {
            let those = self
                .columns
                .iter()
                .zip(unknowns)
                .filter(|(column, _)| column.cause == cause);
            those
                .map(|(column, value)| value * (column.room[i] + rate * column.by_leak[i]))
                .sum::<f64>()
        };
        let of_vessel = |i: usize| {
            let [air, stretch] = self.vessel_room(i, rate);
            air * unknowns[self.columns.len()] + stretch * unknowns[self.columns.len() + 1]
        };
        (0..self.minutes.len())
            .map(|i| {
                of_columns(i)
                    + if cause == Cause::Vessel {
                        of_vessel(i)
                    } else {
                        0.0
                    }
            })
            .collect()
    }

    /// Room at a reading that noted temperatures do not explain, mL, by the middle of its interval.
    pub(super) fn unexplained_room(&self, index: usize) -> f64 {
        f64::midpoint(self.low[index], self.high[index]) - self.expected[index]
    }

    /// Standard deviation of the room that temperatures may have made beyond what was noted, mL.
    pub(super) fn temperature_spread(&self) -> Vec<f64> {
        (0..self.minutes.len())
            .map(|i| {
                let squares = self
                    .columns
                    .iter()
                    .filter(|column| column.cause == Cause::Temperature);
                squares
                    .map(|column| column.room[i] * column.room[i])
                    .sum::<f64>()
                    .sqrt()
            })
            .collect()
    }

    /// A first idea of the largest leak worth considering, mL/min.
    pub(super) fn largest_rate(&self) -> f64 {
        let last = self.leaked.len() - 1;
        let room = (0..=last)
            .map(|i| self.high[i].abs().max(self.low[i].abs()))
            .fold(0.0, f64::max);
        (room + self.give[0]) / self.leaked[last].max(1e-6)
    }
}

/// What a leak of 1 mL/min at the starting pressure has lost by each reading, mL. The pressure that
/// drives it is the one that was read.
fn leaked(hold: &Hold, thermal: &Thermal, law: f64, viscous: f64) -> Vec<f64> {
    let start = hold.readings[0].gauge_kpa;
    let first_viscosity = relative_viscosity(thermal.coolant_c[0]);
    let flow: Vec<f64> = hold
        .readings
        .iter()
        .zip(&thermal.coolant_c)
        .map(|(reading, &celsius)| {
            let thinner = first_viscosity / relative_viscosity(celsius);
            (reading.gauge_kpa / start).max(0.0).powf(law) * thinner.powf(viscous)
        })
        .collect();
    let mut total = 0.0;
    let mut sums = Vec::with_capacity(flow.len());
    sums.push(0.0);
    for i in 1..flow.len() {
        let minutes = hold.readings[i].minute - hold.readings[i - 1].minute;
        total += minutes * f64::midpoint(flow[i], flow[i - 1]);
        sums.push(total);
    }
    sums
}
