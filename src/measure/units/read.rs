//! Texts → base units.

use crate::measure::units::UnitError;
use crate::measure::units::kinds::{
    PressureUnit, RateUnit, TemperatureUnit, TimeUnit, Unit, VolumeUnit,
};

/// A pressure above the atmosphere, in kPa.
///
/// # Errors
/// A text that is no pressure, or a number other than 0 without a unit.
pub fn pressure_kpa(text: &str) -> Result<f64, UnitError> {
    read::<PressureUnit>(text, Zero::NeedsNoUnit)
}

/// A temperature, in °C.
///
/// # Errors
/// A text that is no temperature; any number without a unit, for 0 °C is not 0 °F.
pub fn temperature_c(text: &str) -> Result<f64, UnitError> {
    read::<TemperatureUnit>(text, Zero::NeedsUnit)
}

/// A volume, in mL.
///
/// # Errors
/// A text that is no volume, a number other than 0 without a unit, pints or gallons without
/// their kind.
pub fn volume_ml(text: &str) -> Result<f64, UnitError> {
    read::<VolumeUnit>(text, Zero::NeedsNoUnit)
}

/// A rate, in mL/min: a volume, then `/min`, `/hour`, `/day` or `/week` (or `per minute` …).
///
/// # Errors
/// As for [`volume_ml`], and a rate without its time.
pub fn rate_ml_per_min(text: &str) -> Result<f64, UnitError> {
    let (value, unit) = split(text, "0.6 mL/min")?;
    let unknown = |unit: &str| UnitError::UnknownUnit {
        text: text.trim().to_owned(),
        unit: unit.to_owned(),
        of: "rate",
        known: "mL/min, L/hour, L/day, L/week and the same with US or imperial pints or gallons"
            .to_owned(),
    };
    if unit.is_empty() {
        if value == 0.0 {
            return Ok(0.0);
        }
        let number = text.trim();
        return Err(UnitError::NoUnit {
            text: number.to_owned(),
            choices: format!("{number} mL/min, {number} L/hour or {number} L/week"),
        });
    }
    let (volume, time) = unit
        .split_once('/')
        .or_else(|| unit.split_once(" per "))
        .ok_or_else(|| unknown(&unit))?;
    let per = TimeUnit::ALL
        .into_iter()
        .find(|per| per.spellings().contains(&time.trim()))
        .ok_or_else(|| unknown(&unit))?;
    if let Some(error) = two_kinds(text, value, volume.trim()) {
        return Err(error);
    }
    let volume = find::<VolumeUnit>(volume.trim()).ok_or_else(|| unknown(&unit))?;
    let rate = RateUnit { volume, per }.to_base(value);
    if rate < 0.0 {
        return Err(UnitError::Impossible {
            text: text.trim().to_owned(),
            why: "a rate is not negative",
        });
    }
    Ok(rate)
}

/// Whether a bare 0 means the same in all units.
#[derive(Clone, Copy, PartialEq)]
enum Zero {
    NeedsUnit,
    NeedsNoUnit,
}

fn read<U: Unit>(text: &str, zero: Zero) -> Result<f64, UnitError> {
    let (value, unit) = split(text, U::EXAMPLE)?;
    let written = text.trim().to_owned();
    if unit.is_empty() {
        if value == 0.0 && zero == Zero::NeedsNoUnit {
            return Ok(0.0);
        }
        let choices: Vec<String> = U::ALL
            .iter()
            .take(3)
            .map(|unit| format!("{written} {}", unit.name(is_one(value))))
            .collect();
        return Err(UnitError::NoUnit {
            text: written,
            choices: choices.join(" or "),
        });
    }
    if let Some(error) =
        two_kinds(text, value, &unit).filter(|_| U::QUANTITY == VolumeUnit::QUANTITY)
    {
        return Err(error);
    }
    let Some(found) = find::<U>(&unit) else {
        let known: Vec<&str> = U::ALL.iter().map(|unit| unit.name(false)).collect();
        return Err(UnitError::UnknownUnit {
            text: written,
            unit,
            of: U::QUANTITY,
            known: known.join(", "),
        });
    };
    let base = found.to_base(value);
    match U::impossible(base) {
        Some(why) => Err(UnitError::Impossible { text: written, why }),
        None => Ok(base),
    }
}

/// Whether a unit's name stands in the singular.
fn is_one(value: f64) -> bool {
    (value - 1.0).abs() < f64::EPSILON
}

/// The unit of a spelling in small letters.
pub(super) fn find<U: Unit>(spelling: &str) -> Option<U> {
    U::ALL
        .iter()
        .copied()
        .find(|unit| unit.spellings().contains(&spelling))
}

/// Pints and gallons whose kind is not said.
fn two_kinds(text: &str, value: f64, unit: &str) -> Option<UnitError> {
    let (unit, us, imperial) = match unit {
        "pint" | "pints" | "pt" => ("pint", VolumeUnit::UsPint, VolumeUnit::ImperialPint),
        "gallon" | "gallons" | "gal" => {
            ("gallon", VolumeUnit::UsGallon, VolumeUnit::ImperialGallon)
        }
        _ => return None,
    };
    let with = |unit: VolumeUnit| format!("{value} {}", unit.name(is_one(value)));
    Some(UnitError::TwoKinds {
        text: text.trim().to_owned(),
        unit,
        us: with(us),
        imperial: with(imperial),
    })
}

/// The number at the beginning, and the rest in small letters with single blanks.
fn split(text: &str, example: &'static str) -> Result<(f64, String), UnitError> {
    let text = text.trim();
    let digits = text.trim_start_matches(['-', '\u{2212}', '+']);
    let signs = text[..text.len() - digits.len()].chars().count();
    let end = digits
        .find(|c: char| !c.is_ascii_digit() && c != '.')
        .unwrap_or(digits.len());
    let (number, rest) = digits.split_at(end);
    let no_number = || UnitError::NoNumber {
        text: text.to_owned(),
        example,
    };
    if rest.starts_with(',') {
        return Err(UnitError::Comma {
            text: text.to_owned(),
            example,
        });
    }
    if signs > 1 {
        return Err(no_number());
    }
    let value: f64 = number.parse().map_err(|_| no_number())?;
    if !value.is_finite() {
        return Err(no_number());
    }
    let negative = text.starts_with(['-', '\u{2212}']);
    let unit = rest
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .to_lowercase();
    Ok((if negative { -value } else { value }, unit))
}
