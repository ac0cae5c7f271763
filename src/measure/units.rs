//! Units: what people write → one base unit each, and back as they like to read it.
//!
//! In: texts such as `15 psi`, `-34 °F`, `2 US pints`, `0.6 mL/min`. Out: kPa above the
//! atmosphere, °C, mL and mL/min as plain numbers. A number without a unit is refused wherever
//! it could mean two things. [`Preferences`] prints them again, rounded to what is known of them.
//!
//! ```
//! use seepwise::measure::units::{Preferences, pressure_kpa, temperature_c};
//! let limit = pressure_kpa("15 psi").unwrap();
//! assert!((limit - 103.42).abs() < 0.01);
//! assert_eq!(temperature_c("-34 F").unwrap().round(), -37.0);
//! let us: Preferences = "US".parse().unwrap();
//! assert_eq!(us.pressure(limit, 1.0), "15.0 psi");
//! assert!(pressure_kpa("15").is_err());
//! ```

mod kinds;
mod preferences;
mod read;

use thiserror::Error;

pub use kinds::{PressureUnit, RateUnit, TemperatureUnit, TimeUnit, Unit, VolumeUnit};
pub use preferences::{Preferences, rounded};
pub use read::{pressure_kpa, rate_ml_per_min, temperature_c, volume_ml};

/// Why a text is no quantity.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum UnitError {
    /// No number at the beginning.
    #[error(
        "`{text}` does not begin with a number; write a number and a unit, such as `{example}`"
    )]
    NoNumber {
        /// As written.
        text: String,
        /// How it could look.
        example: &'static str,
    },
    /// A comma in the number.
    #[error(
        "`{text}` has a comma in its number; write a decimal point and no separators, such as `{example}`"
    )]
    Comma {
        /// As written.
        text: String,
        /// How it could look.
        example: &'static str,
    },
    /// A number alone, where it could mean two things.
    #[error("`{text}` has no unit: is it {choices}? Write the unit after the number")]
    NoUnit {
        /// As written.
        text: String,
        /// What it could be.
        choices: String,
    },
    /// A unit of which there are two kinds.
    #[error("`{text}`: there are two kinds of {unit}; write `{us}` or `{imperial}`")]
    TwoKinds {
        /// As written.
        text: String,
        /// "pint" or "gallon".
        unit: &'static str,
        /// With the smaller unit.
        us: String,
        /// With the larger unit.
        imperial: String,
    },
    /// A unit of something else, or of nothing.
    #[error("`{text}`: `{unit}` is no unit of {of} here; known are {known}")]
    UnknownUnit {
        /// As written.
        text: String,
        /// The unit as written.
        unit: String,
        /// What was wanted.
        of: &'static str,
        /// The units that are known.
        known: String,
    },
    /// A value that cannot be.
    #[error("`{text}` cannot be: {why}")]
    Impossible {
        /// As written.
        text: String,
        /// The limit.
        why: &'static str,
    },
    /// A word that names no unit and no set of units.
    #[error(
        "`{word}` names no units; write metric, US or imperial, or single units such as `psi,°F,L`"
    )]
    UnknownPreference {
        /// As written.
        word: String,
    },
}
