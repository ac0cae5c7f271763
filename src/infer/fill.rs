//! A clique's table, without ever writing out its zeros.
//!
//! In: the clique's slots, and factors on them. Out: the entries that aren't zero and the product
//! of the factors there. The slots are set one after another, the slowest first, and a branch ends
//! as soon as a factor is 0.
//!
//! Example: two slots that must be equal, with four states each, give four entries of the sixteen.

use crate::infer::projection::stride;

/// A factor as it goes into a clique.
pub(super) struct Part<'a> {
    pub(super) slots: &'a [usize],
    pub(super) values: &'a [f64],
    /// Only says what can't be: everything but 0 counts as 1.
    pub(super) support_only: bool,
}

/// The entries that are left, ascending, and their values.
pub(super) fn fill(states: &[usize], slots: &[usize], parts: &[Part<'_>]) -> (Vec<u32>, Vec<f64>) {
    let mut moves: Vec<Vec<(usize, usize)>> = vec![Vec::new(); slots.len()];
    let mut closing: Vec<Vec<usize>> = vec![Vec::new(); slots.len()];
    let mut start = 1.0;
    for (number, part) in parts.iter().enumerate() {
        for (depth, &slot) in slots.iter().enumerate() {
            let step = stride(states, part.slots, slot);
            if part.slots.contains(&slot) {
                moves[depth].push((number, step));
            }
        }
        match slots.iter().rposition(|slot| part.slots.contains(slot)) {
            Some(last) => closing[last].push(number),
            None => start *= part.values.first().copied().unwrap_or(1.0),
        }
    }
    let mut filler = Filler {
        parts,
        counts: slots.iter().map(|&slot| states[slot]).collect(),
        moves,
        closing,
        at: vec![0; parts.len()],
        kept: Vec::new(),
        table: Vec::new(),
    };
    filler.grow(0, 0, start);
    (filler.kept, filler.table)
}

struct Filler<'a> {
    parts: &'a [Part<'a>],
    counts: Vec<usize>,
    /// Per depth: the factors that the slot moves, and by how much per state.
    moves: Vec<Vec<(usize, usize)>>,
    /// Per depth: the factors whose last slot it is.
    closing: Vec<Vec<usize>>,
    /// Per factor: its entry, as far as its slots are set.
    at: Vec<usize>,
    kept: Vec<u32>,
    table: Vec<f64>,
}

impl Filler<'_> {
    fn grow(&mut self, depth: usize, entry: u32, value: f64) {
        let Some(&count) = self.counts.get(depth) else {
            self.kept.push(entry);
            self.table.push(value);
            return;
        };
        let last = depth + 1 == self.counts.len();
        // Tables have far fewer than 2^32 entries: the budget is checked before.
        let first = entry * u32::try_from(count).unwrap_or(u32::MAX);
        for (state, entry) in (first..).take(count).enumerate() {
            if state > 0 {
                for &(number, step) in &self.moves[depth] {
                    self.at[number] += step;
                }
            }
            let mut product = value;
            for &number in &self.closing[depth] {
                let part = &self.parts[number];
                let factor = part.values[self.at[number]];
                if !part.support_only || factor == 0.0 {
                    product *= factor;
                }
            }
            if product == 0.0 {
                continue;
            }
            if last {
                self.kept.push(entry);
                self.table.push(product);
            } else {
                self.grow(depth + 1, entry, product);
            }
        }
        for &(number, step) in &self.moves[depth] {
            self.at[number] -= step * (count - 1);
        }
    }
}
