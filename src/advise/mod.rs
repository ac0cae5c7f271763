//! What to tell the user: how the causes stand, what to check next, why, and when to stop.
//!
//! In: a [`Case`]: the graph of one vehicle and what has been found on it so far. Out: plain
//! values ([`Ranking`], [`Proposals`], [`Explanation`], [`Verdict`]) that `show` turns into text.

mod account;
mod belief;
mod case;
mod closing;
mod journey;
mod next;
mod rank;
mod retest;
mod set_up;
mod stop;
mod why;

pub use account::{Account, Measured};
pub use belief::{AdviseError, Belief};
pub use case::{Answered, Case, CaseGraph, Repaired, Shop};
pub use closing::{Closing, ClosingError, OpenPoint};
pub use journey::{Journey, Step};
pub use next::{Bundle, Offer, Offers, Outcome, Proposal, Proposals, offers, open_intake};
pub(crate) use rank::raising_fault;
pub use rank::{Feeder, RankedCause, RankedCondition, RankedLeak, Ranking};
pub use retest::{ProofState, Retest, Source, sources};
pub use set_up::SetUp;
pub use stop::Verdict;
pub use why::{Explanation, Path, Reading, Weighed};
