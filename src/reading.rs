//! A measurement → a likelihood per state: the only bridge from [`measure`](crate::measure) to
//! [`infer`](crate::infer).
//!
//! In: a result of `measure`, and what the states stand for. Out: a [`Finding`].
//!
//! ```
//! use seepwise::ids::{Id, VarId};
//! use seepwise::measure::coolant::Strength;
//! use seepwise::reading::strength_above;
//! let measured = Strength { percent: 61.0, lowest: 58.0, highest: 62.0 };
//! let finding = strength_above(VarId::from_index(0), 2, 1, &measured, 60.0);
//! assert_eq!(finding.likelihood, [0.5, 0.5]); // half of what the instrument leaves open
//! ```

use crate::ids::VarId;
use crate::infer::Finding;
use crate::measure::balance::{Balance, likelihood_of_any_loss, likelihood_of_leak};
use crate::measure::coolant::Strength;
use crate::measure::hold::{HoldResult, relative_viscosity};
use crate::measure::plan::ReportedLoss;

/// A log that says nothing of the leak: read off the wrong gauge, written down wrongly, a hose
/// pinched. So much of the best level's likelihood is left to every other (author's judgement).
/// It keeps a log from ever being certain.
const BLUNDER: f64 = 0.005;
/// Viscosity and density of the coolant while running are those at this temperature, °C.
const RUNNING_C: f64 = 90.0;
/// Between an orifice and a fine crack a leak may follow either law: so many steps between them.
const LAWS: u32 = 5;
/// At most this share of a strength is left to the less likely side.
const LEAST_SHARE: f64 = 0.01;

/// So many losses in numbers are told wrongly by far: another vehicle's, a week for a month; such a
/// one may be of any size. Author's judgement, like that of the complaint, where one in forty who has
/// a seep tells of half a litre a week.
const MISTOLD: f64 = 0.03;

/// What a level of leak stands for: its band while running, mL/min; `None` for no leak.
pub type Band = Option<(f64, f64)>;

/// A gauge log as a likelihood per level: λ(level) = ∫ p(log | rate) over the level's band, the
/// rate log-uniform within it. Bands are rates while running; a hold at `coolant_c` sees them
/// slowed down by cold coolant: not at all for an orifice, fully for a fine crack, and all laws
/// between count alike. No leak stands for less than the first band.
pub fn hold_levels(result: &HoldResult, levels: &[Band], coolant_c: f64) -> Vec<f64> {
    let running = bands(levels);
    let slowest = relative_viscosity(coolant_c) / relative_viscosity(RUNNING_C);
    let mut sums = vec![0.0; levels.len()];
    for law in 0..LAWS {
        let slowed = slowest.powf(f64::from(law) / f64::from(LAWS - 1));
        let cold: Vec<(f64, f64)> = running
            .iter()
            .map(|(from, to)| (from / slowed, to / slowed))
            .collect();
        for (sum, likelihood) in sums.iter_mut().zip(result.likelihood_of_bands(&cold)) {
            *sum += likelihood / f64::from(LAWS);
        }
    }
    let best = sums.iter().copied().fold(0.0, f64::max);
    if best <= 0.0 {
        // No level fits at all: the log says nothing.
        return vec![1.0; levels.len()];
    }
    sums.iter()
        .map(|likelihood| (likelihood / best + BLUNDER) / (1.0 + BLUNDER))
        .collect()
}

/// A gauge log as a finding on the worst of the leaks that the gauge sees.
pub fn hold(node: VarId, result: &HoldResult, levels: &[Band], coolant_c: f64) -> Finding {
    Finding::soft(node, hold_levels(result, levels, coolant_c))
}

/// A loss in numbers as a likelihood per level of the worst leak of all. A worst-of-all does not add
/// rates: the loss is read as if the worst leak were all of it. Who tells of a loss where nothing
/// leaks tells of as much as the smallest leak loses: numbers do not tell the two apart.
pub fn loss_levels(loss: &ReportedLoss, levels: &[Band]) -> Vec<f64> {
    let any = any_loss(levels);
    let fits = likelihood_of_leak(loss, &bands(levels))
        .into_iter()
        .zip(levels);
    let smallest = fits.clone().find(|(_, band)| band.is_some());
    let least = smallest.map_or(0.0, |(fit, _)| fit);
    fits.map(|(fit, band)| told(band.map_or(least, |_| fit), any))
        .collect()
}

/// What was found against what was lost, as a likelihood per level of the worst of all other leaks.
pub fn rest_levels(balance: &Balance, levels: &[Band]) -> Vec<f64> {
    let any = any_loss(levels);
    let fits = balance.likelihood_of_rest(&bands(levels));
    fits.into_iter().map(|fit| told(fit, any)).collect()
}

/// A loss that is told rightly as a rule.
fn told(fit: f64, any: f64) -> f64 {
    (1.0 - MISTOLD) * fit + MISTOLD * any
}

/// The likelihood of a loss that may be anywhere in the levels' range.
fn any_loss(levels: &[Band]) -> f64 {
    let ends = levels.iter().flatten();
    let least = ends
        .clone()
        .map(|band| band.0)
        .fold(f64::INFINITY, f64::min);
    let most = ends.map(|band| band.1).fold(0.0, f64::max);
    if most > least {
        likelihood_of_any_loss(most / least)
    } else {
        1.0
    }
}

/// The levels' bands; no leak is less than the first.
fn bands(levels: &[Band]) -> Vec<(f64, f64)> {
    let smallest = levels.iter().flatten().map(|band| band.0);
    let smallest = smallest.fold(f64::INFINITY, f64::min);
    levels
        .iter()
        .map(|band| band.unwrap_or((0.0, smallest)))
        .collect()
}

/// Days without loss as a likelihood per level: P(no fall noticed | level). Over the band of a
/// level, its rate log-uniform within it, what leaks in the days either reaches `notices_ml` or
/// does not; of the falls that do, the share `misses` is missed all the same. `hours_a_day`: hours
/// in which a leak is open. Without a leak nothing falls.
pub fn dry_levels(
    levels: &[Band],
    days: f64,
    hours_a_day: f64,
    notices_ml: f64,
    misses: f64,
) -> Vec<f64> {
    let noticed_from = notices_ml / (days * hours_a_day * 60.0);
    levels
        .iter()
        .map(|band| {
            band.map_or(1.0, |(from, to)| {
                let too_little = ((noticed_from / from).ln() / (to / from).ln()).clamp(0.0, 1.0);
                too_little + (1.0 - too_little) * misses
            })
        })
        .collect()
}

/// A measured strength as a finding on a sign whose `answer` (of `answers`) says "below `limit`",
/// its normal answer "not below": each by the share of what the instrument leaves open.
pub fn strength_below(
    sign: VarId,
    answers: usize,
    answer: usize,
    measured: &Strength,
    limit: f64,
) -> Finding {
    side(sign, answers, answer, share_below(measured, limit))
}

/// The same for "above `limit`".
pub fn strength_above(
    sign: VarId,
    answers: usize,
    answer: usize,
    measured: &Strength,
    limit: f64,
) -> Finding {
    side(sign, answers, answer, 1.0 - share_below(measured, limit))
}

fn share_below(measured: &Strength, limit: f64) -> f64 {
    let width = measured.highest - measured.lowest;
    if width > 0.0 {
        ((limit - measured.lowest) / width).clamp(0.0, 1.0)
    } else {
        f64::from(u8::from(measured.percent < limit))
    }
}

fn side(sign: VarId, answers: usize, answer: usize, share: f64) -> Finding {
    let share = share.clamp(LEAST_SHARE, 1.0 - LEAST_SHARE);
    let likelihood = (0..answers)
        .map(|state| match state {
            state if state == answer => share,
            0 => 1.0 - share,
            _ => 0.0,
        })
        .collect();
    Finding::soft(sign, likelihood)
}
