//! The balance sheet: what each finding did to everything that is believed.
//!
//! In: a [`Case`]. Out: a [`Sheet`]: the belief before any finding, after each finding in the
//! order of the log, without each finding, and the chance of each finding by itself. From it follow
//! the weights of evidence for any cause (I. J. Good 1950, 1985), what each finding adds when it
//! comes last (Suermondt 1992), and how well the findings fit together.
//!
//! Each belief is worked out exactly and by itself, on all cores.

use std::sync::atomic::{AtomicUsize, Ordering};

use crate::advise::belief::{AdviseError, Belief};
use crate::advise::case::Case;
use crate::advise::suspect::Suspect;
use crate::ids::{IdVec, PartId};
use crate::infer::{Finding, InferError};

/// What is believed with some of the findings, without the engine behind it.
#[derive(Debug, Clone, PartialEq)]
pub struct Snapshot {
    /// For each cause: the chance that it causes a loss.
    pub causes: Vec<f64>,
    /// For each part: the chance that it leaks.
    pub leaks: IdVec<PartId, Option<f64>>,
    /// Natural logarithm of the chance of these findings together.
    pub log_evidence: f64,
}

impl Snapshot {
    /// What of a belief is kept.
    pub fn of(belief: &Belief) -> Self {
        Self {
            causes: belief.causes.clone(),
            leaks: belief.leaks.clone(),
            log_evidence: belief.log_evidence(),
        }
    }

    /// The chance of what is suspected; 0 for a place that can't leak.
    pub fn chance_of(&self, suspect: Suspect) -> f64 {
        match suspect {
            Suspect::Cause(cause) => self.causes[cause],
            Suspect::Place(part) => self.leaks[part].unwrap_or(0.0),
        }
    }
}

/// What each finding did.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Before any finding.
    pub start: Snapshot,
    /// With each finding alone.
    pub alone: Vec<Snapshot>,
    /// In the order of the log and left out one by one, unless that was too dear.
    pub whole: Option<Whole>,
}

/// The dear part of a balance sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    /// After each finding, in the order of the log.
    pub after: Vec<Snapshot>,
    /// Without each finding, all others kept.
    pub without: Vec<Snapshot>,
}

impl Sheet {
    /// Works out a sheet; `whole` says whether with the dear part. It costs about one belief with
    /// all findings and one with half of them for each finding; the rest is cheap.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(case: &Case<'_>, now: &Belief, whole: bool) -> Result<Self, AdviseError> {
        let count = case.found.len();
        // Each belief as the findings that go into it; what is the same is worked out once.
        let mut wanted: Vec<Vec<usize>> = vec![Vec::new()];
        wanted.extend((0..count).map(|only| vec![only]));
        if whole {
            wanted.extend((2..count).map(|first| (0..first).collect()));
            let others = |left: usize| (0..count).filter(move |&at| at != left).collect();
            // Without the last finding it stands as it stood before it.
            let last = count.saturating_sub(1);
            let distinct = (0..last).filter(|_| count > 2).map(others);
            wanted.extend(distinct);
        }
        let mut done = on_all_cores(&wanted, |of| snapshot(case, of))?.into_iter();
        let mut take = |n: usize| -> Vec<Snapshot> { done.by_ref().take(n).collect() };
        let start = take(1).remove(0);
        let alone = take(count);
        let whole = whole.then(|| {
            let mut after: Vec<Snapshot> = alone.first().cloned().into_iter().collect();
            after.extend(take(count.saturating_sub(2)));
            if count > 1 {
                after.push(Snapshot::of(now));
            }
            let without = match count {
                0 => Vec::new(),
                1 => vec![start.clone()],
                2 => vec![alone[1].clone(), alone[0].clone()],
                _ => {
                    let mut without = take(count - 1);
                    without.push(after[count - 2].clone());
                    without
                }
            };
            Whole { after, without }
        });
        Ok(Self {
            start,
            alone,
            whole,
        })
    }
}

/// The belief with some of the findings.
fn snapshot(case: &Case<'_>, positions: &[usize]) -> Result<Snapshot, AdviseError> {
    let of = |&at: &usize| case.found[at].findings.iter().cloned();
    let findings: Vec<Finding> = positions.iter().flat_map(of).collect();
    let belief =
        Belief::from_findings(&case.graph, &findings, &[]).map_err(|error| match error {
            InferError::TooDense { .. } => AdviseError::TooDense {
                findings: positions
                    .iter()
                    .map(|&at| case.found[at].words.clone())
                    .collect(),
            },
            other => AdviseError::Infer(other),
        })?;
    Ok(Snapshot::of(&belief))
}

/// Does `work` for every item, on all cores, and gives the results in order. The first error in
/// that order is the one reported.
pub(super) fn on_all_cores<T: Sync, R: Send>(
    items: &[T],
    work: impl Fn(&T) -> Result<R, AdviseError> + Sync,
) -> Result<Vec<R>, AdviseError> {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    if cores < 2 || items.len() < 2 {
        return items.iter().map(work).collect();
    }
    // The dear ones stand at the end, so they are begun first.
    let turn = AtomicUsize::new(items.len());
    let run = || {
        let mut mine = Vec::new();
        loop {
            let left = turn.fetch_update(Ordering::Relaxed, Ordering::Relaxed, |left| {
                left.checked_sub(1)
            });
            let Ok(left) = left else { return mine };
            mine.push((left - 1, work(&items[left - 1])));
        }
    };
    let mut done: Vec<(usize, Result<R, AdviseError>)> = std::thread::scope(|scope| {
        let helpers: Vec<_> = (1..cores.min(items.len()))
            .map(|_| scope.spawn(run))
            .collect();
        let mut all = run();
        for helper in helpers {
            match helper.join() {
                Ok(more) => all.extend(more),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        all
    });
    done.sort_by_key(|(at, _)| *at);
    done.into_iter().map(|(_, result)| result).collect()
}
