//! When to stop looking.
//!
//! In: a case's ranking and proposals. Out: a [`Verdict`], which carries its reasons as values.

use crate::advise::another::another_source;
use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::Case;
use crate::advise::next::{Proposal, Proposals};
use crate::advise::rank::{RankedLeak, Ranking};
use crate::advise::retest::Retest;
use crate::chance::Chance;
use crate::ids::{PartId, TaskId};

/// Whether to go on looking.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// A source is named and another is unlikely: stop and repair.
    Repair {
        /// The named causes, by their position in the graph.
        named: Vec<usize>,
        /// The chance that another source remains.
        another: Chance,
        /// Of the checks left the one that would most often make another place the likeliest, and
        /// how often; none where none was weighed.
        unsettled_by: Option<(TaskId, Chance)>,
    },
    /// A source is named, but another is likely: repair, and go on looking.
    AnotherLikely {
        /// The named causes.
        named: Vec<usize>,
        /// The chance that another source remains.
        another: Chance,
    },
    /// No source is sure, but one is likely enough to act on, and no check tells much for its time.
    Act {
        /// The cause, by its position in the graph.
        named: Vec<usize>,
        /// The chance that its place leaks.
        leaks: Chance,
        /// The best gain left, bits per hour.
        best_bits_per_hour: f64,
    },
    /// Nothing that can be done here is worth its time any more.
    NothingLeft {
        /// The best gain left, bits per hour.
        best_bits_per_hour: f64,
        /// The chance of the likeliest place, the tester left out; none if nothing can leak.
        likeliest: Option<Chance>,
        /// Whether the rules name no fault at that place.
        unnamed: bool,
        /// The check that would still tell most, whatever it takes, and how many bits.
        most_telling: Option<(TaskId, f64)>,
    },
    /// Repaired, and little speaks for another source so far; the retest is not complete.
    Retest {
        /// The chance that something still leaks.
        remains: Chance,
    },
    /// Repaired, and dry so far but for what is most likely a false alarm; there is doubt enough left for
    /// what only doubt asks for.
    Watch {
        /// The chance that something still leaks.
        remains: Chance,
    },
    /// Repaired, and the retest is complete and dry, or what it showed was most likely a false alarm.
    Proved {
        /// The chance that something still leaks all the same.
        remains: Chance,
    },
    /// Go on.
    GoOn,
}

impl Verdict {
    /// Weighs a case.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(
        case: &Case<'_>,
        ranking: &Ranking,
        belief: &Belief,
        proposals: &Proposals,
    ) -> Result<Self, AdviseError> {
        match Self::of_repairs(case, ranking, belief)? {
            Some(Self::Repair { named, another, .. }) => Ok(Self::Repair {
                unsettled_by: most_unsettling(case, proposals, &named)?,
                named,
                another,
            }),
            Some(told) => Ok(told),
            None => Ok(Self::of_checks(case, ranking, proposals)),
        }
    }

    /// The verdict where no source is sure: by what the checks left tell for their time.
    pub fn of_checks(case: &Case<'_>, ranking: &Ranking, proposals: &Proposals) -> Self {
        let best_bits_per_hour = proposals.best_bits_per_hour();
        if best_bits_per_hour < case.rules.policy.act_below_bits_per_hour
            && let Some((cause, leaks)) = likely_enough(case, ranking, 1.0)
        {
            return Self::Act {
                named: vec![cause],
                leaks,
                best_bits_per_hour,
            };
        }
        if proposals.nothing_left() {
            let first = ranking.leaks.iter().find(|leak| !leak.apart);
            return Self::NothingLeft {
                best_bits_per_hour,
                likeliest: first.map(|leak| leak.probability),
                unnamed: first.is_some_and(|leak| !can_be_named(case, leak.part)),
                most_telling: (proposals.most_telling())
                    .map(|check| (check.asked.task, check.gain_bits)),
            };
        }
        Self::GoOn
    }

    /// The verdict as far as it rests on what to repair and what was repaired; none if no place is
    /// sure enough and no retest speaks.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of_repairs(
        case: &Case<'_>,
        ranking: &Ranking,
        belief: &Belief,
    ) -> Result<Option<Self>, AdviseError> {
        match Self::found(case, ranking, belief)? {
            Some(found) => Ok(Some(found)),
            None => Self::tested(case, belief),
        }
    }

    /// The causes that it names, by their position in the graph.
    pub fn named(&self) -> &[usize] {
        match self {
            Self::Repair { named, .. }
            | Self::AnotherLikely { named, .. }
            | Self::Act { named, .. } => named,
            Self::NothingLeft { .. }
            | Self::Retest { .. }
            | Self::Watch { .. }
            | Self::Proved { .. }
            | Self::GoOn => &[],
        }
    }

    /// The verdict on a repair; none where nothing was repaired, or where it most likely still leaks.
    fn tested(case: &Case<'_>, belief: &Belief) -> Result<Option<Self>, AdviseError> {
        let Some(retest) = Retest::of(case) else {
            return Ok(None);
        };
        let remains = another_source(case, belief, &[])?;
        let unlikely = remains.get() < case.rules.policy.another_below;
        Ok(if retest.falls() && !retest.is_false_alarm(case, remains) {
            None
        } else if retest.lacking().next().is_some() {
            Some(Self::Retest { remains })
        } else if !unlikely {
            None
        } else if !retest.lacking_at(case, remains).is_empty() {
            Some(Self::Watch { remains })
        } else {
            Some(Self::Proved { remains })
        })
    }

    /// The verdict as far as sources are named; none if no place is sure enough.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn found(
        case: &Case<'_>,
        ranking: &Ranking,
        belief: &Belief,
    ) -> Result<Option<Self>, AdviseError> {
        let policy = &case.rules.policy;
        // Places are named, since one hole can have several faults behind it: at a place that
        // leaks almost surely, its likeliest fault stands for it.
        let named: Vec<usize> = ranking
            .leaks
            .iter()
            .filter(|leak| !leak.apart && leak.probability.get() >= policy.named_at)
            .filter_map(|leak| leak.causes.first().map(|&at| ranking.causes[at].cause))
            .collect();
        if named.is_empty() {
            return Ok(None);
        }
        let another = another_source(case, belief, &named)?;
        Ok(Some(if another.get() < policy.another_below {
            Self::Repair {
                named,
                another,
                unsettled_by: None,
            }
        } else {
            Self::AnotherLikely { named, another }
        }))
    }
}

/// The likeliest cause at a place that leaks likely enough to act on, and the chance that the place
/// leaks: a needless repair there costs little enough. `share`: so much of its cost counts.
pub fn likely_enough(case: &Case<'_>, ranking: &Ranking, share: f64) -> Option<(usize, Chance)> {
    let worth = |leak: &&RankedLeak| {
        let kind = case.layout.parts[leak.part].kind;
        !leak.apart && leak.probability.get() >= case.rules.policy.act_from(kind, share)
    };
    // What is not known can't be repaired.
    let repairable = |leak: &&RankedLeak| can_be_named(case, leak.part);
    let leak = ranking.leaks.iter().filter(repairable).find(worth)?;
    let first = leak.causes.first()?;
    Some((ranking.causes[*first].cause, leak.probability))
}

/// Whether the rules name any fault at a place: there is none for what leaks somewhere else.
pub fn can_be_named(case: &Case<'_>, part: PartId) -> bool {
    let mut here = case
        .graph
        .causes
        .iter()
        .filter(|cause| cause.place.part == part);
    here.any(|cause| !case.rules.faults[cause.place.fault].other)
}

/// The check that would most often make another place the likeliest, and how often it would: one
/// minus its same-decision probability, for the decision where to repair.
fn most_unsettling(
    case: &Case<'_>,
    proposals: &Proposals,
    named: &[usize],
) -> Result<Option<(TaskId, Chance)>, AdviseError> {
    let part = |cause: usize| case.graph.causes[cause].place.part;
    let elsewhere = |first: usize| named.iter().all(|&cause| part(cause) != part(first));
    let changes = |check: &Proposal| -> f64 {
        let outcomes = check.outcomes.iter();
        let away = outcomes.filter(|outcome| outcome.first.is_some_and(|(at, _)| elsewhere(at)));
        away.map(|outcome| outcome.probability.get()).sum()
    };
    let checks = proposals.checks.iter();
    let most = checks
        .map(|check| (check.asked.task, changes(check)))
        .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
    most.map(|(task, p)| Ok((task, chance(p.min(1.0))?)))
        .transpose()
}
