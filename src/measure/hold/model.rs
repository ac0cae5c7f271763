//! The hold as a linear model of volumes.
//!
//! For a given vessel, a gauge reading says how much room the liquid must have given up
//! ([`Vessel::room_for`]), to within half a graduation. That room is the sum of what leaked
//! (linear in the leak), what shrank on cooling, what the pumped-up air gave on settling, and
//! how far the hoses crept. Everything unknown enters linearly, also the air space and the
//! stretch, so that intervals on sums of normal unknowns are all there is to it.

use super::log::{AirEstimate, Hold, vessel};
use super::propagation::Bound;
use super::thermal::Thermal;
use super::unknowns::{Anatomy, Cause, Column};
use super::vessel::{ATMOSPHERE_KPA, Vessel, ZERO_CELSIUS_K};

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
    /// `unrest` is how much air and hoses may settle, against the usual most.
    pub(super) fn new(
        hold: &Hold,
        thermal: &Thermal,
        air: &AirEstimate,
        graduation_kpa: f64,
        unrest: f64,
    ) -> Self {
        let vessel = vessel(hold, air, thermal.air_c[0]);
        let anatomy = Anatomy {
            hold,
            thermal,
            vessel: &vessel,
            graduation_kpa,
            unrest,
        };
        let rooms = |shift_kpa: f64| -> Vec<f64> {
            let readings = hold.readings.iter().zip(&thermal.air_c);
            readings
                .map(|(reading, &air_c)| vessel.room_for(reading.gauge_kpa + shift_kpa, air_c))
                .collect()
        };
        Self {
            vessel,
            low: rooms(graduation_kpa / 2.0),
            high: rooms(-graduation_kpa / 2.0),
            give: (0..hold.readings.len())
                .map(|i| anatomy.air_give(i) + vessel.stretch_ml_per_kpa)
                .collect(),
            air_c: thermal.air_c.clone(),
            thermometer: anatomy.thermometer_variance(),
            leaked: anatomy.leaked(),
            minutes: hold.readings.iter().map(|reading| reading.minute).collect(),
            expected: anatomy.expected(),
            columns: anatomy.columns(),
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
