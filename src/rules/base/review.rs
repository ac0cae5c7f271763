//! What a review measures the rules against: limits, and the shares that experience states.

use crate::rules::base::workshop::Selector;
use crate::rules::base::{Reason, Source};

/// From where on a review gives advice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReviewLimits {
    /// Most words of one step.
    pub words_per_step: usize,
    /// Most steps of one how-to.
    pub steps_per_how_to: usize,
    /// Most words of one how-to.
    pub words_per_how_to: usize,
    /// Least reading ease of a text (Flesch 1948; 100 is easy, 0 is hard).
    pub reading_ease: f64,
    /// Texts of fewer words than this are not graded.
    pub graded_from_words: usize,
    /// Two faults count as not told apart if the best check gives fewer bits at even odds.
    pub told_apart_bits: f64,
    /// A check is not worth asking if nothing it reads gives this many bits at even odds.
    pub worth_asking_bits: f64,
    /// A share may be this many times a stated one, or that many times less.
    pub share_factor: f64,
}

impl Default for ReviewLimits {
    fn default() -> Self {
        Self {
            words_per_step: 25,
            steps_per_how_to: 5,
            words_per_how_to: 90,
            reading_ease: 70.0,
            graded_from_words: 15,
            told_apart_bits: 0.05,
            worth_asking_bits: 0.01,
            share_factor: 1.5,
        }
    }
}

/// The stated shares of one layout: where the coolant goes once a loss is reported.
#[derive(Debug, Clone, PartialEq)]
pub struct Shares {
    /// The layout's id.
    pub layout: String,
    /// The answers of the report of a loss that they speak of, as written; empty: any loss.
    pub reported: Vec<String>,
    /// The rows; a fault belongs to the first that fits.
    pub rows: Vec<ShareRow>,
    /// Why they are believed.
    pub reason: Reason,
}

impl Shares {
    /// A table without rows.
    pub fn of(layout: String) -> Self {
        let reason = Reason {
            because: "".into(),
            source: Source::Judgement,
        };
        let (reported, rows) = (Vec::new(), Vec::new());
        Self {
            layout,
            reported,
            rows,
            reason,
        }
    }
}

/// One row of stated shares.
#[derive(Debug, Clone, PartialEq)]
pub struct ShareRow {
    /// What people call it ("hose ends").
    pub name: String,
    /// The faults that it holds.
    pub of: Selector,
    /// The stated share, 0 to 1.
    pub share: f64,
    /// Why this layout differs; such a row is expected to be out of line.
    pub differs: Option<String>,
}
