//! The unrolled land as text, at most 78 columns wide.
//!
//! Rows run from the open end (top, wet) to the root (bottom, outside), columns clockwise from
//! the top of the port. A cell of the drawing shows the deepest of what it covers.

use std::fmt::Write;

use crate::measure::ports::{Examination, Placement, Port, Thresholds};

/// Columns of the drawing itself.
const AROUND: usize = 60;
/// At most so many rows.
const ALONG: usize = 40;

/// Draws a port.
pub fn text(port: &Port, found: &Examination, thresholds: &Thresholds) -> String {
    let land = &found.land;
    let mut drawn = String::new();
    let mut line = |text: &str| {
        drawn.push_str(text.trim_end());
        drawn.push('\n');
    };
    line("   mm 0°             90°            180°           270°         360°");
    line("     ╭ open end, wet side");
    if let Some([from, _]) = port.bead_mm {
        line(&format!("{from:5.1}│{}│ bead", "=".repeat(AROUND)));
    }
    let group = land.rows().div_ceil(ALONG).max(2);
    let ways: Vec<&Placement> = found.found.iter().chain([found.clamp()]).collect();
    for first in (0..land.rows()).step_by(group) {
        let rows = first..(first + group).min(land.rows());
        let mut row = format!("{:5.1}│", land.along_mm(first));
        for at in 0..AROUND {
            // Every cell is in one column of the drawing, every column has a cell.
            let start = at * land.columns() / AROUND;
            let end = ((at + 1) * land.columns() / AROUND)
                .max(start + 1)
                .min(land.columns());
            let deepest = rows
                .clone()
                .flat_map(|row| (start..end).map(move |column| (row, column)))
                .map(|(row, column)| land.depth(row, column))
                .fold(0.0, f64::max);
            let channel =
                ways.iter().any(|placement| {
                    placement.crossing.is_open()
                        && placement.crossing.way.iter().any(|(row, column)| {
                            rows.contains(row) && (start..end).contains(column)
                        })
                });
            row.push(if channel {
                '*'
            } else {
                mark(deepest, thresholds)
            });
        }
        row.push('│');
        let pressed = |placement: &Placement| {
            placement.rows.start < rows.end && placement.rows.end > rows.start
        };
        if pressed(found.clamp()) {
            row.push('█');
        }
        if found.found.as_ref().is_some_and(pressed) {
            row.push_str(if pressed(found.clamp()) {
                "▒"
            } else {
                " ▒"
            });
        }
        line(&row);
    }
    line(&format!("{:5.1}╰ root, outside", port.land_end_mm));
    let mut key = String::new();
    let follows = thresholds.hose_follows_mm;
    let dressing = follows + thresholds.dressing_takes_mm;
    let _ = write!(
        key,
        ". sound   - to {follows:.2} mm (hose follows)   o to {dressing:.2} mm (polishing)   # deeper\n\
         * channel under a clamp   █ clamp here: {:.1} to {:.1} mm",
        found.clamp().from_mm,
        found.clamp().to_mm
    );
    if found.found.is_some() {
        key.push_str("   ▒ as found");
    }
    for part in key.lines() {
        line(part);
    }
    drawn
}

fn mark(depth_mm: f64, thresholds: &Thresholds) -> char {
    if depth_mm <= 0.0 {
        '.'
    } else if depth_mm <= thresholds.hose_follows_mm {
        '-'
    } else if depth_mm <= thresholds.hose_follows_mm + thresholds.dressing_takes_mm {
        'o'
    } else {
        '#'
    }
}
