//! Arguments of the measuring commands, as typed. Quantities are read with their units here.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};

use crate::measure::coolant::{Basis, Filling, Glycol};
use crate::measure::hold::AirSpace;
use crate::measure::plan::{LossWhen, ReportedLoss};
use crate::measure::units::{Preferences, pressure_kpa, temperature_c, volume_ml};

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise coolant --glycol ethylene --percent 50 --cap \"15 psi\" --system \"8 L\"\n  seepwise coolant --glycol propylene --refractometer \"-30 °C\" --ethylene-scale\n  seepwise coolant --glycol ethylene --percent 30 --system \"8 L\" --want 50 --fill concentrate\n  seepwise coolant --glycol ethylene --percent 50 --system \"8 L\" --lost \"1.5 L\" --times 3\n\nEthylene glycol is poison for people and animals: cover the tray, mop up at once."
)]
pub(super) struct CoolantArgs {
    /// Which glycol is in; ask before you measure
    #[arg(long, value_enum)]
    pub glycol: GlycolWord,
    /// Count per cent of pure glycol, not of concentrate as sold
    #[arg(long)]
    pub pure: bool,
    /// Strength in per cent by volume
    #[arg(long, value_name = "PERCENT", value_parser = number, required_unless_present_any = ["refractometer", "hydrometer"])]
    pub percent: Option<f64>,
    /// Freeze point that a refractometer shows
    #[arg(long, value_name = "TEMPERATURE", value_parser = temperature_c, allow_hyphen_values = true, conflicts_with = "percent")]
    pub refractometer: Option<f64>,
    /// The refractometer's scale is for ethylene glycol, whatever is in
    #[arg(long, requires = "refractometer")]
    pub ethylene_scale: bool,
    /// Specific gravity that a hydrometer shows; give --at, the coolant's temperature
    #[arg(long, value_name = "GRAVITY", value_parser = number, requires = "at", conflicts_with_all = ["percent", "refractometer"])]
    pub hydrometer: Option<f64>,
    /// Temperature of the coolant, cold [default: 20 °C]
    #[arg(long, value_name = "TEMPERATURE", value_parser = temperature_c, allow_hyphen_values = true)]
    pub at: Option<f64>,
    /// Temperature of the coolant, hot
    #[arg(long, value_name = "TEMPERATURE", value_parser = temperature_c, allow_hyphen_values = true, default_value = "90 °C")]
    pub hot: f64,
    /// Pressure that the cap holds
    #[arg(long, value_name = "PRESSURE", value_parser = pressure_kpa, allow_hyphen_values = true, default_value = "0 psi")]
    pub cap: f64,
    /// Height above the sea, in metres
    #[arg(
        long,
        value_name = "METRES",
        value_parser = number,
        default_value_t = 0.0,
        allow_hyphen_values = true
    )]
    pub altitude: f64,
    /// The coldest day that it must stand
    #[arg(long, value_name = "TEMPERATURE", value_parser = temperature_c, allow_hyphen_values = true)]
    pub coldest: Option<f64>,
    /// Coolant in the whole system
    #[arg(long, value_name = "VOLUME", value_parser = volume_ml)]
    pub system: Option<f64>,
    /// Strength that you want, in per cent: how much to drain and fill
    #[arg(long, value_name = "PERCENT", value_parser = number, requires = "system")]
    pub want: Option<f64>,
    /// What is filled in: water, half, concentrate, or its per cent
    #[arg(long, value_name = "WHAT", value_parser = filling)]
    pub fill: Option<Filling>,
    /// What runs out at one go, where not all of it does
    #[arg(long, value_name = "VOLUME", value_parser = volume_ml, requires = "want")]
    pub per_go: Option<f64>,
    /// What is lost each time and topped up with --fill [default: water]
    #[arg(long, value_name = "VOLUME", value_parser = volume_ml, requires = "system")]
    pub lost: Option<f64>,
    /// How many times it is lost and topped up
    #[arg(long, value_name = "TIMES", default_value_t = 1, requires = "lost")]
    pub times: u32,
    /// Strength that it had before it was topped up with water: how much liquid went
    #[arg(long, value_name = "PERCENT", value_parser = number, requires = "system")]
    pub was: Option<f64>,
    /// Units to print: metric, US or imperial, then single ones, as in `metric,psi`
    #[arg(long, value_name = "UNITS", default_value = "metric")]
    pub units: Preferences,
}

impl CoolantArgs {
    /// What the percentages count.
    pub fn basis(&self) -> Basis {
        if self.pure {
            Basis::Pure
        } else {
            Basis::Concentrate
        }
    }
}

/// The glycols.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum GlycolWord {
    /// Ethylene glycol, the usual one
    Ethylene,
    /// Propylene glycol
    Propylene,
}

impl From<GlycolWord> for Glycol {
    fn from(word: GlycolWord) -> Self {
        match word {
            GlycolWord::Ethylene => Self::Ethylene,
            GlycolWord::Propylene => Self::Propylene,
        }
    }
}

/// What is filled in, as typed.
fn filling(text: &str) -> Result<Filling, String> {
    match text.trim().trim_end_matches('%').trim() {
        "water" => Ok(Filling::Water),
        "half" => Ok(Filling::Half),
        "concentrate" | "pure" => Ok(Filling::Undiluted),
        number => number
            .parse::<f64>()
            .ok()
            .filter(|percent| (0.0..=100.0).contains(percent))
            .map(Filling::Percent)
            .ok_or_else(|| {
                format!("`{text}` is nothing to fill: write water, half, concentrate, or a per cent from 0 to 100")
            }),
    }
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise port rear-housing.yaml\n  seepwise port rear-housing.yaml --svg rear-housing.svg\n  seepwise port bench/*.yaml\n\nA port file:\n  port: 1\n  name: rear housing\n  material: alloy            # alloy, iron, steel, brass, plastic\n  outside_diameter_mm: 38\n  bead_mm: [2, 5]            # from and to, counted from the open end like all lengths\n  land_end_mm: 30\n  wall_mm: 4\n  clamp_width_mm: 10\n  clamp_at_mm: 16            # its edge nearer the open end, as found\n  pits:\n    - {around_deg: [350, 20], along_mm: [14, 30], depth_mm: 0.6}   # clockwise from the top\n\nExit code 1 if a port is to be scrapped."
)]
pub(super) struct PortArgs {
    /// Port files; several are sorted worst first
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// Write a drawing of the port to this file
    #[arg(long, value_name = "FILE.svg", value_parser = drawing)]
    pub svg: Option<PathBuf>,
    /// Pressure for the leak through a channel
    #[arg(long, value_name = "PRESSURE", value_parser = pressure_kpa, default_value = "15 psi")]
    pub pressure: f64,
    /// Units to print: metric, US or imperial, then single ones, as in `metric,psi`
    #[arg(long, value_name = "UNITS", default_value = "metric")]
    pub units: Preferences,
}

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Examples:\n  seepwise hold monday.csv --air-ml 300 --coolant-litres 8\n  seepwise hold monday.csv --air-from-draw 50,14,12.5 --coolant-litres 8 --step \"0.5 psi\" --svg monday.svg\n  seepwise hold --plan --loss \"0.5 L\" --days 14 --hours-a-day 1.5 --hot \"12 psi\" --air-ml 300 --coolant-litres 8 --step \"0.5 psi\" --layout crew_minibus\n\nA log:\n  minute,psi,coolant_c,air_c     # or kpa, or bar; temperatures may be left out\n  0,14.5,18.2,18.0\n  1,14.0,18.2,18.0\n\nExit code 0 if it holds, 1 if it falls or can't be told yet. Pump up cold only, never above the limit."
)]
pub(super) struct HoldArgs {
    /// The log: a table with the columns `minute` and `psi`, `kpa` or `bar`
    #[arg(
        value_name = "LOG",
        required_unless_present = "plan",
        conflicts_with = "plan"
    )]
    pub log: Option<PathBuf>,
    /// Before the hold: how long, and what it takes, for a reported loss
    #[arg(long, requires = "loss")]
    pub plan: bool,
    /// Air over the coolant, mL: N, or LOW..HIGH if not known well
    #[arg(long, value_name = "ML", value_parser = air, required_unless_present = "air_from_draw")]
    pub air_ml: Option<AirSpace>,
    /// Air from a draw: mL of coolant drawn off with all shut, psi before, psi after
    #[arg(long, value_name = "ML,BEFORE,AFTER", value_parser = draw, conflicts_with_all = ["air_ml", "plan"])]
    pub air_from_draw: Option<AirSpace>,
    /// Coolant in the system, litres
    #[arg(long, value_name = "LITRES", value_parser = number, allow_hyphen_values = true)]
    pub coolant_litres: f64,
    /// Which glycol is in
    #[arg(long, value_enum, default_value = "ethylene")]
    pub glycol: GlycolWord,
    /// Strength in per cent by volume
    #[arg(long, value_name = "PERCENT", value_parser = number, default_value_t = 50.0)]
    pub percent: f64,
    /// Stretch of all hoses together, mL/kPa [default: 1..3, a car's]
    #[arg(long, value_name = "LOW..HIGH", value_parser = range)]
    pub hose_ml_per_kpa: Option<(f64, f64)>,
    /// What one step of the gauge's scale stands for [default: guessed from the readings]
    #[arg(long, value_name = "PRESSURE", value_parser = pressure_kpa)]
    pub step: Option<f64>,
    /// Loss as reported: what the hold must be able to show
    #[arg(long, value_name = "VOLUME", value_parser = volume_ml, requires = "days")]
    pub loss: Option<f64>,
    /// In so many days
    #[arg(long, value_name = "DAYS", value_parser = number, requires = "loss")]
    pub days: Option<f64>,
    /// Hours a day in which it runs [default: it leaks day and night]
    #[arg(long, value_name = "HOURS", value_parser = number, requires = "loss")]
    pub hours_a_day: Option<f64>,
    /// Gauge pressure while it leaks, hot [default: that of the hold]
    #[arg(long, value_name = "PRESSURE", value_parser = pressure_kpa, requires = "loss")]
    pub hot: Option<f64>,
    /// With --plan: pressure of the hold [default: the limit]
    #[arg(long, value_name = "PRESSURE", value_parser = pressure_kpa, requires = "plan")]
    pub test: Option<f64>,
    /// With --plan: the limit on the plate, in the handbook or on the cap
    #[arg(long, value_name = "PRESSURE", value_parser = pressure_kpa, requires = "plan")]
    pub limit: Option<f64>,
    /// With --plan: the vehicle's layout, for its limit
    #[arg(long, value_name = "LAYOUT", requires = "plan")]
    pub layout: Option<String>,
    /// Write a drawing of the hold to this file
    #[arg(long, value_name = "FILE.svg", value_parser = drawing, conflicts_with = "plan")]
    pub svg: Option<PathBuf>,
    /// Units to print: metric, US or imperial, then single ones [default: as the log]
    #[arg(long, value_name = "UNITS")]
    pub units: Option<Preferences>,
}

impl HoldArgs {
    /// The loss, if it was given.
    pub fn reported(&self) -> Option<ReportedLoss> {
        Some(ReportedLoss {
            litres: self.loss? / 1000.0,
            days: self.days?,
            when: self
                .hours_a_day
                .map_or(LossWhen::DayAndNight, |hours_per_day| LossWhen::Running {
                    hours_per_day,
                }),
        })
    }
}

/// A file for a drawing: no other kind of file is ever written over.
pub(super) fn drawing(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    if path.extension().is_some_and(|ending| ending == "svg") {
        Ok(path)
    } else {
        Err("a drawing goes into a file whose name ends in .svg".to_owned())
    }
}

/// A number in an argument.
fn number(text: &str) -> Result<f64, String> {
    let trimmed = text.trim();
    let value = trimmed
        .parse::<f64>()
        .ok()
        .filter(|value| value.is_finite());
    value.ok_or_else(|| format!("`{trimmed}` is no plain number: write it as in 50 or 0.5"))
}

/// `LOW..HIGH`.
fn range(text: &str) -> Result<(f64, f64), String> {
    let (low, high) = text
        .split_once("..")
        .ok_or_else(|| format!("`{text}` is no range: write LOW..HIGH, as in 1..3"))?;
    Ok((number(low)?, number(high)?))
}

/// An air space: `N` or `LOW..HIGH`, mL.
fn air(text: &str) -> Result<AirSpace, String> {
    if text.contains("..") {
        let (low, high) = range(text)?;
        return Ok(AirSpace::Between(low, high));
    }
    number(text).map(AirSpace::Known)
}

/// A draw: mL, psi before, psi after.
fn draw(text: &str) -> Result<AirSpace, String> {
    let parts: Vec<&str> = text.split(',').collect();
    let [drawn, before, after] = parts[..] else {
        return Err(format!(
            "`{text}` is no draw: write mL drawn, psi before, psi after, as in 50,14,12.5"
        ));
    };
    let kpa = |text: &str| Ok::<f64, String>(number(text)? * crate::measure::hold::KPA_PER_PSI);
    Ok(AirSpace::Draw {
        drawn_ml: number(drawn)?,
        before_kpa: kpa(before)?,
        after_kpa: kpa(after)?,
    })
}
