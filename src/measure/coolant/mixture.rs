//! A mixture of one glycol and water, and its properties.

use crate::measure::coolant::correlation::{CONTINUED_TO_C, Correlation};
use crate::measure::coolant::{Basis, CoolantError, Glycol};

/// Density of water at 20 °C in kg/m³ (from memory of the usual tables).
const WATER_AT_20_C: f64 = 998.2;
/// Glycol in a concentrate, by mass; the rest is water and inhibitors (from memory of ASTM D3306).
const GLYCOL_IN_CONCENTRATE: f64 = 0.95;

/// Below this strength the tables of inhibited fluid end; from there to plain water each property
/// is a straight line.
const TABLES_FROM: f64 = 0.10;

/// Coolant of a known kind and strength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mixture {
    glycol: Glycol,
    basis: Basis,
    /// Fraction by volume at 20 °C.
    volume: f64,
}

impl Glycol {
    /// Density of the pure liquid at 20 °C in kg/m³ (from memory of the usual tables).
    fn density_at_20_c(self) -> f64 {
        match self {
            Self::Ethylene => 1113.2,
            Self::Propylene => 1036.1,
        }
    }

    /// Molar mass in g/mol.
    pub(super) fn molar_mass(self) -> f64 {
        match self {
            Self::Ethylene => 62.068,
            Self::Propylene => 76.095,
        }
    }

    /// Mass fraction of pure glycol from its fraction by volume, both liquids measured at 20 °C
    /// before mixing.
    pub(super) fn mass_fraction(self, volume: f64) -> f64 {
        let mass = volume * self.density_at_20_c();
        mass / (mass + (1.0 - volume) * WATER_AT_20_C)
    }

    /// The other way round.
    pub(super) fn volume_fraction(self, mass: f64) -> f64 {
        let volume = mass / self.density_at_20_c();
        volume / (volume + (1.0 - mass) / WATER_AT_20_C)
    }
}

impl Mixture {
    /// A mixture of `percent` by volume.
    ///
    /// # Errors
    /// A strength below 0 or above [`Self::highest_percent`].
    pub fn new(glycol: Glycol, basis: Basis, percent: f64) -> Result<Self, CoolantError> {
        let highest = Self::highest_percent(glycol, basis);
        // Half a thousandth of slack, so that the printed limit itself is accepted.
        if !(0.0..=highest + 0.05).contains(&percent) {
            return Err(CoolantError::Strength {
                percent,
                basis,
                glycol,
                highest,
            });
        }
        Ok(Self {
            glycol,
            basis,
            volume: percent.min(highest) / 100.0,
        })
    }

    /// The highest strength that can be calculated, in vol %: 60 for concentrate, a little less
    /// for pure glycol, where the correlation ends at 60 % by mass.
    pub fn highest_percent(glycol: Glycol, basis: Basis) -> f64 {
        match basis {
            Basis::Pure => 100.0 * glycol.volume_fraction(Correlation::pure(glycol).x_highest),
            Basis::Concentrate => 100.0 * Correlation::inhibited(glycol).x_highest,
        }
    }

    /// The glycol.
    pub fn glycol(&self) -> Glycol {
        self.glycol
    }

    /// What the percentage counts.
    pub fn basis(&self) -> Basis {
        self.basis
    }

    /// The strength in vol %.
    pub fn percent(&self) -> f64 {
        self.volume * 100.0
    }

    /// Where the first ice forms, in °C.
    pub fn freeze_c(&self) -> f64 {
        self.read(Correlation::freeze_c).min(0.0)
    }

    /// Density in kg/m³, to 125 °C; above [`Self::density_published_to_c`] the tables are
    /// continued, to about 0.2 %.
    ///
    /// # Errors
    /// A temperature outside these or at which the mixture freezes.
    pub fn density(&self, celsius: f64) -> Result<f64, CoolantError> {
        self.liquid(celsius, "density")?;
        Ok(self.density_unchecked(celsius))
    }

    /// Dynamic viscosity in mPa·s, to 125 °C; above [`Self::viscosity_published_to_c`] the tables
    /// are continued, to about 10 %.
    ///
    /// # Errors
    /// A temperature outside these or at which the mixture freezes.
    pub fn viscosity_mpa_s(&self, celsius: f64) -> Result<f64, CoolantError> {
        self.liquid(celsius, "viscosity")?;
        // Viscosity multiplies with strength, so it is the logarithm that lies on a straight line.
        Ok(self
            .read(|series, x| series.viscosity_mpa_s(x, celsius).ln())
            .exp())
    }

    /// How much of its cold volume the mixture gains from cold to hot: 0.04 means 40 mL for
    /// each litre.
    ///
    /// # Errors
    /// A temperature outside the correlation or at which the mixture freezes.
    pub fn expansion(&self, cold_c: f64, hot_c: f64) -> Result<f64, CoolantError> {
        Ok(self.density(cold_c)? / self.density(hot_c)? - 1.0)
    }

    /// The room that a system needs above its cold level, in mL, for `system_ml` of cold coolant.
    ///
    /// # Errors
    /// A temperature outside the correlation or at which the mixture freezes.
    pub fn expansion_room_ml(
        &self,
        system_ml: f64,
        cold_c: f64,
        hot_c: f64,
    ) -> Result<f64, CoolantError> {
        Ok(system_ml * self.expansion(cold_c, hot_c)?)
    }

    /// Coefficient of volume expansion at a temperature, per K: −(1/ρ)·dρ/dT.
    ///
    /// # Errors
    /// A temperature outside the correlation or at which the mixture freezes.
    pub fn expansion_per_k(&self, celsius: f64) -> Result<f64, CoolantError> {
        const STEP_K: f64 = 0.01;
        let density = self.density(celsius)?;
        let slope = (self.density_unchecked(celsius + STEP_K)
            - self.density_unchecked(celsius - STEP_K))
            / (2.0 * STEP_K);
        Ok(-slope / density)
    }

    /// Mass fraction of pure glycol. A concentrate counts as 95 % glycol by mass.
    pub fn glycol_mass_fraction(&self) -> f64 {
        let mass = self.glycol.mass_fraction(self.volume);
        match self.basis {
            Basis::Pure => mass,
            Basis::Concentrate => mass * GLYCOL_IN_CONCENTRATE,
        }
    }

    pub(super) fn density_unchecked(&self, celsius: f64) -> f64 {
        self.read(|series, x| series.density(x, celsius))
    }

    /// Reads the series that belongs to the basis.
    fn read(&self, property: impl Fn(&Correlation, f64) -> f64) -> f64 {
        let pure = Correlation::pure(self.glycol);
        match self.basis {
            Basis::Pure => property(pure, self.glycol.mass_fraction(self.volume)),
            Basis::Concentrate => {
                let inhibited = Correlation::inhibited(self.glycol);
                if self.volume >= TABLES_FROM {
                    return property(inhibited, self.volume);
                }
                let (water, first) = (
                    property(pure, pure.x_lowest),
                    property(inhibited, inhibited.x_lowest),
                );
                water + (first - water) * self.volume / TABLES_FROM
            }
        }
    }

    fn series(&self) -> &'static Correlation {
        match self.basis {
            Basis::Pure => Correlation::pure(self.glycol),
            Basis::Concentrate => Correlation::inhibited(self.glycol),
        }
    }

    /// Up to where the density, and with it the growth, rests on published tables, in °C.
    pub fn density_published_to_c(&self) -> f64 {
        let series = self.series();
        // Below the tables' first strength plain water's correlation has a part in it.
        if self.basis == Basis::Concentrate && self.volume < TABLES_FROM {
            series.t_highest_c
        } else {
            series.density_highest_c
        }
    }

    /// The same for viscosity.
    pub fn viscosity_published_to_c(&self) -> f64 {
        self.series().t_highest_c
    }

    fn liquid(&self, celsius: f64, property: &'static str) -> Result<(), CoolantError> {
        let lowest = self.series().t_lowest_c;
        let freeze_c = self.freeze_c();
        if celsius < freeze_c && celsius >= lowest {
            return Err(CoolantError::Frozen { celsius, freeze_c });
        }
        if !(lowest..=CONTINUED_TO_C).contains(&celsius) {
            return Err(CoolantError::Temperature {
                property,
                celsius,
                lowest: lowest.max(freeze_c),
                highest: CONTINUED_TO_C,
            });
        }
        Ok(())
    }
}
