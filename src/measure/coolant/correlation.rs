//! Published correlations as polynomials in strength and temperature.
//!
//! - *Pure glycol*: Å. Melinder, *Properties of Secondary Working Fluids for Indirect Systems*,
//!   International Institute of Refrigeration, 2010: mass fraction 0 to 0.60, from the freezing
//!   point to 100 °C.
//! - *Inhibited*: the tables of the ASHRAE Handbook, Fundamentals, 2001, by volume, 0.10 to 0.60,
//!   -35 to 100 °C, as fitted by the library `CoolProp` (`AEG`, `APG`). The handbook's own table of
//!   the density of ethylene glycol goes on to 250 °F (121.1 °C); there the fit, continued, is off
//!   by the same 0.1 % as below 100 °C, so it is used that far.
//! - *Above these ends*, to 125 °C, nothing published was at hand, and the tables are continued:
//!   density by the parabola through its last 40 K, the logarithm of viscosity as
//!   `A + B / (t + 130 °C)` (Vogel's form; the constant lies between those quoted for water, 137,
//!   and ethylene glycol, 128, from memory) through its values at 60 °C and 100 °C. The same rule
//!   applied 20 K lower meets the tables at 100 °C within 0.1 % (density) and 10 % (viscosity), and
//!   plain water at 120 °C, which is published, within 0.1 % and 0.3 %.
//!
//! Both forms are `p(x, T) = Σ a_ij (T − T_mid)^i (x − x_mid)^j`; viscosity is the exponential of
//! such a sum, and so is the ASHRAE freezing point. `tests/reference/check_coolant.py` compares
//! them with the library.

use crate::measure::coolant::Glycol;

/// One property over strength (columns) and temperature (rows).
type Surface = [[f64; 6]; 4];

/// How the freezing point follows from the sum.
#[derive(Debug, Clone, Copy)]
enum Freeze {
    /// It is the sum, in K.
    Plain([f64; 6]),
    /// It is the exponential of the sum, in K.
    Exponential([f64; 6]),
}

/// The correlations of one series of mixtures.
#[derive(Debug)]
pub(super) struct Correlation {
    /// Strength at which the polynomials are centred.
    x_mid: f64,
    /// Temperature at which the polynomials are centred, in K.
    t_mid_k: f64,
    /// Lowest strength.
    pub x_lowest: f64,
    /// Highest strength.
    pub x_highest: f64,
    /// Lowest temperature, in °C.
    pub t_lowest_c: f64,
    /// Highest published temperature, in °C.
    pub t_highest_c: f64,
    /// Highest published temperature of the density alone, in °C.
    pub density_highest_c: f64,
    freeze: Freeze,
    density: Surface,
    viscosity: Surface,
}

/// Highest temperature to which the tables are continued, in °C.
pub(super) const CONTINUED_TO_C: f64 = 125.0;
/// Constant of Vogel's form for hot coolant, in °C.
const VOGEL_C: f64 = 130.0;
/// 0 °C in K.
pub(super) const ZERO_C_IN_K: f64 = 273.15;

impl Correlation {
    /// By mass fraction of pure glycol.
    pub fn pure(glycol: Glycol) -> &'static Self {
        match glycol {
            Glycol::Ethylene => &PURE_ETHYLENE,
            Glycol::Propylene => &PURE_PROPYLENE,
        }
    }

    /// By volume fraction of inhibited glycol.
    pub fn inhibited(glycol: Glycol) -> &'static Self {
        match glycol {
            Glycol::Ethylene => &INHIBITED_ETHYLENE,
            Glycol::Propylene => &INHIBITED_PROPYLENE,
        }
    }

    /// Freezing point in °C at a strength.
    pub fn freeze_c(&self, x: f64) -> f64 {
        let kelvin = match &self.freeze {
            Freeze::Plain(row) => along(row, x - self.x_mid),
            Freeze::Exponential(row) => along(row, x - self.x_mid).exp(),
        };
        kelvin - ZERO_C_IN_K
    }

    /// Density in kg/m³; continued above its published end.
    pub fn density(&self, x: f64, celsius: f64) -> f64 {
        let end = self.density_highest_c;
        if celsius <= end {
            return self.over(&self.density, x, celsius);
        }
        let [first, second, last] = [end - 40.0, end - 20.0, end].map(|t| (t, self.density(x, t)));
        parabola(first, second, last, celsius)
    }

    /// Dynamic viscosity in mPa·s; continued above its published end.
    pub fn viscosity_mpa_s(&self, x: f64, celsius: f64) -> f64 {
        let end = self.t_highest_c;
        let log = |t: f64| self.over(&self.viscosity, x, t);
        let log_pa_s = if celsius <= end {
            log(celsius)
        } else {
            let place = |t: f64| 1.0 / (t + VOGEL_C);
            let (from, to) = (end - 40.0, end);
            let slope = (log(from) - log(to)) / (place(from) - place(to));
            log(to) + slope * (place(celsius) - place(to))
        };
        log_pa_s.exp() * 1000.0
    }

    fn over(&self, surface: &Surface, x: f64, celsius: f64) -> f64 {
        let dt = celsius + ZERO_C_IN_K - self.t_mid_k;
        surface
            .iter()
            .rev()
            .fold(0.0, |sum, row| sum * dt + along(row, x - self.x_mid))
    }
}

/// The parabola through three points, at `x`.
fn parabola(a: (f64, f64), b: (f64, f64), c: (f64, f64), x: f64) -> f64 {
    let weight = |of: (f64, f64), p: (f64, f64), q: (f64, f64)| {
        of.1 * (x - p.0) * (x - q.0) / ((of.0 - p.0) * (of.0 - q.0))
    };
    weight(a, b, c) + weight(b, a, c) + weight(c, a, b)
}

fn along(row: &[f64; 6], dx: f64) -> f64 {
    row.iter().rev().fold(0.0, |sum, a| sum * dx + a)
}

static PURE_ETHYLENE: Correlation = Correlation {
    x_mid: 0.308_462,
    t_mid_k: 304.878,
    x_lowest: 0.0,
    x_highest: 0.60,
    t_lowest_c: -100.0,
    t_highest_c: 100.0,
    density_highest_c: 100.0,
    freeze: Freeze::Plain([257.9, -80.8, -133.4, -72.93, 100.6, 11.4]),
    density: [
        [1034.0, 131.1, 0.749, -106.2, -96.23, 489.1],
        [-0.4781, -0.6876, 0.7855, 1.229, -7.211, 0.0],
        [-2.692e-3, 4.805e-3, -3.995e-3, -1.153e-2, 0.0, 0.0],
        [4.725e-6, 1.690e-6, 4.982e-5, 0.0, 0.0, 0.0],
    ],
    viscosity: [
        [-6.437_255, 2.471, 3.328e-2, 1.659, 3.089, -18.65],
        [-2.550e-2, -1.171e-2, 1.086e-2, 3.157e-3, 1.831e-2, 0.0],
        [1.782e-4, 1.052e-4, 1.051e-4, 4.063e-4, 0.0, 0.0],
        [-7.669e-7, -1.634e-6, -6.475e-6, 0.0, 0.0, 0.0],
    ],
};

static PURE_PROPYLENE: Correlation = Correlation {
    x_mid: 0.307_031,
    t_mid_k: 305.8583,
    x_lowest: 0.0,
    x_highest: 0.60,
    t_lowest_c: -100.0,
    t_highest_c: 100.0,
    density_highest_c: 100.0,
    freeze: Freeze::Plain([259.9, -66.31, -109.4, -228.3, -340.9, 146.5]),
    density: [
        [1018.0, 76.04, -24.98, -155.0, -113.1, 234.2],
        [-0.5406, -0.945, 0.27, 2.829, -2.221, 0.0],
        [-2.666e-3, 5.541e-3, -4.018e-3, -7.175e-3, 0.0, 0.0],
        [1.347e-5, -1.343e-5, 3.376e-5, 0.0, 0.0, 0.0],
    ],
    viscosity: [
        [-6.224_055, 3.328, 0.5453, -3.9, -1.587, 35.64],
        [-3.045e-2, -3.984e-2, -8.6e-4, 0.1054, 4.475e-2, 0.0],
        [2.525e-4, 4.332e-4, -1.593e-4, -1.589e-3, 0.0, 0.0],
        [-1.399e-6, -1.860e-6, -4.465e-7, 0.0, 0.0, 0.0],
    ],
};

static INHIBITED_ETHYLENE: Correlation = Correlation {
    x_mid: 0.35,
    t_mid_k: 305.65,
    x_lowest: 0.10,
    x_highest: 0.60,
    t_lowest_c: -35.0,
    t_highest_c: 100.0,
    density_highest_c: 121.1,
    freeze: Freeze::Exponential([
        5.534_468,
        -0.357_429_3,
        -0.653_511_3,
        -0.903_916_6,
        1.048_048,
        4.622_116,
    ]),
    density: [
        [
            1047.337, 140.4485, -48.705_59, 71.416_93, 52.458_5, -693.3962,
        ],
        [
            -0.450_505_4,
            -0.300_158_2,
            -0.039_526_14,
            0.024_962_64,
            -0.068_175_76,
            0.0,
        ],
        [
            -2.432_696e-3,
            -2.084_384e-5,
            3.108_353e-4,
            -8.979_712e-4,
            0.0,
            0.0,
        ],
        [-3.725_450e-9, 1.044_784e-6, -4.391_164e-6, 0.0, 0.0, 0.0],
    ],
    viscosity: [
        [
            -6.319_551,
            2.881_296,
            0.837_439_4,
            -19.296_26,
            -13.109_81,
            252.8586,
        ],
        [
            -0.024_108_48,
            -0.015_930_08,
            -0.006_961_209,
            -0.063_222_54,
            -0.265_148_2,
            0.0,
        ],
        [
            1.764_482e-4,
            1.708_786e-4,
            -4.014_337e-4,
            -2.477_100e-4,
            0.0,
            0.0,
        ],
        [-1.315_418e-6, -1.745_316e-6, 9.973_464e-6, 0.0, 0.0, 0.0],
    ],
};

static INHIBITED_PROPYLENE: Correlation = Correlation {
    x_mid: 0.35,
    t_mid_k: 305.65,
    x_lowest: 0.10,
    x_highest: 0.60,
    t_lowest_c: -35.0,
    t_highest_c: 100.0,
    density_highest_c: 100.0,
    freeze: Freeze::Exponential([
        5.546_103,
        -0.326_277,
        -0.666_687_3,
        -0.880_059_8,
        -1.071_417,
        -1.875_782,
    ]),
    density: [
        [
            1026.177, 72.536_77, -65.325_47, 34.665_75, -15.827_85, -213.9879,
        ],
        [
            -0.535_005_9,
            -0.505_629_6,
            0.175_127_8,
            -0.092_333,
            0.028_774_33,
            0.0,
        ],
        [
            -2.566_157e-3,
            -1.703_579e-4,
            1.165_892e-3,
            -2.075_17e-4,
            0.0,
            0.0,
        ],
        [-5.177_316e-9, 9.673_169e-9, 3.368_862e-7, 0.0, 0.0, 0.0],
    ],
    viscosity: [
        [
            -6.025_825, 3.573_663, -1.995_205, -6.425_11, 36.019_49, 53.508_79,
        ],
        [
            -0.032_843_99,
            -0.038_383_39,
            0.082_235_32,
            0.015_207_95,
            -1.123_741,
            0.0,
        ],
        [
            2.492_009e-4,
            3.529_886e-4,
            -5.119_547e-4,
            -6.572_286e-4,
            0.0,
            0.0,
        ],
        [-1.155_771e-6, -1.216_539e-6, 3.230_125e-6, 0.0, 0.0, 0.0],
    ],
};
