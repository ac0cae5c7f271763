//! A port as somebody measured it.

use serde::Deserialize;

use crate::measure::ports::PortError;

/// What a port is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Material {
    /// Aluminium alloy.
    Alloy,
    /// Cast iron.
    Iron,
    /// Steel.
    Steel,
    /// Brass or copper.
    Brass,
    /// Plastic.
    Plastic,
}

impl Material {
    /// Whether it can be built up and dressed back to size.
    pub fn is_metal(self) -> bool {
        self != Self::Plastic
    }

    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Alloy => "alloy",
            Self::Iron => "cast iron",
            Self::Steel => "steel",
            Self::Brass => "brass",
            Self::Plastic => "plastic",
        }
    }
}

/// A hose port. Lengths along the port count from its open end, in mm.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Port {
    /// What people call it.
    pub name: String,
    /// What it is made of.
    pub material: Material,
    /// Outside diameter of the land, in mm.
    pub outside_diameter_mm: f64,
    /// Where the bead begins and ends, if there is one.
    #[serde(default)]
    pub bead_mm: Option<[f64; 2]>,
    /// Where the land ends at the root.
    pub land_end_mm: f64,
    /// Thickness of the sound wall, if known.
    #[serde(default)]
    pub wall_mm: Option<f64>,
    /// How far the hose reaches when pushed home; without it, to the end of the land.
    #[serde(default)]
    pub hose_end_mm: Option<f64>,
    /// Width of the clamp.
    pub clamp_width_mm: f64,
    /// The edge of the clamp that is nearer the open end, as it was found.
    #[serde(default)]
    pub clamp_at_mm: Option<f64>,
    /// Pits and scores, one by one.
    #[serde(default)]
    pub pits: Vec<Pit>,
    /// Or depths measured on a grid; where both say something, the deeper counts.
    #[serde(default)]
    pub grid: Option<DepthGrid>,
}

/// A pit, a field of pits or a score, as the box round it.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pit {
    /// From and to, in degrees clockwise from the top, seen from the open end. `[350, 20]` runs
    /// across the top.
    pub around_deg: [f64; 2],
    /// From and to, in mm from the open end.
    pub along_mm: [f64; 2],
    /// Its depth.
    pub depth_mm: f64,
}

/// Depths on a grid: rows along the port, values all round it, beginning at the top.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DepthGrid {
    /// Where the first row begins and the last one ends, in mm from the open end.
    pub along_mm: [f64; 2],
    /// Depths in mm.
    pub depths_mm: Vec<Vec<f64>>,
}

/// Deepest pit that is believed.
const DEEPEST_MM: f64 = 10.0;

impl Port {
    /// Where the land begins: behind the bead, else at the open end.
    pub fn land_start_mm(&self) -> f64 {
        self.bead_mm.map_or(0.0, |[_, to]| to)
    }

    /// Where the hose ends, or the land if the hose reaches further.
    pub fn gripped_to_mm(&self) -> f64 {
        self.hose_end_mm
            .map_or(self.land_end_mm, |end| end.min(self.land_end_mm))
    }

    /// Checks all sizes.
    ///
    /// # Errors
    /// Everything that is wrong, in the order of the fields.
    pub fn check(&self) -> Result<(), Vec<PortError>> {
        let mut wrong = Vec::new();
        let mut size = |what, found: f64, lowest: f64, highest: f64| {
            if !(lowest..=highest).contains(&found) {
                wrong.push(PortError::Size {
                    what,
                    found,
                    lowest,
                    highest,
                });
            }
        };
        size(
            "`outside_diameter_mm`",
            self.outside_diameter_mm,
            3.0,
            200.0,
        );
        size("`land_end_mm`", self.land_end_mm, 3.0, 200.0);
        size("`clamp_width_mm`", self.clamp_width_mm, 1.0, 60.0);
        if let Some(wall) = self.wall_mm {
            size("`wall_mm`", wall, 0.3, 50.0);
        }
        if let Some(end) = self.hose_end_mm {
            size("`hose_end_mm`", end, 3.0, 300.0);
        }
        if let Some(at) = self.clamp_at_mm {
            size("`clamp_at_mm`", at, 0.0, 200.0);
        }
        if let Some(bead) = self.bead_mm {
            self.stretch("the bead", bead, &mut wrong);
        }
        for (at, pit) in self.pits.iter().enumerate() {
            let what = format!("pit {}", at + 1);
            self.stretch(&what, pit.along_mm, &mut wrong);
            for found in pit.around_deg {
                if !(-360.0..=360.0).contains(&found) {
                    wrong.push(PortError::Angle {
                        what: what.clone(),
                        found,
                    });
                }
            }
            depth(&what, pit.depth_mm, &mut wrong);
        }
        if let Some(grid) = &self.grid {
            self.stretch("the grid", grid.along_mm, &mut wrong);
            grid.check(&mut wrong);
        }
        if wrong.is_empty() { Ok(()) } else { Err(wrong) }
    }

    fn stretch(&self, what: &str, [from, to]: [f64; 2], wrong: &mut Vec<PortError>) {
        let what = what.to_owned();
        if let Some(found) = [from, to]
            .into_iter()
            .find(|at| !(0.0..=self.land_end_mm).contains(at))
        {
            let end = self.land_end_mm;
            wrong.push(PortError::OffThePort { what, found, end });
        } else if from >= to {
            wrong.push(PortError::Backwards { what, from, to });
        }
    }
}

impl DepthGrid {
    fn check(&self, wrong: &mut Vec<PortError>) {
        let first = self.depths_mm.first().map_or(0, Vec::len);
        let rows = self.depths_mm.len();
        if !(1..=400).contains(&rows) || !(4..=720).contains(&first) {
            wrong.push(PortError::Grid {
                row: rows,
                found: self.depths_mm.last().map_or(0, Vec::len),
                first,
            });
        }
        for (row, depths) in self.depths_mm.iter().enumerate() {
            if depths.len() != first {
                wrong.push(PortError::Grid {
                    row: row + 1,
                    found: depths.len(),
                    first,
                });
            }
            for &found in depths {
                depth(&format!("row {} of the grid", row + 1), found, wrong);
            }
        }
    }
}

fn depth(what: &str, found: f64, wrong: &mut Vec<PortError>) {
    if !(0.0..=DEEPEST_MM).contains(&found) {
        wrong.push(PortError::Depth {
            what: what.to_owned(),
            found,
            highest: DEEPEST_MM,
        });
    }
}
