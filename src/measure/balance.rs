//! After the repair's diagnosis: do the leaks that were found account for the loss?
//!
//! In: leaks as measured cold, and the loss as reported. Out: a [`Balance`].
//!
//! ```
//! use seepwise::measure::balance::{Account, MeasuredLeak, balance};
//! use seepwise::measure::plan::{LossWhen, ReportedLoss, Scaling};
//!
//! let loss = ReportedLoss { litres: 0.5, days: 14.0, when: LossWhen::Running { hours_per_day: 1.0 } };
//! let leak = MeasuredLeak { least_ml_per_min: 0.15, most_ml_per_min: 0.25, gauge_kpa: 82.7, cold: true };
//! let found = balance(&[leak], &loss, 82.7, &Scaling::HALF_ETHYLENE)?;
//! assert_eq!(found.account, Account::For);
//! # Ok::<(), seepwise::measure::plan::PlanError>(())
//! ```

use super::band::closed_band;
use super::hold::two_digits;
use super::plan::{LossWhen, PlanError, ReportedLoss, Scaling};

/// A leak that was found and measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredLeak {
    /// Low end of its interval, mL/min.
    pub least_ml_per_min: f64,
    /// High end, mL/min.
    pub most_ml_per_min: f64,
    /// Pressure at which it was measured, kPa gauge.
    pub gauge_kpa: f64,
    /// Measured cold (a hold in the bay), or hot.
    pub cold: bool,
}

/// What the leaks found come to, against the loss.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Account {
    /// They account for it.
    For,
    /// For part of it; so much is left at least and at most, mL a day.
    Part {
        /// If the leaks found are at their largest.
        least_ml_per_day: f64,
        /// If they are at their smallest.
        most_ml_per_day: f64,
    },
    /// They should have lost more than was reported.
    MoreThan,
}

/// Leaks found against loss reported.
#[derive(Debug, Clone, PartialEq)]
pub struct Balance {
    /// The leaks together while running, least and most, mL/min.
    pub found_ml_per_min: (f64, f64),
    /// The same, mL a day.
    pub found_ml_per_day: (f64, f64),
    /// The loss, mL a day.
    pub reported_ml_per_day: f64,
    /// The outcome.
    pub account: Account,
    /// It in plain sentences.
    pub notes: Vec<String>,
    /// What was told.
    loss: ReportedLoss,
}

/// A loss read off the marks of a tank and told from memory is good to a fifth (judgement).
const REPORTED_SPREAD: f64 = 0.2;

/// Brings the leaks to running pressure and temperature, adds them up and compares.
///
/// Rates add; the levels of a worst-of-all do not. Whoever feeds this into such a network uses
/// [`Balance::likelihood_of_rest`] for all other leaks together, and takes the complaint's size
/// back, so that the loss is not counted twice.
///
/// # Errors
/// [`PlanError::OutOfRange`] or [`PlanError::EndsSwapped`] for figures that make no sense.
pub fn balance(
    leaks: &[MeasuredLeak],
    loss: &ReportedLoss,
    running_gauge_kpa: f64,
    scaling: &Scaling,
) -> Result<Balance, PlanError> {
    if let Some(fault) = loss.fault() {
        return Err(fault);
    }
    let inside = |what, given: f64, low: f64, high: f64, unit| {
        if given.is_finite() && given >= low && given <= high {
            Ok(())
        } else {
            Err(PlanError::OutOfRange {
                what,
                given,
                low,
                high,
                unit,
            })
        }
    };
    inside("the running pressure", running_gauge_kpa, 1.0, 400.0, "kPa")?;
    let mut found = (0.0, 0.0);
    for leak in leaks {
        inside("a leak", leak.least_ml_per_min, 0.0, 1e5, "mL/min")?;
        inside("a leak", leak.most_ml_per_min, 0.0, 1e5, "mL/min")?;
        inside(
            "the pressure of a measurement",
            leak.gauge_kpa,
            1.0,
            400.0,
            "kPa",
        )?;
        if leak.least_ml_per_min > leak.most_ml_per_min {
            return Err(PlanError::EndsSwapped {
                what: "a leak",
                low: leak.least_ml_per_min,
                high: leak.most_ml_per_min,
            });
        }
        let (least, most) = running_factors(leak, loss.when, running_gauge_kpa, scaling);
        found.0 += least * leak.least_ml_per_min;
        found.1 += most * leak.most_ml_per_min;
    }
    let minutes = loss.minutes_per_day();
    let per_day = (found.0 * minutes, found.1 * minutes);
    let reported = loss.ml_per_day();
    let account = if per_day.1 < reported * (1.0 - REPORTED_SPREAD) {
        Account::Part {
            least_ml_per_day: reported - per_day.1,
            most_ml_per_day: reported - per_day.0,
        }
    } else if per_day.0 > reported * (1.0 + REPORTED_SPREAD) {
        Account::MoreThan
    } else {
        Account::For
    };
    Ok(Balance {
        found_ml_per_min: found,
        found_ml_per_day: per_day,
        reported_ml_per_day: reported,
        notes: notes(account, per_day, loss),
        account,
        loss: *loss,
    })
}

/// By what the measured leak is multiplied while running: least and most over the two laws.
fn running_factors(
    leak: &MeasuredLeak,
    when: LossWhen,
    running_kpa: f64,
    scaling: &Scaling,
) -> (f64, f64) {
    let warm = match when {
        LossWhen::Running { .. } if leak.cold => *scaling,
        // Measured hot, or leaking mostly while cool: only the pressure differs.
        _ => Scaling {
            viscosity_cold_over_hot: 1.0,
            orifice_cold_over_hot: 1.0,
        },
    };
    let (orifice, laminar) = warm.hot(1.0, leak.gauge_kpa, running_kpa);
    (orifice.min(laminar), orifice.max(laminar))
}

fn notes(account: Account, per_day: (f64, f64), loss: &ReportedLoss) -> Vec<String> {
    let when = match loss.when {
        LossWhen::Running { .. } => "while running",
        LossWhen::DayAndNight => "if open day and night",
    };
    let range = format!(
        "The leaks found pass {} to {} mL a day {when}; {} mL a day were reported.",
        two_digits(per_day.0),
        two_digits(per_day.1),
        two_digits(loss.ml_per_day())
    );
    let outcome = match account {
        Account::For => "That accounts for the loss.".to_owned(),
        Account::Part { least_ml_per_day, most_ml_per_day } => format!(
            "That accounts for part of it: {} to {} mL a day go elsewhere.",
            two_digits(least_ml_per_day),
            two_digits(most_ml_per_day)
        ),
        Account::MoreThan => "That is more than was lost: check the measurement (the tester's own joint, the air space) and the days and hours of the report.".to_owned(),
    };
    vec![range, outcome]
}

impl Balance {
    /// Likelihood, for each band of all other leaks together (from, to; mL/min while running), of
    /// the loss that was reported: the found leaks and the rest log-uniform in their ranges, the
    /// report off by a fifth. A band that starts at 0 counts half as none at all. A rest that
    /// explains the loss exactly has 1.
    pub fn likelihood_of_rest(&self, bands_ml_per_min: &[(f64, f64)]) -> Vec<f64> {
        let (least, most) = self.found_ml_per_min;
        let found: Vec<f64> = middles(least.max(1e-9), most.max(1e-9)).collect();
        likelihoods(&self.loss, &found, bands_ml_per_min)
    }
}

/// The same where nothing has been found yet: the likelihood, for each band of all leaks together,
/// of the loss that was reported.
pub fn likelihood_of_leak(loss: &ReportedLoss, bands_ml_per_min: &[(f64, f64)]) -> Vec<f64> {
    likelihoods(loss, &[0.0], bands_ml_per_min)
}

/// A loss of any size at all, log-uniform over a range so many times as large at its upper end, on
/// the scale of [`Balance::likelihood_of_rest`].
pub fn likelihood_of_any_loss(most_over_least: f64) -> f64 {
    REPORTED_SPREAD * std::f64::consts::TAU.sqrt() / most_over_least.ln()
}

/// Steps in which a range is walked through.
const PANELS: u32 = 40;
/// Steps between the shares that a leak passes over the hours told.
const SHARES: u32 = 5;

/// The middles of equal steps of a range's logarithm.
fn middles(low: f64, high: f64) -> impl Iterator<Item = f64> {
    (0..PANELS).map(move |i| low * (high / low).powf((f64::from(i) + 0.5) / f64::from(PANELS)))
}

/// The least share of what it passes while running that a leak passes over the hours told. Running
/// hours are the hours in which it is open; of a day and a night most is spent standing cold without
/// pressure, which stops a leak that opens hot and hardly slows one below the level. Author's
/// judgement: half an hour of the twenty-four.
fn least_open(when: LossWhen) -> f64 {
    match when {
        LossWhen::Running { .. } => 1.0,
        LossWhen::DayAndNight => 0.02,
    }
}

fn likelihoods(loss: &ReportedLoss, found: &[f64], bands: &[(f64, f64)]) -> Vec<f64> {
    let reported = loss.ml_per_min();
    let least = least_open(loss.when);
    let shares: Vec<f64> = (0..SHARES)
        .map(|i| least.powf(f64::from(i) / f64::from(SHARES - 1)))
        .collect();
    let off = |rate: f64| {
        let spreads = (rate / reported).ln() / REPORTED_SPREAD;
        (-spreads * spreads / 2.0).exp()
    };
    let fits = |rest: f64| {
        let open = shares.iter().map(|share| share * rest);
        let sum: f64 = open
            .flat_map(|rest| found.iter().map(move |found| found + rest))
            .map(off)
            .sum();
        sum / (shares.len() * found.len()) as f64
    };
    bands
        .iter()
        .map(|&(from, to)| {
            let (low, to) = closed_band(from, to);
            let spread = middles(low, to).map(fits).sum::<f64>() / f64::from(PANELS);
            if from > 0.0 {
                spread
            } else {
                f64::midpoint(spread, fits(0.0))
            }
        })
        .collect()
}
