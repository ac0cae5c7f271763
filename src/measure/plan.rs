//! Plan.
