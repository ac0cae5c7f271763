//! Counts over the jobs of a drill.
//!
//! In: how each job went. Out: a [`Tally`]: shares with 95 % intervals (Wilson 1927), medians, the
//! Brier score (Brier 1950) and a reliability table.
//!
//! ```
//! use seepwise::train::Share;
//! let share = Share::of(81, 263);
//! assert!((share.low - 0.2553).abs() < 1e-4 && (share.high - 0.3662).abs() < 1e-4);
//! ```

use crate::train::played::Played;

/// Standard normal quantile at 97.5 %.
const Z: f64 = 1.959_963_984_540_054;
/// Bins of the reliability table.
const BINS: usize = 10;

/// A share of jobs with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// How many.
    pub count: usize,
    /// Of how many.
    pub of: usize,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Share {
    /// `count` of `of`. Without any trial the interval is everything.
    pub fn of(count: usize, of: usize) -> Self {
        if of == 0 {
            let (low, high) = (0.0, 1.0);
            return Self {
                count,
                of,
                low,
                high,
            };
        }
        let (n, p) = (of as f64, count as f64 / of as f64);
        let middle = p + Z * Z / (2.0 * n);
        let half = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
        let whole = 1.0 + Z * Z / n;
        Self {
            count,
            of,
            low: ((middle - half) / whole).max(0.0),
            high: ((middle + half) / whole).min(1.0),
        }
    }

    /// The share itself; 0 without any trial.
    pub fn value(self) -> f64 {
        if self.of == 0 {
            0.0
        } else {
            self.count as f64 / self.of as f64
        }
    }
}

/// Forecasts of about the same chance.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bin {
    /// How many forecasts.
    pub forecasts: usize,
    /// Their mean.
    pub mean: f64,
    /// How many came true.
    pub true_ones: usize,
}

/// Counts over jobs.
#[derive(Debug, Clone, PartialEq)]
pub struct Tally {
    /// Jobs in which every place that leaks was found.
    pub all_found: Share,
    /// The same for jobs in which the rules name a fault at each of these places.
    pub all_found_of_named: Share,
    /// Jobs in which every place that leaks was found, of those with two such places or more.
    pub all_found_of_several: Share,
    /// The same of those with two such places or more that lose it by a leak.
    pub all_found_of_several_leaks: Share,
    /// Jobs that ended with a place as the likeliest where the rules name no fault, of those in which
    /// such a place leaks.
    pub unnamed_told: Share,
    /// Jobs in which a place that leaks was ranked first at the first stop.
    pub first_right: Share,
    /// Places opened up that were sound, among all opened up.
    pub needless: Share,
    /// Jobs after which nothing leaks any more.
    pub dry: Share,
    /// Median hands-on minutes.
    pub minutes: f64,
    /// Median waiting minutes.
    pub waiting: f64,
    /// Median of hands-on minutes and weighted waiting.
    pub cost: f64,
    /// Mean number of checks.
    pub checks: f64,
    /// Mean squared error of the chances at the first stop; `None` without forecasts.
    pub brier: Option<f64>,
    /// Chances at the first stop against what was so, in tenths.
    pub reliability: Vec<Bin>,
}

impl Tally {
    /// Per bin with forecasts: their mean, the share that came true, how many.
    pub fn reliability_points(&self) -> Vec<(f64, f64, usize)> {
        self.reliability
            .iter()
            .filter(|bin| bin.forecasts > 0)
            .map(|bin| {
                let share = bin.true_ones as f64 / bin.forecasts as f64;
                (bin.mean, share, bin.forecasts)
            })
            .collect()
    }

    /// Counts. `waiting_counts` weighs a minute of waiting.
    pub fn of(played: &[&Played], waiting_counts: f64) -> Self {
        let jobs = || played.iter().copied();
        let count = |which: &dyn Fn(&&Played) -> bool| jobs().filter(which).count();
        let several = |job: &&Played| job.sources.len() > 1;
        let opened: usize = played
            .iter()
            .map(|job| job.found.len() + job.needless.len())
            .sum();
        let forecasts = || jobs().flat_map(|job| &job.forecast);
        let total = forecasts().count();
        let squares: f64 = forecasts()
            .map(|&(chance, so)| (chance - f64::from(u8::from(so))).powi(2))
            .sum();
        let mut reliability = vec![Bin::default(); BINS];
        for &(chance, so) in forecasts() {
            let bin = &mut reliability[bin_of(chance)];
            bin.forecasts += 1;
            bin.mean += chance;
            bin.true_ones += usize::from(so);
        }
        for bin in reliability.iter_mut().filter(|bin| bin.forecasts > 0) {
            bin.mean /= bin.forecasts as f64;
        }
        Self {
            all_found: Share::of(count(&|job| job.all_found()), played.len()),
            all_found_of_named: Share::of(
                count(&|job| !job.unnamed_leaks && job.all_found()),
                count(&|job| !job.unnamed_leaks),
            ),
            unnamed_told: Share::of(
                count(&|job| job.unnamed_leaks && job.ended_unnamed),
                count(&|job| job.unnamed_leaks),
            ),
            all_found_of_several: Share::of(
                count(&|job| several(job) && job.all_found()),
                count(&several),
            ),
            all_found_of_several_leaks: Share::of(
                count(&|job| job.leaks > 1 && job.all_found()),
                count(&|job| job.leaks > 1),
            ),
            first_right: Share::of(count(&|job| job.first_right), played.len()),
            needless: Share::of(played.iter().map(|job| job.needless.len()).sum(), opened),
            dry: Share::of(count(&|job| job.still_leaking.is_empty()), played.len()),
            minutes: median(played.iter().map(|job| job.minutes)),
            waiting: median(played.iter().map(|job| job.waiting)),
            cost: median(played.iter().map(|job| job.cost(waiting_counts))),
            checks: played.iter().map(|job| job.checks as f64).sum::<f64>()
                / (played.len() as f64).max(1.0),
            brier: (total > 0).then(|| squares / total as f64),
            reliability,
        }
    }
}

/// Tenths; a chance of one falls into the last.
fn bin_of(chance: f64) -> usize {
    (1..BINS)
        .find(|&bin| chance < bin as f64 / BINS as f64)
        .map_or(BINS - 1, |bin| bin - 1)
}

/// The middle value, or the mean of the two in the middle; 0 of none.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    match sorted.len() {
        0 => 0.0,
        n if n % 2 == 1 => sorted[n / 2],
        n => f64::midpoint(sorted[n / 2 - 1], sorted[n / 2]),
    }
}
