//! Measurements: plain numbers in, plain numbers out. Imports nothing else of the crate.

pub mod balance;
mod band;
pub mod coolant;
pub mod hold;
pub mod plan;
pub mod ports;
pub mod units;
