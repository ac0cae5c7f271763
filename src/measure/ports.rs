//! Hose ports: a map of pits → whether coolant creeps through under the clamp, where the clamp
//! seals best, and what to do with the part.
//!
//! In: a [`Port`] as somebody measured it with ruler and depth gauge, and [`Thresholds`]. Out: an
//! [`Examination`], drawings as text and SVG, and a bench of several ports sorted worst first.
//!
//! The port's outside is unrolled: *around* in degrees, clockwise from the top seen from the open
//! end; *along* in mm from the open end towards the root. Coolant stands at the open end, the
//! outside begins at the root. The hose seals only where the clamp presses it on, and there it
//! follows shallow hollows; what is deeper is a channel.
//!
//! ```
//! use seepwise::measure::ports::{Grade, Material, Pit, Port, Thresholds, examine};
//! let port = Port {
//!     name: "rear housing".to_owned(),
//!     material: Material::Alloy,
//!     outside_diameter_mm: 38.0,
//!     bead_mm: Some([2.0, 5.0]),
//!     land_end_mm: 30.0,
//!     wall_mm: Some(4.0),
//!     hose_end_mm: None,
//!     clamp_width_mm: 10.0,
//!     clamp_at_mm: Some(6.0),
//!     pits: vec![Pit { around_deg: [80.0, 95.0], along_mm: [18.0, 30.0], depth_mm: 0.6 }],
//!     grid: None,
//! };
//! let found = examine(&port, &Thresholds::default()).unwrap();
//! assert_eq!(found.grade, Grade::Use); // the pits lie behind the clamp
//! ```

mod bench;
mod flow;
mod grade;
mod land;
mod port;
mod seal;
mod svg;
mod text;

use thiserror::Error;

pub use bench::{Bench, bench};
pub use flow::{SlotFlow, leak_at_most, slot_flow};
pub use grade::{Examination, Grade, Note, Reason, Thresholds, examine};
pub use land::Land;
pub use port::{DepthGrid, Material, Pit, Port};
pub use seal::{Crossing, Placement, best_clamp, crossing};
pub use svg::svg;
pub use text::text;

/// What is wrong with the description of a port.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PortError {
    /// A size outside what a hose port has.
    #[error("{what} is {found} mm: it must lie between {lowest} and {highest} mm")]
    Size {
        /// Which size.
        what: &'static str,
        /// As given.
        found: f64,
        /// The least.
        lowest: f64,
        /// The most.
        highest: f64,
    },
    /// A stretch that runs backwards or is empty.
    #[error("{what} runs from {from} to {to}: write the smaller value first")]
    Backwards {
        /// Which stretch.
        what: String,
        /// As given.
        from: f64,
        /// As given.
        to: f64,
    },
    /// Something that lies outside the port.
    #[error(
        "{what} lies at {found} mm, but the port ends at {end} mm: all lengths along the port count from its open end"
    )]
    OffThePort {
        /// What.
        what: String,
        /// As given.
        found: f64,
        /// Where the port ends.
        end: f64,
    },
    /// An angle that is none.
    #[error("{what}: {found}° is no angle: write degrees from -360 to 360, clockwise from the top")]
    Angle {
        /// What.
        what: String,
        /// As given.
        found: f64,
    },
    /// A depth that is none.
    #[error("{what}: a depth of {found} mm cannot be; write 0 to {highest} mm")]
    Depth {
        /// What.
        what: String,
        /// As given.
        found: f64,
        /// The most.
        highest: f64,
    },
    /// A grid whose rows differ in length, or that is empty or too large.
    #[error(
        "the grid of depths needs 1 to 400 rows of equally many values, 4 to 720 each; row {row} has {found}, the first has {first}"
    )]
    Grid {
        /// Which row, counting from 1.
        row: usize,
        /// Its values.
        found: usize,
        /// The values of the first row.
        first: usize,
    },
    /// A clamp for which there is no room.
    #[error(
        "a clamp {clamp_mm} mm wide does not fit between bead and hose end, where {room_mm:.1} mm are left: use a narrower clamp"
    )]
    NoRoom {
        /// The clamp's width.
        clamp_mm: f64,
        /// The room.
        room_mm: f64,
    },
    /// A threshold that is no number in its range.
    #[error("the threshold {what} is {found}: it must be a number above 0")]
    Threshold {
        /// Which.
        what: &'static str,
        /// As given.
        found: f64,
    },
}
