//! The innermost loops: products of messages, several right-hand sides at once.
//!
//! In: a clique's table and messages to it, one lane per right-hand side. Out: sums of the
//! products. Everything stays in registers: no product table is written out.
//!
//! Example: without messages the sums are those of the table, the same in each lane.

use crate::infer::real::{Real, Wide};

/// A message and the map from the clique's entries to the message's.
pub(super) type Piece<'a, W> = (&'a [W], &'a [u32]);

#[inline]
fn product<R: Real, const N: usize>(
    value: R,
    entry: usize,
    pieces: &[Piece<'_, R::Wide>; N],
) -> R::Wide {
    let mut wide = R::Wide::all(value);
    for (message, map) in pieces {
        wide.multiply(&message[map[entry] as usize]);
    }
    wide
}

fn any_product<R: Real>(value: R, entry: usize, pieces: &[Piece<'_, R::Wide>]) -> R::Wide {
    let mut wide = R::Wide::all(value);
    for (message, map) in pieces {
        wide.multiply(&message[map[entry] as usize]);
    }
    wide
}

fn project_some<R: Real, const N: usize>(
    table: &[R],
    pieces: &[Piece<'_, R::Wide>; N],
    to: &[u32],
    sums: &mut [R::Wide],
) {
    for (entry, (&value, &at)) in table.iter().zip(to).enumerate() {
        sums[at as usize].add(&product(value, entry, pieces));
    }
}

/// Sums of table × all pieces over the entries that map to the same place; `count` places. The sums
/// come in the memory of `used`.
pub(super) fn project<R: Real>(
    table: &[R],
    pieces: &[Piece<'_, R::Wide>],
    to: &[u32],
    count: usize,
    used: Vec<R::Wide>,
) -> Vec<R::Wide> {
    let mut sums = used;
    sums.clear();
    sums.resize(count, R::Wide::all(R::default()));
    match *pieces {
        [a] => project_some(table, &[a], to, &mut sums),
        [a, b] => project_some(table, &[a, b], to, &mut sums),
        [a, b, c] => project_some(table, &[a, b, c], to, &mut sums),
        _ => {
            for (entry, (&value, &at)) in table.iter().zip(to).enumerate() {
                sums[at as usize].add(&any_product(value, entry, pieces));
            }
        }
    }
    sums
}

/// Sum of table × all pieces over the entries whose flag is set.
pub(super) fn total_where<R: Real>(
    table: &[R],
    pieces: &[Piece<'_, R::Wide>],
    flags: &[bool],
) -> R::Wide {
    let mut sum = R::Wide::all(R::default());
    for (entry, (&value, _)) in table
        .iter()
        .zip(flags)
        .enumerate()
        .filter(|(_, (_, f))| **f)
    {
        sum.add(&any_product(value, entry, pieces));
    }
    sum
}

/// Σ table · message.
pub(super) fn dot<R: Real>(table: &[R], message: &[R::Wide]) -> R::Wide {
    let mut sum = R::Wide::all(R::default());
    for (&value, wide) in table.iter().zip(message) {
        sum.add_times(value, wide);
    }
    sum
}
