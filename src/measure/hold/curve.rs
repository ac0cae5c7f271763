//! The likelihood of a log as a function of the leak, everything else weighed out.

use super::model::Model;
use super::propagation::{Sites, propagate};

/// Points at which one vessel's curve is computed; a spline runs through them.
const POINTS: usize = 14;
/// The same where many vessels are laid over each other, and from how many on.
const POINTS_OF_MANY: usize = 9;
const FEW_VESSELS: usize = 4;
/// How far to either side of the best leak the curve is followed, standard deviations.
const REACH: f64 = 5.0;
/// A curve that falls by three times this (in ln) is followed anew without its feet.
const CLIFF: f64 = 20.0;
/// Vessels and noises less likely than the best by this much (in ln) are left out.
const NEGLIGIBLE: f64 = 4.0;
/// Points on which the combined curve is searched.
const FINE: usize = 1200;

/// A vessel and a noise after the first, quick run.
struct Start {
    model: usize,
    noise_kpa: f64,
    ln_weight: f64,
    rough: Rough,
    sites: Sites,
    ln_rank: f64,
}

/// One vessel and one gauge noise.
#[derive(Debug, Clone)]
struct Piece {
    model: usize,
    noise_kpa: f64,
    ln_weight: f64,
    rates: Vec<f64>,
    ln: Vec<f64>,
    bends: Vec<f64>,
}

/// ln likelihood against leak, mL/min, on a fine grid; its greatest value is 0.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    pieces: Vec<Piece>,
    top: f64,
    ln_best: f64,
    rates: Vec<f64>,
    ln: Vec<f64>,
}

/// A first, quick idea of the leak: its normal approximation, which may be below zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rough {
    pub rate: f64,
    pub spread: f64,
    pub ln_evidence: f64,
}

/// The leak as one more normal unknown, twice: the second time the law's column has its size.
pub(super) fn rough(model: &Model, noise_kpa: f64, sites: &mut Sites) -> Rough {
    let scale = 3.0 * model.largest_rate();
    let mut around = 0.0;
    let mut found = Rough {
        rate: 0.0,
        spread: scale,
        ln_evidence: f64::NEG_INFINITY,
    };
    for _ in 0..2 {
        let (rows, unknowns, bounds) = model.system(around, noise_kpa, Some(scale));
        let posterior = propagate(&rows, unknowns, &bounds, sites);
        let last = unknowns - 1;
        found = Rough {
            rate: around + scale * posterior.mean[last],
            spread: scale * posterior.covariance[last * unknowns + last].sqrt(),
            ln_evidence: posterior.ln_evidence,
        };
        if found.rate < 2.0 * found.spread {
            break;
        }
        around = found.rate;
    }
    found
}

impl Curve {
    /// The curve for several vessels (equally likely) and gauge noises (kPa, with their chances).
    pub(super) fn new(models: &[Model], noises: &[(f64, f64)]) -> Self {
        let few = models.len() <= FEW_VESSELS;
        let start = |index: usize, noise_kpa: f64, chance: f64| {
            let mut sites = Sites::default();
            let rough = rough(&models[index], noise_kpa, &mut sites);
            // The free leak's prior is as wide as the vessel makes it: undo that.
            let ln_rank = rough.ln_evidence + chance.ln() + models[index].largest_rate().ln();
            Start {
                model: index,
                noise_kpa,
                ln_weight: chance.ln(),
                rough,
                sites,
                ln_rank,
            }
        };
        let mut noises = noises.to_vec();
        if !few {
            // Many vessels blur the curve more than the noise does: one noise for all of them.
            let middle = models.len() / 2;
            let tried = noises
                .iter()
                .map(|&(noise_kpa, chance)| start(middle, noise_kpa, chance));
            let best = tried.max_by(|a, b| a.ln_rank.total_cmp(&b.ln_rank));
            noises = best.iter().map(|best| (best.noise_kpa, 1.0)).collect();
        }
        let starts: Vec<Start> = (0..models.len())
            .flat_map(|index| {
                noises
                    .iter()
                    .map(move |&(noise_kpa, chance)| (index, noise_kpa, chance))
            })
            .map(|(index, noise_kpa, chance)| start(index, noise_kpa, chance))
            .collect();
        let best_rank = starts
            .iter()
            .map(|start| start.ln_rank)
            .fold(f64::NEG_INFINITY, f64::max);
        let points = if few { POINTS } else { POINTS_OF_MANY };
        let pieces: Vec<Piece> = starts
            .into_iter()
            .filter(|start| start.ln_rank >= best_rank - NEGLIGIBLE)
            .map(|start| Piece::new(&models[start.model], start, points))
            .collect();
        let top = pieces
            .iter()
            .map(|piece| piece.rates[piece.rates.len() - 1])
            .fold(0.0, f64::max);
        let mut curve = Self {
            pieces,
            top,
            ln_best: 0.0,
            rates: Vec::new(),
            ln: Vec::new(),
        };
        curve.rates = curve.grid();
        curve.ln = curve.rates.iter().map(|&rate| curve.raw(rate)).collect();
        curve.ln_best = curve.ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for value in &mut curve.ln {
            *value -= curve.ln_best;
        }
        curve
    }

    /// Half the grid evenly, half dense around where the pieces peak.
    fn grid(&self) -> Vec<f64> {
        let mut rates: Vec<f64> = (0..=FINE / 2)
            .map(|i| self.top * i as f64 / (FINE / 2) as f64)
            .collect();
        let share = FINE / 2 / self.pieces.len().max(1);
        for piece in &self.pieces {
            let (low, high) = (piece.rates[0], piece.rates[piece.rates.len() - 1]);
            rates.extend((0..share).map(|i| low + (high - low) * (i as f64 + 0.5) / share as f64));
        }
        rates.sort_by(f64::total_cmp);
        rates.dedup();
        rates
    }

    fn raw(&self, rate: f64) -> f64 {
        let terms: Vec<f64> = self
            .pieces
            .iter()
            .map(|piece| piece.ln_weight + piece.at(rate))
            .collect();
        let most = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        most + terms
            .iter()
            .map(|term| (term - most).exp())
            .sum::<f64>()
            .ln()
    }

    /// ln likelihood of a leak against the best one, at most about 0.
    pub(super) fn ln_at(&self, rate: f64) -> f64 {
        self.raw(rate) - self.ln_best
    }

    /// The likeliest leak, mL/min.
    pub(super) fn best(&self) -> f64 {
        let index = (0..self.ln.len())
            .max_by(|&a, &b| self.ln[a].total_cmp(&self.ln[b]).then(b.cmp(&a)))
            .unwrap_or(0);
        self.rates[index]
    }

    /// The leaks that the log does not speak against by more than `drop` in ln likelihood.
    pub(super) fn within(&self, drop: f64) -> (f64, f64) {
        let last = self.ln.len() - 1;
        let first_in = self.ln.iter().position(|&ln| ln >= -drop).unwrap_or(0);
        let last_in = self.ln.iter().rposition(|&ln| ln >= -drop).unwrap_or(last);
        let crossing = |outside: usize, inside: usize| {
            let (a, b) = (self.ln[outside], self.ln[inside]);
            let share = if b > a {
                ((-drop - a) / (b - a)).clamp(0.0, 1.0)
            } else {
                0.0
            };
            self.rates[outside] + share * (self.rates[inside] - self.rates[outside])
        };
        let low = if first_in == 0 {
            0.0
        } else {
            crossing(first_in - 1, first_in)
        };
        let high = if last_in == last {
            self.rates[last]
        } else {
            crossing(last_in + 1, last_in)
        };
        (low, high)
    }

    /// The vessel and the noise that go best with a given leak.
    pub(super) fn likeliest_piece(&self, rate: f64) -> (usize, f64) {
        self.pieces
            .iter()
            .map(|piece| (piece.ln_weight + piece.at(rate), piece))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map_or((0, 0.0), |(_, piece)| (piece.model, piece.noise_kpa))
    }
}

impl Piece {
    fn new(model: &Model, start: Start, points: usize) -> Self {
        let Start {
            model: index,
            noise_kpa,
            ln_weight,
            rough,
            mut sites,
            ..
        } = start;
        let low = (rough.rate - REACH * rough.spread).max(0.0);
        let high = rough.rate.max(0.0) + REACH * rough.spread;
        let mut follow = |low: f64, high: f64| -> (Vec<f64>, Vec<f64>) {
            let rates: Vec<f64> = (0..points)
                .map(|i| low + (high - low) * i as f64 / (points - 1) as f64)
                .collect();
            let ln = rates
                .iter()
                .map(|&rate| {
                    let (rows, unknowns, bounds) = model.system(rate, noise_kpa, None);
                    propagate(&rows, unknowns, &bounds, &mut sites).ln_evidence
                })
                .collect();
            (rates, ln)
        };
        let (mut rates, mut ln) = follow(low, high);
        // A cliff within the reach would set the spline swinging: follow again, on this side of it.
        for _ in 0..3 {
            let best = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let first = ln
                .iter()
                .position(|&value| value > best - CLIFF)
                .unwrap_or(0);
            let last = ln
                .iter()
                .rposition(|&value| value > best - CLIFF)
                .unwrap_or(points - 1);
            let kept = (first, last.max(first + 1).min(points - 1));
            if ln.iter().all(|&value| value > best - 3.0 * CLIFF) || kept.0 >= kept.1 {
                break;
            }
            (rates, ln) = follow(rates[kept.0], rates[kept.1]);
        }
        let bends = spline_bends(&rates, &ln);
        Self {
            model: index,
            noise_kpa,
            ln_weight,
            rates,
            ln,
            bends,
        }
    }

    /// Natural cubic spline; straight on beyond its ends.
    fn at(&self, rate: f64) -> f64 {
        let last = self.rates.len() - 1;
        let step = self.rates[1] - self.rates[0];
        if rate <= self.rates[0] {
            let slope = (self.ln[1] - self.ln[0]) / step - step * self.bends[1] / 6.0;
            return self.ln[0] + slope * (rate - self.rates[0]);
        }
        if rate >= self.rates[last] {
            let slope =
                (self.ln[last] - self.ln[last - 1]) / step + step * self.bends[last - 1] / 6.0;
            return self.ln[last] + slope.min(0.0) * (rate - self.rates[last]);
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let left = (((rate - self.rates[0]) / step) as usize).min(last - 1);
        let b = (rate - self.rates[left]) / step;
        let a = 1.0 - b;
        a * self.ln[left]
            + b * self.ln[left + 1]
            + ((a * a * a - a) * self.bends[left] + (b * b * b - b) * self.bends[left + 1])
                * step
                * step
                / 6.0
    }
}

/// Second derivatives of the natural spline through evenly spaced points.
fn spline_bends(rates: &[f64], values: &[f64]) -> Vec<f64> {
    let count = rates.len();
    let step = rates[1] - rates[0];
    let mut bends = vec![0.0; count];
    let mut factors = vec![0.0; count];
    let mut sums = vec![0.0; count];
    for i in 1..count - 1 {
        let right = 6.0 * (values[i + 1] - 2.0 * values[i] + values[i - 1]) / (step * step);
        let pivot = 4.0 - factors[i - 1];
        factors[i] = 1.0 / pivot;
        sums[i] = (right - sums[i - 1]) / pivot;
    }
    for i in (1..count - 1).rev() {
        bends[i] = sums[i] - factors[i] * bends[i + 1];
    }
    bends
}
