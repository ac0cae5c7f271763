//! What a slot lets through.
//!
//! Laminar flow between parallel plates (plane Poiseuille flow): q = w·h³·Δp / (12·µ·L), for
//! instance F. M. White, *Viscous Fluid Flow*. It holds for a slot much wider than high (it
//! overstates a slot by about 0.63·h/w) and below a Reynolds number of about 2000.

use std::ops::Range;

use crate::measure::ports::Land;

/// mL/min from mm³·kPa/(mPa·s), and the 12 of the formula.
const FACTOR: f64 = 1e-9 * 1e3 / 1e-3 * 6e7 / 12.0;
/// Reynolds number from which flow in a slot is no longer surely laminar.
const LAMINAR_BELOW: f64 = 2000.0;

/// Flow through a slot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlotFlow {
    /// The flow.
    pub ml_per_min: f64,
    /// Its Reynolds number, over twice the height.
    pub reynolds: f64,
}

impl SlotFlow {
    /// Whether the formula holds; else the true flow is less.
    pub fn is_laminar(&self) -> bool {
        self.reynolds < LAMINAR_BELOW
    }
}

/// Flow through a straight slot `wide_mm` × `high_mm`, `long_mm` long.
pub fn slot_flow(
    wide_mm: f64,
    high_mm: f64,
    long_mm: f64,
    pressure_kpa: f64,
    viscosity_mpa_s: f64,
    density: f64,
) -> SlotFlow {
    let ml_per_min = FACTOR * wide_mm * high_mm.powi(3) / long_mm * pressure_kpa / viscosity_mpa_s;
    // Re = ρ·v·2h/µ with v = q/(w·h): 2·ρ·q/(w·µ).
    let reynolds = 2.0 * density * (ml_per_min / 6e7) / (wide_mm * 1e-3) / (viscosity_mpa_s * 1e-3);
    SlotFlow {
        ml_per_min,
        reynolds,
    }
}

/// The most that the channels under a clamp can let through, in mL/min: 0 without a channel.
///
/// Only cells joined to both edges count. Each row of them is taken as one slot as wide as its
/// cells, and the rows follow one another; sideways flow within a row is taken as free, which
/// overstates (the upper bound of the network). The hose fills each cell down to `follows_mm`.
/// Where the channel is so wide that the flow would not be laminar, the bound is what pressure
/// alone can drive through the narrowest row without any friction, A·√(2·Δp/ρ) (Bernoulli).
pub fn leak_at_most(
    land: &Land,
    rows: Range<usize>,
    follows_mm: f64,
    pressure_kpa: f64,
    viscosity_mpa_s: f64,
    density: f64,
) -> f64 {
    let rows = rows.start..rows.end.min(land.rows());
    if rows.is_empty() {
        return 0.0;
    }
    let (wet, dry) = (
        reached(land, &rows, rows.start, follows_mm),
        reached(land, &rows, rows.end - 1, follows_mm),
    );
    let (mut resistance, mut narrowest_mm2) = (0.0, f64::INFINITY);
    for row in rows.clone() {
        let (mut conductance, mut area_mm2) = (0.0, 0.0);
        for column in 0..land.columns() {
            let at = (row - rows.start) * land.columns() + column;
            if wet[at] && dry[at] {
                let gap_mm = land.depth(row, column) - follows_mm;
                conductance += land.column_mm * gap_mm.powi(3);
                area_mm2 += land.column_mm * gap_mm;
            }
        }
        if conductance <= 0.0 {
            return 0.0;
        }
        resistance += land.row_mm / conductance;
        narrowest_mm2 = narrowest_mm2.min(area_mm2);
    }
    let laminar = FACTOR * pressure_kpa / viscosity_mpa_s / resistance;
    let metres_per_second = (2.0 * pressure_kpa * 1e3 / density).sqrt();
    laminar.min(narrowest_mm2 * 1e-6 * metres_per_second * 6e7)
}

/// Which cells deeper than the hose follows are joined to one row.
fn reached(land: &Land, rows: &Range<usize>, from: usize, follows_mm: f64) -> Vec<bool> {
    let columns = land.columns();
    let mut seen = vec![false; rows.len() * columns];
    let mut open: Vec<(usize, usize)> = (0..columns)
        .filter(|column| land.depth(from, *column) > follows_mm)
        .map(|column| (from, column))
        .collect();
    for (row, column) in &open {
        seen[(row - rows.start) * columns + column] = true;
    }
    while let Some((row, column)) = open.pop() {
        for near_row in row.saturating_sub(1).max(rows.start)..(row + 2).min(rows.end) {
            for side in [columns - 1, 0, 1] {
                let near = (column + side) % columns;
                let at = (near_row - rows.start) * columns + near;
                if !seen[at] && land.depth(near_row, near) > follows_mm {
                    seen[at] = true;
                    open.push((near_row, near));
                }
            }
        }
    }
    seen
}
