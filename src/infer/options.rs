//! How an engine works: limits, tie-breaks and digits.
//!
//! In: what the caller needs. Out: [`Options`], which compiling and answering go by.
//!
//! Example: the defaults give all digits that numbers have.

use crate::infer::calibrate::Digits;

/// Limits and tie-breaks.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Most table entries that the junction tree may have, counted before zeros are left out.
    pub budget_entries: usize,
    /// Most entries of a tree that a single question gets for itself.
    pub question_entries: usize,
    /// Seed of the elimination order's tie-breaks.
    pub seed: u64,
    /// Most products that a question may be spread over before it gets a tree of its own, which
    /// also holds the hidden nodes between its signs and the findings.
    pub most_products: usize,
    /// Only so many of the targets, the first, are followed through questions; the others are
    /// worked out once. A question costs less, the fewer there are.
    pub most_followed: usize,
    /// How far off a posterior may be. Where much cancels, closer figures take several times as long.
    pub off: f64,
    /// How far off a target after an answer may be. For answers too rare for that, questions are
    /// worked out in more digits.
    pub off_after_answer: f64,
    /// Answers with a smaller chance than this need not be trusted: they count as if they told
    /// nothing, where they would cost more digits.
    pub rarest_answer: f64,
    /// Also work out the distribution of every variable that the tree holds anyway.
    pub all_inside: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            budget_entries: 20_000_000,
            question_entries: 1_500_000,
            seed: 1,
            most_products: 300,
            most_followed: usize::MAX,
            off: 0.0,
            off_after_answer: 1e-4,
            rarest_answer: 0.0,
            all_inside: false,
        }
    }
}

impl Options {
    /// The digits that a calibration needs.
    pub(super) fn digits(&self) -> Digits {
        Digits {
            event: self.off,
            after_answer: self.off_after_answer,
        }
    }
}
