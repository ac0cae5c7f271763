//! Bands of leak rates, such as the levels of the rules.

/// How far an open end lies from the other one.
const OPEN: f64 = 100.0;

/// A band from `from` to `to` (any unit) as one between ends above 0: one that starts at 0 begins
/// at a hundredth of its end, one without end is cut at a hundredfold of its start.
pub(super) fn closed_band(from: f64, to: f64) -> (f64, f64) {
    let to = if to.is_finite() {
        to
    } else {
        OPEN * from.max(1e-6)
    };
    (if from > 0.0 { from } else { to / OPEN }, to)
}
