//! A cooling system on the tester, written apart from the fit: the state equation is solved for
//! the pressure step by step, leak, creep and settling are integrated in time, and a needle is
//! read to the nearest graduation. Nothing here comes from `src/`, but for the types of the log.

use nalgebra::{DMatrix, DVector};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use seepwise::measure::hold::{AirSpace, Expansion, Hold, Reading};

pub const PSI: f64 = 6.894_757;
const ATMOSPHERE: f64 = 101.325;

/// Seeded numbers.
pub struct Dice(ChaCha8Rng);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }
    pub fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.unit())
    }
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }
    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        let at = self.unit() * from.len() as f64;
        let below = (1..from.len()).filter(|&index| index as f64 <= at).count();
        from[below]
    }
    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stratum {
    Sealed,
    Leaking,
    CoolingNoted,
    CoolingUnseen,
    Creeping,
}

pub const STRATA: [Stratum; 5] = [
    Stratum::Sealed,
    Stratum::Leaking,
    Stratum::CoolingNoted,
    Stratum::CoolingUnseen,
    Stratum::Creeping,
];

/// What really is the case.
#[derive(Debug, Clone)]
pub struct Truth {
    pub air_ml: f64,
    pub stretch: f64,
    pub coolant_l: f64,
    /// Contraction against the nominal one.
    pub contraction: f64,
    pub start_gauge: f64,
    /// Leak at the pressure at which pumping stopped, mL/min.
    pub leak: f64,
    /// Power of the gauge pressure.
    pub law: f64,
    /// Excess temperature of the pumped-up air, K, and its time constant, minutes.
    pub pumped_k: f64,
    pub pumped_minutes: f64,
    /// Creep as a share of the elastic stretch, and its time constant, minutes.
    pub creep: f64,
    pub creep_minutes: f64,
    /// Creep per decade of minutes after the first tenth, as a share of the stretch.
    pub creep_decade: f64,
    /// Change of coolant and air over the hold, K; how sharply it comes early (0: straight).
    pub coolant_k: f64,
    pub air_k: f64,
    pub early: f64,
    pub resting_c: f64,
    pub minutes: Vec<f64>,
}

impl Truth {
    fn drift(&self, minute: f64) -> f64 {
        let end = self.minutes[self.minutes.len() - 1];
        let x = (minute / end).min(1.0);
        if self.early < 0.05 {
            x
        } else {
            (1.0 - (-self.early * x).exp()) / (1.0 - (-self.early).exp())
        }
    }

    pub fn coolant_at(&self, minute: f64) -> f64 {
        self.resting_c + self.coolant_k * self.drift(minute)
    }

    pub fn air_at(&self, minute: f64) -> f64 {
        self.resting_c + self.air_k * self.drift(minute)
    }

    /// True gauge pressures at the minutes of the log.
    pub fn gauge(&self) -> Vec<f64> {
        let start = self.start_gauge + ATMOSPHERE;
        let start_kelvin = self.resting_c + self.pumped_k + 273.15;
        let nominal = Expansion::HALF_ETHYLENE;
        let pressure = |lost: f64, crept: f64, minute: f64| {
            let kelvin = self.air_at(minute)
                + self.pumped_k * (-minute / self.pumped_minutes).exp()
                + 273.15;
            let shrunk = -1000.0
                * self.coolant_l
                * self.contraction
                * nominal.growth(self.resting_c, self.coolant_at(minute));
            let air = start * self.air_ml * kelvin / start_kelvin;
            // Bisection: the left side grows with the pressure.
            let (mut low, mut high) = (1.0, 2000.0);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                let room = self.air_ml + lost + crept + shrunk - self.stretch * (start - middle);
                if middle * room.max(0.0) < air {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            (0.5 * (low + high) - ATMOSPHERE).max(0.0)
        };
        let (mut lost, mut crept, mut minute) = (0.0, 0.0, 0.0);
        let mut seen = Vec::with_capacity(self.minutes.len());
        let total = self.minutes[self.minutes.len() - 1];
        for &stop in &self.minutes {
            while minute < stop - 1e-9 {
                let finest = (self.pumped_minutes.min(self.creep_minutes) / 8.0).max(0.02);
                let step = if minute < 3.0 {
                    finest.min(0.1)
                } else {
                    (total / 400.0).clamp(0.1, 1.0)
                };
                let step = step.min(stop - minute);
                // Midpoint rule.
                let gauge = pressure(lost, crept, minute);
                let flow =
                    |gauge: f64| self.leak * (gauge / self.start_gauge).max(0.0).powf(self.law);
                let creeping = |gauge: f64, crept: f64, minute: f64| {
                    (self.creep * self.stretch * gauge - crept).max(0.0) / self.creep_minutes
                        + self.creep_decade * self.stretch * gauge
                            / std::f64::consts::LN_10
                            / (minute + 0.1)
                };
                let half_lost = lost + 0.5 * step * flow(gauge);
                let half_crept = crept + 0.5 * step * creeping(gauge, crept, minute);
                let between = pressure(half_lost, half_crept, minute + 0.5 * step);
                lost += step * flow(between);
                crept += step * creeping(between, half_crept, minute + 0.5 * step);
                minute += step;
            }
            seen.push(pressure(lost, crept, stop));
        }
        seen
    }
}

impl Simulated {
    /// The log of a truth that was changed after drawing, air and temperatures known as before.
    pub fn written_anew(self, dice: &mut Dice) -> Self {
        let air = self.hold.air;
        let anew = write_down(dice, self.stratum, self.truth, self.graduation, self.needle);
        Self {
            hold: Hold { air, ..anew.hold },
            air_spread: self.air_spread,
            ..anew
        }
    }

    /// The leak at the pressure of the first reading, which is what a log can speak of, mL/min.
    pub fn leak_at_first_reading(&self) -> f64 {
        let first = self.truth.gauge()[0];
        self.truth.leak * (first / self.truth.start_gauge).powf(self.truth.law)
    }
}

/// A truth, its log, and what a reader who knew the simulator would make of it.
#[derive(Debug, Clone)]
pub struct Simulated {
    pub stratum: Stratum,
    pub truth: Truth,
    pub hold: Hold,
    pub graduation: f64,
    pub needle: f64,
    /// Spread of each hidden quantity as the simulator draws it, for [`Simulated::own_spread`].
    pub air_spread: f64,
}

/// One graduation in the time of the hold, after settling, mL/min: the theoretical limit.
pub fn theoretical_limit(truth: &Truth, graduation: f64) -> f64 {
    let last = truth.minutes[truth.minutes.len() - 1];
    let after = last - truth.minutes[0].max(2.0);
    graduation * (truth.air_ml / (truth.start_gauge + ATMOSPHERE) + truth.stretch) / after
}

/// Draws a hold of one stratum.
pub fn draw(dice: &mut Dice, stratum: Stratum) -> Simulated {
    let duration = if dice.chance(0.15) {
        dice.between(480.0, 720.0)
    } else {
        dice.log_between(5.0, 120.0)
    };
    let count = dice.pick(&[5, 7, 10, 14, 20, 28, 40]);
    draw_for(dice, stratum, duration, count, None)
}

/// The same with length and number of readings of the hold and, if given, the leak settled beforehand: a share of the
/// theoretical limit.
pub fn draw_for(
    dice: &mut Dice,
    stratum: Stratum,
    duration: f64,
    count: u32,
    leak_limits: Option<f64>,
) -> Simulated {
    let air_ml = dice.log_between(100.0, 8000.0);
    let graduation = dice.pick(&[0.25, 0.5, 0.5, 1.0, 1.0, 2.0]) * PSI;
    let coolant_l = dice.log_between(5.0, 40.0);
    let stretch = dice.between(1.0, 3.0);
    let first = if dice.chance(0.3) {
        dice.pick(&[1.0, 2.0, 5.0])
    } else {
        0.0
    };
    let first = if first > duration / 3.0 { 0.0 } else { first };
    let minutes: Vec<f64> = (0..=count)
        .map(|i| {
            let even = first + (duration - first) * f64::from(i) / f64::from(count);
            (even * 10.0).round() / 10.0
        })
        .collect();
    let start_gauge = dice.between(7.0, 15.0) * PSI;
    let sag = if dice.chance(0.8) {
        dice.between(0.0, 11.0)
    } else {
        0.0
    };
    let creeping = stratum == Stratum::Creeping;
    let (creep, creep_decade) = match (creeping, dice.chance(0.5)) {
        (true, true) => (dice.between(0.03, 0.12), 0.0),
        (true, false) => (0.0, dice.between(0.015, 0.04)),
        (false, true) => (dice.between(0.0, 0.03), 0.0),
        (false, false) => (0.0, 0.0),
    };
    let (coolant_k, air_k) = match stratum {
        Stratum::CoolingNoted => {
            let coolant = -dice.log_between(0.3, if duration > 300.0 { 12.0 } else { 5.0 });
            (coolant, coolant * dice.between(0.7, 1.3))
        }
        Stratum::CoolingUnseen => {
            let together = dice.between(-3.0, 3.0);
            if dice.chance(0.5) {
                (together, together)
            } else {
                (together, dice.between(-3.0, 3.0))
            }
        }
        _ => (dice.between(-0.3, 0.3), dice.between(-0.3, 0.3)),
    };
    let mut truth = Truth {
        air_ml,
        stretch,
        coolant_l,
        contraction: dice.between(0.88, 1.12),
        start_gauge,
        leak: 0.0,
        law: dice.pick(&[0.5, 1.0]),
        pumped_k: sag / (start_gauge + ATMOSPHERE) * 293.15,
        pumped_minutes: dice.log_between(2.0, 40.0) / 60.0,
        creep,
        creep_minutes: dice.log_between(1.0, 15.0),
        creep_decade,
        coolant_k,
        air_k,
        early: if dice.chance(0.5) {
            0.0
        } else {
            dice.between(0.5, 3.0)
        },
        resting_c: dice.between(8.0, 28.0),
        minutes,
    };
    let limit = theoretical_limit(&truth, graduation);
    let leaks = match stratum {
        Stratum::Sealed => false,
        Stratum::Leaking => true,
        _ => dice.chance(0.5),
    };
    // Not so fast that everything is gone in a third of the time.
    let most = (air_ml * 0.5 + stretch * start_gauge * 0.7) / (duration / 3.0);
    truth.leak = match leak_limits {
        Some(share) => share * limit,
        None if leaks => dice.log_between(0.2 * limit, (30.0 * limit).min(most).max(0.4 * limit)),
        None => 0.0,
    };
    let needle = graduation * dice.pick(&[0.0, 0.1, 0.2, 0.35]);
    write_down(dice, stratum, truth, graduation, needle)
}

fn write_down(
    dice: &mut Dice,
    stratum: Stratum,
    truth: Truth,
    graduation: f64,
    needle: f64,
) -> Simulated {
    let thermometer = dice.pick(&[0.1, 0.1, 0.2, 0.5]);
    let to_step = |value: f64, step: f64| (value / step).round() * step;
    let noted = stratum != Stratum::CoolingUnseen;
    let readings: Vec<Reading> = truth
        .gauge()
        .iter()
        .zip(&truth.minutes)
        .map(|(gauge, &minute)| Reading {
            minute,
            gauge_kpa: to_step(gauge + needle * dice.normal(), graduation).max(0.0),
            coolant_c: noted
                .then(|| to_step(truth.coolant_at(minute) + 0.05 * dice.normal(), thermometer)),
            air_c: noted.then(|| to_step(truth.air_at(minute) + 0.05 * dice.normal(), thermometer)),
        })
        .collect();
    let (air, air_spread) = match dice.pick(&[0, 0, 1, 2]) {
        0 => (AirSpace::Known(truth.air_ml), 0.0),
        1 => {
            let width = dice.between(0.1, 1.0);
            let low = truth.air_ml * (-width * dice.unit()).exp();
            (
                AirSpace::Between(low, low * width.exp()),
                width / 12.0_f64.sqrt(),
            )
        }
        _ => drawn_off(dice, &truth, graduation),
    };
    let hold = Hold {
        graduation_kpa: Some(graduation),
        ..Hold::new(readings, air, truth.coolant_l)
    };
    Simulated {
        stratum,
        truth,
        hold,
        graduation,
        needle,
        air_spread,
    }
}

/// Draws coolant off until the gauge has fallen by four graduations or so, at the start pressure.
fn drawn_off(dice: &mut Dice, truth: &Truth, graduation: f64) -> (AirSpace, f64) {
    let before = truth.start_gauge;
    let fall = (4.0 * graduation).min(0.5 * before);
    let drawn = (truth.air_ml * fall / (before - fall + ATMOSPHERE) + truth.stretch * fall).round();
    let read = |dice: &mut Dice, gauge: f64| {
        ((gauge + 0.1 * graduation * dice.normal()) / graduation).round() * graduation
    };
    let (before_kpa, after_kpa) = (read(dice, before), read(dice, before - fall));
    if before_kpa - after_kpa < graduation * 1.5 {
        return (AirSpace::Known(truth.air_ml), 0.0);
    }
    (
        AirSpace::Draw {
            drawn_ml: drawn,
            before_kpa,
            after_kpa,
        },
        0.42 * graduation / fall,
    )
}

impl Simulated {
    /// Standard deviation of the leak for one who knows the simulator, its noise and the spread of
    /// everything it draws, but not what it drew: normal approximation around the truth.
    pub fn own_spread(&self) -> f64 {
        let base = self.truth.gauge();
        let limit = theoretical_limit(&self.truth, self.graduation);
        let count = base.len();
        let along = |change: &dyn Fn(&mut Truth)| {
            let mut other = self.truth.clone();
            change(&mut other);
            DVector::from_iterator(count, other.gauge().iter().zip(&base).map(|(a, b)| a - b))
        };
        let small = 0.05;
        // Each with its spread as drawn.
        let unseen = self.stratum == Stratum::CoolingUnseen;
        let drift = if unseen { 1.73 } else { 0.07 };
        let creeping = self.stratum == Stratum::Creeping;
        let mut hidden = vec![
            along(&|t| t.stretch += small * 0.58) / small,
            along(&|t| t.contraction += small * 0.069) / small,
            along(&|t| t.law += small * 0.25) / small,
            along(&|t| t.coolant_k += small * drift) / small,
            along(&|t| t.air_k += small * drift) / small,
            along(&|t| t.pumped_k += small * 5.0) / small,
            along(&|t| t.pumped_minutes *= (small * 0.8_f64).exp()) / small,
            along(&|t| t.creep += small * if creeping { 0.04 } else { 0.012 }) / small,
            along(&|t| t.start_gauge += small * self.graduation) / small,
        ];
        if creeping {
            hidden.push(along(&|t| t.creep_decade += small * 0.012) / small);
            hidden.push(along(&|t| t.creep_minutes *= (small * 0.8_f64).exp()) / small);
        }
        if self.air_spread > 0.0 {
            hidden.push(along(&|t| t.air_ml *= (small * self.air_spread).exp()) / small);
        }
        let leak = along(&|t| t.leak += small * limit) / (small * limit);
        let noise = self.graduation * self.graduation / 12.0 + self.needle * self.needle;
        let mut covariance = DMatrix::from_diagonal_element(count, count, noise);
        for column in &hidden {
            covariance += column * column.transpose();
        }
        let solved = covariance.cholesky().map(|factor| factor.solve(&leak));
        let spread = solved.map_or(f64::INFINITY, |solved| 1.0 / leak.dot(&solved).sqrt());
        spread * (base[0] / self.truth.start_gauge).powf(self.truth.law)
    }
}
