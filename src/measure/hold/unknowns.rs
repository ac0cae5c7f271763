//! What is not known of a hold, each as the room it makes at every reading: settling, creep,
//! temperatures, the leak's law. How far each may go stands at the top of this file.

use super::log::Hold;
use super::thermal::{Thermal, range};
use super::vessel::{ATMOSPHERE_KPA, Vessel, ZERO_CELSIUS_K, relative_viscosity, vapour_kpa};

/// Time constants of the settling air, minutes, and how much it may sag, kPa (5–11 kPa with 2–33 s
/// were computed for a pump-up of 30 s; slower in still air).
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
/// Below these ranges of temperature viscosity and steam say nothing.
const VISCOUS_FROM_K: f64 = 2.0;
const STEAM_FROM_K: f64 = 3.0;
/// How far an unseen drift may bend away from a straight line, as a share of itself.
const BEND: f64 = 0.35;
/// How far the first reading may be off, graduations.
const START_OFF: f64 = 2.0;

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
pub(super) struct Column {
    pub cause: Cause,
    /// Room whatever the leak, mL.
    pub room: Vec<f64>,
    /// Room in proportion to the leak, mL for 1 mL/min.
    pub by_leak: Vec<f64>,
    /// An amount that can't be less than nothing.
    pub only_positive: bool,
}

/// One log and one vessel, ready to be taken apart.
#[derive(Debug, Clone, Copy)]
pub(super) struct Anatomy<'a> {
    pub hold: &'a Hold,
    pub thermal: &'a Thermal,
    pub vessel: &'a Vessel,
    pub graduation_kpa: f64,
    /// How much air and hoses settle, against the usual most.
    pub unrest: f64,
}

impl Anatomy<'_> {
    /// All unknowns but the vessel's own, those that do nothing here left out.
    pub(super) fn columns(&self) -> Vec<Column> {
        let mut columns = vec![self.start()];
        columns.extend(self.settling());
        columns.extend(self.creep());
        columns.extend(self.drift());
        columns.push(self.plain(
            Cause::Temperature,
            self.each(|i| CONTRACTION_SPREAD * self.shrunk(i)),
        ));
        if self.steams() {
            columns.push(self.plain(Cause::Temperature, self.each(|i| STEAM.1 * self.steam(i))));
        }
        columns.extend(self.law());
        let acts = |column: &Column| {
            column
                .room
                .iter()
                .chain(&column.by_leak)
                .any(|value| value.abs() > 1e-9)
        };
        columns.retain(acts);
        columns
    }

    /// Room at each reading that is expected without any leak, mL: cooling as noted, mean steam.
    pub(super) fn expected(&self) -> Vec<f64> {
        let steam = if self.steams() { STEAM.0 } else { 0.0 };
        self.each(|i| self.shrunk(i) + steam * self.steam(i))
    }

    /// What a leak of 1 mL/min at the start has lost by each reading, mL, by the middle law.
    pub(super) fn leaked(&self) -> Vec<f64> {
        self.flowed(LAW.0, VISCOUS.0)
    }

    /// Variance of the room from reading the thermometers, mL².
    pub(super) fn thermometer_variance(&self) -> Vec<f64> {
        self.each(|i| {
            let coolant = self.thermal.coolant_reading_k * self.coolant_per_k(i);
            let air = self.thermal.air_reading_k * self.air_per_k(i);
            coolant * coolant + air * air
        })
    }

    /// Room per kPa that the air gives at one reading, mL/kPa.
    pub(super) fn air_give(&self, i: usize) -> f64 {
        let absolute = self.absolute(i);
        self.vessel.air_ml * self.absolute(0) * self.warmth(i) / (absolute * absolute)
    }

    fn each(&self, of: impl Fn(usize) -> f64) -> Vec<f64> {
        (0..self.hold.readings.len()).map(of).collect()
    }

    fn plain(&self, cause: Cause, room: Vec<f64>) -> Column {
        Column {
            cause,
            room,
            by_leak: self.each(|_| 0.0),
            only_positive: false,
        }
    }

    fn minute(&self, i: usize) -> f64 {
        self.hold.readings[i].minute
    }

    fn absolute(&self, i: usize) -> f64 {
        self.hold.readings[i].gauge_kpa + ATMOSPHERE_KPA
    }

    fn warmth(&self, i: usize) -> f64 {
        (self.thermal.air_c[i] + ZERO_CELSIUS_K) / (self.thermal.air_c[0] + ZERO_CELSIUS_K)
    }

    /// If the start was really lower than read, the leak at the start was smaller than thought.
    fn start(&self) -> Column {
        let off_kpa = START_OFF * self.graduation_kpa;
        let slower = LAW.0 * off_kpa / self.vessel.start_gauge_kpa;
        Column {
            cause: Cause::Start,
            room: self.each(|_| off_kpa * self.vessel.give_ml_per_kpa()),
            by_leak: self.leaked().iter().map(|room| slower * room).collect(),
            only_positive: false,
        }
    }

    fn settling(&self) -> Vec<Column> {
        SETTLING
            .iter()
            .map(|&(constant, sag_kpa)| {
                self.dying_down(
                    Cause::Settling,
                    constant,
                    self.vessel.give_ml_per_kpa() * sag_kpa,
                )
            })
            .collect()
    }

    fn creep(&self) -> Vec<Column> {
        let elastic = self.vessel.stretch_ml_per_kpa * self.vessel.start_gauge_kpa;
        CREEP
            .iter()
            .map(|&(constant, share)| self.dying_down(Cause::Creep, constant, elastic * share))
            .collect()
    }

    /// Room that comes with a time constant from the end of pumping on; the first reading is where
    /// the log starts to see it.
    fn dying_down(&self, cause: Cause, constant: f64, most_ml: f64) -> Column {
        let left = |i: usize| (-self.minute(i) / constant).exp();
        let room = self.each(|i| self.unrest * most_ml * (left(0) - left(i)));
        Column {
            only_positive: true,
            ..self.plain(cause, room)
        }
    }

    /// Drift of the temperatures that the log does not show, straight and bent.
    fn drift(&self) -> [Column; 3] {
        let last = self.hold.readings.len() - 1;
        let straight =
            |i: usize| (self.minute(i) - self.minute(0)) / (self.minute(last) - self.minute(0));
        let bent = |i: usize| BEND * 4.0 * straight(i) * (1.0 - straight(i));
        let (coolant_k, air_k) = (self.thermal.coolant_spread_k, self.thermal.air_spread_k);
        let along_k = if self.thermal.together {
            coolant_k
        } else {
            0.0
        };
        let cooling = |i: usize, coolant_k: f64, air_k: f64| {
            coolant_k * self.coolant_per_k(i) + air_k * self.air_per_k(i)
        };
        [
            self.each(|i| straight(i) * cooling(i, coolant_k, along_k)),
            self.each(|i| straight(i) * cooling(i, 0.0, air_k)),
            self.each(|i| bent(i) * cooling(i, coolant_k, along_k.max(air_k))),
        ]
        .map(|room| self.plain(Cause::Temperature, room))
    }

    /// Room that a kelvin of cooling makes, mL/K.
    fn coolant_per_k(&self, i: usize) -> f64 {
        let celsius = self.thermal.coolant_c[i];
        1000.0 * self.hold.coolant_l * self.hold.expansion.growth(celsius - 0.5, celsius + 0.5)
    }

    fn air_per_k(&self, i: usize) -> f64 {
        self.vessel.air_ml * self.absolute(0)
            / self.absolute(i)
            / (self.thermal.air_c[0] + ZERO_CELSIUS_K)
    }

    /// Room that the coolant gave up by cooling as noted, mL.
    fn shrunk(&self, i: usize) -> f64 {
        let celsius = &self.thermal.coolant_c;
        -1000.0 * self.hold.coolant_l * self.hold.expansion.growth(celsius[0], celsius[i])
    }

    fn steams(&self) -> bool {
        range(&self.thermal.air_c) > STEAM_FROM_K
    }

    /// Steam adds to the gauge, as if there were less room, mL.
    fn steam(&self, i: usize) -> f64 {
        -self.air_give(i) * (vapour_kpa(self.thermal.air_c[i]) - vapour_kpa(self.thermal.air_c[0]))
    }

    fn law(&self) -> Vec<Column> {
        let between = |more: Vec<f64>, less: Vec<f64>, scale: f64| Column {
            cause: Cause::Law,
            room: self.each(|_| 0.0),
            by_leak: more
                .iter()
                .zip(less)
                .map(|(more, less)| scale * (more - less))
                .collect(),
            only_positive: false,
        };
        let mut columns = vec![between(
            self.flowed(1.0, VISCOUS.0),
            self.flowed(0.5, VISCOUS.0),
            LAW.1 / 0.5,
        )];
        if range(&self.thermal.coolant_c) > VISCOUS_FROM_K {
            columns.push(between(
                self.flowed(LAW.0, 1.0),
                self.flowed(LAW.0, 0.0),
                VISCOUS.1,
            ));
        }
        columns
    }

    /// What a leak of 1 mL/min at the start has lost by each reading, mL. The pressure that drives
    /// it is the one that was read.
    fn flowed(&self, law: f64, viscous: f64) -> Vec<f64> {
        let first_viscosity = relative_viscosity(self.thermal.coolant_c[0]);
        let flow = self.each(|i| {
            let share = (self.hold.readings[i].gauge_kpa / self.vessel.start_gauge_kpa).max(0.0);
            let thinner = first_viscosity / relative_viscosity(self.thermal.coolant_c[i]);
            share.powf(law) * thinner.powf(viscous)
        });
        let mut total = 0.0;
        self.each(|i| self.minute(i))
            .windows(2)
            .zip(flow.windows(2))
            .map(|(minutes, flow)| {
                total += (minutes[1] - minutes[0]) * f64::midpoint(flow[0], flow[1]);
                total
            })
            .fold(vec![0.0], |mut sums, sum| {
                sums.push(sum);
                sums
            })
    }
}
