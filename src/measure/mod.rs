//! Measurements: plain numbers in, plain numbers out. Imports nothing else of the crate.

pub mod coolant;
pub mod ports;
pub mod units;
