//! What one graduation of the gauge stands for, and how unsteady its readings are.

use super::vessel::KPA_PER_PSI;

/// Usual gauges, coarsest first, kPa.
const USUAL_KPA: [f64; 14] = [
    2.0 * KPA_PER_PSI,
    10.0,
    KPA_PER_PSI,
    5.0,
    0.5 * KPA_PER_PSI,
    2.0,
    0.25 * KPA_PER_PSI,
    0.2 * KPA_PER_PSI,
    1.0,
    0.1 * KPA_PER_PSI,
    0.5,
    0.2,
    0.1,
    0.01 * KPA_PER_PSI,
];
/// What a needle is read to by whoever notes it twice only: marks stand a psi apart or half of that.
/// Author's judgement.
const READ_TO_KPA: f64 = 0.5 * KPA_PER_PSI;
const FEW_READINGS: usize = 4;
/// Coarser ones are believed only of a log that visits several of their marks.
const COARSEST_FROM_FEW_KPA: f64 = 7.0;

/// The coarsest usual graduation of which every reading is a multiple (to the tenth of a kPa to
/// which it may have been rounded), or what separates the closest two readings.
pub(super) fn guess_graduation(gauge_kpa: &[f64]) -> f64 {
    let distinct = sorted_distinct(gauge_kpa);
    let fits = |graduation: f64| {
        let slack = (0.12 * graduation).min(0.06);
        (distinct.len() >= 3 || graduation < COARSEST_FROM_FEW_KPA)
            && distinct
                .iter()
                .all(|&reading| off_mark(reading, graduation) <= slack)
    };
    if let Some(&graduation) = USUAL_KPA.iter().find(|&&graduation| fits(graduation)) {
        return graduation;
    }
    distinct
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(0.5, f64::min)
        .max(0.01)
}

/// The graduation to work with: the one given, unless the readings fall between its marks, in
/// which case the user reads finer than that.
pub(super) fn working_graduation(given_kpa: Option<f64>, gauge_kpa: &[f64]) -> f64 {
    let Some(given) = given_kpa else {
        let guess = guess_graduation(gauge_kpa);
        // Two or three readings tell nothing of the marks.
        let few = gauge_kpa.len() < FEW_READINGS;
        return if few { guess.min(READ_TO_KPA) } else { guess };
    };
    for parts in [1.0, 2.0, 4.0, 5.0, 10.0] {
        let finer = given / parts;
        let slack = (0.15 * finer).max(0.02);
        if gauge_kpa
            .iter()
            .all(|&reading| off_mark(reading, finer) <= slack)
        {
            return finer;
        }
    }
    // Off any mark: the log was converted or corrected; its steps are still those of the gauge.
    given
}

fn off_mark(reading: f64, graduation: f64) -> f64 {
    (reading - (reading / graduation).round() * graduation).abs()
}

fn sorted_distinct(gauge_kpa: &[f64]) -> Vec<f64> {
    let mut sorted = gauge_kpa.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    sorted
}

/// Unsteadiness of the readings, kPa: the typical size of their second differences, as the
/// standard deviation of independent noise that would cause it.
pub(super) fn roughness(values: &[f64]) -> f64 {
    if values.len() < 6 {
        return 0.0;
    }
    // The first few are left out: settling bends them.
    let mut bends: Vec<f64> = values[2..]
        .windows(3)
        .map(|three| (three[0] - 2.0 * three[1] + three[2]).abs())
        .collect();
    bends.sort_by(f64::total_cmp);
    // Independent noise of variance σ² gives second differences of variance 6σ²; the median of
    // the absolute value of a normal variable is 0.6745 of its standard deviation.
    bends[bends.len() / 2] / 6.0_f64.sqrt() / 0.674_5
}

#[cfg(test)]
mod tests {
    use super::{guess_graduation, working_graduation};

    #[test]
    fn usual_gauges_are_recognised() {
        let psi = 6.894_757;
        assert!((guess_graduation(&[12.0 * psi, 11.5 * psi, 11.0 * psi]) - 0.5 * psi).abs() < 1e-9);
        assert!((guess_graduation(&[82.7, 81.0, 79.3]) - 0.25 * psi).abs() < 1e-9);
        assert!((guess_graduation(&[100.0, 95.0, 80.0]) - 5.0).abs() < 1e-9);
        assert!((guess_graduation(&[82.7, 82.6, 82.4]) - 0.1).abs() < 1e-9);
        // A needle that never moves tells little of its marks: not the coarsest.
        assert!((guess_graduation(&[12.0 * psi; 5]) - psi).abs() < 1e-9);
        // Two readings in whole psi are no sign of a coarse gauge.
        assert!((working_graduation(None, &[15.0 * psi, 14.0 * psi]) - 0.5 * psi).abs() < 1e-9);
        // Read between the marks.
        assert!(
            (working_graduation(Some(2.0 * psi), &[12.0 * psi, 11.0 * psi]) - psi).abs() < 1e-9
        );
    }
}
