//! All integration tests, in one crate.

mod infer_networks;
mod infer_random;
