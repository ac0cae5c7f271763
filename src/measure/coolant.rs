//! Coolant: mixtures of water with ethylene or propylene glycol.
//!
//! In: kind, strength, temperature, pressure as plain numbers. Out: freeze and boiling point,
//! density, viscosity, expansion, strength from an instrument, litres to drain and fill. Each
//! value comes from a named published correlation and is refused outside that correlation's
//! limits.
//!
//! Two percentages go by the name "50 %" and differ by nearly 3 K: see [`Basis`].
//!
//! ```
//! use seepwise::measure::coolant::{Basis, Glycol, Mixture};
//! let half = Mixture::new(Glycol::Ethylene, Basis::Concentrate, 50.0).unwrap();
//! assert_eq!(half.freeze_c().round(), -37.0);
//! let swells = half.expansion(20.0, 90.0).unwrap(); // about 41 mL in every litre
//! assert!((swells - 0.041).abs() < 0.001);
//! ```

mod advice;
mod boiling;
mod correlation;
mod instrument;
mod mixing;
mod mixture;

use std::fmt;

use thiserror::Error;

pub use advice::{StrengthBand, Warning, warnings};
pub use boiling::{atmosphere_kpa, water_saturation_c, water_saturation_kpa};
pub use instrument::{
    OTHER_SCALE_KNOWN_TO_K, SCALE_READ_TO_K, Strength, from_hydrometer, from_refractometer,
    propylene_on_ethylene_scale,
};
pub use mixing::{
    Filling, after_topping_up, goes_needed, liquid_lost_ml, replace_ml, topping_strength,
};
pub use mixture::Mixture;

/// The glycol in the water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Glycol {
    /// Ethylene glycol, 1,2-ethanediol: the usual one. Poisonous.
    Ethylene,
    /// Propylene glycol, 1,2-propanediol.
    Propylene,
}

impl fmt::Display for Glycol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Ethylene => "ethylene glycol",
            Self::Propylene => "propylene glycol",
        })
    }
}

/// What is counted in a percentage by volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Pure glycol.
    Pure,
    /// Concentrate as sold: glycol with its corrosion inhibitors and a little water. What the
    /// trade means by "50/50".
    Concentrate,
}

impl fmt::Display for Basis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Pure => "pure glycol",
            Self::Concentrate => "inhibited concentrate",
        })
    }
}

/// What cannot be said of a coolant, and why.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CoolantError {
    /// A strength outside a correlation.
    #[error(
        "{percent:.1} vol % of {basis} is outside what is published for {glycol}: give 0 to {highest:.1} %"
    )]
    Strength {
        /// As asked.
        percent: f64,
        /// Of what.
        basis: Basis,
        /// Which.
        glycol: Glycol,
        /// The highest strength that can be calculated.
        highest: f64,
    },
    /// A temperature outside a correlation.
    #[error(
        "the {property} of this mixture is not known at {celsius:.1} °C: give {lowest:.1} to {highest:.1} °C"
    )]
    Temperature {
        /// Of what.
        property: &'static str,
        /// As asked.
        celsius: f64,
        /// The lowest temperature, in °C.
        lowest: f64,
        /// The highest temperature, in °C.
        highest: f64,
    },
    /// A temperature at which part of the mixture is ice.
    #[error(
        "at {celsius:.1} °C this mixture begins to freeze (from {freeze_c:.1} °C down): give a higher temperature"
    )]
    Frozen {
        /// As asked.
        celsius: f64,
        /// Where ice begins, in °C.
        freeze_c: f64,
    },
    /// A pressure outside the vapour-pressure equations.
    #[error(
        "{kpa:.1} kPa absolute is outside what can be calculated: give {lowest:.0} to {highest:.0} kPa absolute"
    )]
    Pressure {
        /// As asked, absolute.
        kpa: f64,
        /// The lowest pressure.
        lowest: f64,
        /// The highest pressure.
        highest: f64,
    },
    /// A height for which the standard atmosphere's formula does not hold.
    #[error(
        "{metres:.0} m is outside the standard atmosphere's lowest layer: give -500 to 11000 m"
    )]
    Height {
        /// As asked.
        metres: f64,
    },
    /// An instrument's reading that no mixture gives.
    #[error(
        "no mixture of {glycol} up to {highest:.0} vol % gives this reading ({reading}): {hint}"
    )]
    OffScale {
        /// Which.
        glycol: Glycol,
        /// The highest strength that can be calculated.
        highest: f64,
        /// As read, with its unit.
        reading: String,
        /// What it may be.
        hint: &'static str,
    },
    /// A sum that has no answer.
    #[error("{0}")]
    Mixing(String),
}
