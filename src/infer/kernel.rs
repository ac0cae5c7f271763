//! The innermost loops: products of messages, several right-hand sides at once.
//!
//! In: a clique's table and messages to it, one lane per right-hand side. Out: sums of the
//! products. Everything stays in registers: no product table is written out.
//!
//! Example: without messages the sums are those of the table, the same in each lane.

/// Right-hand sides that go through the tree together.
pub(super) const LANES: usize = 8;

/// One number per right-hand side.
pub(super) type Wide = [f64; LANES];

pub(super) const ZERO: Wide = [0.0; LANES];
pub(super) const ONE: Wide = [1.0; LANES];

/// A message and the map from the clique's entries to the message's.
pub(super) type Piece<'a> = (&'a [Wide], &'a [u32]);

#[inline]
fn product<const N: usize>(value: f64, entry: usize, pieces: &[Piece<'_>; N]) -> Wide {
    let mut wide = [value; LANES];
    for (message, map) in pieces {
        let by = &message[map[entry] as usize];
        for lane in 0..LANES {
            wide[lane] *= by[lane];
        }
    }
    wide
}

fn any_product(value: f64, entry: usize, pieces: &[Piece<'_>]) -> Wide {
    let mut wide = [value; LANES];
    for (message, map) in pieces {
        let by = &message[map[entry] as usize];
        for lane in 0..LANES {
            wide[lane] *= by[lane];
        }
    }
    wide
}

#[inline]
fn add(sum: &mut Wide, wide: &Wide) {
    for lane in 0..LANES {
        sum[lane] += wide[lane];
    }
}

fn project_some<const N: usize>(
    table: &[f64],
    pieces: &[Piece<'_>; N],
    to: &[u32],
    sums: &mut [Wide],
) {
    for (entry, (&value, &at)) in table.iter().zip(to).enumerate() {
        add(&mut sums[at as usize], &product(value, entry, pieces));
    }
}

/// Sums of table × all pieces over the entries that map to the same place; `count` places. The sums
/// come in the memory of `used`.
pub(super) fn project(
    table: &[f64],
    pieces: &[Piece<'_>],
    to: &[u32],
    count: usize,
    used: Vec<Wide>,
) -> Vec<Wide> {
    let mut sums = used;
    sums.clear();
    sums.resize(count, ZERO);
    match *pieces {
        [a] => project_some(table, &[a], to, &mut sums),
        [a, b] => project_some(table, &[a, b], to, &mut sums),
        [a, b, c] => project_some(table, &[a, b, c], to, &mut sums),
        _ => {
            for (entry, (&value, &at)) in table.iter().zip(to).enumerate() {
                add(&mut sums[at as usize], &any_product(value, entry, pieces));
            }
        }
    }
    sums
}

/// Sum of table × all pieces over the entries whose flag is set.
pub(super) fn total_where(table: &[f64], pieces: &[Piece<'_>], flags: &[bool]) -> Wide {
    let mut sum = ZERO;
    for (entry, (&value, _)) in table
        .iter()
        .zip(flags)
        .enumerate()
        .filter(|(_, (_, f))| **f)
    {
        add(&mut sum, &any_product(value, entry, pieces));
    }
    sum
}

/// Σ table · message.
pub(super) fn dot(table: &[f64], message: &[Wide]) -> Wide {
    let mut sum = ZERO;
    for (&value, wide) in table.iter().zip(message) {
        for lane in 0..LANES {
            sum[lane] += value * wide[lane];
        }
    }
    sum
}
