//! Boiling under pressure: Raoult's law over the vapour pressures of water and glycol.
//!
//! `x_w·p_w(T) + x_g·p_g(T) = p`, with mole fractions x. Water: IAPWS Industrial Formulation 1997,
//! region 4. Glycols: Antoine equations with constants from memory of the NIST chemistry tables.

use crate::measure::coolant::correlation::ZERO_C_IN_K;
use crate::measure::coolant::{CoolantError, Glycol, Mixture};

/// Molar mass of water in g/mol.
const WATER_MOLAR_MASS: f64 = 18.015;
/// Pressure of the standard atmosphere at sea level, in kPa.
const SEA_LEVEL_KPA: f64 = 101.325;
/// Absolute pressures between which boiling points are given, in kPa.
const PRESSURES_KPA: (f64, f64) = (40.0, 400.0);

impl Mixture {
    /// Where the mixture boils, in °C, at an absolute pressure in kPa: the atmosphere plus what
    /// the cap holds.
    ///
    /// # Errors
    /// A pressure below 40 or above 400 kPa.
    pub fn boil_c(&self, absolute_kpa: f64) -> Result<f64, CoolantError> {
        let (lowest, highest) = PRESSURES_KPA;
        if !(lowest..=highest).contains(&absolute_kpa) {
            return Err(CoolantError::Pressure {
                kpa: absolute_kpa,
                lowest,
                highest,
            });
        }
        let mass = self.glycol_mass_fraction();
        let glycol = mass / self.glycol().molar_mass();
        let water = (1.0 - mass) / WATER_MOLAR_MASS;
        let share = glycol / (glycol + water);
        let vapour = |celsius: f64| {
            (1.0 - share) * water_saturation_kpa(celsius)
                + share * self.glycol().vapour_kpa(celsius)
        };
        Ok(bisect(50.0, 250.0, |celsius| {
            vapour(celsius) - absolute_kpa
        }))
    }
}

impl Glycol {
    /// Vapour pressure in kPa: log10(p/bar) = A − B/(T/K + C).
    fn vapour_kpa(self, celsius: f64) -> f64 {
        let (a, b, c) = match self {
            Self::Ethylene => (4.970_12, 1914.951, -84.996),
            Self::Propylene => (6.079_36, 2692.187, -17.94),
        };
        100.0 * 10_f64.powf(a - b / (celsius + ZERO_C_IN_K + c))
    }
}

/// Vapour pressure of water in kPa, 0 to 370 °C.
pub fn water_saturation_kpa(celsius: f64) -> f64 {
    const N: [f64; 10] = [
        0.116_705_214_527_67e4,
        -0.724_213_167_032_06e6,
        -0.170_738_469_400_92e2,
        0.120_208_247_024_70e5,
        -0.323_255_503_223_33e7,
        0.149_151_086_135_30e2,
        -0.482_326_573_615_91e4,
        0.405_113_405_420_57e6,
        -0.238_555_575_678_49,
        0.650_175_348_447_98e3,
    ];
    let kelvin = celsius + ZERO_C_IN_K;
    let t = kelvin + N[8] / (kelvin - N[9]);
    let a = t * t + N[0] * t + N[1];
    let b = N[2] * t * t + N[3] * t + N[4];
    let c = N[5] * t * t + N[6] * t + N[7];
    1000.0 * (2.0 * c / (-b + (b * b - 4.0 * a * c).sqrt())).powi(4)
}

/// Where water boils, in °C, at an absolute pressure between 1 and 15 000 kPa.
pub fn water_saturation_c(absolute_kpa: f64) -> f64 {
    bisect(0.0, 350.0, |celsius| {
        water_saturation_kpa(celsius) - absolute_kpa
    })
}

/// Pressure of the air in kPa at a height above the sea: the standard atmosphere
/// (ISO 2533 / ICAO), lowest layer.
///
/// # Errors
/// Heights below −500 m or above 11 000 m.
pub fn atmosphere_kpa(metres: f64) -> Result<f64, CoolantError> {
    if !(-500.0..=11_000.0).contains(&metres) {
        return Err(CoolantError::Height { metres });
    }
    Ok(SEA_LEVEL_KPA * (1.0 - 2.255_77e-5 * metres).powf(5.255_88))
}

/// The zero of a rising function between two bounds; the nearer bound if there is none.
pub(super) fn bisect(mut low: f64, mut high: f64, rising: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if rising(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}
