//! Findings: what has been seen of a variable.
//!
//! In: a variable and an answer, sure or not. Out: a likelihood per state.
//!
//! ```
//! use seepwise::ids::{Id, VarId};
//! use seepwise::infer::Finding;
//! let seen = Finding::hard(VarId::from_index(0), 3, 1);
//! assert_eq!(seen.likelihood, [0.0, 1.0, 0.0]);
//! ```

use crate::ids::{Id, VarId};
use crate::infer::{InferError, Network};

/// One finding: a likelihood per state of a variable. Several on one variable multiply.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The variable seen.
    pub var: VarId,
    /// P(what was seen | state), one number ≥ 0 per state; only the ratios matter to posteriors.
    pub likelihood: Vec<f64>,
}

impl Finding {
    /// The variable certainly is in `state` (of `states`). A state past the end leaves no state
    /// possible, which the engine reports as impossible.
    pub fn hard(var: VarId, states: usize, state: usize) -> Self {
        let likelihood = (0..states)
            .map(|s| f64::from(u8::from(s == state)))
            .collect();
        Self { var, likelihood }
    }

    /// A likelihood per state.
    pub fn soft(var: VarId, likelihood: Vec<f64>) -> Self {
        Self { var, likelihood }
    }
}

/// Findings merged per variable: each variable once, in order of id.
///
/// # Errors
/// [`InferError::BadInput`] for a wrong number of states, a negative number or NaN.
pub(super) fn merge(
    net: &Network,
    findings: &[Finding],
) -> Result<Vec<(VarId, Vec<f64>)>, InferError> {
    for (index, finding) in findings.iter().enumerate() {
        let bad = |problem| InferError::BadInput {
            what: "finding",
            index,
            problem,
        };
        if finding.var.index() >= net.len() {
            return Err(bad("no such variable"));
        }
        if finding.likelihood.len() != net.node(finding.var).states {
            return Err(bad("one likelihood per state is needed"));
        }
        if !finding
            .likelihood
            .iter()
            .all(|&l| l.is_finite() && l >= 0.0)
        {
            return Err(bad("a likelihood is a finite number, 0 or more"));
        }
    }
    let mut order: Vec<&Finding> = findings.iter().collect();
    order.sort_by(|a, b| {
        a.var.cmp(&b.var).then_with(|| {
            let pairs = a.likelihood.iter().zip(&b.likelihood);
            pairs
                .map(|(x, y)| x.total_cmp(y))
                .find(|o| o.is_ne())
                .unwrap_or(std::cmp::Ordering::Equal)
        })
    });
    let mut merged: Vec<(VarId, Vec<f64>)> = Vec::new();
    for finding in order {
        match merged.last_mut() {
            Some((var, likelihood)) if *var == finding.var => {
                likelihood
                    .iter_mut()
                    .zip(&finding.likelihood)
                    .for_each(|(a, b)| *a *= b);
            }
            _ => merged.push((finding.var, finding.likelihood.clone())),
        }
    }
    Ok(merged)
}
