//! The checked rule base: what every later stage reads.
//!
//! In: nothing (built by `check`). Out: plain data that holds only ids, checked numbers and
//! texts. Every name has been looked up, every strength lies strictly between 0 and 1 where the
//! language demands it, and every list stands in the order in which the author wrote it.

mod check;
mod measured;
mod policy;
mod repair;
mod review;
mod set_up;
mod workshop;

use std::sync::Arc;

use crate::ids::{
    AttributeId, BlockId, CautionId, CheckId, ConditionId, FacetId, FaultId, GatherId, IdVec,
    KindId, LeakKindId, LevelId, OccasionId, SpaceId, ToolId, WayId,
};

pub use check::{Answering, Check, Choice, Read, Reading, Repeats, Scope, Sign};
pub use measured::{Measured, PortShows, Side, StrengthShows};
pub use policy::{Certainty, Policy};
pub use repair::{AfterRepair, DryDays, Proof, Refill, Repairs};
pub use review::{ReviewLimits, ShareRow, Shares};
pub use set_up::{Block, Caution, Facet, FacetValue, Never, SetUpNeeds, Way, WhenLikely};
pub use workshop::{
    FillStep, Ground, KeepsBack, Note, ReleaseRules, Selector, SheetRules, Size, Takes, Told,
};

/// A whole rule base.
#[derive(Debug, Clone, Default)]
pub struct RuleBase {
    /// What the rule base is for, shown by `rules show`.
    pub about: String,
    /// Leak levels, the first being "no leak".
    pub levels: IdVec<LevelId, Level>,
    /// Words for strengths, in the order written.
    pub strengths: Vec<(String, f64)>,
    /// How far less than certain answers count.
    pub certainty: Certainty,
    /// When to name a cause, when to stop, how waiting counts.
    pub policy: Policy,
    /// Attributes of parts and of whole vehicles.
    pub attributes: IdVec<AttributeId, Attribute>,
    /// Duties in which spaces have pressures (standing, idle, …).
    pub duties: Vec<Named>,
    /// Spaces that a leak can join to the coolant; `coolant` among them.
    pub spaces: IdVec<SpaceId, Space>,
    /// The space that holds the coolant itself.
    pub own_space: Option<SpaceId>,
    /// Kinds of leak.
    pub leak_kinds: IdVec<LeakKindId, LeakKind>,
    /// Occasions: which kinds of leak are open when.
    pub occasions: IdVec<OccasionId, Occasion>,
    /// Gathers of leaks.
    pub gathers: IdVec<GatherId, Gather>,
    /// Whether a look can reach a place.
    pub visibility: Visibility,
    /// Chance that wetness runs on to the place below, keeping its level.
    pub trail_pass: f64,
    /// Facets of a set-up.
    pub facets: IdVec<FacetId, Facet>,
    /// Ways from one set-up to another.
    pub ways: IdVec<WayId, Way>,
    /// Set-ups that must never be.
    pub never: Vec<Never>,
    /// Findings that forbid set-ups.
    pub blocks: IdVec<BlockId, Block>,
    /// Cautions.
    pub cautions: IdVec<CautionId, Caution>,
    /// Tools.
    pub tools: IdVec<ToolId, Named>,
    /// Test-pressure limit where a layout states none, psi gauge; `None`: not declared.
    pub safe_limit_psi: Option<Vary<f64>>,
    /// Conditions of the whole vehicle.
    pub conditions: IdVec<ConditionId, Condition>,
    /// Kinds of part.
    pub kinds: IdVec<KindId, Kind>,
    /// Faults of all kinds of part.
    pub faults: IdVec<FaultId, Fault>,
    /// Checks; a question of the complaint is one with `intake`.
    pub checks: IdVec<CheckId, Check>,
    /// What repairs and refills do.
    pub repairs: Repairs,
    /// The checks that together prove a repair, in the order in which they are done.
    pub retest: Vec<Proof>,
    /// Sizes that layouts may state of parts.
    pub sizes: Vec<Size>,
    /// What stands on a repair sheet beside the repair itself.
    pub sheet: SheetRules,
    /// When a vehicle may leave; `None`: the rules say nothing of it.
    pub release: Option<ReleaseRules>,
    /// Shares that experience states of some layouts, for a review.
    pub shares: Vec<Shares>,
}

/// An id as written and what people call it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Named {
    /// As written in files and on the command line.
    pub id: String,
    /// As shown to people.
    pub name: String,
}

/// A leak level.
#[derive(Debug, Clone)]
pub struct Level {
    /// Id and name ("a seep").
    pub named: Named,
    /// Band of leak rates in mL/min at running pressure; `None` for "no leak".
    pub ml_per_min: Option<(f64, f64)>,
    /// What it looks like.
    pub looks: String,
}

/// An attribute of parts or of the vehicle.
#[derive(Debug, Clone)]
pub struct Attribute {
    /// Id and name.
    pub named: Named,
    /// Whether it belongs to the vehicle (else to a part).
    pub of_vehicle: bool,
    /// Permitted values.
    pub values: Vec<String>,
    /// Value where a layout states none.
    pub default: Option<usize>,
}

/// A condition on attributes: all of them must hold. Empty: always.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Where {
    /// Attribute and its permitted values (positions in [`Attribute::values`]).
    pub all_of: Vec<(AttributeId, Vec<usize>)>,
}

/// A value that may depend on attributes: the first case that holds, else `otherwise`.
#[derive(Debug, Clone, PartialEq)]
pub struct Vary<T> {
    /// Cases, first match wins.
    pub cases: Vec<(Where, T)>,
    /// The value when none holds.
    pub otherwise: T,
}

impl<T> Vary<T> {
    /// One value everywhere.
    pub fn always(value: T) -> Self {
        Self {
            cases: Vec::new(),
            otherwise: value,
        }
    }

    /// The value for what `holds` says of each condition.
    pub fn pick(&self, mut holds: impl FnMut(&Where) -> bool) -> &T {
        self.cases
            .iter()
            .find(|(condition, _)| holds(condition))
            .map_or(&self.otherwise, |(_, value)| value)
    }
}

/// Why a rule is believed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reason {
    /// In a sentence.
    pub because: Arc<str>,
    /// The kind of source.
    pub source: Source,
}

/// The kind of a rule's source.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Source {
    /// A named publication.
    Published(Arc<str>),
    /// Common practice of the trade.
    Practice,
    /// A published fact, not looked up.
    Memory,
    /// The author's judgement.
    #[default]
    Judgement,
}

/// A space that a leak joins to the coolant.
#[derive(Debug, Clone)]
pub struct Space {
    /// Id and name ("the cylinder").
    pub named: Named,
    /// What it holds that can get into the coolant ("gas"), if anything.
    pub holds: Option<String>,
    /// Lowest and highest pressure by duty, bar gauge, in the order of [`RuleBase::duties`].
    pub pressure_bar: Vec<(f64, f64)>,
}

/// A kind of leak: when a hole is open.
#[derive(Debug, Clone)]
pub struct LeakKind {
    /// Id and name ("only hot").
    pub named: Named,
    /// What hides it, if anything.
    pub hidden_by: Option<HiddenBy>,
}

/// What hides a kind of leak: larger leaks that let the pressure go.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct HiddenBy {
    /// Where they are.
    pub gather: GatherId,
    /// How large one must be.
    pub from: LevelId,
    /// The kinds of leak that count; empty: all that are open and are hidden by nothing themselves.
    pub open: Vec<LeakKindId>,
}

/// An occasion on which certain kinds of leak are open.
#[derive(Debug, Clone)]
pub struct Occasion {
    /// Id and name.
    pub named: Named,
    /// The kinds open then.
    pub kinds: Vec<LeakKindId>,
    /// The set-up that a check on this occasion needs.
    pub set_up: SetUpNeeds,
    /// Whether marks last: what ever leaked shows.
    pub lasting: bool,
}

/// Which leaks a gather takes; every condition given must hold.
#[derive(Debug, Clone)]
pub struct Gather {
    /// Id and name.
    pub named: Named,
    /// Only leaks into these spaces.
    pub into: Vec<SpaceId>,
    /// Only leaks through which this gets into the coolant …
    pub enters: Option<String>,
    /// … during these duties (positions in [`RuleBase::duties`]).
    pub during: Vec<usize>,
    /// Only at parts with these attributes.
    pub only: Where,
    /// Only at parts of these kinds (empty: any).
    pub kinds: Vec<KindId>,
    /// Never at parts of these kinds.
    pub except: Vec<KindId>,
}

/// Whether a look can reach a place.
#[derive(Debug, Clone)]
pub struct Visibility {
    /// Chance that a look reaches the place, by its attributes, covers off.
    pub seen: Vary<f64>,
    /// The same while a cover is over it.
    pub under_cover: f64,
}

impl Default for Visibility {
    fn default() -> Self {
        Self {
            seen: Vary::always(0.95),
            under_cover: 0.1,
        }
    }
}

/// A condition of the whole vehicle.
#[derive(Debug, Clone)]
pub struct Condition {
    /// Id and name ("coolant thinned by topping up with water").
    pub named: Named,
    /// Only on vehicles like this.
    pub only: Where,
    /// Chance before any complaint.
    pub base: Vary<f64>,
    /// Other conditions that raise it.
    pub raised_by: Vec<Raise>,
    /// Why it is believed.
    pub reason: Reason,
    /// What to do about it.
    pub remedy: String,
    /// Whether the faults that it feeds come back unless it is cured.
    pub comes_back: bool,
    /// What a refill does to it; `None`: nothing.
    pub refill: Option<Refill>,
}

/// What raises a fault or a condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Raise {
    /// The cause.
    pub by: Raiser,
    /// Chance that it alone brings the effect about.
    pub strength: Vary<f64>,
    /// Why it is believed.
    pub reason: Reason,
}

/// A cause of a fault.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Raiser {
    /// A condition of the vehicle.
    Condition(ConditionId),
    /// A fault of the same part.
    Fault(FaultId),
    /// A fault of the part that this part names under a role.
    Partner {
        /// The role.
        role: String,
        /// The fault, by its id as written; kinds that lack it give no link.
        fault: String,
    },
}

/// A kind of part.
#[derive(Debug, Clone)]
pub struct Kind {
    /// Id and name ("hose end").
    pub named: Named,
    /// Where its leaks lead.
    pub into: SpaceId,
    /// Whether a leak of this kind of part is the tester's or another that is listed apart.
    pub apart: bool,
    /// Whether it is no leak at all (overfilled, air left in).
    pub no_leak: bool,
    /// Whether this is the place "elsewhere", which each layout must have.
    pub elsewhere: bool,
    /// Names under which its parts may name others (`joins:` of a layout).
    pub roles: Vec<String>,
    /// Its faults; the last may be the unnamed "another fault here".
    pub faults: Vec<FaultId>,
}

/// A fault of a kind of part.
#[derive(Debug, Clone)]
pub struct Fault {
    /// Id and name ("pitted port under the clamp").
    pub named: Named,
    /// The kind of part it belongs to.
    pub kind: KindId,
    /// Whether it is the unnamed "another fault here".
    pub other: bool,
    /// Only at parts like this.
    pub only: Where,
    /// Chance before any complaint, for one part.
    pub base: Vary<f64>,
    /// What raises it.
    pub raised_by: Vec<Raise>,
    /// Chance of each kind and level of leak while the fault is present; the rest is "present,
    /// not leaking". Levels are never the first.
    pub leaks: Vec<(LeakKindId, LevelId, f64)>,
    /// How it shows.
    pub shows: String,
    /// The repair in a line or two.
    pub repair: String,
    /// A fault of the same kind of part with the same repair: the two need not be told apart.
    pub same_repair: Option<FaultId>,
    /// How it stands after its repair.
    pub after_repair: AfterRepair,
    /// Why it is believed.
    pub reason: Reason,
}
