//! What can go wrong between a network and an answer.
//!
//! In: a failed compilation or question. Out: one variant that says what, where and what to do.
//!
//! ```
//! use seepwise::infer::InferError;
//! let error = InferError::TooDense { entries: 5_000_000_000, blame: vec![3] };
//! assert!(error.to_string().contains("set aside"));
//! ```

use thiserror::Error;

/// Why no answer could be given. Indices into `findings` are those of the caller's slice.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum InferError {
    /// The evidence has probability zero.
    #[error("these findings can't all be true together: {findings:?}; take one of them back")]
    Impossible {
        /// A small set that is impossible together and possible without any one of its members.
        findings: Vec<usize>,
    },
    /// The junction tree would pass the budget.
    #[error(
        "the findings tie too much together: {entries} table entries are needed; \
         the findings {blame:?} do most of it and can be set aside"
    )]
    TooDense {
        /// Entries that the best order found would need.
        entries: u128,
        /// Findings without which the tree is smallest, worst first.
        blame: Vec<usize>,
    },
    /// Two ways through the same numbers disagree, or a result is no probability.
    #[error("rounding has spoilt the result ({what}: {value:e}); please report this network")]
    Numeric {
        /// Which check failed.
        what: &'static str,
        /// The number that failed it.
        value: f64,
    },
    /// A finding, target or question doesn't fit the network.
    #[error("{what} number {index} doesn't fit the network: {problem}")]
    BadInput {
        /// "finding", "target", "question" or "marginal".
        what: &'static str,
        /// Its position in the caller's slice.
        index: usize,
        /// What is wrong with it.
        problem: &'static str,
    },
    /// A question that was not announced to [`super::Engine::new`].
    #[error("there is no question number {0}")]
    NoSuchQuestion(usize),
    /// The enumeration oracle refuses large networks.
    #[error("{states} joint states are too many to enumerate")]
    TooManyStates {
        /// Joint states of all hidden variables.
        states: u128,
    },
}
