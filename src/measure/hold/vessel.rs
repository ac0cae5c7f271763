//! The vessel under test: coolant under trapped air, in hoses that stretch.
//!
//! P·[V₀ + lost + shrunk − C·(P₀ − P)] = P₀·V₀·T/T₀, P absolute. Lost and shrunk coolant make
//! room for the air; as the pressure falls, the hoses take some of that room back.

/// Standard atmosphere, kPa.
pub const ATMOSPHERE_KPA: f64 = 101.325;
/// One pound per square inch, kPa.
pub const KPA_PER_PSI: f64 = 6.894_757;
/// 0 °C in kelvin.
pub const ZERO_CELSIUS_K: f64 = 273.15;
/// Steam's share of the pressure over 50/50 coolant against that over water: its mole fraction of
/// water (Raoult).
const WATER_SHARE: f64 = 0.77;

/// A closed cooling system at the start of a hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vessel {
    /// Trapped air, mL.
    pub air_ml: f64,
    /// Pressure at the start, kPa above atmosphere.
    pub start_gauge_kpa: f64,
    /// Temperature of the air at the start, °C.
    pub start_c: f64,
    /// How much the hoses give, mL per kPa, the whole system together.
    pub stretch_ml_per_kpa: f64,
}

/// How the flow through a leak follows the gauge pressure across it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeakLaw {
    /// The same flow at any pressure.
    Constant,
    /// A long fine crack: flow in proportion to the pressure.
    Laminar,
    /// A hole in a thin wall: flow as the root of the pressure.
    Orifice,
}

impl LeakLaw {
    /// Power of the gauge pressure that the flow follows.
    pub fn exponent(self) -> f64 {
        match self {
            Self::Constant => 0.0,
            Self::Laminar => 1.0,
            Self::Orifice => 0.5,
        }
    }
}

impl Vessel {
    /// Room that a fall of the pressure by 1 kPa stands for at the start, mL/kPa.
    pub fn give_ml_per_kpa(&self) -> f64 {
        self.air_ml / (self.start_gauge_kpa + ATMOSPHERE_KPA) + self.stretch_ml_per_kpa
    }

    /// Gauge pressure, kPa, once the liquid takes `room_ml` less space (leaked or shrunk) and the
    /// air has `air_c`. The root of a quadratic in the absolute pressure.
    pub fn gauge_after(&self, room_ml: f64, air_c: f64) -> f64 {
        let start = self.start_gauge_kpa + ATMOSPHERE_KPA;
        let air = start * self.air_ml * (air_c + ZERO_CELSIUS_K) / (self.start_c + ZERO_CELSIUS_K);
        let c = self.stretch_ml_per_kpa;
        let rest = self.air_ml + room_ml - c * start;
        // c·P² + rest·P − air = 0, in the form that stays sound for c = 0 and either sign of rest.
        let root = (rest * rest + 4.0 * c * air).sqrt();
        let absolute = if rest >= 0.0 {
            2.0 * air / (rest + root)
        } else {
            (root - rest) / (2.0 * c)
        };
        absolute - ATMOSPHERE_KPA
    }

    /// Room, mL, that the liquid must have given up for the gauge to read `gauge_kpa` with the
    /// air at `air_c`: the inverse of [`Vessel::gauge_after`].
    pub fn room_for(&self, gauge_kpa: f64, air_c: f64) -> f64 {
        let start = self.start_gauge_kpa + ATMOSPHERE_KPA;
        let now = (gauge_kpa + ATMOSPHERE_KPA).max(1.0);
        let warmth = (air_c + ZERO_CELSIUS_K) / (self.start_c + ZERO_CELSIUS_K);
        self.air_ml * (start / now * warmth - 1.0) + self.stretch_ml_per_kpa * (start - now)
    }

    /// Gauge pressure, kPa, after a leak of `rate_ml_per_min` (at the starting pressure) has run
    /// for `minutes`, all temperatures steady. Runge–Kutta of fourth order.
    pub fn gauge_after_leak(&self, rate_ml_per_min: f64, law: LeakLaw, minutes: f64) -> f64 {
        const STEPS: u32 = 200;
        let step = minutes / f64::from(STEPS);
        let flow = |room: f64| {
            let share = (self.gauge_after(room, self.start_c) / self.start_gauge_kpa).max(0.0);
            rate_ml_per_min * share.powf(law.exponent())
        };
        let mut room = 0.0;
        for _ in 0..STEPS {
            let k1 = flow(room);
            let k2 = flow(room + step * k1 / 2.0);
            let k3 = flow(room + step * k2 / 2.0);
            let k4 = flow(room + step * k3);
            room += step * (k1 + 2.0 * k2 + 2.0 * k3 + k4) / 6.0;
        }
        self.gauge_after(room, self.start_c)
    }

    /// Minutes until the leak has brought the gauge down to `gauge_kpa`; `None` if that is not
    /// below the start or the leak is nothing. Simpson's rule over the room lost.
    pub fn minutes_to(&self, gauge_kpa: f64, rate_ml_per_min: f64, law: LeakLaw) -> Option<f64> {
        const PANELS: u32 = 200;
        if !(gauge_kpa > 0.0 && gauge_kpa < self.start_gauge_kpa && rate_ml_per_min > 0.0) {
            return None;
        }
        let room = self.room_for(gauge_kpa, self.start_c);
        let slowness = |room: f64| {
            let share = self.gauge_after(room, self.start_c) / self.start_gauge_kpa;
            share.powf(-law.exponent()) / rate_ml_per_min
        };
        let step = room / f64::from(2 * PANELS);
        let sum: f64 = (0..=2 * PANELS)
            .map(|i| {
                let weight = match i {
                    0 => 1.0,
                    i if i == 2 * PANELS => 1.0,
                    i if i % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                weight * slowness(f64::from(i) * step)
            })
            .sum();
        Some(sum * step / 3.0)
    }
}

/// Pressure of steam over coolant, kPa, at `celsius`: Magnus' formula for water (from memory,
/// within 2 % from 0 to 100 °C) times the share of water.
pub(super) fn vapour_kpa(celsius: f64) -> f64 {
    WATER_SHARE * 0.611_2 * (17.62 * celsius / (243.12 + celsius)).exp()
}

/// Viscosity of 50 % ethylene glycol at `celsius` over that at 20 °C: an Arrhenius-like fit
/// through 3.980 mPa·s at 20 °C and 0.868 mPa·s at 90 °C (computed from Melinder 2010).
pub fn relative_viscosity(celsius: f64) -> f64 {
    const ACTIVATION_K: f64 = 2315.0;
    (ACTIVATION_K * (1.0 / (celsius + ZERO_CELSIUS_K) - 1.0 / 293.15)).exp()
}
