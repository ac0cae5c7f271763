//! Whether a job can be closed, and what stays open.
//!
//! In: a [`Case`]. Out: a [`Closing`]: what was confirmed as a source, what was repaired and
//! proved, and every reason against closing it.

use crate::advise::account::{Account, confirmed};
use crate::advise::another::another_source;
use crate::advise::belief::{AdviseError, Belief};
use crate::advise::case::Case;
use crate::advise::rank::Ranking;
use crate::advise::retest::{Retest, Source, sources};
use crate::chance::Chance;
use crate::graph::Place;
use crate::ids::{BlockId, PartId};
use crate::measure::balance::Account as Accounted;
use crate::measure::plan::PlanError;

/// How a job stands when it is to be closed.
#[derive(Debug, Clone, PartialEq)]
pub struct Closing {
    /// What was repaired, place by place, and the chance that it had been a source.
    pub sources: Vec<Source>,
    /// Causes that are confirmed and not repaired, with their chance now.
    pub left: Vec<(Place, Chance)>,
    /// The chance that something still leaks.
    pub remains: Chance,
    /// For each repaired place, once, the chance that it leaks now.
    pub leaks_now: Vec<(PartId, Chance)>,
    /// What was found against what was lost, where both were measured.
    pub account: Option<Account>,
    /// What speaks against closing it.
    pub open: Vec<OpenPoint>,
}

/// One reason against closing a job.
#[derive(Debug, Clone, PartialEq)]
pub enum OpenPoint {
    /// Nothing has been found or repaired.
    Nothing,
    /// What was repaired is not sure to have been a source.
    NotSure(PartId, Chance),
    /// A confirmed cause has not been repaired.
    NotRepaired(Place),
    /// The retest still shows a leak: position in [`Case::found`].
    Falls(usize),
    /// A part of the retest is lacking: position in the rules' list.
    Lacking(usize),
    /// Something else may leak.
    Remains(Chance),
    /// What was found accounts for a part of the loss only.
    Remainder,
    /// A block is up.
    Blocked(BlockId),
}

/// A closing that can't be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ClosingError {
    /// As [`Belief::of`].
    #[error(transparent)]
    Advise(#[from] AdviseError),
    /// Figures of the balance that make no sense.
    #[error(transparent)]
    Balance(#[from] PlanError),
}

impl Closing {
    /// Weighs whether a case can be closed.
    ///
    /// # Errors
    /// As [`Belief::of`]; figures of the balance that make no sense.
    pub fn of(case: &Case<'_>) -> Result<Self, ClosingError> {
        let belief = Belief::of(case, &[])?;
        let ranking = Ranking::of(case, &belief)?;
        let sources = sources(case)?;
        let repaired = |place: Place| {
            let mut faults = sources.iter().flat_map(|source| &source.faults);
            faults.any(|(mended, _)| *mended == place)
        };
        let left: Vec<(Place, Chance)> = ranking
            .causes
            .iter()
            .filter(|cause| !repaired(cause.place) && confirmed(case).any(|at| at == cause.cause))
            .map(|cause| (cause.place, cause.probability))
            .collect();
        let leaks_now = ranking
            .leaks
            .iter()
            .filter(|leak| sources.iter().any(|source| source.part == leak.part))
            .map(|leak| (leak.part, leak.probability))
            .collect();
        let mended: Vec<usize> = (0..case.graph.causes.len())
            .filter(|&at| repaired(case.graph.causes[at].place))
            .collect();
        let account = Account::of(case, &mended)?;
        let mut closing = Self {
            remains: another_source(case, &belief, &[])?,
            sources,
            left,
            leaks_now,
            account,
            open: Vec::new(),
        };
        closing.open = closing.points(case);
        Ok(closing)
    }

    fn points(&self, case: &Case<'_>) -> Vec<OpenPoint> {
        if self.sources.is_empty() && self.left.is_empty() {
            return vec![OpenPoint::Nothing];
        }
        let policy = &case.rules.policy;
        let unsure = self.sources.iter();
        let mut open: Vec<OpenPoint> = unsure
            .filter(|source| source.leaked.get() < policy.named_at)
            .map(|source| OpenPoint::NotSure(source.part, source.leaked))
            .collect();
        open.extend(
            self.left
                .iter()
                .map(|(place, _)| OpenPoint::NotRepaired(*place)),
        );
        if let Some(retest) = Retest::of(case) {
            let lacking = retest.lacking_at(case, self.remains);
            let settled = lacking.is_empty() && retest.is_false_alarm(case, self.remains);
            open.extend(retest.showing().filter(|_| !settled).map(OpenPoint::Falls));
            open.extend(lacking.iter().map(|part| OpenPoint::Lacking(part.proof)));
        }
        if self.remains.get() >= policy.another_below {
            open.push(OpenPoint::Remains(self.remains));
        }
        let part = |account: &Account| matches!(account.balance.account, Accounted::Part { .. });
        if self.account.as_ref().is_some_and(part) {
            open.push(OpenPoint::Remainder);
        }
        // A block that comes with the vehicle is no finding.
        let raised = |id: &&BlockId| case.rules.blocks[**id].raised_where.is_none();
        let up = case.blocks.iter().filter(raised);
        open.extend(up.map(|&id| OpenPoint::Blocked(id)));
        open
    }
}
