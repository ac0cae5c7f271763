//! Findings that tie too much together are left out, so that the rest can be worked out.
//!
//! In: a [`Case`]. Out: the same, without the evidence of the findings that make its elimination tree too
//! large; they are named in [`Case::left_out`] and stay in the log.

use crate::advise::belief::{AdviseError, Belief};
use crate::advise::case::Case;

/// With fewer findings that show something nothing has ever hung together too much: not looked up.
const FEWEST_ABNORMAL: usize = 3;

/// Leaves out of the evidence what makes a case too dense, the fewest findings that will do.
pub fn leave_out_the_densest(case: &mut Case<'_>) {
    let abnormal = case.found.iter().filter(|found| !found.normal).count();
    if abnormal < FEWEST_ABNORMAL {
        return;
    }
    while let Err(AdviseError::TooDense { entries, .. }) = Belief::fits(case) {
        let before = case.left_out.len();
        for found in &mut case.found {
            if entries.contains(&found.entry) && !found.findings.is_empty() {
                found.findings.clear();
                case.left_out.push((found.entry, found.words.clone()));
            }
        }
        if case.left_out.len() == before {
            return;
        }
    }
}
