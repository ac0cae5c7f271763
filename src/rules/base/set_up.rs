//! Facets, ways, blocks and cautions: what a set-up is and what keeps it safe.

use crate::ids::{CautionId, CheckId, FacetId, SpaceId, ToolId};
use crate::rules::base::{Named, Vary, Where};

/// Values that a set-up must have: for each facet named, one of these values.
pub type SetUpNeeds = Vec<(FacetId, Vec<usize>)>;

/// A facet of a set-up; its first value is how a vehicle usually arrives.
#[derive(Debug, Clone)]
pub struct Facet {
    /// Id and name.
    pub named: Named,
    /// Its values.
    pub values: Vec<FacetValue>,
}

/// One value of a facet.
#[derive(Debug, Clone)]
pub struct FacetValue {
    /// Id and name.
    pub named: Named,
    /// The caution to show when a set-up first takes this value.
    pub caution: Option<CautionId>,
    /// Whether this value can hurt: then it, or each check that needs it, has a caution.
    pub hazard: bool,
    /// Whether some block must be able to forbid it.
    pub blockable: bool,
}

/// A way from one set-up to another.
#[derive(Debug, Clone)]
pub struct Way {
    /// Id and name ("let it cool").
    pub named: Named,
    /// Only on vehicles like this.
    pub only: Where,
    /// What the set-up must be before.
    pub needs: SetUpNeeds,
    /// What it changes.
    pub to: Vec<(FacetId, usize)>,
    /// What the vehicle is put to on the way: an engine that is warmed up and switched off again has run.
    pub meanwhile: Vec<(FacetId, usize)>,
    /// Hands-on minutes.
    pub hands: Vary<f64>,
    /// Minutes of waiting.
    pub waiting: Vary<f64>,
    /// Tools needed.
    pub tools: Vec<ToolId>,
    /// Cautions.
    pub cautions: Vec<CautionId>,
    /// How to, in steps.
    pub how: Vec<String>,
}

/// A set-up that must never be.
#[derive(Debug, Clone)]
pub struct Never {
    /// All of these at once.
    pub set_up: SetUpNeeds,
    /// Why.
    pub because: String,
}

/// A finding, or an attribute of the vehicle, that forbids set-ups until it is cleared.
#[derive(Debug, Clone)]
pub struct Block {
    /// Id and name.
    pub named: Named,
    /// Answers that raise it: check, sign (position), answers (positions).
    pub raised_by: Vec<(CheckId, usize, Vec<usize>)>,
    /// Attributes of the vehicle that raise it from the start.
    pub raised_where: Option<Where>,
    /// What it forbids: any of these.
    pub forbids: Vec<(FacetId, Vec<usize>)>,
    /// What to tell the user.
    pub says: String,
    /// What must happen before it is cleared.
    pub until: String,
}

/// A caution, in full and in one line.
#[derive(Debug, Clone)]
pub struct Caution {
    /// Id and name.
    pub named: Named,
    /// In full.
    pub full: String,
    /// In one line.
    pub short: String,
    /// Whatever uses one of these tools must give it …
    pub for_tools: Vec<ToolId>,
    /// … and whatever uses one of these words in its steps.
    pub for_words: Vec<String>,
    /// One of these given in its place will do.
    pub or_given: Vec<CautionId>,
    /// It is given once a leak into some space is likely.
    pub when_likely: Option<WhenLikely>,
    /// It is given before the set-up takes these values while a guard is off; never where empty.
    pub guard_off_before: SetUpNeeds,
}

/// A leak that is likely enough to be minded, and before what.
#[derive(Debug, Clone)]
pub struct WhenLikely {
    /// A leak into one of these spaces …
    pub into: Vec<SpaceId>,
    /// … with at least this chance, its places' chances added up …
    pub at_least: f64,
    /// … before the set-up takes these values.
    pub before: SetUpNeeds,
}
