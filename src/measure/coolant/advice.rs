//! What a strength means for the engine.

use std::fmt;

use crate::measure::coolant::Mixture;

/// Between which strengths a coolant does its work, in vol %. The defaults are common practice;
/// the lower one also stands in *Materials Performance* 44(8), 2005, 58–59.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrengthBand {
    /// Below it metals are no longer protected from corrosion.
    pub weak_below_percent: f64,
    /// Above it heat goes over worse and the freeze point rises again.
    pub strong_above_percent: f64,
}

impl Default for StrengthBand {
    fn default() -> Self {
        Self {
            weak_below_percent: 30.0,
            strong_above_percent: 60.0,
        }
    }
}

/// Something that the owner should know.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Warning {
    /// Too little inhibitor.
    Weak {
        /// The limit, in vol %.
        below_percent: f64,
    },
    /// Too much glycol.
    Strong {
        /// The limit, in vol %.
        above_percent: f64,
    },
    /// It freezes before the coldest day.
    Freezes {
        /// Where ice forms, in °C.
        freeze_c: f64,
        /// The coldest day, in °C.
        coldest_c: f64,
    },
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Weak { below_percent } => write!(
                f,
                "Below {below_percent:.0} % there is too little inhibitor: metals corrode, alloy from inside. Bring the strength up, with de-ionised water for the rest."
            ),
            Self::Strong { above_percent } => write!(
                f,
                "Above {above_percent:.0} % it carries heat worse, freezes earlier again and drops its additives. Top up with de-ionised water."
            ),
            Self::Freezes { .. } => write!(
                f,
                "Ice forms in it before the coldest day that you gave. Bring the strength up before the frost."
            ),
        }
    }
}

/// What to say of a strength in vol %. The mixture is needed only for the frost; leave it out
/// where the strength lies outside the correlations.
pub fn warnings(percent: f64, band: &StrengthBand, frost: Option<(&Mixture, f64)>) -> Vec<Warning> {
    let mut found = Vec::new();
    if percent < band.weak_below_percent {
        found.push(Warning::Weak {
            below_percent: band.weak_below_percent,
        });
    }
    if percent > band.strong_above_percent {
        found.push(Warning::Strong {
            above_percent: band.strong_above_percent,
        });
    }
    if let Some((mixture, coldest_c)) = frost {
        let freeze_c = mixture.freeze_c();
        if freeze_c > coldest_c {
            found.push(Warning::Freezes {
                freeze_c,
                coldest_c,
            });
        }
    }
    found
}
