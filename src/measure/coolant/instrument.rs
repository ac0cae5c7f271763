//! Strength from an instrument: a refractometer with a freeze-point scale, or a hydrometer.

use crate::measure::coolant::boiling::bisect;
use crate::measure::coolant::correlation::Correlation;
use crate::measure::coolant::{Basis, CoolantError, Glycol, Mixture};

/// Density of water at 15.6 °C (60 °F) in kg/m³: what a hydrometer's 1.000 means.
const HYDROMETER_REFERENCE: f64 = 999.0;
/// Refractive index of water at 20 °C, sodium light (from memory of the usual tables).
const WATER_INDEX: f64 = 1.3330;
/// What a mixture that no instrument scale reaches may be.
const TOO_STRONG: &str = "it may be water-free or far over 60 %: do not add water before you know what is in; take a laboratory sample";
const TOO_WEAK: &str = "clean the prism or float, set zero with water, and read again; if it stays, it is not this glycol";

/// A strength with the range that the instrument leaves open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    /// Likeliest, in vol %.
    pub percent: f64,
    /// Lowest, in vol %.
    pub lowest: f64,
    /// Highest, in vol %.
    pub highest: f64,
}

/// What a freeze-point scale is read to, in K (ASTM D3321 reads to 1 °C, from memory).
pub const SCALE_READ_TO_K: f64 = 1.0;
/// What [`propylene_on_ethylene_scale`] is known to, in K: author's judgement.
pub const OTHER_SCALE_KNOWN_TO_K: f64 = 2.0;

/// Strength from a freeze point of *this* glycol that is known to ± `known_to_k`, for a
/// refractometer [`SCALE_READ_TO_K`].
///
/// # Errors
/// A reading that no mixture has.
pub fn from_refractometer(
    glycol: Glycol,
    basis: Basis,
    freeze_c: f64,
    known_to_k: f64,
) -> Result<Strength, CoolantError> {
    let highest = Mixture::highest_percent(glycol, basis);
    let at = |freeze_c: f64| {
        strength_at(glycol, basis, highest, |mixture| {
            freeze_c - mixture.freeze_c()
        })
    };
    let strongest = Mixture::new(glycol, basis, highest)?.freeze_c();
    let off_scale = |hint| CoolantError::OffScale {
        glycol,
        highest,
        reading: format!("freeze point {freeze_c:.1} °C"),
        hint,
    };
    if freeze_c > known_to_k {
        return Err(off_scale(TOO_WEAK));
    }
    if freeze_c < strongest - known_to_k {
        return Err(off_scale(TOO_STRONG));
    }
    Ok(Strength {
        percent: at(freeze_c.min(0.0)),
        lowest: at(freeze_c + known_to_k),
        highest: at(freeze_c - known_to_k),
    })
}

/// The real freeze point, in °C, of *propylene* glycol whose sample reads `shown_c` on an
/// *ethylene* freeze-point scale.
///
/// Both glycols bend light nearly alike, but propylene protects less: the scale promises too
/// much. The prism sees one refractive index; it belongs to one mixture of each glycol by the
/// Lorentz–Lorenz rule, (n² − 1)/(n² + 2) = ρ Σ wᵢ rᵢ, with the densities of Melinder 2010 at
/// 20 °C. Inhibitors are left out of account: take it as ± [`OTHER_SCALE_KNOWN_TO_K`].
///
/// # Errors
/// A reading that no mixture of water and either glycol has.
pub fn propylene_on_ethylene_scale(shown_c: f64) -> Result<f64, CoolantError> {
    let seen = from_refractometer(Glycol::Ethylene, Basis::Pure, shown_c, SCALE_READ_TO_K)?;
    let index = refraction(
        Glycol::Ethylene,
        Glycol::Ethylene.mass_fraction(seen.percent / 100.0),
    );
    let series = Correlation::pure(Glycol::Propylene);
    if refraction(Glycol::Propylene, series.x_highest) < index {
        return Err(CoolantError::OffScale {
            glycol: Glycol::Propylene,
            highest: Mixture::highest_percent(Glycol::Propylene, Basis::Pure),
            reading: format!("{shown_c:.1} °C on an ethylene scale"),
            hint: TOO_STRONG,
        });
    }
    let mass = bisect(series.x_lowest, series.x_highest, |x| {
        refraction(Glycol::Propylene, x) - index
    });
    Ok(series.freeze_c(mass).min(0.0))
}

/// (n² − 1)/(n² + 2) of a mixture at 20 °C.
fn refraction(glycol: Glycol, mass: f64) -> f64 {
    // Refractive indices and densities of the pure liquids at 20 °C (from memory).
    let (index, density) = match glycol {
        Glycol::Ethylene => (1.4318, 1113.2),
        Glycol::Propylene => (1.4324, 1036.1),
    };
    let specific = |n: f64, density: f64| (n * n - 1.0) / (n * n + 2.0) / density;
    let per_kg = mass * specific(index, density) + (1.0 - mass) * specific(WATER_INDEX, 998.2);
    Correlation::pure(glycol).density(mass, 20.0) * per_kg
}

/// Strength from a hydrometer's specific gravity (water at 15.6 °C, 60 °F, being 1.000), read in
/// coolant of `celsius`. The temperature correction is the density correlation itself.
///
/// The range is that of ± 0.005: published tables differ by as much, and inhibitors weigh
/// something too. For propylene, whose density hardly rises with strength, the range is wide.
///
/// # Errors
/// A temperature outside the correlation, or a reading that no mixture gives.
pub fn from_hydrometer(
    glycol: Glycol,
    basis: Basis,
    specific_gravity: f64,
    celsius: f64,
) -> Result<Strength, CoolantError> {
    const KNOWN_TO: f64 = 0.005;
    let highest = Mixture::highest_percent(glycol, basis);
    let density =
        |percent: f64| Ok(Mixture::new(glycol, basis, percent)?.density_unchecked(celsius));
    // The strongest mixture freezes last: its check is the temperature check of all.
    Mixture::new(glycol, basis, highest)?.density(celsius)?;
    let off_scale = |hint| CoolantError::OffScale {
        glycol,
        highest,
        reading: format!("specific gravity {specific_gravity:.3} at {celsius:.0} °C"),
        hint,
    };
    if (specific_gravity - KNOWN_TO) * HYDROMETER_REFERENCE > density(highest)? {
        return Err(off_scale(TOO_STRONG));
    }
    if (specific_gravity + KNOWN_TO) * HYDROMETER_REFERENCE < density(0.0)? {
        return Err(off_scale(TOO_WEAK));
    }
    let at = |gravity: f64| {
        strength_at(glycol, basis, highest, |mixture| {
            mixture.density_unchecked(celsius) - gravity * HYDROMETER_REFERENCE
        })
    };
    let percent = at(specific_gravity);
    // Checked at the strength found: coolant that would be frozen was not read at this temperature.
    Mixture::new(glycol, basis, percent)?.density(celsius)?;
    Ok(Strength {
        percent,
        lowest: at(specific_gravity - KNOWN_TO),
        highest: at(specific_gravity + KNOWN_TO),
    })
}

/// The strength in vol % at which a function that rises with it is zero.
fn strength_at(
    glycol: Glycol,
    basis: Basis,
    highest: f64,
    rising: impl Fn(&Mixture) -> f64,
) -> f64 {
    bisect(0.0, highest, |percent| {
        // Strengths between 0 and the highest always make a mixture.
        Mixture::new(glycol, basis, percent).map_or(0.0, |mixture| rising(&mixture))
    })
}
