//! Base units → what this reader likes to read.

use std::str::FromStr;

use crate::measure::units::UnitError;
use crate::measure::units::kinds::{
    PressureUnit, RateUnit, TemperatureUnit, TimeUnit, Unit, VolumeUnit,
};
use crate::measure::units::read::find;

/// The units that a reader likes. The default is metric: kPa, °C, L.
///
/// From a text: `metric`, `US` or `imperial`, then single units that differ, with commas between:
/// `metric,psi`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Preferences {
    /// For pressures.
    pub pressure: PressureUnit,
    /// For temperatures.
    pub temperature: TemperatureUnit,
    /// For volumes; small ones are printed in the smaller unit of the same kind.
    pub volume: VolumeUnit,
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            pressure: PressureUnit::KiloPascal,
            temperature: TemperatureUnit::Celsius,
            volume: VolumeUnit::Litre,
        }
    }
}

impl FromStr for Preferences {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let mut read = Self::default();
        for word in text.split(',').map(|word| word.trim().to_lowercase()) {
            match word.as_str() {
                "metric" => read = Self::default(),
                "us" => {
                    read = Self {
                        pressure: PressureUnit::Psi,
                        temperature: TemperatureUnit::Fahrenheit,
                        volume: VolumeUnit::UsGallon,
                    }
                }
                "imperial" => {
                    read = Self {
                        pressure: PressureUnit::Psi,
                        temperature: TemperatureUnit::Celsius,
                        volume: VolumeUnit::ImperialGallon,
                    }
                }
                unit => match (find(unit), find(unit), find(unit)) {
                    (Some(pressure), _, _) => read.pressure = pressure,
                    (_, Some(temperature), _) => read.temperature = temperature,
                    (_, _, Some(volume)) => read.volume = volume,
                    (None, None, None) => return Err(UnitError::UnknownPreference { word }),
                },
            }
        }
        Ok(read)
    }
}

impl Preferences {
    /// A pressure in kPa, known to ± `give_or_take_kpa`.
    pub fn pressure(&self, kpa: f64, give_or_take_kpa: f64) -> String {
        shown(self.pressure, kpa, give_or_take_kpa)
    }

    /// A temperature in °C, known to ± `give_or_take_k` kelvins.
    pub fn temperature(&self, celsius: f64, give_or_take_k: f64) -> String {
        shown(self.temperature, celsius, give_or_take_k)
    }

    /// A volume in mL, known to ± `give_or_take_ml`. Less than one litre or gallon is printed in
    /// millilitres or pints.
    pub fn volume(&self, ml: f64, give_or_take_ml: f64) -> String {
        let small = ml.abs() < self.volume.to_base(1.0);
        let unit = match self.volume {
            VolumeUnit::Litre if small => VolumeUnit::Millilitre,
            VolumeUnit::UsGallon if small => VolumeUnit::UsPint,
            VolumeUnit::ImperialGallon if small => VolumeUnit::ImperialPint,
            unit => unit,
        };
        shown(unit, ml, give_or_take_ml)
    }

    /// A rate in mL/min, known to ± `give_or_take`. Printed in mL/min, or in pints an hour for
    /// readers of pints and gallons.
    pub fn rate(&self, ml_per_min: f64, give_or_take: f64) -> String {
        let unit = self.rate_unit();
        let number = rounded(unit.of_base(ml_per_min), unit.of_base(give_or_take));
        format!(
            "{number} {}/{}",
            unit.volume.name(number == "1"),
            unit.per.name()
        )
    }

    /// The unit in which rates are printed.
    pub fn rate_unit(&self) -> RateUnit {
        let (volume, per) = match self.volume {
            VolumeUnit::Millilitre | VolumeUnit::Litre => {
                (VolumeUnit::Millilitre, TimeUnit::Minute)
            }
            VolumeUnit::UsPint | VolumeUnit::UsGallon => (VolumeUnit::UsPint, TimeUnit::Hour),
            VolumeUnit::ImperialPint | VolumeUnit::ImperialGallon => {
                (VolumeUnit::ImperialPint, TimeUnit::Hour)
            }
        };
        RateUnit { volume, per }
    }
}

fn shown<U: Unit>(unit: U, base: f64, give_or_take: f64) -> String {
    let value = unit.of_base(base);
    let step = unit.of_base(base + give_or_take) - value;
    let number = rounded(value, step);
    format!("{number} {}", unit.name(number == "1"))
}

/// A number with as many digits as its uncertainty leaves it: the last one printed is of the
/// order of `give_or_take`. Where nothing is known (0, negative, not finite): three digits.
pub fn rounded(value: f64, give_or_take: f64) -> String {
    let known = give_or_take.is_finite() && give_or_take > 0.0;
    let step = if known {
        give_or_take
    } else if value == 0.0 || !value.is_finite() {
        1.0
    } else {
        value.abs() / 100.0
    };
    // A step of 0.99999… is meant as 1: conversions there and back leave such traces.
    let exponent = (step * (1.0 + 1e-9)).log10().floor().clamp(-6.0, 12.0);
    let unit = 10_f64.powf(exponent);
    let decimals = if exponent < 0.0 { -exponent } else { 0.0 };
    let whole = if exponent > 0.0 {
        (value / unit).round() * unit
    } else {
        value
    };
    // `decimals` lies between 0 and 6.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number from 0 to 6"
    )]
    let text = format!("{whole:.*}", decimals as usize);
    if text
        .trim_start_matches('-')
        .chars()
        .all(|c| c == '0' || c == '.')
    {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}
