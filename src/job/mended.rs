//! Entries of repair and what follows it, as they stand in a job's log.
//!
//! In: built by `read`, or by whoever keeps the log. Out: plain data.

/// A repair.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RepairDone {
    /// What was repaired: `fault@place`, or a fault that only one place can have.
    pub faults: Vec<String>,
    /// How, in words; may be empty.
    pub how: String,
    /// What was filled in afterwards.
    pub refilled: Option<Filled>,
    /// Places wiped clean; `None`: those of the faults.
    pub cleaned: Option<Vec<String>>,
}

/// Coolant filled in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Filled {
    /// Filled in, L.
    pub litres: f64,
    /// Strength of what was filled in, per cent of concentrate by volume; `None`: nobody knows.
    pub percent: Option<f64>,
}

/// Days in which nothing was lost.
#[derive(Debug, Clone, PartialEq)]
pub struct DrySpell {
    /// The check that it answers.
    pub check: String,
    /// How many days.
    pub days: f64,
}
