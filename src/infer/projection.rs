//! From an entry of a table to the entry of a smaller one.
//!
//! In: the slots of a row-major table and some of them. Out: for any entry the entry of the table
//! over those alone. The entry's number is split in two, so that two short lists stand for one as
//! long as the table.
//!
//! Example: over (a, b) with two states each, entry 3 is a = 1, b = 1; over (b) that is entry 1.

/// A map between the entries of two row-major tables.
#[derive(Debug, Clone)]
pub(super) struct Projection {
    /// How many entries the slots that vary fastest have together.
    fast: u32,
    /// By entry / `fast`.
    high: Vec<u32>,
    /// By entry % `fast`.
    low: Vec<u32>,
}

impl Projection {
    /// From the table over `from` to that over `to`; slots of `to` that are not in `from` count as
    /// in state 0.
    pub(super) fn new(states: &[usize], from: &[usize], to: &[usize]) -> Self {
        let all: f64 = from.iter().map(|&slot| (states[slot] as f64).ln()).sum();
        let mut split = from.len();
        let mut below = 0.0;
        while split > 0 && below < all / 2.0 {
            split -= 1;
            below += (states[from[split]] as f64).ln();
        }
        let (slow, fast) = from.split_at(split);
        let low = list(states, fast, to);
        Self {
            // Tables have far fewer than 2^32 entries: the budget is checked before.
            fast: u32::try_from(low.len()).unwrap_or(u32::MAX),
            high: list(states, slow, to),
            low,
        }
    }

    /// The entry of the smaller table.
    pub(super) fn at(&self, entry: u32) -> u32 {
        self.high[(entry / self.fast) as usize] + self.low[(entry % self.fast) as usize]
    }

    /// The same for many entries.
    pub(super) fn of(&self, entries: &[u32]) -> Vec<u32> {
        entries.iter().map(|&entry| self.at(entry)).collect()
    }
}

/// How far the states of `from` move in the table over `to`, for every entry over `from`.
fn list(states: &[usize], from: &[usize], to: &[usize]) -> Vec<u32> {
    let mut map = vec![0_u32];
    for slot in from.iter().rev() {
        let step = u32::try_from(stride(states, to, *slot)).unwrap_or(u32::MAX);
        let mut longer = Vec::with_capacity(map.len() * states[*slot]);
        for start in (0_u32..).take(states[*slot]).map(|state| state * step) {
            longer.extend(map.iter().map(|inner| start + inner));
        }
        map = longer;
    }
    map
}

/// How many entries of the table over `slots` lie between two states of one of them; 0 for any
/// other.
pub(super) fn stride(states: &[usize], slots: &[usize], slot: usize) -> usize {
    slots.iter().position(|&s| s == slot).map_or(0, |place| {
        slots[place + 1..].iter().map(|&s| states[s]).product()
    })
}
