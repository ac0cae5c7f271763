//! Whether to act on a hunch now.
//!
//! In: the chance of what is suspected, its rivals, and the policy of the rules. Out: a
//! [`Decision`]. Acting is reasonable while (1 − p) × the cost of a needless repair is no more than
//! p × the cost of putting a right one off for another check: from p = c / (c + 1) on, where c is
//! the first cost in terms of the second. The policy declares c.
//!
//! The same-decision probability (Chen, Choi & Darwiche 2014, J. Artificial Intelligence Research
//! 49:601–633) is the chance that a check would leave the decision as it is.

use crate::advise::belief::{AdviseError, chance};
use crate::advise::case::Case;
use crate::advise::suspect::Suspect;
use crate::chance::Chance;

/// What to do about a hunch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stand {
    /// It is likely enough to act on.
    Act,
    /// It would be, but for one finding that fits badly: check that again first (its position in
    /// [`Case::found`]).
    CheckAgain(usize),
    /// Check first.
    Check,
    /// The findings point elsewhere.
    Elsewhere,
}

/// What to do about a hunch, and from when on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Decision {
    /// What to do now.
    pub stand: Stand,
    /// What a needless repair costs, in right repairs put off for another check.
    pub needless_repair: f64,
    /// Acting is reasonable from this chance on.
    pub act_from: Chance,
    /// Below this chance the hunch is dropped.
    pub dropped_below: Chance,
}

impl Decision {
    /// Weighs a hunch's chance against the likeliest rival's.
    ///
    /// # Errors
    /// A figure that is no probability.
    pub fn of(
        case: &Case<'_>,
        suspect: Suspect,
        now: f64,
        strongest_rival: f64,
    ) -> Result<Self, AdviseError> {
        let policy = &case.rules.policy;
        let kind = case.layout.parts[suspect.part(&case.graph)].kind;
        let needless_repair = policy.needless_repair_of(kind);
        let act_from = policy.act_from(kind, 1.0);
        let stand = if now >= act_from {
            Stand::Act
        } else if now < policy.dropped_below || strongest_rival >= policy.rival_leads * now {
            Stand::Elsewhere
        } else {
            Stand::Check
        };
        Ok(Self {
            stand,
            needless_repair,
            act_from: chance(act_from)?,
            dropped_below: chance(policy.dropped_below)?,
        })
    }

    /// Whether a chance settles the hunch, for or against.
    pub fn settles(&self, p: f64) -> bool {
        p >= self.act_from.get() || p < self.dropped_below.get()
    }
}

/// The chance that the decision "act from `act_from` on" stays as it is: `answers` holds each
/// answer's chance and the chance of the hunch after it.
///
/// ```
/// use seepwise::advise::same_decision;
/// // At 80 % one acts from 75 % on; only the second answer, one time in four, would change that.
/// assert_eq!(same_decision(0.8, 0.75, &[(0.75, 0.95), (0.25, 0.35)]), 0.75);
/// ```
pub fn same_decision(now: f64, act_from: f64, answers: &[(f64, f64)]) -> f64 {
    answers
        .iter()
        .filter(|(_, after)| (*after >= act_from) == (now >= act_from))
        .map(|(p, _)| p)
        .sum()
}
