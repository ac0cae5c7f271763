//! The innermost loops: products of messages, several right-hand sides at once.
//!
//! In: a clique's table and messages to it, one lane per right-hand side. Out: sums of the
//! products. Everything stays in registers: no product table is written out.
//!
//! Each runs twice as wide, and with fused products, on machines that can ([`super::widest`]).
//!
//! Example: without messages the sums are those of the table, the same in each lane.

// What runs wide has to stand inside the function that is compiled for it.
#![allow(clippy::inline_always)]

use crate::infer::real::{Real, Wide};
use crate::infer::widest::{Work, widest};

/// A message and the map from the clique's entries to the message's.
pub(super) type Piece<'a, W> = (&'a [W], &'a [u32]);

#[inline(always)]
fn product<R: Real, const N: usize, const FUSED: bool>(
    value: R,
    entry: usize,
    pieces: &[Piece<'_, R::Wide>; N],
) -> R::Wide {
    let mut wide = R::Wide::all(value);
    for (message, map) in pieces {
        wide.multiply::<FUSED>(&message[map[entry] as usize]);
    }
    wide
}

#[inline(always)]
fn any_product<R: Real, const FUSED: bool>(
    value: R,
    entry: usize,
    pieces: &[Piece<'_, R::Wide>],
) -> R::Wide {
    let mut wide = R::Wide::all(value);
    for (message, map) in pieces {
        wide.multiply::<FUSED>(&message[map[entry] as usize]);
    }
    wide
}

#[inline(always)]
fn project_some<R: Real, const N: usize, const FUSED: bool>(
    table: &[R],
    pieces: &[Piece<'_, R::Wide>; N],
    to: &[u32],
    sums: &mut [R::Wide],
) {
    for (entry, (&value, &at)) in table.iter().zip(to).enumerate() {
        sums[at as usize].add(&product::<R, N, FUSED>(value, entry, pieces));
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
    let sums_here = &mut sums[..];
    widest(Project {
        table,
        pieces,
        to,
        sums: sums_here,
    });
    sums
}

struct Project<'a, 'p, R: Real> {
    table: &'a [R],
    pieces: &'a [Piece<'p, R::Wide>],
    to: &'a [u32],
    sums: &'a mut [R::Wide],
}

impl<R: Real> Work for Project<'_, '_, R> {
    type Result = ();

    #[inline(always)]
    fn run<const FUSED: bool>(self) {
        let Self {
            table,
            pieces,
            to,
            sums,
        } = self;
        match *pieces {
            [a] => project_some::<R, 1, FUSED>(table, &[a], to, sums),
            [a, b] => project_some::<R, 2, FUSED>(table, &[a, b], to, sums),
            [a, b, c] => project_some::<R, 3, FUSED>(table, &[a, b, c], to, sums),
            _ => {
                for (entry, (&value, &at)) in table.iter().zip(to).enumerate() {
                    sums[at as usize].add(&any_product::<R, FUSED>(value, entry, pieces));
                }
            }
        }
    }
}

/// Sum of table × all pieces over the entries whose flag is set.
pub(super) fn total_where<R: Real>(
    table: &[R],
    pieces: &[Piece<'_, R::Wide>],
    flags: &[bool],
) -> R::Wide {
    widest(TotalWhere {
        table,
        pieces,
        flags,
    })
}

struct TotalWhere<'a, 'p, R: Real> {
    table: &'a [R],
    pieces: &'a [Piece<'p, R::Wide>],
    flags: &'a [bool],
}

impl<R: Real> Work for TotalWhere<'_, '_, R> {
    type Result = R::Wide;

    #[inline(always)]
    fn run<const FUSED: bool>(self) -> R::Wide {
        let mut sum = R::Wide::all(R::default());
        let entries = self.table.iter().zip(self.flags).enumerate();
        for (entry, (&value, _)) in entries.filter(|(_, (_, flag))| **flag) {
            sum.add(&any_product::<R, FUSED>(value, entry, self.pieces));
        }
        sum
    }
}

/// Σ table · message.
pub(super) fn dot<R: Real>(table: &[R], message: &[R::Wide]) -> R::Wide {
    widest(Dot { table, message })
}

struct Dot<'a, R: Real> {
    table: &'a [R],
    message: &'a [R::Wide],
}

impl<R: Real> Work for Dot<'_, R> {
    type Result = R::Wide;

    #[inline(always)]
    fn run<const FUSED: bool>(self) -> R::Wide {
        let mut sum = R::Wide::all(R::default());
        for (&value, wide) in self.table.iter().zip(self.message) {
            sum.add_times::<FUSED>(value, wide);
        }
        sum
    }
}
