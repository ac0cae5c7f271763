//! The land unrolled into cells of about half a millimetre.

use std::f64::consts::PI;

use crate::measure::ports::{Pit, Port};

/// Cells are about this long and wide, in mm.
const CELL_MM: f64 = 0.5;
/// Slack for sizes that meet exactly.
const HAIR: f64 = 1e-9;

/// Depths of the land in cells: rows from the bead towards the root, columns around. The last
/// column touches the first.
#[derive(Debug, Clone, PartialEq)]
pub struct Land {
    /// Where the first row begins, in mm from the open end.
    pub start_mm: f64,
    /// Length of a cell along the port.
    pub row_mm: f64,
    /// Width of a cell around the port.
    pub column_mm: f64,
    /// Depths in mm, row by row.
    depths: Vec<f64>,
    columns: usize,
}

impl Land {
    /// A land from its depths. Rows shorter than the first are sound where they end.
    pub fn new(start_mm: f64, row_mm: f64, column_mm: f64, depths: &[Vec<f64>]) -> Self {
        let columns = depths.first().map_or(0, Vec::len);
        let mut cells = Vec::with_capacity(columns * depths.len());
        for row in depths {
            cells.extend((0..columns).map(|column| row.get(column).copied().unwrap_or(0.0)));
        }
        Self {
            start_mm,
            row_mm,
            column_mm,
            depths: cells,
            columns,
        }
    }

    /// The land of a port that has been checked. A cell that a pit touches at all counts as
    /// pitted: half a millimetre on the safe side.
    pub fn of(port: &Port) -> Self {
        let start_mm = port.land_start_mm();
        let length = (port.land_end_mm - start_mm).max(CELL_MM);
        let around = PI * port.outside_diameter_mm;
        let (rows, columns) = (cells(length, 1, 400), cells(around, 36, 1260));
        let row_mm = length / rows as f64;
        let degrees = 360.0 / columns as f64;
        let mut land = Self {
            start_mm,
            row_mm,
            column_mm: around / columns as f64,
            depths: vec![0.0; rows * columns],
            columns,
        };
        let mut boxes: Vec<Pit> = port.pits.clone();
        if let Some(grid) = &port.grid {
            let [from, to] = grid.along_mm;
            let step = (to - from) / grid.depths_mm.len() as f64;
            for (row, depths) in grid.depths_mm.iter().enumerate() {
                let turn = 360.0 / depths.len() as f64;
                let at = from + row as f64 * step;
                boxes.extend(depths.iter().enumerate().map(|(column, &depth_mm)| Pit {
                    around_deg: [column as f64 * turn, (column + 1) as f64 * turn],
                    along_mm: [at, at + step],
                    depth_mm,
                }));
            }
        }
        for pit in boxes.iter().filter(|pit| pit.depth_mm > 0.0) {
            let touched: Vec<usize> = (0..columns)
                .filter(|&column| touches_around(pit, column as f64 * degrees, degrees))
                .collect();
            for row in 0..rows {
                let top = start_mm + row as f64 * row_mm;
                if pit.along_mm[0] < top + row_mm - HAIR && pit.along_mm[1] > top + HAIR {
                    for &column in &touched {
                        let cell = &mut land.depths[row * columns + column];
                        *cell = cell.max(pit.depth_mm);
                    }
                }
            }
        }
        land
    }

    /// Rows along the port.
    pub fn rows(&self) -> usize {
        self.depths.len().checked_div(self.columns).unwrap_or(0)
    }

    /// Columns around it.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// The depth of a cell, in mm.
    pub fn depth(&self, row: usize, column: usize) -> f64 {
        self.depths[row * self.columns + column]
    }

    /// Where a row begins, in mm from the open end.
    pub fn along_mm(&self, row: usize) -> f64 {
        self.start_mm + row as f64 * self.row_mm
    }

    /// The middle of a column, in degrees.
    pub fn around_deg(&self, column: usize) -> f64 {
        (column as f64 + 0.5) * 360.0 / self.columns as f64
    }

    /// The deepest pit, in mm.
    pub fn deepest_mm(&self) -> f64 {
        self.depths.iter().copied().fold(0.0, f64::max)
    }

    /// The share of the land that is deeper than a depth.
    pub fn share_deeper_than(&self, depth_mm: f64) -> f64 {
        if self.depths.is_empty() {
            return 0.0;
        }
        let deeper = self
            .depths
            .iter()
            .filter(|depth| **depth > depth_mm)
            .count();
        deeper as f64 / self.depths.len() as f64
    }

    /// The same land after so much has been polished off all round.
    #[must_use]
    pub fn dressed(&self, by_mm: f64) -> Self {
        let depths = self
            .depths
            .iter()
            .map(|depth| (depth - by_mm).max(0.0))
            .collect();
        Self {
            depths,
            ..self.clone()
        }
    }
}

/// How many cells cover a length.
fn cells(length_mm: f64, least: usize, most: usize) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "lengths are 0 to 700 mm"
    )]
    let wanted = (length_mm / CELL_MM).round() as usize;
    wanted.clamp(least, most)
}

/// Whether a pit touches a column that begins at an angle.
fn touches_around(pit: &Pit, start: f64, width: f64) -> bool {
    let from = pit.around_deg[0].rem_euclid(360.0);
    let mut extent = pit.around_deg[1] - pit.around_deg[0];
    // `[350, 20]` runs across the top; `[0, 360]` goes all round.
    if extent <= 0.0 {
        extent += 360.0;
    }
    let offset = (start - from).rem_euclid(360.0);
    offset < extent - HAIR || offset + width > 360.0 + HAIR
}
