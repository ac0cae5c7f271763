//! Means to prove a rule base and to train people: review, drills, twins, exercises.
//!
//! In: a rule base expanded over a layout. Out: plain figures. [`Drill`] draws vehicles from the
//! model, plays a way of choosing checks against them and counts how it does; [`twins`] names the
//! faults that the checks can hardly tell apart.

mod alone;
mod checklist;
mod draw;
mod drill;
mod lacking;
mod lessons;
mod page;
mod play;
mod played;
mod policy;
mod practice;
mod readers;
mod review;
mod tally;
mod truth;
mod turn;
mod twins;

use thiserror::Error;

use crate::advise::AdviseError;
use crate::graph::GraphError;
use crate::infer::InferError;
use crate::job::JobProblem;

pub use checklist::learn_checklist;
pub use draw::{Drawn, draw, draw_planted, draw_with_loss};
pub use drill::{Drill, Drilled};
pub use lacking::Lacking;
pub use play::{Field, play};
pub use played::{End, Played};
pub use policy::Policy;
pub use practice::{Debrief, Done, Practice};
pub use review::{Implied, Readable, implied_shares, review, syllables};
pub use tally::{Bin, Share, Tally};
pub use truth::{Strain, Truth};
pub use twins::{Twins, twins};

/// A review or a drill that can't be run.
#[derive(Debug, Error)]
pub enum TrainError {
    /// The rules name no check as the report of a loss.
    #[error("the rules name no complaint that reports a loss: mark it with `reports_loss: yes`")]
    NoLossCheck,
    /// The layout hardly ever loses coolant.
    #[error(
        "of {tries} vehicles drawn from layout `{layout}` none reported a loss with a cause: look at its base rates"
    )]
    NoLoss {
        /// The layout.
        layout: String,
        /// How many were drawn.
        tries: usize,
    },
    /// Advice failed in the middle of a job.
    #[error("a job of the drill failed: {0}")]
    Advise(#[from] AdviseError),
    /// A layout can't be expanded.
    #[error(transparent)]
    Graph(#[from] GraphError),
    /// Inference failed.
    #[error("the inference failed: {0}")]
    Infer(#[from] InferError),
    /// An answer drawn from the model was not understood.
    #[error("a job of the drill could not be read: {0}")]
    Job(JobProblem),
}
