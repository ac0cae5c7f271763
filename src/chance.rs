//! Probabilities, odds and decibans, and the one place where they are rounded for people.
//!
//! In: a number. Out: a [`Chance`], which can only hold a probability.
//!
//! ```
//! use seepwise::chance::Chance;
//! let half = Chance::new(0.5).unwrap();
//! assert_eq!(half.decibans(), 0.0);
//! assert_eq!(half.percent(), "50 %");
//! assert!(Chance::new(1.2).is_err());
//! ```

use thiserror::Error;

/// How far outside [0, 1] rounding may carry a computed probability.
pub const ROUNDING: f64 = 1e-12;

/// A number that is no probability.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("{0} is no probability: it must lie between 0 and 1")]
pub struct NotAChance(pub f64);

/// A probability in [0, 1].
#[derive(Clone, Copy, PartialEq, PartialOrd, Debug, Default)]
pub struct Chance(f64);

impl Chance {
    /// Checks a computed number. Rounding of up to [`ROUNDING`] outside [0, 1] is clipped.
    ///
    /// # Errors
    /// Anything further out, and NaN.
    pub fn new(value: f64) -> Result<Self, NotAChance> {
        if (-ROUNDING..=1.0 + ROUNDING).contains(&value) {
            Ok(Self(value.clamp(0.0, 1.0)))
        } else {
            Err(NotAChance(value))
        }
    }

    /// The number between 0 and 1.
    pub fn get(self) -> f64 {
        self.0
    }

    /// Odds p / (1 − p); infinite at 1.
    pub fn odds(self) -> f64 {
        self.0 / (1.0 - self.0)
    }

    /// Log-odds in decibans, 10·log10(p / (1 − p)) (I. J. Good 1950); infinite at 0 and 1.
    pub fn decibans(self) -> f64 {
        10.0 * self.odds().log10()
    }

    /// The probability as people read it: two digits, never "0 %" or "100 %".
    pub fn percent(self) -> String {
        let percent = self.0 * 100.0;
        if percent < 0.1 {
            "under 0.1 %".to_owned()
        } else if percent < 0.95 {
            format!("{percent:.1} %")
        } else if percent >= 99.9 {
            "over 99.9 %".to_owned()
        } else if percent >= 99.05 {
            format!("{percent:.1} %")
        } else {
            format!("{percent:.0} %")
        }
    }

    /// The odds as people read them: "3 to 1", "1 to 20", "even".
    pub fn odds_words(self) -> String {
        let odds = self.odds();
        if !odds.is_finite() || odds >= 999.5 {
            return "over 1000 to 1".to_owned();
        }
        if odds < 1.0 / 999.5 {
            return "under 1 to 1000".to_owned();
        }
        let (ratio, forwards) = if odds >= 1.0 {
            (odds, true)
        } else {
            (1.0 / odds, false)
        };
        let shown = match ratio {
            r if r < 1.05 => return "even".to_owned(),
            r if r < 9.95 => format!("{r:.1}").trim_end_matches(".0").to_owned(),
            r if r < 99.5 => format!("{r:.0}"),
            r => format!("{:.0}", (r / 10.0).round() * 10.0),
        };
        if forwards {
            format!("{shown} to 1")
        } else {
            format!("1 to {shown}")
        }
    }
}

/// Weight of evidence in decibans that moves one probability to another
/// (I. J. Good 1950): the difference of their log-odds.
pub fn weight_decibans(before: Chance, after: Chance) -> f64 {
    after.decibans() - before.decibans()
}

/// The entropy of a two-way choice, bits. 0 at both ends.
pub fn entropy_bits(p: f64) -> f64 {
    let term = |x: f64| if x > 0.0 { -x * x.log2() } else { 0.0 };
    term(p) + term(1.0 - p)
}

#[cfg(test)]
mod tests {
    use super::{Chance, entropy_bits, weight_decibans};

    #[test]
    fn percent_never_claims_certainty() {
        let shown = |p: f64| Chance::new(p).unwrap().percent();
        assert_eq!(shown(0.0), "under 0.1 %");
        assert_eq!(shown(1.0), "over 99.9 %");
        assert_eq!(shown(0.996), "99.6 %");
        assert_eq!(shown(0.9904), "99 %");
        assert_eq!(shown(0.0094), "0.9 %");
        assert_eq!(shown(0.125), "12 %");
    }

    #[test]
    fn odds_read_both_ways() {
        let shown = |p: f64| Chance::new(p).unwrap().odds_words();
        assert_eq!(shown(0.5), "even");
        assert_eq!(shown(0.75), "3 to 1");
        assert_eq!(shown(0.25), "1 to 3");
        assert_eq!(shown(1.0), "over 1000 to 1");
    }

    #[test]
    fn rounding_is_clipped_and_nonsense_refused() {
        assert!(Chance::new(-1e-13).unwrap().get().abs() < f64::MIN_POSITIVE);
        assert!(Chance::new(-1e-9).is_err());
        assert!(Chance::new(f64::NAN).is_err());
    }

    /// Published: chest clinic (Lauritzen & Spiegelhalter 1988), weight of a positive X-ray for
    /// lung cancer, factor .98/.059672 = 12.155 dB.
    #[test]
    fn weight_of_evidence_of_the_chest_clinic() {
        let before = Chance::new(0.055).unwrap();
        let after = Chance::new(0.488_711).unwrap();
        assert!((weight_decibans(before, after) - 12.155).abs() < 1e-3);
        assert!((entropy_bits(0.5) - 1.0).abs() < 1e-15);
    }
}
