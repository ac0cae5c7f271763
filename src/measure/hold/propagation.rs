//! Expectation propagation (Minka 2001) for a linear model with normal unknowns that is seen only
//! through intervals: "this sum lies between a and b". Every such factor is log-concave, so the
//! iteration settles and its evidence is close to exact.

use super::interval::interval_chance;

/// A weighted sum of the unknowns that lies in an interval, but for normal noise.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bound {
    pub low: f64,
    pub high: f64,
    pub noise_variance: f64,
}

/// What each interval contributes, kept from one run to the next as a warm start.
#[derive(Debug, Clone, Default)]
pub(super) struct Sites {
    precision: Vec<f64>,
    shift: Vec<f64>,
}

/// The normal approximation to what is known about the unknowns.
#[derive(Debug, Clone)]
pub(super) struct Posterior {
    /// ln of the chance of all the intervals together.
    pub ln_evidence: f64,
    pub mean: Vec<f64>,
    /// Row by row.
    pub covariance: Vec<f64>,
}

/// Combines `bounds` on the sums `rows · unknowns`, the unknowns being independent standard normal
/// beforehand. `rows` holds `unknowns` weights for each bound.
pub(super) fn propagate(rows: &[f64], unknowns: usize, bounds: &[Bound], sites: &mut Sites) -> Posterior {
    const SWEEPS: usize = 40;
    const SETTLED: f64 = 1e-5;
    sites.precision.resize(bounds.len(), 0.0);
    sites.shift.resize(bounds.len(), 0.0);
    let mut now = rebuild(rows, unknowns, sites);
    let mut projected = vec![0.0; unknowns];
    for _ in 0..SWEEPS {
        let mut moved = 0.0_f64;
        for (index, bound) in bounds.iter().enumerate() {
            let row = &rows[index * unknowns..(index + 1) * unknowns];
            let (mean, variance) = now.along(row, &mut projected);
            let Some(site) = match_moments(bound, mean, variance, sites.precision[index], sites.shift[index]) else {
                continue;
            };
            let more_precision = site.precision - sites.precision[index];
            let more_shift = site.shift - sites.shift[index];
            let gain = 1.0 + more_precision * variance;
            if gain <= 1e-9 {
                continue;
            }
            sites.precision[index] = site.precision;
            sites.shift[index] = site.shift;
            moved = moved
                .max((more_shift - more_precision * mean).abs() * variance.sqrt())
                .max((more_precision * variance).abs());
            now.update(&projected, more_precision / gain, (more_shift - more_precision * mean) / gain);
        }
        now = rebuild(rows, unknowns, sites);
        if moved < SETTLED {
            break;
        }
    }
    now.ln_evidence += contributions(rows, unknowns, bounds, sites, &now);
    now
}

struct Site {
    precision: f64,
    shift: f64,
    /// ln of the factor that makes the site's integral right.
    ln_scale: f64,
}

/// The normal factor that does to the sum's mean and variance what the interval does.
fn match_moments(bound: &Bound, mean: f64, variance: f64, precision: f64, shift: f64) -> Option<Site> {
    let without = 1.0 / variance - precision;
    if without <= 1e-12 / variance {
        return None;
    }
    let cavity_variance = 1.0 / without;
    let cavity_mean = cavity_variance * (mean / variance - shift);
    let spread = (cavity_variance + bound.noise_variance).sqrt();
    let chance = interval_chance((bound.low - cavity_mean) / spread, (bound.high - cavity_mean) / spread);
    let slope = chance.slope / spread;
    let curvature = (chance.curvature / (spread * spread)).min(0.999_999_999 / cavity_variance);
    let room = 1.0 - cavity_variance * curvature;
    let ln_scale = chance.ln - half_ln_volume(mean, variance) + half_ln_volume(cavity_mean, cavity_variance);
    Some(Site {
        precision: curvature / room,
        shift: (slope + cavity_mean * curvature) / room,
        ln_scale,
    })
}

/// ln of the integral of exp(shift·x − precision·x²/2), but for ½ ln 2π.
fn half_ln_volume(mean: f64, variance: f64) -> f64 {
    0.5 * (mean * mean / variance + variance.ln())
}

fn contributions(rows: &[f64], unknowns: usize, bounds: &[Bound], sites: &Sites, now: &Posterior) -> f64 {
    let mut projected = vec![0.0; unknowns];
    let mut total = 0.0;
    for (index, bound) in bounds.iter().enumerate() {
        let row = &rows[index * unknowns..(index + 1) * unknowns];
        let (mean, variance) = now.along(row, &mut projected);
        if let Some(site) = match_moments(bound, mean, variance, sites.precision[index], sites.shift[index]) {
            total += site.ln_scale;
        }
    }
    total
}

impl Posterior {
    /// Mean and variance of a weighted sum; leaves covariance·row in `projected`.
    fn along(&self, row: &[f64], projected: &mut [f64]) -> (f64, f64) {
        let unknowns = row.len();
        let mut mean = 0.0;
        let mut variance = 0.0;
        for (line, slot) in projected.iter_mut().enumerate() {
            let covariances = &self.covariance[line * unknowns..(line + 1) * unknowns];
            *slot = covariances.iter().zip(row).map(|(c, r)| c * r).sum();
            mean += self.mean[line] * row[line];
            variance += *slot * row[line];
        }
        (mean, variance.max(1e-300))
    }

    fn update(&mut self, projected: &[f64], shrink: f64, step: f64) {
        let unknowns = projected.len();
        for line in 0..unknowns {
            self.mean[line] += step * projected[line];
            let factor = shrink * projected[line];
            let covariances = &mut self.covariance[line * unknowns..(line + 1) * unknowns];
            for (slot, other) in covariances.iter_mut().zip(projected) {
                *slot -= factor * other;
            }
        }
    }
}

/// The posterior from the sites alone, through a Cholesky factor: clears the rounding errors that
/// many small updates leave behind. Its `ln_evidence` lacks the sites' scales.
fn rebuild(rows: &[f64], unknowns: usize, sites: &Sites) -> Posterior {
    let k = unknowns;
    let mut precision = vec![0.0; k * k];
    let mut shift = vec![0.0; k];
    for line in 0..k {
        precision[line * k + line] = 1.0;
    }
    for (index, row) in rows.chunks_exact(k).enumerate() {
        let (weight, push) = (sites.precision[index], sites.shift[index]);
        if weight == 0.0 && push == 0.0 {
            continue;
        }
        for line in 0..k {
            let scaled = weight * row[line];
            shift[line] += push * row[line];
            if scaled != 0.0 {
                for column in 0..=line {
                    precision[line * k + column] += scaled * row[column];
                }
            }
        }
    }
    // Lower Cholesky factor in place, then its inverse.
    let mut ln_determinant = 0.0;
    for line in 0..k {
        for column in 0..=line {
            let mut sum = precision[line * k + column];
            for inner in 0..column {
                sum -= precision[line * k + inner] * precision[column * k + inner];
            }
            if line == column {
                let root = sum.max(1e-12).sqrt();
                ln_determinant += 2.0 * root.ln();
                precision[line * k + line] = root;
            } else {
                precision[line * k + column] = sum / precision[column * k + column];
            }
        }
    }
    let mut inverse = vec![0.0; k * k];
    for column in 0..k {
        inverse[column * k + column] = 1.0 / precision[column * k + column];
        for line in column + 1..k {
            let mut sum = 0.0;
            for inner in column..line {
                sum -= precision[line * k + inner] * inverse[inner * k + column];
            }
            inverse[line * k + column] = sum / precision[line * k + line];
        }
    }
    let mut covariance = vec![0.0; k * k];
    for line in 0..k {
        for column in 0..=line {
            let value: f64 = (line..k).map(|inner| inverse[inner * k + line] * inverse[inner * k + column]).sum();
            covariance[line * k + column] = value;
            covariance[column * k + line] = value;
        }
    }
    let mean: Vec<f64> = covariance
        .chunks_exact(k)
        .map(|line| line.iter().zip(&shift).map(|(c, s)| c * s).sum())
        .collect();
    let fitted: f64 = mean.iter().zip(&shift).map(|(m, s)| m * s).sum();
    Posterior {
        ln_evidence: 0.5 * (fitted - ln_determinant),
        mean,
        covariance,
    }
}

#[cfg(test)]
mod tests {
    use super::{Bound, Sites, propagate};

    /// One unknown, two noiseless intervals: the truncated normal has a closed form.
    #[test]
    fn one_unknown_is_exact() {
        let bounds = [
            Bound { low: 0.0, high: f64::INFINITY, noise_variance: 0.0 },
            Bound { low: -1.0, high: 1.0, noise_variance: 0.0 },
        ];
        let found = propagate(&[1.0, 1.0], 1, &bounds, &mut Sites::default());
        // P(0 < Z < 1) = 0.341345, mean 0.459862 (from memory: φ(0) − φ(1) over it).
        assert!((found.ln_evidence.exp() - 0.341_345).abs() < 0.01, "{found:?}");
        assert!((found.mean[0] - 0.459_862).abs() < 0.02, "{found:?}");
    }

    /// Two unknowns against plain summation over a grid.
    #[test]
    fn two_unknowns_agree_with_summation() {
        let rows = [1.0, 0.5, 0.3, -1.2, 0.0, 1.0];
        let bounds = [
            Bound { low: 0.2, high: 0.9, noise_variance: 0.01 },
            Bound { low: -1.5, high: -0.2, noise_variance: 0.04 },
            Bound { low: 0.0, high: f64::INFINITY, noise_variance: 0.0 },
        ];
        let found = propagate(&rows, 2, &bounds, &mut Sites::default());
        let step = 0.01;
        let (mut total, mut first) = (0.0, 0.0);
        for i in -600..600 {
            for j in 0..600 {
                let (x, y) = ((f64::from(i) + 0.5) * step, (f64::from(j) + 0.5) * step);
                let mut density = (-(x * x + y * y) / 2.0).exp() / std::f64::consts::TAU * step * step;
                for (row, bound) in rows.chunks(2).zip(&bounds).take(2) {
                    let sum = row[0] * x + row[1] * y;
                    let s = bound.noise_variance.sqrt();
                    density *= super::interval_chance((bound.low - sum) / s, (bound.high - sum) / s).ln.exp();
                }
                total += density;
                first += density * x;
            }
        }
        assert!((found.ln_evidence - f64::ln(total)).abs() < 0.03, "{} {}", found.ln_evidence, f64::ln(total));
        assert!((found.mean[0] - first / total).abs() < 0.02);
    }
}
