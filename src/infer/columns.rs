//! Cumulative columns of noisy-MAX links.
//!
//! In: a distribution or a function over ordered states. Out: running sums and differences, with
//! exact ones and zeros where they belong.
//!
//! Example: the row (.2, .5, .3) has the running sums (.2, .7, 1).

use crate::infer::Link;

/// P(≤ y) for each y. From the last state with any probability on it is exactly 1, so that
/// impossible states cancel exactly.
pub(super) fn cumulative(row: &[f64]) -> Vec<f64> {
    let last = row.iter().rposition(|&p| p > 0.0).unwrap_or(0);
    let mut sum = 0.0;
    row.iter()
        .enumerate()
        .map(|(y, p)| {
            sum += p;
            if y >= last { 1.0 } else { sum }
        })
        .collect()
}

/// Weights w with Σ f(y)·P(Y=y) = Σ w(y)·P(Y≤y), summed over y: w(y) = f(y) − f(y+1).
pub(super) fn differences(f: &[f64]) -> Vec<f64> {
    (0..f.len())
        .map(|y| f[y] - f.get(y + 1).copied().unwrap_or(0.0))
        .collect()
}

/// `[y][parent state]`: P(push ≤ y | parent state).
pub(super) fn link_columns(link: &Link) -> Vec<Vec<f64>> {
    let rows: Vec<Vec<f64>> = link.push.iter().map(|row| cumulative(row)).collect();
    let states = rows.first().map_or(0, Vec::len);
    (0..states)
        .map(|y| rows.iter().map(|row| row[y]).collect())
        .collect()
}

/// P(child state | states of the parents) of a noisy-MAX, parents in order, first slowest.
pub(super) fn spell_out(background: &[f64], links: &[Link]) -> Vec<f64> {
    let columns: Vec<Vec<Vec<f64>>> = links.iter().map(link_columns).collect();
    let base = cumulative(background);
    let states = base.len();
    let counts: Vec<usize> = links.iter().map(|link| link.push.len()).collect();
    let total: usize = counts.iter().product();
    let mut rows = Vec::with_capacity(total * states);
    for configuration in 0..total {
        let mut below = 0.0;
        for y in 0..states {
            let mut rest = configuration;
            let mut product = base[y];
            for (column, &count) in columns.iter().zip(&counts).rev() {
                product *= column[y][rest % count];
                rest /= count;
            }
            rows.push((product - below).max(0.0));
            below = product;
        }
    }
    rows
}
