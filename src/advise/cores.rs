//! Independent work on all cores.
//!
//! In: items and what to do with each. Out: the results in the items' order, whatever core was
//! first.

use std::sync::atomic::{AtomicUsize, Ordering};

use crate::advise::belief::AdviseError;

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

/// Two things at once. The first one's error is reported before the second's.
pub(super) fn both<A, B: Send>(
    one: impl FnOnce() -> Result<A, AdviseError>,
    other: impl FnOnce() -> Result<B, AdviseError> + Send,
) -> Result<(A, B), AdviseError> {
    let (one, other) = std::thread::scope(|scope| {
        let helper = scope.spawn(other);
        let one = one();
        match helper.join() {
            Ok(other) => (one, other),
            Err(panic) => std::panic::resume_unwind(panic),
        }
    });
    Ok((one?, other?))
}
