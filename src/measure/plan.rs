//! Before a hold: what the reported loss would look like on this gauge, and how long to wait.
//!
//! In: a [`PlanRequest`]. Out: a [`Plan`]: the leak that would explain the loss, hot and cold, the
//! fall it would cause, the minutes to wait, the drift that would hide it, and only then whether
//! less air would help.
//!
//! ```
//! use seepwise::measure::hold::KPA_PER_PSI;
//! use seepwise::measure::plan::{LossWhen, PlanRequest, ReportedLoss, plan};
//!
//! let loss = ReportedLoss { litres: 0.5, days: 14.0, when: LossWhen::Running { hours_per_day: 1.0 } };
//! let plan = plan(&PlanRequest::car(loss, 1000.0, 10.0, 12.0 * KPA_PER_PSI, 0.5 * KPA_PER_PSI))?;
//! assert!((plan.hot_ml_per_min - 0.595).abs() < 0.001);
//! # Ok::<(), seepwise::measure::plan::PlanError>(())
//! ```

use thiserror::Error;

use super::hold::planning::minutes_to_decide_about;
use super::hold::{
    AirSpace, Expansion, Hold, KPA_PER_PSI, LONGEST_WAIT_MINUTES, LeakLaw, Vessel, two_digits,
};

/// When the coolant goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LossWhen {
    /// Only while hot and under pressure, so many hours a day.
    Running {
        /// Hours a day.
        hours_per_day: f64,
    },
    /// All the time, running or standing.
    DayAndNight,
}

/// The loss as the customer tells it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReportedLoss {
    /// Lost, L.
    pub litres: f64,
    /// In so many days.
    pub days: f64,
    /// When it goes.
    pub when: LossWhen,
}

impl ReportedLoss {
    /// mL a day.
    pub fn ml_per_day(&self) -> f64 {
        1000.0 * self.litres / self.days
    }

    /// Minutes a day in which it leaks.
    pub fn minutes_per_day(&self) -> f64 {
        match self.when {
            LossWhen::Running { hours_per_day } => 60.0 * hours_per_day,
            LossWhen::DayAndNight => 1440.0,
        }
    }

    /// The leak while it leaks, mL/min.
    pub fn ml_per_min(&self) -> f64 {
        self.ml_per_day() / self.minutes_per_day()
    }

    /// The leak that explains it in a hold with cold coolant, the least of the two laws, mL/min:
    /// what "it holds" must exclude. `hot_kpa` is the gauge pressure while it leaks.
    pub fn leak_that_matters(&self, hot_kpa: f64, test_kpa: f64) -> f64 {
        let (laminar, orifice) = Scaling::HALF_ETHYLENE.cold(self.ml_per_min(), hot_kpa, test_kpa);
        laminar.min(orifice)
    }

    /// What is wrong with the figures, if anything.
    pub fn fault(&self) -> Option<PlanError> {
        let outside = |what, given: f64, low: f64, high: f64, unit| {
            (!(given.is_finite() && given >= low && given <= high)).then_some(
                PlanError::OutOfRange {
                    what,
                    given,
                    low,
                    high,
                    unit,
                },
            )
        };
        let hours = match self.when {
            LossWhen::Running { hours_per_day } => hours_per_day,
            LossWhen::DayAndNight => 24.0,
        };
        outside("the loss", self.litres, 0.001, 1000.0, "L")
            .or_else(|| outside("the time of the loss", self.days, 0.01, 3650.0, "days"))
            .or_else(|| outside("the running time", hours, 0.05, 24.0, "hours a day"))
    }
}

/// How a leak changes from hot to cold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scaling {
    /// Viscosity cold over hot: what a laminar leak slows down by at equal pressure.
    pub viscosity_cold_over_hot: f64,
    /// Density cold over hot, square root: what an orifice slows down by at equal pressure.
    pub orifice_cold_over_hot: f64,
}

impl Scaling {
    /// 50 % ethylene glycol, 20 °C against 90 °C: 3.980 over 0.868 mPa·s, 1068.3 over
    /// 1021.8 kg/m³ (computed from Melinder 2010).
    pub const HALF_ETHYLENE: Self = Self {
        viscosity_cold_over_hot: 4.586,
        orifice_cold_over_hot: 1.022,
    };

    /// The leak cold at one pressure, from the leak hot at another: laminar and orifice.
    pub fn cold(&self, hot_rate: f64, hot_kpa: f64, cold_kpa: f64) -> (f64, f64) {
        let share = cold_kpa / hot_kpa;
        (
            hot_rate * share / self.viscosity_cold_over_hot,
            hot_rate * share.sqrt() / self.orifice_cold_over_hot,
        )
    }

    /// The leak hot, from the leak cold: orifice (the smaller, as a rule) and laminar.
    pub fn hot(&self, cold_rate: f64, cold_kpa: f64, hot_kpa: f64) -> (f64, f64) {
        let share = hot_kpa / cold_kpa;
        (
            cold_rate * share.sqrt() * self.orifice_cold_over_hot,
            cold_rate * share * self.viscosity_cold_over_hot,
        )
    }
}

/// What the plan is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanRequest {
    /// The loss.
    pub loss: ReportedLoss,
    /// Pressure while it leaks, kPa gauge.
    pub hot_gauge_kpa: f64,
    /// Pressure of the hold, kPa gauge.
    pub test_gauge_kpa: f64,
    /// The most that the system may be pumped to, kPa gauge; 0 for one that is open to the air.
    pub limit_gauge_kpa: f64,
    /// Trapped air, mL.
    pub air_ml: f64,
    /// Coolant, L.
    pub coolant_l: f64,
    /// How the coolant swells.
    pub expansion: Expansion,
    /// Stretch of all hoses, least and most, mL/kPa.
    pub stretch_ml_per_kpa: (f64, f64),
    /// What one graduation stands for, kPa.
    pub graduation_kpa: f64,
    /// From hot to cold.
    pub scaling: Scaling,
}

impl PlanRequest {
    /// A car with 50/50 coolant and a 15 psi limit that leaks at the test pressure.
    pub fn car(
        loss: ReportedLoss,
        air_ml: f64,
        coolant_l: f64,
        test_gauge_kpa: f64,
        graduation_kpa: f64,
    ) -> Self {
        Self {
            loss,
            hot_gauge_kpa: test_gauge_kpa,
            test_gauge_kpa,
            limit_gauge_kpa: 15.0 * KPA_PER_PSI,
            air_ml,
            coolant_l,
            expansion: Expansion::HALF_ETHYLENE,
            stretch_ml_per_kpa: Hold::CAR_STRETCH_ML_PER_KPA,
            graduation_kpa,
            scaling: Scaling::HALF_ETHYLENE,
        }
    }

    fn vessel(&self, stretch_ml_per_kpa: f64) -> Vessel {
        Vessel {
            air_ml: self.air_ml,
            start_gauge_kpa: self.test_gauge_kpa,
            start_c: 20.0,
            stretch_ml_per_kpa,
        }
    }

    fn minutes_for(&self, rate: f64, air_ml: f64) -> Option<f64> {
        let system = Hold {
            expansion: self.expansion,
            stretch_ml_per_kpa: self.stretch_ml_per_kpa,
            ..Hold::new(Vec::new(), AirSpace::Known(air_ml), self.coolant_l)
        };
        minutes_to_decide_about(
            rate,
            self.test_gauge_kpa,
            air_ml,
            self.graduation_kpa,
            &system,
        )
    }
}

/// Less air, once temperatures are equal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LessAir {
    /// Leave so much air, mL.
    pub air_ml: f64,
    /// Then so many minutes are enough.
    pub minutes: f64,
}

/// How to hold so that the result means something.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The leak that explains the loss, while it leaks, mL/min.
    pub hot_ml_per_min: f64,
    /// The same leak cold at the test pressure: as a laminar one and as an orifice, mL/min.
    pub cold_ml_per_min: (f64, f64),
    /// Fall in a quarter of an hour: least (laminar, soft hoses) and most (orifice, hard), kPa.
    pub fall_in_15_min_kpa: (f64, f64),
    /// Minutes to wait until a hold decides either way, whatever the leak's kind; `None` if not
    /// within a night.
    pub minutes: Option<f64>,
    /// The same, were the leak an orifice.
    pub minutes_if_orifice: Option<f64>,
    /// Drift of the coolant's temperature that hides or fakes the smaller leak in a quarter of an
    /// hour, K. A smaller air space does not change it.
    pub drift_in_15_min_k: f64,
    /// The same over the wait, K.
    pub drift_over_wait_k: Option<f64>,
    /// How far the air space should come down, if that helps.
    pub less_air: Option<LessAir>,
    /// The air space is too large for any hold: fill up first.
    pub fill_up_first: bool,
    /// The plan in plain sentences, in order.
    pub steps: Vec<String>,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Error)]
#[allow(missing_docs)]
pub enum PlanError {
    #[error("a test at {test_kpa:.0} kPa ({:.1} psi) is above this system's limit of {limit_kpa:.0} kPa ({:.1} psi): it can burst a radiator or a heater. Plan the test at the limit or below", test_kpa / KPA_PER_PSI, limit_kpa / KPA_PER_PSI)]
    AboveLimit { test_kpa: f64, limit_kpa: f64 },
    #[error(
        "this system is open to the air: it must not be pumped up. Use dye, a card or a level mark instead"
    )]
    OpenSystem,
    #[error("{what} of {given} {unit} makes no sense: give {low} to {high} {unit}")]
    OutOfRange {
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
}

/// An air space above this hides everything.
const LARGE_AIR_ML: f64 = 4000.0;
/// Below this the hoses' stretch takes over and less air gains little.
const SMALL_AIR_ML: f64 = 200.0;
/// A hold that nobody minds staying with, minutes.
const HANDY_MINUTES: f64 = 30.0;
const QUARTER_HOUR: f64 = 15.0;
/// Nobody stays longer with a hold, minutes.
const LONGEST_WATCH_MINUTES: f64 = 90.0;

/// Plans a hold.
///
/// # Errors
/// [`PlanError`], if the figures make no sense or the test would be above the limit.
pub fn plan(request: &PlanRequest) -> Result<Plan, PlanError> {
    check(request)?;
    let hot = request.loss.ml_per_min();
    let cold = match request.loss.when {
        LossWhen::Running { .. } => {
            request
                .scaling
                .cold(hot, request.hot_gauge_kpa, request.test_gauge_kpa)
        }
        // Mostly standing and cool: the rate as it is, at whatever pressure.
        LossWhen::DayAndNight => (hot, hot),
    };
    let (least, most) = (cold.0.min(cold.1), cold.0.max(cold.1));
    let fall = |rate, law, stretch| {
        request.test_gauge_kpa
            - request
                .vessel(stretch)
                .gauge_after_leak(rate, law, QUARTER_HOUR)
    };
    let minutes = request.minutes_for(least, request.air_ml);
    let per_kelvin = 1000.0 * request.coolant_l * request.expansion.per_k_at_20c;
    let mut plan = Plan {
        hot_ml_per_min: hot,
        cold_ml_per_min: cold,
        fall_in_15_min_kpa: (
            fall(least, LeakLaw::Laminar, request.stretch_ml_per_kpa.1),
            fall(most, LeakLaw::Orifice, request.stretch_ml_per_kpa.0),
        ),
        minutes,
        minutes_if_orifice: request.minutes_for(most, request.air_ml),
        drift_in_15_min_k: least * QUARTER_HOUR / per_kelvin,
        drift_over_wait_k: minutes.map(|minutes| least * minutes / per_kelvin),
        less_air: less_air(request, least, minutes),
        fill_up_first: request.air_ml > LARGE_AIR_ML,
        steps: Vec::new(),
    };
    plan.steps = steps(request, &plan);
    Ok(plan)
}

fn check(request: &PlanRequest) -> Result<(), PlanError> {
    if let Some(fault) = request.loss.fault() {
        return Err(fault);
    }
    if request.limit_gauge_kpa <= 0.0 {
        return Err(PlanError::OpenSystem);
    }
    for (what, given, low, high, unit) in [
        ("the limit", request.limit_gauge_kpa, 1.0, 400.0, "kPa"),
        ("the hot pressure", request.hot_gauge_kpa, 1.0, 400.0, "kPa"),
        (
            "the test pressure",
            request.test_gauge_kpa,
            5.0,
            400.0,
            "kPa",
        ),
        ("the air space", request.air_ml, 10.0, 100_000.0, "mL"),
        ("the coolant", request.coolant_l, 0.1, 2000.0, "L"),
        (
            "the stretch of the hoses",
            request.stretch_ml_per_kpa.0,
            0.0,
            100.0,
            "mL/kPa",
        ),
        (
            "the stretch of the hoses",
            request.stretch_ml_per_kpa.1,
            0.0,
            100.0,
            "mL/kPa",
        ),
        ("the graduation", request.graduation_kpa, 0.001, 50.0, "kPa"),
        (
            "the viscosity cold over hot",
            request.scaling.viscosity_cold_over_hot,
            0.1,
            1000.0,
            "times",
        ),
    ] {
        if !(given.is_finite() && given >= low && given <= high) {
            return Err(PlanError::OutOfRange {
                what,
                given,
                low,
                high,
                unit,
            });
        }
    }
    let (low, high) = request.stretch_ml_per_kpa;
    if low > high {
        return Err(PlanError::EndsSwapped {
            what: "the stretch of the hoses",
            low,
            high,
        });
    }
    // A hair of slack for units converted back and forth.
    if request.test_gauge_kpa > request.limit_gauge_kpa * 1.001 {
        return Err(PlanError::AboveLimit {
            test_kpa: request.test_gauge_kpa,
            limit_kpa: request.limit_gauge_kpa,
        });
    }
    Ok(())
}

/// The largest air space with which a handy hold decides; failing that, the smallest sensible one.
fn less_air(request: &PlanRequest, rate: f64, now: Option<f64>) -> Option<LessAir> {
    if request.air_ml <= 1.2 * SMALL_AIR_ML || now.is_some_and(|minutes| minutes <= HANDY_MINUTES) {
        return None;
    }
    let at_small = request.minutes_for(rate, SMALL_AIR_ML)?;
    if at_small > HANDY_MINUTES {
        // Worth the trouble only if it shortens the wait by a third.
        let shortens = now.is_none_or(|minutes| at_small < 0.67 * minutes);
        return shortens.then_some(LessAir {
            air_ml: SMALL_AIR_ML,
            minutes: at_small,
        });
    }
    let (mut low, mut high) = (SMALL_AIR_ML, request.air_ml);
    let mut best = LessAir {
        air_ml: low,
        minutes: at_small,
    };
    for _ in 0..5 {
        let middle = (low * high).sqrt();
        match request.minutes_for(rate, middle) {
            Some(minutes) if minutes <= HANDY_MINUTES => {
                best = LessAir {
                    air_ml: middle,
                    minutes,
                };
                low = middle;
            }
            _ => high = middle,
        }
    }
    Some(best)
}

/// Nobody watches a long hold: a warming bay must not take it above the limit.
fn staying(minutes: f64) -> &'static str {
    if minutes > LONGEST_WATCH_MINUTES {
        "Nobody watches that long: use a relief valve no higher than the limit, or start 3 psi under it; ten kelvin of warming add over 2 psi. Let the pressure off before you take the tester off."
    } else {
        "Pump up cold only, stay with it, and let the pressure off before you take the tester off."
    }
}

fn steps(request: &PlanRequest, plan: &Plan) -> Vec<String> {
    let (laminar, orifice) = plan.cold_ml_per_min;
    let psi = |kpa: f64| two_digits(kpa / KPA_PER_PSI);
    let mut steps = vec![
        format!(
            "The loss comes to {} mL/min while it leaks; cold, at {} psi, the same leak passes {} to {} mL/min.",
            two_digits(plan.hot_ml_per_min),
            psi(request.test_gauge_kpa),
            two_digits(laminar.min(orifice)),
            two_digits(laminar.max(orifice))
        ),
        format!(
            "In 15 minutes that moves this gauge by {} to {} psi; one graduation is {} psi.",
            psi(plan.fall_in_15_min_kpa.0),
            psi(plan.fall_in_15_min_kpa.1),
            psi(request.graduation_kpa)
        ),
    ];
    if plan.fill_up_first {
        steps.push(format!(
            "With {} L of air a hold shows nothing: fill up first, and plan again with the air that is left.",
            two_digits(request.air_ml / 1000.0)
        ));
        return steps;
    }
    steps.push(format!(
        "First let everything come to one temperature, best overnight in the same bay: {} K of drift in the coolant hides or fakes this leak in 15 minutes, whatever the air space. Note the temperature of coolant and air at every reading, to a tenth of a kelvin.",
        two_digits(plan.drift_in_15_min_k)
    ));
    match plan.minutes {
        Some(minutes) => {
            steps.push(format!(
                "Hold for {:.0} minutes; a shorter hold that shows nothing proves nothing.",
                minutes.ceil()
            ));
            steps.push(staying(minutes).to_owned());
        }
        None => steps.push(format!(
            "No hold of up to {LONGEST_WAIT_MINUTES:.0} minutes decides with this air space and gauge: look with dye and a card, or use a finer gauge."
        )),
    }
    if let Some(less) = plan.less_air {
        steps.push(format!(
            "Only once temperatures are equal: fill up until {} mL of air are left, and {:.0} minutes are enough. Below some {SMALL_AIR_ML:.0} mL the hoses' stretch takes over and less air gains little.",
            two_digits(less.air_ml),
            less.minutes.ceil()
        ));
    }
    steps
}
