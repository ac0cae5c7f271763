//! Arguments of the measuring commands, as typed. Quantities are read with their units here.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};

use crate::measure::coolant::{Basis, Filling, Glycol};
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
    #[arg(long, value_name = "PERCENT", required_unless_present_any = ["refractometer", "hydrometer"])]
    pub percent: Option<f64>,
    /// Freeze point that a refractometer shows
    #[arg(long, value_name = "TEMPERATURE", value_parser = temperature_c, allow_hyphen_values = true, conflicts_with = "percent")]
    pub refractometer: Option<f64>,
    /// The refractometer's scale is for ethylene glycol, whatever is in
    #[arg(long, requires = "refractometer")]
    pub ethylene_scale: bool,
    /// Specific gravity that a hydrometer shows; give --at, the coolant's temperature
    #[arg(long, value_name = "GRAVITY", requires = "at", conflicts_with_all = ["percent", "refractometer"])]
    pub hydrometer: Option<f64>,
    /// Temperature of the coolant, cold [default: 20 °C]
    #[arg(long, value_name = "TEMPERATURE", value_parser = temperature_c, allow_hyphen_values = true)]
    pub at: Option<f64>,
    /// Temperature of the coolant, hot
    #[arg(long, value_name = "TEMPERATURE", value_parser = temperature_c, default_value = "90 °C")]
    pub hot: f64,
    /// Pressure that the cap holds
    #[arg(long, value_name = "PRESSURE", value_parser = pressure_kpa, default_value = "0 psi")]
    pub cap: f64,
    /// Height above the sea, in metres
    #[arg(
        long,
        value_name = "METRES",
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
    #[arg(long, value_name = "PERCENT", requires = "system")]
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
    #[arg(long, value_name = "PERCENT", requires = "system")]
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
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Pressure for the leak through a channel
    #[arg(long, value_name = "PRESSURE", value_parser = pressure_kpa, default_value = "15 psi")]
    pub pressure: f64,
    /// Units to print: metric, US or imperial, then single ones, as in `metric,psi`
    #[arg(long, value_name = "UNITS", default_value = "metric")]
    pub units: Preferences,
}
