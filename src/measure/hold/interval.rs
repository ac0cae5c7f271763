//! The chance that a normal variable falls into an interval, and how that chance moves with its
//! mean: what a gauge read to the nearest graduation says about the pressure behind it.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// ln √(2π).
const LN_SQRT_TWO_PI: f64 = 0.918_938_533_204_672_7;

/// Logarithm of P(low < Z < high) for a standard normal Z, with its first derivative and the
/// negative of its second, both with respect to a shift of the mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct IntervalChance {
    /// Natural logarithm of the chance.
    pub ln: f64,
    /// d ln P / d mean.
    pub slope: f64,
    /// −d² ln P / d mean²; between 0 and 1, because the chance is log-concave.
    pub curvature: f64,
}

/// The chance of `low < Z < high`; accurate far out in either tail. `high` may be infinite.
pub(super) fn interval_chance(low: f64, high: f64) -> IntervalChance {
    if low + high < 0.0 {
        let mirrored = upper_side(-high, -low);
        return IntervalChance {
            slope: -mirrored.slope,
            ..mirrored
        };
    }
    upper_side(low, high)
}

/// The same for an interval whose middle is at or above zero. Everything is scaled by the density
/// at its lower end, so that nothing underflows.
fn upper_side(low: f64, high: f64) -> IntervalChance {
    let (high_over_low, high_term) = if high.is_finite() {
        let ratio = (-(high - low) * (high + low) / 2.0).exp();
        (ratio, high * ratio)
    } else {
        (0.0, 0.0)
    };
    let scaled = if low > 0.0 {
        mills(low)
            - if high_over_low > 0.0 {
                mills(high) * high_over_low
            } else {
                0.0
            }
    } else {
        let inside = 1.0 - upper_tail(high) - upper_tail(-low);
        inside * (low * low / 2.0 + LN_SQRT_TWO_PI).exp()
    };
    let scaled = scaled.max(1e-300);
    let slope = (1.0 - high_over_low) / scaled;
    let curvature = slope * slope + (high_term - low) / scaled;
    IntervalChance {
        ln: scaled.ln() - low * low / 2.0 - LN_SQRT_TWO_PI,
        slope,
        curvature: curvature.clamp(0.0, 1.0),
    }
}

/// P(Z > x).
pub(super) fn upper_tail(x: f64) -> f64 {
    if x == f64::INFINITY {
        return 0.0;
    }
    0.5 * libm::erfc(x * FRAC_1_SQRT_2)
}

/// Mills' ratio, P(Z > x) divided by the density at x, for x ≥ 0.
fn mills(x: f64) -> f64 {
    if x < 6.0 {
        return (PI / 2.0).sqrt() * (x * x / 2.0).exp() * libm::erfc(x * FRAC_1_SQRT_2);
    }
    // Laplace's continued fraction; 24 levels are exact to double precision from 6 on.
    let mut tail = x;
    for level in (1..=24).rev() {
        tail = x + f64::from(level) / tail;
    }
    1.0 / tail
}

#[cfg(test)]
mod tests {
    use super::interval_chance;

    #[test]
    fn matches_the_normal_table_and_its_own_differences() {
        // P(−1.96 < Z < 1.96) = 0.95 (from memory, any normal table).
        assert!((interval_chance(-1.959_964, 1.959_964).ln.exp() - 0.95).abs() < 1e-6);
        // P(Z > 10) = 7.619853e-24 (from memory).
        assert!((interval_chance(10.0, f64::INFINITY).ln.exp() / 7.619_853e-24 - 1.0).abs() < 1e-6);
        let step = 1e-4;
        for (low, high) in [
            (-0.3, 0.2),
            (1.0, 1.5),
            (-40.0, -39.0),
            (5.9, 6.2),
            (8.0, f64::INFINITY),
            (-3.0, 9.0),
        ] {
            // A shift of the mean by +h moves both ends by −h.
            let at = |h: f64| interval_chance(low - h, high - h).ln;
            let here = interval_chance(low, high);
            let slope = (at(step) - at(-step)) / (2.0 * step);
            let curvature = -(at(step) - 2.0 * at(0.0) + at(-step)) / (step * step);
            assert!(
                (here.slope - slope).abs() < 1e-5 * (1.0 + slope.abs()),
                "{low} {high}"
            );
            assert!(
                (here.curvature - curvature).abs() < 1e-3,
                "{low} {high} {curvature} {here:?}"
            );
        }
    }
}
