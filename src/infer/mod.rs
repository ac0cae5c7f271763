//! Exact inference in networks of ordered-state variables.
//!
//! In: a [`Network`] of noisy-MAX nodes and small tables, findings, and what will be asked.
//! Out: an [`Engine`] that gives P(evidence), the probability of every target and, for every
//! question, the chance of each answer and the targets after it. All figures are exact: no
//! sampling, no bounds. [`oracle`] gives the same by plain enumeration, for the tests.
//!
//! ```
//! use seepwise::infer::{Engine, Finding, Link, Network, Options, Target};
//! let mut net = Network::new();
//! let cold = net.add_noisy_max("cold", vec![0.9, 0.1], vec![])?;
//! let fever = net.add_noisy_max(
//!     "fever",
//!     vec![1.0, 0.0],
//!     vec![Link { parent: cold, push: vec![vec![1.0, 0.0], vec![0.6, 0.4]] }],
//! )?;
//! let targets = [Target { var: cold, states: vec![false, true] }];
//! let engine = Engine::new(
//!     &net,
//!     &[Finding::hard(fever, 2, 0)],
//!     &targets,
//!     &[],
//!     &[],
//!     &Options::default(),
//! )?;
//! assert!((engine.targets()[0] - 0.06 / 0.96).abs() < 1e-12);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod answer;
mod asked;
mod batch;
mod calibrate;
mod columns;
mod compile;
mod diagnose;
mod engine;
mod error;
mod evidence;
mod expand;
mod fill;
mod fuse;
mod kernel;
mod narrow;
mod network;
mod options;
mod oracle;
mod order;
mod passes;
mod plan;
mod projection;
mod query;
mod real;
mod support;
mod tree;
mod widest;

pub use engine::{Engine, Sizes};
pub use error::InferError;
pub use evidence::Finding;
pub use narrow::narrowed;
pub use network::{Family, Link, Network, NetworkError, Node};
pub use options::Options;
pub use oracle::{OracleAnswer, oracle};
pub use query::{Answers, Question, Shape, Target};
