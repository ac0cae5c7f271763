//! Ways under the clamp.
//!
//! A way runs from the clamp's wet edge to its dry edge over cells that touch, corners included,
//! all round the port. It is as hard as the sound land that it must cross: 0 mm means a channel
//! from end to end. The easiest way is found with Dijkstra's algorithm (1959).

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::ops::Range;

use crate::measure::ports::Land;

/// The easiest way under a clamp.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// Sound land on it, in mm. 0: an open channel.
    pub sound_mm: f64,
    /// Its cells, row and column, from the wet edge to the dry one.
    pub way: Vec<(usize, usize)>,
}

impl Crossing {
    /// Whether it is an open channel.
    pub fn is_open(&self) -> bool {
        self.sound_mm == 0.0
    }
}

/// A clamp somewhere on the land.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// The rows that it presses on.
    pub rows: Range<usize>,
    /// Its edge nearer the open end, in mm from the open end.
    pub from_mm: f64,
    /// Its other edge.
    pub to_mm: f64,
    /// The easiest way under it.
    pub crossing: Crossing,
}

/// Costs are whole nanometres, so that equal ways compare equal.
const NM_PER_MM: f64 = 1e6;

/// The easiest way over some rows, where the hose follows hollows down to `follows_mm`. Of equal
/// ways, the one with the lower cells' numbers. `None` if there are no rows.
///
/// Cost: rows × columns × log(rows × columns).
pub fn crossing(land: &Land, rows: Range<usize>, follows_mm: f64) -> Option<Crossing> {
    let columns = land.columns();
    let rows = rows.start..rows.end.min(land.rows());
    if rows.is_empty() || columns == 0 {
        return None;
    }
    let sound = |row: usize, column: usize| {
        if land.depth(row, column) > follows_mm {
            0.0
        } else {
            1.0
        }
    };
    let nm = |mm: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "0 to 200 mm in nanometres"
        )]
        let whole = (mm * NM_PER_MM).round() as u64;
        whole
    };
    let count = rows.len() * columns;
    let mut best = vec![u64::MAX; count];
    let mut before = vec![usize::MAX; count];
    let mut open = BinaryHeap::new();
    for (column, cost) in best.iter_mut().take(columns).enumerate() {
        *cost = nm(0.5 * land.row_mm * sound(rows.start, column));
        open.push(Reverse((*cost, column)));
    }
    while let Some(Reverse((cost, at))) = open.pop() {
        if cost > best[at] {
            continue;
        }
        let (row, column) = (at / columns, at % columns);
        let here = sound(rows.start + row, column);
        for down in -1..=1_isize {
            let Some(next_row) = row.checked_add_signed(down).filter(|row| *row < rows.len())
            else {
                continue;
            };
            for side in [columns - 1, 0, 1] {
                let next_column = (column + side) % columns;
                let next = next_row * columns + next_column;
                if next == at {
                    continue;
                }
                let length = f64::hypot(
                    if down == 0 { 0.0 } else { land.row_mm },
                    if side == 0 { 0.0 } else { land.column_mm },
                );
                let step = 0.5 * length * (here + sound(rows.start + next_row, next_column));
                let reached = cost + nm(step);
                if reached < best[next] {
                    best[next] = reached;
                    before[next] = at;
                    open.push(Reverse((reached, next)));
                }
            }
        }
    }
    let last_row = rows.len() - 1;
    let (cost, end) = (0..columns)
        .map(|column| {
            let at = last_row * columns + column;
            let out = nm(0.5 * land.row_mm * sound(rows.start + last_row, column));
            (best[at] + out, at)
        })
        .min()?;
    let mut way = vec![end];
    while let Some(&at) = way.last().filter(|at| before[**at] != usize::MAX) {
        way.push(before[at]);
    }
    way.reverse();
    Some(Crossing {
        sound_mm: cost as f64 / NM_PER_MM,
        way: way
            .into_iter()
            .map(|at| (rows.start + at / columns, at % columns))
            .collect(),
    })
}

/// A clamp whose edge lies `from_mm` from the open end, as far as it lies on the land.
pub(super) fn placed(
    land: &Land,
    from_mm: f64,
    width_mm: f64,
    follows_mm: f64,
) -> Option<Placement> {
    let row = |mm: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to the rows"
        )]
        let row = ((mm - land.start_mm) / land.row_mm)
            .round()
            .clamp(0.0, land.rows() as f64) as usize;
        row
    };
    let rows = row(from_mm)..row(from_mm + width_mm);
    let crossing = crossing(land, rows.clone(), follows_mm)?;
    Some(Placement {
        from_mm: land.along_mm(rows.start),
        to_mm: land.along_mm(rows.end),
        rows,
        crossing,
    })
}

/// Where a clamp of this width seals best between the bead and `end_mm`: the first place behind
/// the bead at which every way crosses `enough_mm` of sound land, else the place with most.
/// `None` if the clamp doesn't fit.
pub fn best_clamp(
    land: &Land,
    width_mm: f64,
    end_mm: f64,
    follows_mm: f64,
    enough_mm: f64,
) -> Option<Placement> {
    let mut best: Option<Placement> = None;
    for row in 0..land.rows() {
        let from_mm = land.along_mm(row);
        // Half a cell of slack, for sizes are rounded to cells.
        if from_mm + width_mm > end_mm + 0.5 * land.row_mm {
            break;
        }
        let Some(here) = placed(land, from_mm, width_mm, follows_mm) else {
            continue;
        };
        if here.crossing.sound_mm >= enough_mm {
            return Some(here);
        }
        if best
            .as_ref()
            .is_none_or(|best| here.crossing.sound_mm > best.crossing.sound_mm)
        {
            best = Some(here);
        }
    }
    best
}
