//! Independent work on several cores.
//!
//! In: pieces of work. Out: their results in the order in which they were given, whatever core was first. A thread
//! that shares the machine with others like it ([`sharing`]) does all of its work itself: threads
//! of its own would only wait for a core.
//!
//! Example: a drill plays one job per core, and no job starts threads.

use std::cell::Cell;
use std::sync::atomic::{AtomicUsize, Ordering};

thread_local! {
    /// Whether other threads like this one keep the other cores busy.
    static SHARING: Cell<bool> = const { Cell::new(false) };
}

/// Does some work on a thread that shares the machine with others like it.
pub fn sharing<R>(work: impl FnOnce() -> R) -> R {
    let before = SHARING.replace(true);
    let result = work();
    SHARING.set(before);
    result
}

/// So many cores this thread may take, itself included.
fn free() -> usize {
    if SHARING.get() {
        1
    } else {
        std::thread::available_parallelism().map_or(1, usize::from)
    }
}

/// Two things at once, where a second core is free.
pub fn both<A, B: Send>(one: impl FnOnce() -> A, other: impl FnOnce() -> B + Send) -> (A, B) {
    if free() < 2 {
        return (one(), other());
    }
    std::thread::scope(|scope| {
        let helper = scope.spawn(other);
        let one = one();
        match helper.join() {
            Ok(other) => (one, other),
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}

/// Does `work` for every item, on all cores that are free. The dear items should stand at the end:
/// they are begun first.
pub fn on_all<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let cores = free();
    if cores < 2 || items.len() < 2 {
        return items.iter().map(work).collect();
    }
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
    let mut done: Vec<(usize, R)> = std::thread::scope(|scope| {
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::thread::{ThreadId, current};

    /// Kind: own inputs. Each item's result stands at its place; a thread that shares starts none.
    #[test]
    fn results_stand_in_order_and_who_shares_stays_alone() {
        let items: Vec<u64> = (0..100).collect();
        let squares: Vec<u64> = items.iter().map(|n| n * n).collect();
        assert_eq!(on_all(&items, |n| n * n), squares);
        assert_eq!(both(|| 1, || 2), (1, 2));
        let here = current().id();
        let alone = |id: ThreadId| id == here;
        let used = sharing(|| {
            let (one, other) = both(|| current().id(), || current().id());
            let mut used = on_all(&items, |_| current().id());
            used.extend([one, other]);
            used
        });
        assert!(used.into_iter().all(alone));
        assert!(!SHARING.get());
    }
}
