//! What a job file holds, with names as written.
//!
//! In: nothing (built by `read`, or entry by entry by whoever keeps the log). Out: plain data.

use crate::job::measured::{CoolantReading, GaugeLog, LossTold, PortMap};
use crate::job::mended::{DrySpell, Filled, RepairDone};
use crate::job::stands_at::StandsAt;
use crate::source::Span;

/// The answer "can't tell": the check was done and told nothing.
pub const CANT_TELL: &str = "cant_tell";
/// The answer "can't do": the check was not done.
pub const CANT_DO: &str = "cant_do";

/// A job as it stands in its file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct JobFile {
    /// What the job is called.
    pub title: String,
    /// The id of the vehicle's layout.
    pub layout: String,
    /// The complaint in the owner's words.
    pub complaint: String,
    /// What it shows, for a scenario.
    pub about: String,
    /// What was found and done, in order. Entry numbers start at 1.
    pub log: Vec<Logged>,
    /// What must come out of it: makes the job a scenario.
    pub expect: Option<Expect>,
}

/// An entry of the log and where it stands. Two are equal if their entries are.
#[derive(Debug, Clone)]
pub struct Logged {
    /// What it says.
    pub entry: Entry,
    /// Where it was read, if it was.
    pub at: Option<Span>,
    /// The repair before which what it found was so, by the number of its entry: a removed part
    /// on the bench.
    pub before_repair: Option<usize>,
}

impl PartialEq for Logged {
    fn eq(&self, other: &Self) -> bool {
        self.entry == other.entry && self.before_repair == other.before_repair
    }
}

impl From<Entry> for Logged {
    fn from(entry: Entry) -> Self {
        Self {
            entry,
            at: None,
            before_repair: None,
        }
    }
}

/// One entry of a log.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// A check and what it showed.
    Found(Found),
    /// The set-up from here on: facets with their values.
    SetUp(Vec<(String, String)>),
    /// Covers taken off.
    CoversOff(Vec<String>),
    /// Covers put back.
    CoversOn(Vec<String>),
    /// A cause, or a condition of the vehicle, that is certain.
    Confirmed {
        /// The fault (or condition).
        cause: String,
        /// Its place; may be left out where only one place can have the fault.
        at: Option<String>,
    },
    /// A fault, or a condition of the vehicle, that is certainly absent.
    RuledOut {
        /// The fault (or condition).
        cause: String,
        /// Its place; may be left out where only one place can have the fault.
        at: Option<String>,
    },
    /// An earlier entry that no longer counts.
    Withdrawn(usize),
    /// A block that no longer holds.
    Cleared(String),
    /// Anything else worth keeping.
    Note(String),
    /// A pressure gauge over time, in place of an answer.
    Gauge(GaugeLog),
    /// A measured strength of the coolant, in place of an answer.
    Coolant(CoolantReading),
    /// A map of a port, in place of an answer.
    Port(PortMap),
    /// The loss in numbers.
    Loss(LossTold),
    /// A repair: what is found from here on speaks of the state after it.
    Repaired(RepairDone),
    /// Coolant filled in, by itself.
    Refilled(Filled),
    /// Places wiped clean: what shows there later is new.
    Cleaned(Vec<String>),
    /// Topped up cold, L.
    ToppedUp(f64),
    /// Days in which nothing was lost.
    DrySpell(DrySpell),
    /// The job waits. No evidence.
    Waiting {
        /// For what.
        why: String,
        /// Until when; may be empty.
        until: String,
    },
    /// Somebody else goes on with it. No evidence.
    HandedOver {
        /// Who.
        to: String,
        /// What is still to do.
        open: String,
    },
    /// The job is closed. No evidence.
    Closed {
        /// How it ended.
        says: String,
        /// Why it was closed although something is left open; may be empty.
        open: String,
    },
}

/// A check and what it showed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Found {
    /// The check.
    pub check: String,
    /// The part, or for a sweep the zone.
    pub at: Option<String>,
    /// What it showed.
    pub answer: AnswerGiven,
    /// How sure the answer is.
    pub sure: Sure,
    /// How much could be seen.
    pub seen: Seen,
    /// For a sweep: places that showed something else.
    pub except: Vec<(String, String)>,
    /// For a sweep: places that could not be seen.
    pub not_seen: Vec<String>,
    /// For a sweep: places that could be seen in part.
    pub in_part: Vec<String>,
    /// Whether the check was done again, not its answer changed: where the rules say that repeats are
    /// independent, it counts beside the earlier one.
    pub again: bool,
}

/// An answer as given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AnswerGiven {
    /// An answer or a choice; also as typed: `sign=answer, sign=answer`, or `place=answer` for the
    /// highest wet place of a sweep; or [`CANT_TELL`] or [`CANT_DO`].
    One(String),
    /// Signs with their answers; for a sweep places with theirs. Signs left out were not looked at.
    Several(Vec<(String, String)>),
}

impl Default for AnswerGiven {
    fn default() -> Self {
        Self::One(CANT_TELL.to_owned())
    }
}

impl AnswerGiven {
    /// Whether the check was done and told nothing.
    pub fn cant_tell(&self) -> bool {
        matches!(self, Self::One(text) if text.trim() == CANT_TELL)
    }

    /// Whether it speaks of some signs by their names.
    pub fn names_signs(&self) -> bool {
        match self {
            Self::One(text) => text.contains('='),
            Self::Several(_) => true,
        }
    }

    /// Whether the check was not done.
    pub fn cant_do(&self) -> bool {
        matches!(self, Self::One(text) if text.trim() == CANT_DO)
    }
}

/// How sure an answer is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Sure {
    /// Certain.
    #[default]
    Sure,
    /// Fairly sure.
    Fairly,
    /// A guess.
    Guess,
}

/// How much of what a check looks at could be seen.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Seen {
    /// All of it.
    #[default]
    Whole,
    /// Part of it.
    InPart,
    /// Nothing: the look teaches nothing.
    Not,
}

/// What must come out of a scenario. Percentages from 0 to 100.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Expect {
    /// The likeliest leak places: the first so many are these, in any order.
    pub first: Vec<String>,
    /// The first n leak places hold all of these.
    pub among_first: Option<(usize, Vec<String>)>,
    /// Causes (`fault@place`) at least this likely.
    pub causes_at_least: Vec<(String, f64)>,
    /// Causes at most this likely.
    pub causes_at_most: Vec<(String, f64)>,
    /// Places at least this likely to leak.
    pub leaks_at_least: Vec<(String, f64)>,
    /// Places at most this likely to leak.
    pub leaks_at_most: Vec<(String, f64)>,
    /// Conditions at least this likely.
    pub conditions_at_least: Vec<(String, f64)>,
    /// The best proposal is one of these (`check` or `check@place`).
    pub next_among: Vec<String>,
    /// Blocks that are up.
    pub blocked: Vec<String>,
    /// Causes (`fault@place`) that were at least this likely a source before their repair.
    pub sources_at_least: Vec<(String, f64)>,
    /// Where each of these names was read, if it was.
    pub stands_at: StandsAt,
}
