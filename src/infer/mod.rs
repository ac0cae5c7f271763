//! Exact inference.
