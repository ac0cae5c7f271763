//! What to tell the user: how the causes stand, what to check next, why, and when to stop.
//!
//! In: a [`Case`]: the graph of one vehicle and what has been found on it so far. Out: plain
//! values ([`Ranking`], [`Proposals`], [`Explanation`], [`Verdict`]) that `show` turns into text.

mod account;
mod another;
mod belief;
mod bundle;
mod care;
mod case;
mod closing;
mod conflict;
mod decision;
mod dense;
mod explained;
mod hunch;
mod influence;
mod journey;
mod leaks;
mod next;
mod offers;
mod outlook;
mod pick;
mod rank;
mod release;
mod repair_sheet;
mod retest;
mod set_up;
mod settle;
mod sheet;
mod stop;
mod stories;
mod suspect;
mod timetable;
mod waiting;
mod why;
mod world;

pub use account::{Account, Lost, Measured};
pub use belief::{AdviseError, Belief};
pub use bundle::Bundle;
pub use case::{Answered, Case, CaseGraph, Repaired, SawNothing, Shop, Somewhere};
pub use closing::{Closing, ClosingError, OpenPoint};
pub use conflict::{Conflict, Instead, Recheck, conflict_log10};
pub use decision::{Decision, Stand, same_decision};
pub use dense::leave_out_the_densest;
pub use hunch::{Explained, Hunch, Rival, Weight};
pub use journey::{Journey, Step, nearest, way_to};
pub use next::{Outcome, Proposal, Proposals};
pub use offers::{Offer, Offers, offers, open_intake};
pub(crate) use rank::raising_fault;
pub use rank::{Feeder, RankedCause, RankedCondition, RankedLeak, Ranking};
pub use release::{Kept, Leaving, Release};
pub use repair_sheet::{CoolantSum, InIt, RepairSheet, SheetError, Work};
pub use retest::{ProofState, Retest, Source, lacking_tasks, sources};
pub use set_up::SetUp;
pub use settle::{Effect, Settlers, Settling, SettlingBundle};
pub use sheet::{Sheet, Snapshot, Whole};
pub use stop::{Verdict, can_be_named, likely_enough};
pub use stories::{Effort, Grain, Stories, Story};
pub use suspect::{SUSPECTED, Suspect};
pub use timetable::{Doing, Slot, Timetable};
pub use waiting::held_up;
pub use why::{Explanation, Leader, Path, Reading, Weighed};
