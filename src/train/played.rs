//! How a job of a drill went.

use crate::ids::PartId;
use crate::job::JobFile;

/// Why a job ended.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum End {
    /// Repaired, the retest complete and dry, and another source unlikely.
    Proved,
    /// Repaired, and what the retest still lacks can't be done here.
    Unproved,
    /// No check is worth its time any more, or none can be done.
    NothingLeft,
    /// The findings could not be worked out together.
    TooDense,
    /// The findings can't all be true, or only by a chance too small to work with.
    AtOdds,
    /// It went on for too long.
    #[default]
    TooLong,
}

/// How a job went.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Played {
    /// The causes that leak, by their position in the graph.
    pub leaking: Vec<usize>,
    /// The places that leak.
    pub sources: Vec<PartId>,
    /// Places that were opened up, found to leak and repaired.
    pub found: Vec<PartId>,
    /// Places that were opened up and sound.
    pub needless: Vec<PartId>,
    /// The places that leak at the end, those included that a repair brought about.
    pub still_leaking: Vec<PartId>,
    /// Whether a place that leaks was ranked first when the first stop came.
    pub first_right: bool,
    /// Whether a place that leaks is one where the rules name no fault: nobody can find it by name.
    pub unnamed_leaks: bool,
    /// Whether the job ended with such a place as the likeliest.
    pub ended_unnamed: bool,
    /// How many of these places leak, those left out where coolant is lost without a leak: by heat, or by
    /// how it was filled.
    pub leaks: usize,
    /// Why it ended.
    pub end: End,
    /// Checks done.
    pub checks: usize,
    /// Hands-on minutes.
    pub minutes: f64,
    /// Minutes of waiting.
    pub waiting: f64,
    /// Those of them that held anybody up.
    pub held_up: f64,
    /// For each cause, when the first stop came: the chance it was given, and whether it leaks.
    pub forecast: Vec<(f64, bool)>,
    /// The tasks done, in order, as typed.
    pub tasks: Vec<String>,
    /// The log as it stood at the end.
    pub job: JobFile,
}

impl Played {
    /// Whether every place that leaks was found.
    pub fn all_found(&self) -> bool {
        self.sources.iter().all(|place| self.found.contains(place))
    }

    /// Hands-on minutes and weighted waiting.
    pub fn cost(&self, waiting_counts: f64) -> f64 {
        self.minutes + waiting_counts * self.held_up
    }
}
