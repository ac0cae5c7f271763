//! What was written down during a hold, and the checks it must pass.

use thiserror::Error;

use super::vessel::{ATMOSPHERE_KPA, Vessel};
use crate::measure::coolant::{CoolantError, Mixture};

/// One line of the log.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reading {
    /// Minutes since pumping stopped.
    pub minute: f64,
    /// Gauge pressure, kPa above atmosphere, as read.
    pub gauge_kpa: f64,
    /// Coolant temperature, °C, if noted.
    pub coolant_c: Option<f64>,
    /// Temperature of the air over the coolant (or, failing that, of the bay), °C, if noted.
    pub air_c: Option<f64>,
}

/// What is known of the trapped air, at the start of the hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AirSpace {
    /// Known, mL.
    Known(f64),
    /// Somewhere between two volumes, mL.
    Between(f64, f64),
    /// Measured: coolant was drawn off with everything shut, and the pressure fell (Boyle).
    Draw {
        /// Coolant drawn, mL.
        drawn_ml: f64,
        /// Gauge pressure before, kPa.
        before_kpa: f64,
        /// Gauge pressure after, kPa.
        after_kpa: f64,
    },
}

/// How the coolant's volume grows with temperature: β = `per_k_at_20c` + `per_k2`·(t − 20 °C).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expansion {
    /// Volumetric expansion at 20 °C, 1/K.
    pub per_k_at_20c: f64,
    /// Its growth with temperature, 1/K².
    pub per_k2: f64,
}

impl Expansion {
    /// 50/50 ethylene glycol: midway between the two published series, which are 12 % either
    /// side of it at 20 °C (4.06e-4 ASHRAE, 5.11e-4 Melinder) and give 4.1–4.6 % from 20 to 90 °C.
    pub const HALF_ETHYLENE: Self = Self {
        per_k_at_20c: 4.58e-4,
        per_k2: 4.6e-6,
    };

    /// From a density (any unit) as a function of the temperature in °C, matched at 20, 55 and
    /// 90 °C.
    pub fn from_density(density: impl Fn(f64) -> f64) -> Self {
        let grown = |celsius: f64| density(20.0) / density(celsius) - 1.0;
        let (half, full) = (grown(55.0), grown(90.0));
        // grown(20 + d) = b·d + a·d²/2 at d = 35 and 70.
        Self {
            per_k_at_20c: (4.0 * half - full) / 70.0,
            per_k2: 2.0 * (full - 2.0 * half) / (2.0 * 35.0 * 35.0),
        }
    }

    /// That of a coolant, from its density at 20, 55 and 90 °C.
    ///
    /// # Errors
    /// As [`Mixture::density`].
    pub fn of(coolant: &Mixture) -> Result<Self, CoolantError> {
        let (cold, half, full) = (
            coolant.density(20.0)?,
            coolant.density(55.0)?,
            coolant.density(90.0)?,
        );
        Ok(Self::from_density(|celsius| match celsius {
            c if c < 30.0 => cold,
            c if c < 70.0 => half,
            _ => full,
        }))
    }

    /// Growth in volume from `from_c` to `to_c`, as a fraction of the volume at 20 °C.
    pub fn growth(&self, from_c: f64, to_c: f64) -> f64 {
        let at = |celsius: f64| {
            let above = celsius - 20.0;
            self.per_k_at_20c * above + self.per_k2 * above * above / 2.0
        };
        at(to_c) - at(from_c)
    }
}

/// A hold: the log and what is known of the system.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// The log, in order of time.
    pub readings: Vec<Reading>,
    /// The trapped air.
    pub air: AirSpace,
    /// Coolant in the system, L.
    pub coolant_l: f64,
    /// How the coolant swells.
    pub expansion: Expansion,
    /// Stretch of all hoses together, least and most, mL/kPa.
    pub stretch_ml_per_kpa: (f64, f64),
    /// What one graduation of the gauge stands for, kPa; guessed from the readings if not given.
    pub graduation_kpa: Option<f64>,
    /// The smallest leak that matters, cold, at the test pressure, mL/min: what the complaint
    /// needs. Without it [`Hold::USUAL_LEAK_ML_PER_MIN`] stands in.
    pub leak_that_matters_ml_per_min: Option<f64>,
}

impl Hold {
    /// Two to four metres of hose on a car, mL/kPa (computed from wall, bore and stiffness).
    pub const CAR_STRETCH_ML_PER_KPA: (f64, f64) = (1.0, 3.0);
    /// Stands in where no loss was reported: about half a litre in a working day.
    pub const USUAL_LEAK_ML_PER_MIN: f64 = 1.0;

    /// A hold on a car with the usual hoses, 50/50 coolant, and nothing else known.
    pub fn new(readings: Vec<Reading>, air: AirSpace, coolant_l: f64) -> Self {
        Self {
            readings,
            air,
            coolant_l,
            expansion: Expansion::HALF_ETHYLENE,
            stretch_ml_per_kpa: Self::CAR_STRETCH_ML_PER_KPA,
            graduation_kpa: None,
            leak_that_matters_ml_per_min: None,
        }
    }

    pub(super) fn leak_that_matters(&self) -> f64 {
        self.leak_that_matters_ml_per_min
            .unwrap_or(Self::USUAL_LEAK_ML_PER_MIN)
    }
}

/// Why a hold can't be read. Each says what is wrong and what to do.
#[derive(Debug, Clone, PartialEq, Error)]
#[allow(missing_docs)]
pub enum HoldError {
    #[error(
        "the log has {found} reading{}: a fall takes two. Note at least the first, when pumping stops, and the last, when you end the hold; four or more tell settling from a leak", if *found == 1 { "" } else { "s" }
    )]
    TooFewReadings { found: usize },
    #[error(
        "the log has {found} readings; more than {most} can't be read. Keep one a minute, or one every five minutes overnight"
    )]
    TooManyReadings { found: usize, most: usize },
    #[error(
        "reading {line} is at minute {minute}, which is not after the one before ({before}). Sort the log by time and keep one reading for each minute"
    )]
    NotInOrder {
        line: usize,
        minute: f64,
        before: f64,
    },
    #[error(
        "reading {line}: {what} is not a number between {low} and {high} {unit}. Correct that line or leave it out"
    )]
    OutOfRange {
        line: usize,
        what: &'static str,
        low: f64,
        high: f64,
        unit: &'static str,
    },
    #[error(
        "reading {line}: the pressure is below zero. A gauge that reads below zero is off, or the system is sucking: tap the gauge, set it to zero, and hold again"
    )]
    BelowZero { line: usize },
    #[error(
        "the hold starts at {gauge_kpa:.0} kPa, too little to test anything. Pump up to the test pressure and start again"
    )]
    NoPressure { gauge_kpa: f64 },
    #[error(
        "between minutes {from} and {to} the pressure rises by {rise_kpa:.1} kPa, more than warming explains. If somebody pumped again, start the log after the last stroke; if not, note the coolant's temperature at every reading"
    )]
    Rises { from: f64, to: f64, rise_kpa: f64 },
    #[error(
        "the log ends at minute {last}, while the pumped-up air is still settling. Go on to minute {wait_until} at least. What fell by much while you watched was no settling: say that in words"
    )]
    EndsWhileSettling { last: f64, wait_until: f64 },
    #[error("{what} of {given} {unit} makes no sense: give {low} to {high} {unit}")]
    BadInput {
        what: &'static str,
        given: f64,
        low: f64,
        high: f64,
        unit: &'static str,
    },
    #[error("{what}: the low end, {low}, must not be above the high end, {high}. Swap them")]
    EndsSwapped {
        what: &'static str,
        low: f64,
        high: f64,
    },
    #[error(
        "drawing {drawn_ml:.0} mL moved the gauge by {fall_kpa:.1} kPa only, too little to work out the air space. Draw more, until the gauge has fallen by at least two graduations"
    )]
    DrawTooSmall { drawn_ml: f64, fall_kpa: f64 },
    #[error(
        "drawing coolant off lets the pressure fall, and this draw's gauge went from {before_kpa:.0} to {after_kpa:.0} kPa. Check the two readings and their order: mL drawn, before, after"
    )]
    DrawDidNotFall { before_kpa: f64, after_kpa: f64 },
    #[error(
        "the draw gives an air space of {air_ml:.0} mL with these hoses, which can't be. Check the amount drawn and the pressures before and after"
    )]
    DrawImpossible { air_ml: f64 },
}

impl HoldError {
    /// The number of the reading that is wrong, from 1, if it is a single one.
    pub fn reading(&self) -> Option<usize> {
        match self {
            Self::NotInOrder { line, .. }
            | Self::OutOfRange { line, .. }
            | Self::BelowZero { line } => Some(*line),
            _ => None,
        }
    }

    /// Whether it is about what is known of the system, and not about the log.
    pub fn of_the_system(&self) -> bool {
        matches!(
            self,
            Self::BadInput { .. }
                | Self::EndsSwapped { .. }
                | Self::DrawTooSmall { .. }
                | Self::DrawDidNotFall { .. }
                | Self::DrawImpossible { .. }
        )
    }
}

/// The most readings that one log may hold.
pub const MOST_READINGS: usize = 20_000;
/// The earliest minute at which a log may end: before it the pumped-up air is still cooling.
pub const EARLIEST_END_MINUTE: f64 = 3.0;

/// Refuses a log that can't be read at all; a log that can be read but shows little is no error.
pub(super) fn check(hold: &Hold) -> Result<(), HoldError> {
    let readings = &hold.readings;
    if readings.len() < 2 {
        return Err(HoldError::TooFewReadings {
            found: readings.len(),
        });
    }
    if readings.len() > MOST_READINGS {
        return Err(HoldError::TooManyReadings {
            found: readings.len(),
            most: MOST_READINGS,
        });
    }
    for (index, reading) in readings.iter().enumerate() {
        check_reading(index + 1, reading)?;
        if index > 0 && reading.minute <= readings[index - 1].minute {
            return Err(HoldError::NotInOrder {
                line: index + 1,
                minute: reading.minute,
                before: readings[index - 1].minute,
            });
        }
    }
    if readings[0].gauge_kpa < 5.0 {
        return Err(HoldError::NoPressure {
            gauge_kpa: readings[0].gauge_kpa,
        });
    }
    check_system(hold)?;
    let last = readings[readings.len() - 1].minute;
    if last < EARLIEST_END_MINUTE {
        return Err(HoldError::EndsWhileSettling {
            last,
            wait_until: EARLIEST_END_MINUTE + 2.0,
        });
    }
    Ok(())
}

fn check_reading(line: usize, reading: &Reading) -> Result<(), HoldError> {
    let inside = |what, value: f64, low: f64, high: f64, unit| {
        if value.is_finite() && value >= low && value <= high {
            Ok(())
        } else {
            Err(HoldError::OutOfRange {
                line,
                what,
                low,
                high,
                unit,
            })
        }
    };
    inside("the time", reading.minute, 0.0, 20_160.0, "minutes")?;
    if reading.gauge_kpa < 0.0 {
        return Err(HoldError::BelowZero { line });
    }
    inside("the pressure", reading.gauge_kpa, 0.0, 400.0, "kPa")?;
    for (what, value) in [
        ("the coolant's temperature", reading.coolant_c),
        ("the air's temperature", reading.air_c),
    ] {
        if let Some(value) = value {
            inside(what, value, -40.0, 130.0, "°C")?;
        }
    }
    Ok(())
}

fn check_system(hold: &Hold) -> Result<(), HoldError> {
    let inside = |what, given: f64, low: f64, high: f64, unit| {
        if given.is_finite() && given >= low && given <= high {
            Ok(())
        } else {
            Err(HoldError::BadInput {
                what,
                given,
                low,
                high,
                unit,
            })
        }
    };
    inside("a coolant fill", hold.coolant_l, 0.1, 2000.0, "L")?;
    let (least, most) = hold.stretch_ml_per_kpa;
    inside("a hose stretch", least, 0.0, 100.0, "mL/kPa")?;
    inside("a hose stretch", most, 0.0, 100.0, "mL/kPa")?;
    if least > most {
        return Err(HoldError::EndsSwapped {
            what: "the hose stretch",
            low: least,
            high: most,
        });
    }
    if let Some(graduation) = hold.graduation_kpa {
        inside("a graduation", graduation, 0.001, 50.0, "kPa")?;
    }
    if let Some(leak) = hold.leak_that_matters_ml_per_min {
        inside("a leak that matters", leak, 1e-6, 1e5, "mL/min")?;
    }
    match hold.air {
        AirSpace::Known(air) => inside("an air space", air, 10.0, 100_000.0, "mL"),
        AirSpace::Between(low, high) => {
            inside("an air space", low, 10.0, 100_000.0, "mL")?;
            inside("an air space", high, 10.0, 100_000.0, "mL")?;
            if low > high {
                return Err(HoldError::EndsSwapped {
                    what: "the air space",
                    low,
                    high,
                });
            }
            Ok(())
        }
        AirSpace::Draw {
            drawn_ml,
            before_kpa,
            after_kpa,
        } => {
            inside("a draw", drawn_ml, 1.0, 20_000.0, "mL")?;
            inside("a pressure before the draw", before_kpa, 1.0, 400.0, "kPa")?;
            inside("a pressure after the draw", after_kpa, 0.0, 400.0, "kPa")
        }
    }
}

/// The trapped air as one number with a spread, for a given stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct AirEstimate {
    /// At the start of the hold, with the middle stretch, mL.
    pub middle_ml: f64,
    /// How it changes with the stretch taken for the hoses, mL per mL/kPa: a draw measures air
    /// and hoses together.
    pub per_stretch: f64,
    /// Standard deviation of its logarithm.
    pub ln_spread: f64,
    /// Stretch of the hoses, middle and standard deviation, mL/kPa.
    pub stretch: f64,
    pub stretch_spread: f64,
}

/// A "known" volume is seldom better than this.
const KNOWN_LN_SPREAD: f64 = 0.03;

/// The vessel in a few pieces, equally likely, each nearly normal: the air space in its logarithm,
/// and the stretch in halves where it rules the vessel.
pub(super) fn air_pieces(hold: &Hold, graduation_kpa: f64) -> Result<Vec<AirEstimate>, HoldError> {
    const WIDEST_PIECE: f64 = 0.55;
    let (least, most) = hold.stretch_ml_per_kpa;
    if let AirSpace::Draw {
        drawn_ml,
        before_kpa,
        after_kpa,
    } = hold.air
    {
        return Ok(vec![air_from_draw(
            hold,
            graduation_kpa,
            drawn_ml,
            before_kpa,
            after_kpa,
        )?]);
    }
    let (low, high) = match hold.air {
        AirSpace::Between(low, high) => (low, high),
        AirSpace::Known(air_ml)
        | AirSpace::Draw {
            drawn_ml: air_ml, ..
        } => (air_ml, air_ml),
    };
    let mut pieces = Vec::new();
    for (air_ml, air_width) in split((low.ln(), high.ln()), WIDEST_PIECE) {
        let middle_ml = air_ml.exp();
        let air_give = middle_ml / (hold.readings[0].gauge_kpa + ATMOSPHERE_KPA);
        let widest_stretch = WIDEST_PIECE * (air_give + f64::midpoint(least, most));
        for (stretch, stretch_width) in split((least, most), widest_stretch) {
            pieces.push(AirEstimate {
                middle_ml,
                ln_spread: (air_width / 12.0_f64.sqrt()).max(KNOWN_LN_SPREAD),
                per_stretch: 0.0,
                stretch,
                stretch_spread: stretch_width / 12.0_f64.sqrt(),
            });
        }
    }
    Ok(pieces)
}

/// Middles and width of the fewest equal parts of a range that are no wider than `widest`.
fn split((low, high): (f64, f64), widest: f64) -> Vec<(f64, f64)> {
    let parts = ((high - low) / widest).ceil().clamp(1.0, 20.0);
    let width = (high - low) / parts;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let count = parts as u32;
    (0..count)
        .map(|part| (low + (f64::from(part) + 0.5) * width, width))
        .collect()
}

/// Boyle: before·V = after·(V + drawn − C·fall), then pumped on to the start pressure. A draw
/// measures air and hoses together, so the stretch can't be more than it leaves room for.
fn air_from_draw(
    hold: &Hold,
    graduation_kpa: f64,
    drawn_ml: f64,
    before_kpa: f64,
    after_kpa: f64,
) -> Result<AirEstimate, HoldError> {
    const LEAST_AIR_ML: f64 = 20.0;
    let fall = before_kpa - after_kpa;
    if fall < 0.0 {
        return Err(HoldError::DrawDidNotFall {
            before_kpa,
            after_kpa,
        });
    }
    if fall < 0.9 * graduation_kpa {
        return Err(HoldError::DrawTooSmall {
            drawn_ml,
            fall_kpa: fall,
        });
    }
    let after_abs = after_kpa + ATMOSPHERE_KPA;
    let together = drawn_ml / fall;
    // Both pressures are read to the nearest graduation: the fall is off by 0.41 of one.
    let together_spread = 0.41 * graduation_kpa / fall * together;
    let (least, most) = hold.stretch_ml_per_kpa;
    let room_for_stretch = together - LEAST_AIR_ML / after_abs;
    if least > room_for_stretch + 3.0 * together_spread {
        return Err(HoldError::DrawImpossible {
            air_ml: after_abs * (together - least),
        });
    }
    let most = most.min(room_for_stretch).max(least);
    let stretch = f64::midpoint(least, most);
    let to_start = hold.readings[0].gauge_kpa - before_kpa;
    let middle_ml = (after_abs * (together - stretch) + stretch * to_start).max(LEAST_AIR_ML);
    Ok(AirEstimate {
        middle_ml,
        per_stretch: to_start - after_abs,
        ln_spread: (after_abs * together_spread / middle_ml).clamp(KNOWN_LN_SPREAD, 1.0),
        stretch,
        stretch_spread: (most - least) / 12.0_f64.sqrt(),
    })
}

/// The vessel that a piece of the air space stands for.
pub(super) fn vessel(hold: &Hold, air: &AirEstimate, start_c: f64) -> Vessel {
    Vessel {
        air_ml: air.middle_ml,
        start_gauge_kpa: hold.readings[0].gauge_kpa,
        start_c,
        stretch_ml_per_kpa: air.stretch,
    }
}
