//! Checks: how they are done, and what their signs read.
//!
//! In: nothing (built by `check`). Out: plain data, as in the rest of the rule base.

use crate::ids::{
    CautionId, CheckId, ConditionId, FacetId, FaultId, GatherId, KindId, OccasionId, ToolId,
};
use crate::rules::base::{Measured, Named, Reason, SetUpNeeds, Vary, Where};

/// What another answer to a check in the same state counts.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub enum Repeats {
    /// It replaces the earlier one: what was missed once is missed again.
    #[default]
    Same,
    /// Where it says that the check was done again, it counts beside the earlier one: misses and false
    /// alarms are drawn anew.
    Independent {
        /// Minutes of waiting or use before the repeat, beside those of the check.
        after: f64,
    },
}

/// A check, or a question of the complaint.
#[derive(Debug, Clone)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a yes or no of its own in the language of the rules"
)]
pub struct Check {
    /// Id and name; the name may hold `{place}`, `{zone}`, `{limit}`.
    pub named: Named,
    /// Whether it is a question of the complaint, asked first.
    pub intake: bool,
    /// Whether any answer but the first reports a loss: drills begin with it.
    pub reports_loss: bool,
    /// Whether it is proposed only once something was repaired: too long a wait for looking.
    pub once_repaired: bool,
    /// Whether a hand must reach the place: with its cover on it can't be done at all.
    pub by_hand: bool,
    /// Where it is done.
    pub scope: Scope,
    /// Only on vehicles or at parts like this.
    pub only: Where,
    /// The occasion that its signs read.
    pub occasion: Option<OccasionId>,
    /// The set-up it needs, the occasion's included.
    pub needs: SetUpNeeds,
    /// What the vehicle is put to while it lasts, beside its set-up: a week in use takes a running engine.
    pub meanwhile: Vec<(FacetId, usize)>,
    /// What it leaves otherwise than it was: a heat cycle that was watched to its end leaves the engine cold.
    pub leaves: Vec<(FacetId, usize)>,
    /// Hands-on minutes.
    pub minutes: Vary<f64>,
    /// Minutes of waiting.
    pub waiting: Vary<f64>,
    /// Tools needed.
    pub tools: Vec<ToolId>,
    /// Cautions beside those of the set-up.
    pub cautions: Vec<CautionId>,
    /// The question to answer.
    pub ask: String,
    /// How to, in steps.
    pub how: Vec<String>,
    /// Checks whose evidence this one destroys.
    pub spoils: Vec<CheckId>,
    /// What another answer in the same state counts.
    pub repeats: Repeats,
    /// Its signs, in order; a sweep has none of its own.
    pub signs: Vec<Sign>,
    /// How its signs are answered.
    pub answering: Answering,
    /// What an instrument's reading says about it, where one can be entered in place of an answer.
    pub measured: Option<Measured>,
    /// Why it tells something.
    pub reason: Reason,
}

/// Where a check is done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Scope {
    /// Once for the vehicle.
    Vehicle,
    /// Once for each part of these kinds.
    Parts(Vec<KindId>),
    /// Once for each zone, as one look over all the places of another check.
    Sweep(CheckId),
}

/// How the signs of a check are answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answering {
    /// Each sign by itself.
    Each,
    /// One choice from a list; the first that fits. The last choice is "none of these".
    Choice(Vec<Choice>),
}

/// One choice: sets a sign to an answer, every earlier sign in the list to its normal answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// Id and what it looks like.
    pub named: Named,
    /// Sign and answer (positions); `None` for "none of these".
    pub shows: Option<(usize, usize)>,
}

/// A sign with ordered answers, the first being the normal one.
#[derive(Debug, Clone)]
pub struct Sign {
    /// Id and name.
    pub named: Named,
    /// Answers: id, and what it looks like.
    pub answers: Vec<Named>,
    /// Chance of each answer when nothing that it reads pushes it; sums to 1.
    pub background: Vary<Vec<f64>>,
    /// What it reads.
    pub reads: Vec<Read>,
}

/// One link from a node to a sign.
#[derive(Debug, Clone)]
pub struct Read {
    /// The node.
    pub of: Reading,
    /// Only at parts or vehicles like this.
    pub only: Where,
    /// Chance of each answer for each state of the node but the first: `[state − 1][answer]`,
    /// each row summing to 1. A node with two states has one row.
    pub push: Vary<Vec<Vec<f64>>>,
    /// Counts only while this condition is absent.
    pub unless: Option<ConditionId>,
    /// Why it is believed.
    pub reason: Reason,
}

/// What a sign can read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reading {
    /// What is wet at this place, as far as a look can reach it.
    WetHere,
    /// The leak of this place itself.
    LeakHere,
    /// The leak of the part named under a role.
    LeakOf(String),
    /// A gather on the check's occasion.
    Gather(GatherId),
    /// A fault of this part.
    FaultHere(FaultId),
    /// A fault (by its id as written) of the part named under a role.
    FaultOf(String, String),
    /// A fault wherever it occurs in the layout.
    FaultAnywhere(FaultId),
    /// A condition.
    Condition(ConditionId),
}
