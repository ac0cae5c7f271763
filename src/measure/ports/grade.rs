//! What to do with a port.

use std::fmt;

use serde::Deserialize;

use crate::measure::ports::seal::placed;
use crate::measure::ports::{Land, Placement, Port, PortError, best_clamp};

/// Where the grades part. No limit for pit depth on a hose port has been published: all of these
/// are engineering judgement, and the defaults are the author's.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Thresholds {
    /// Depth down to which a clamped hose follows a hollow, in mm.
    pub hose_follows_mm: f64,
    /// Sound land that every way under the clamp must cross, in mm.
    pub sound_land_mm: f64,
    /// What polishing round the port may take off, in mm of depth.
    pub dressing_takes_mm: f64,
    /// Deepest pit that can be built up, in mm.
    pub build_up_mm: f64,
    /// Share of the land, 0 to 1, above which building up is not worth it.
    pub pitted_share: f64,
    /// Wall that must be left under the deepest pit, in mm.
    pub wall_left_mm: f64,
    /// Hose that must reach past the clamp, in mm.
    pub hose_past_clamp_mm: f64,
    /// Bare land between bead and clamp above which a clamp counts as set back, in mm.
    pub set_back_mm: f64,
}

impl Default for Thresholds {
    fn default() -> Self {
        Self {
            hose_follows_mm: 0.1,
            sound_land_mm: 4.0,
            dressing_takes_mm: 0.2,
            build_up_mm: 1.5,
            pitted_share: 0.5,
            wall_left_mm: 1.5,
            hose_past_clamp_mm: 3.0,
            set_back_mm: 4.0,
        }
    }
}

impl Thresholds {
    fn check(&self) -> Result<(), Vec<PortError>> {
        let wrong: Vec<PortError> = [
            ("hose_follows_mm", self.hose_follows_mm),
            ("sound_land_mm", self.sound_land_mm),
            ("dressing_takes_mm", self.dressing_takes_mm),
            ("build_up_mm", self.build_up_mm),
            ("pitted_share", self.pitted_share),
            ("wall_left_mm", self.wall_left_mm),
            ("hose_past_clamp_mm", self.hose_past_clamp_mm),
            ("set_back_mm", self.set_back_mm),
        ]
        .into_iter()
        .filter(|(_, value)| !value.is_finite() || *value <= 0.0)
        .map(|(what, found)| PortError::Threshold { what, found })
        .collect();
        if wrong.is_empty() { Ok(()) } else { Err(wrong) }
    }
}

/// What to do with a port, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// Use it as it is.
    Use,
    /// Polish it round, then seal.
    DressAndSeal,
    /// Build it up off the vehicle.
    BuildUp,
    /// Renew it.
    Scrap,
}

impl Grade {
    /// In one or two words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Use => "use",
            Self::DressAndSeal => "dress and seal",
            Self::BuildUp => "build up",
            Self::Scrap => "scrap",
        }
    }

    /// What to do, step by step.
    pub fn steps(self) -> &'static [&'static str] {
        match self {
            Self::Use => &[
                "Wipe the land dry. Push the hose home and set the clamp where the drawing shows it.",
                "Retest at the limit, cold, and look again after the first heat cycle.",
            ],
            Self::DressAndSeal => &[
                "Polish with fine cloth round the port, never along it: a scratch along the port is a channel.",
                "Wipe dry. At most a thin smear of non-setting compound: sealant under a hose is a lubricant until it sets, and the hose can blow off.",
                "New clamp where the drawing shows it. Retest at the limit, cold, and after the first heat cycle.",
            ],
            Self::BuildUp => &[
                "Take the part off the vehicle. Clean to bright metal and build the land up with a filler made for metal and hot coolant. Read its data sheet for gloves, air and hours.",
                "Let it cure fully, dress it round to size, then test it by hand pressure before it goes back.",
                "If a new part can be had, that is the safer way.",
            ],
            Self::Scrap => &[
                "Renew the part. Neither clamp nor compound makes this port tight for long.",
                "Look for why it pitted: strength and age of the coolant, and a clamp set back from the bead.",
            ],
        }
    }
}

impl fmt::Display for Grade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Why a port has its grade.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// Enough sound land.
    Seals,
    /// Polishing leaves enough sound land.
    SealsOnceDressed,
    /// Too deep to polish, not too deep to build up.
    TooDeepToDress,
    /// Too little wall under the deepest pit.
    ThinWall {
        /// What is left, in mm.
        left_mm: f64,
    },
    /// Too deep to build up.
    TooDeep,
    /// Too much of the land is pitted.
    TooMuch {
        /// Share of the land, 0 to 1.
        share: f64,
    },
    /// Plastic is not built up.
    Plastic,
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Seals => f.write_str("every way under the clamp crosses enough sound land"),
            Self::SealsOnceDressed => f.write_str(
                "once polished round, every way under the clamp crosses enough sound land",
            ),
            Self::TooDeepToDress => f.write_str(
                "the pits under every place for the clamp are deeper than polishing may go",
            ),
            Self::ThinWall { left_mm } => {
                write!(
                    f,
                    "only {left_mm:.1} mm of wall are left under the deepest pit"
                )
            }
            Self::TooDeep => f.write_str("the deepest pit is too deep to build up"),
            Self::TooMuch { share } => {
                write!(f, "{:.0} % of the land is pitted", share * 100.0)
            }
            Self::Plastic => f.write_str("plastic cannot be built up"),
        }
    }
}

/// Something else to know.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Note {
    /// The clamp, as found, lies on the bead.
    ClampOnBead,
    /// The clamp, as found, is set back toward the root.
    ClampSetBack {
        /// Bare land between bead and clamp.
        by_mm: f64,
    },
    /// The clamp, as found, lies at or over the hose's end.
    ClampAtHoseEnd,
    /// A channel runs under the clamp as found.
    ChannelAsFound,
    /// The wall's thickness is not known.
    WallNotKnown,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ClampOnBead => f.write_str(
                "The clamp sat on the bead or in front of it: there it cuts the hose and lifts off. It belongs just behind the bead.",
            ),
            Self::ClampSetBack { by_mm } => write!(
                f,
                "The clamp sat {by_mm:.0} mm back from the bead, toward the root: the strip in front of it stays wet and pits."
            ),
            Self::ClampAtHoseEnd => f.write_str(
                "The clamp sat at the hose's end or over it: push the hose home, or use a narrower clamp.",
            ),
            Self::ChannelAsFound => f.write_str(
                "Under the clamp as found, pits join up from the wet side to the outside: it leaked there however tight it was.",
            ),
            Self::WallNotKnown => f.write_str(
                "How thick the wall is was not given: measure it before you file or build up.",
            ),
        }
    }
}

/// What was found about a port.
#[derive(Debug, Clone, PartialEq)]
pub struct Examination {
    /// What to do.
    pub grade: Grade,
    /// Why.
    pub reason: Reason,
    /// Where the clamp seals best, on the land as it is.
    pub best: Placement,
    /// Where it seals best once polished, for that grade.
    pub dressed: Option<Placement>,
    /// The clamp as it was found.
    pub found: Option<Placement>,
    /// The deepest pit, in mm.
    pub deepest_mm: f64,
    /// Share of the land deeper than the hose follows, 0 to 1.
    pub pitted_share: f64,
    /// Also to know.
    pub notes: Vec<Note>,
    /// The land in cells.
    pub land: Land,
}

impl Examination {
    /// Where the clamp should go.
    pub fn clamp(&self) -> &Placement {
        self.dressed.as_ref().unwrap_or(&self.best)
    }
}

/// Examines a port.
///
/// # Errors
/// Everything that is wrong with its description or the thresholds, or a clamp that doesn't fit.
pub fn examine(port: &Port, thresholds: &Thresholds) -> Result<Examination, Vec<PortError>> {
    port.check()?;
    thresholds.check()?;
    let land = Land::of(port);
    let end_mm = port.gripped_to_mm() - thresholds.hose_past_clamp_mm;
    let search = |land: &Land| {
        best_clamp(
            land,
            port.clamp_width_mm,
            end_mm,
            thresholds.hose_follows_mm,
            thresholds.sound_land_mm,
        )
    };
    let best = search(&land).ok_or_else(|| {
        vec![PortError::NoRoom {
            clamp_mm: port.clamp_width_mm,
            room_mm: (end_mm - port.land_start_mm()).max(0.0),
        }]
    })?;
    let seals = |placement: &Placement| {
        // A clamp narrower than the wanted strip seals if nothing under it is pitted through.
        let wanted = thresholds
            .sound_land_mm
            .min(placement.to_mm - placement.from_mm);
        placement.crossing.sound_mm >= wanted - 1e-6
    };
    let dressed = search(&land.dressed(thresholds.dressing_takes_mm)).filter(&seals);
    let deepest_mm = land.deepest_mm();
    let pitted_share = land.share_deeper_than(thresholds.hose_follows_mm);
    let left_mm = port.wall_mm.map(|wall| wall - deepest_mm);
    let (grade, reason) = match left_mm {
        Some(left_mm) if deepest_mm > 0.0 && left_mm < thresholds.wall_left_mm => {
            (Grade::Scrap, Reason::ThinWall { left_mm })
        }
        _ if seals(&best) => (Grade::Use, Reason::Seals),
        _ if dressed.is_some() => (Grade::DressAndSeal, Reason::SealsOnceDressed),
        _ if !port.material.is_metal() => (Grade::Scrap, Reason::Plastic),
        _ if deepest_mm > thresholds.build_up_mm => (Grade::Scrap, Reason::TooDeep),
        _ if pitted_share > thresholds.pitted_share => (
            Grade::Scrap,
            Reason::TooMuch {
                share: pitted_share,
            },
        ),
        _ => (Grade::BuildUp, Reason::TooDeepToDress),
    };
    let found = port
        .clamp_at_mm
        .and_then(|at| placed(&land, at, port.clamp_width_mm, thresholds.hose_follows_mm));
    Ok(Examination {
        notes: notes(port, thresholds, found.as_ref(), deepest_mm),
        grade,
        reason,
        best,
        dressed: dressed.filter(|_| grade == Grade::DressAndSeal),
        found,
        deepest_mm,
        pitted_share,
        land,
    })
}

fn notes(
    port: &Port,
    thresholds: &Thresholds,
    found: Option<&Placement>,
    deepest_mm: f64,
) -> Vec<Note> {
    let mut notes = Vec::new();
    if let Some(at) = port.clamp_at_mm {
        let start = port.land_start_mm();
        if port.bead_mm.is_some() && at < start {
            notes.push(Note::ClampOnBead);
        }
        if at - start > thresholds.set_back_mm {
            notes.push(Note::ClampSetBack { by_mm: at - start });
        }
        if at + port.clamp_width_mm > port.gripped_to_mm() {
            notes.push(Note::ClampAtHoseEnd);
        }
    }
    if found.is_some_and(|found| found.crossing.is_open()) {
        notes.push(Note::ChannelAsFound);
    }
    if port.wall_mm.is_none() && deepest_mm > thresholds.hose_follows_mm {
        notes.push(Note::WallNotKnown);
    }
    notes
}
