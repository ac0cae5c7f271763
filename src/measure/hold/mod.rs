//! Pressure hold: from the gauge's readings to the leak.
//!
//! In: a [`Hold`], that is readings (minute, kPa, temperatures if noted), the air space, the
//! coolant and the hoses. Out: a [`HoldResult`], that is the leak at the test pressure with a
//! 95 % interval, a [`Verdict`], what the fall looks like, and the curve behind the likelihood of
//! any band of leaks.
//!
//! ```
//! use seepwise::measure::hold::{AirSpace, Hold, Reading, Verdict, read_hold};
//!
//! // 12 psi in front of 250 mL of air, temperatures steady; two psi gone in 20 minutes.
//! let readings = (0..=20)
//!     .map(|minute| Reading {
//!         minute: f64::from(minute),
//!         gauge_kpa: 82.7 - 0.69 * f64::from(minute),
//!         coolant_c: Some(18.0),
//!         air_c: Some(18.0),
//!     })
//!     .collect();
//! let result = read_hold(&Hold::new(readings, AirSpace::Known(250.0), 10.0))?;
//! assert_eq!(result.verdict, Verdict::Falls);
//! # Ok::<(), seepwise::measure::hold::HoldError>(())
//! ```

mod curve;
mod forecast;
mod graduation;
mod interval;
mod log;
mod model;
pub(in crate::measure) mod planning;
mod propagation;
mod result;
mod thermal;
mod unknowns;
mod vessel;
mod words;

pub use forecast::LONGEST_WAIT_MINUTES;
pub use log::{AirSpace, EARLIEST_END_MINUTE, Expansion, Hold, HoldError, MOST_READINGS, Reading};
pub use result::{HoldResult, LooksLike, Point, Verdict, read_hold};
pub use vessel::{
    ATMOSPHERE_KPA, KPA_PER_PSI, LeakLaw, Vessel, ZERO_CELSIUS_K, relative_viscosity,
};
pub use words::two_digits;
