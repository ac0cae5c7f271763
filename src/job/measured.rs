//! Measurements as they stand in a job's log, in the units in which they were written.
//!
//! In: built by `read`, or by whoever keeps the log. Out: plain data, and the values that
//! [`measure`](crate::measure) works on.

use std::path::Path;

use crate::job::file::{Entry, JobFile};
use crate::job::log_file::read_gauge_log;
use crate::job::problem::JobProblem;
use crate::job::store::Store;
use crate::measure::coolant::{
    Basis, CoolantError, Glycol, Mixture, SCALE_READ_TO_K, Strength, from_hydrometer,
    from_refractometer,
};
use crate::measure::hold::{AirSpace, Expansion, Hold, Reading};
use crate::measure::plan::{LossWhen, ReportedLoss};
use crate::measure::ports::Port;
use crate::measure::units::{PressureUnit, Unit};
use crate::notice::{Notices, codes};
use crate::rules::typed;
use crate::source::{SourceId, Sources};

/// A gauge log of a check.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugeLog {
    /// The check.
    pub check: String,
    /// Its place, if it is done at one.
    pub at: Option<String>,
    /// The readings.
    pub readings: Readings,
    /// Unit of the readings that stand in the job, of a draw and of the step.
    pub unit: PressureUnit,
    /// The trapped air, if not the vehicle's own; pressures of a draw in `unit`.
    pub air: Option<AirSpace>,
    /// Coolant in the system, L, if not the vehicle's own.
    pub coolant_l: Option<f64>,
    /// Glycol and strength (per cent of concentrate), if not half-and-half ethylene.
    pub mixture: Option<(Glycol, f64)>,
    /// Stretch of all hoses, least and most, mL/kPa, if not a car's.
    pub hose_ml_per_kpa: Option<(f64, f64)>,
    /// What one graduation stands for, in `unit`.
    pub step: Option<f64>,
}

/// Where the readings of a gauge log are.
#[derive(Debug, Clone, PartialEq)]
pub enum Readings {
    /// In the job: minute, pressure, then coolant and air in °C if noted.
    Here(Vec<Vec<f64>>),
    /// In a file beside the job; `read` once it has been attached.
    File {
        /// As written, relative to the job's folder.
        name: String,
        /// What it holds.
        read: Option<Vec<Reading>>,
    },
}

/// A measured strength of the coolant.
#[derive(Debug, Clone, PartialEq)]
pub struct CoolantReading {
    /// The check.
    pub check: String,
    /// Which glycol is in.
    pub glycol: Glycol,
    /// What was read.
    pub shown: Shown,
}

/// What an instrument for coolant shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shown {
    /// Per cent by volume.
    Percent(f64),
    /// Freeze point, °C, on the scale for this glycol.
    FreezeC(f64),
    /// Specific gravity, with the coolant's temperature, °C.
    Gravity(f64, f64),
}

/// A map of the pits on a port.
#[derive(Debug, Clone, PartialEq)]
pub struct PortMap {
    /// The check.
    pub check: String,
    /// The place.
    pub at: Option<String>,
    /// The file, relative to the job's folder.
    pub file: String,
    /// What it holds, once it has been attached.
    pub read: Option<Port>,
}

/// A loss in numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossTold {
    /// Lost, L.
    pub litres: f64,
    /// In so many days.
    pub days: f64,
    /// Hours a day in which it runs; `None`: it leaks day and night.
    pub hours_a_day: Option<f64>,
}

impl LossTold {
    /// As the measurements take it.
    pub fn reported(&self) -> ReportedLoss {
        ReportedLoss {
            litres: self.litres,
            days: self.days,
            when: self
                .hours_a_day
                .map_or(LossWhen::DayAndNight, |hours_per_day| LossWhen::Running {
                    hours_per_day,
                }),
        }
    }
}

impl CoolantReading {
    /// The strength, with what the instrument leaves open.
    ///
    /// # Errors
    /// A reading outside what the instrument, or the correlation, goes to.
    pub fn strength(&self) -> Result<Strength, CoolantError> {
        match self.shown {
            Shown::Percent(percent) => Ok(Strength {
                percent,
                lowest: percent,
                highest: percent,
            }),
            Shown::FreezeC(shown) => {
                from_refractometer(self.glycol, Basis::Concentrate, shown, SCALE_READ_TO_K)
            }
            Shown::Gravity(gravity, at_c) => {
                from_hydrometer(self.glycol, Basis::Concentrate, gravity, at_c)
            }
        }
    }
}

/// What a vehicle usually holds, for whoever noted the needle only.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsualFill {
    /// Air over the coolant at the mark, cold, mL.
    pub air_ml: f64,
    /// Coolant in the system, L.
    pub coolant_l: f64,
}

/// Nobody noted the air: filled a little high, or down by what was lost. In shares of the usual air space;
/// author's judgement.
const AIR_NOT_NOTED: (f64, f64) = (0.6, 2.0);

impl GaugeLog {
    /// The hold that the log is of. `usual`: what stands in where neither air nor coolant was noted.
    ///
    /// # Errors
    /// Readings that have not been attached, or a coolant that nothing is known of.
    pub fn hold(&self, usual: UsualFill) -> Result<Hold, JobProblem> {
        let readings = match &self.readings {
            Readings::Here(rows) => rows.iter().map(|row| self.reading(row)).collect(),
            Readings::File {
                read: Some(read), ..
            } => read.clone(),
            Readings::File { name, read: None } => return Err(not_attached(name)),
        };
        let air = match self.air {
            Some(AirSpace::Draw {
                drawn_ml,
                before_kpa,
                after_kpa,
            }) => AirSpace::Draw {
                drawn_ml,
                before_kpa: self.unit.to_base(before_kpa),
                after_kpa: self.unit.to_base(after_kpa),
            },
            Some(known) => known,
            None => AirSpace::Between(
                AIR_NOT_NOTED.0 * usual.air_ml,
                AIR_NOT_NOTED.1 * usual.air_ml,
            ),
        };
        let coolant_l = self.coolant_l.unwrap_or(usual.coolant_l);
        let mut hold = Hold::new(readings, air, coolant_l);
        if let Some((glycol, percent)) = self.mixture {
            hold.expansion = expansion(glycol, percent)
                .map_err(|error| JobProblem::new(codes::OUT_OF_RANGE, error.to_string()))?;
        }
        if let Some(stretch) = self.hose_ml_per_kpa {
            hold.stretch_ml_per_kpa = stretch;
        }
        hold.graduation_kpa = self.step.map(|step| self.unit.to_base(step));
        Ok(hold)
    }

    fn reading(&self, row: &[f64]) -> Reading {
        Reading {
            minute: row.first().copied().unwrap_or(f64::NAN),
            gauge_kpa: row.get(1).map_or(f64::NAN, |&read| self.unit.to_base(read)),
            coolant_c: row.get(2).copied(),
            air_c: row.get(3).copied(),
        }
    }
}

/// How a mix of concentrate and water swells.
///
/// # Errors
/// A strength outside what is published.
pub fn expansion(glycol: Glycol, percent: f64) -> Result<Expansion, CoolantError> {
    Expansion::of(&Mixture::new(glycol, Basis::Concentrate, percent)?)
}

/// A file that nobody has read.
pub(super) fn not_attached(name: &str) -> JobProblem {
    JobProblem::new(
        codes::UNREADABLE,
        format!("the file `{name}` has not been read"),
    )
    .help("give its name relative to the job file, and keep both together")
}

impl JobFile {
    /// Reads the files that entries name, relative to `folder`.
    ///
    /// # Errors
    /// Every file that can't be read or is not understood.
    pub fn attach(&mut self, folder: &Path) -> Result<(), Vec<JobProblem>> {
        let mut problems = Vec::new();
        for (index, logged) in self.log.iter_mut().enumerate() {
            let outcome = match &mut logged.entry {
                Entry::Gauge(GaugeLog {
                    readings: Readings::File { name, read },
                    ..
                }) => attached(folder, name, |file, sources| {
                    read_gauge_log(file, sources).map(|log| log.readings)
                })
                .map(|readings| *read = Some(readings)),
                Entry::Port(PortMap { file, read, .. }) => {
                    attached(folder, file, |file, sources| {
                        typed::document::<Port>(file, sources, "port")
                    })
                    .map(|port| *read = Some(port))
                }
                _ => Ok(()),
            };
            if let Err(problem) = outcome {
                problems.push(problem.of_entry(index + 1, logged.at));
            }
        }
        if problems.is_empty() {
            Ok(())
        } else {
            Err(problems)
        }
    }
}

fn attached<T>(
    folder: &Path,
    name: &str,
    read: impl FnOnce(SourceId, &Sources) -> Result<T, Notices>,
) -> Result<T, JobProblem> {
    let mut sources = Sources::new();
    let text = Store::load(&folder.join(name))
        .map_err(|error| JobProblem::new(codes::UNREADABLE, error.to_string()))?;
    let file = sources.add(text);
    read(file, &sources).map_err(|notices| {
        let Some(first) = notices.iter().next() else {
            return not_attached(name);
        };
        let line = sources.place(first.primary).line;
        let problem = JobProblem::new(
            first.code,
            format!("in `{name}`, line {line}: {}", first.message),
        );
        match &first.help {
            Some(help) => problem.help(help.clone()),
            None => problem,
        }
    })
}
