//! seepwise finds where an engine's coolant goes, why it goes there and what to check next.
//!
//! The modules stand in the order in which they may import each other: each uses only those
//! above it (`tests/it/layers.rs` checks that). DEVELOPERS.md has the map.

pub mod chance;
pub mod cores;
pub mod ids;

pub mod measure;

pub mod infer;

pub mod reading;

pub mod notice;
pub mod source;

pub mod rules;

pub mod graph;

pub mod advise;

pub mod show;

pub mod job;

pub mod train;

pub mod cli;
