//! The numbers behind the advice.
//!
//! In: nothing (built by `check`). Out: plain data, as in the rest of the rule base.

use crate::ids::KindId;
use crate::measure::ports::Thresholds;
use crate::rules::base::ReviewLimits;

/// How much weight goes on the chosen answer; the rest is spread over the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Certainty {
    /// "Fairly sure".
    pub fairly: f64,
    /// "A guess".
    pub guess: f64,
    /// "Seen in part".
    pub seen_in_part: f64,
}

impl Default for Certainty {
    fn default() -> Self {
        Self {
            fairly: 0.8,
            guess: 0.6,
            seen_in_part: 0.65,
        }
    }
}

/// The numbers behind the advice.
#[derive(Debug, Clone, PartialEq)]
pub struct Policy {
    /// How much of a hands-on minute a minute of waiting costs, by hurry, calm first.
    pub waiting_counts: Vec<(String, f64)>,
    /// A cause at least this likely is named as found.
    pub named_at: f64,
    /// Looking goes on while another source is likelier than this.
    pub another_below: f64,
    /// A check that gains less than this per hour is not worth asking, bits.
    pub floor_bits_per_hour: f64,
    /// Where the best check tells less than this, bits per hour, a place that is likely enough to act
    /// on is repaired.
    pub act_below_bits_per_hour: f64,
    /// What each check takes besides its own minutes: to turn to it, to note what it shows.
    pub turning_minutes: f64,
    /// The same for a question of the complaint, which takes no tool.
    pub asking_minutes: f64,
    /// Where the parts of a layout list it, a leak at least this likely is shown.
    pub shown_from: f64,
    /// What a needless repair costs, in right repairs put off for another check.
    pub needless_repair: f64,
    /// The same for parts of these kinds.
    pub needless_repairs: Vec<(KindId, f64)>,
    /// A hunch less likely than this is dropped.
    pub dropped_below: f64,
    /// The findings point elsewhere if a rival is this many times as likely as a hunch.
    pub rival_leads: f64,
    /// Where the grades of a pitted port part.
    pub ports: Thresholds,
    /// From where on a review gives advice.
    pub review: ReviewLimits,
}

impl Policy {
    /// Acting is reasonable at a kind of part from this chance p on, where a needless repair counts
    /// `share` of its cost c: (1 − p) × c is no more than p.
    pub fn act_from(&self, kind: KindId, share: f64) -> f64 {
        let needless = share * self.needless_repair_of(kind);
        needless / (needless + 1.0)
    }

    /// What a needless repair costs at a kind of part, in right repairs put off.
    pub fn needless_repair_of(&self, kind: KindId) -> f64 {
        let own = self.needless_repairs.iter().find(|(of, _)| *of == kind);
        own.map_or(self.needless_repair, |(_, cost)| *cost)
    }
}

impl Default for Policy {
    fn default() -> Self {
        Self {
            waiting_counts: vec![("no_hurry".to_owned(), 0.1)],
            named_at: 0.9,
            another_below: 0.15,
            floor_bits_per_hour: 0.05,
            act_below_bits_per_hour: 0.05,
            turning_minutes: 0.0,
            asking_minutes: 0.0,
            shown_from: 0.005,
            needless_repair: 4.0,
            needless_repairs: Vec::new(),
            dropped_below: 0.03,
            rival_leads: 3.0,
            ports: Thresholds::default(),
            review: ReviewLimits::default(),
        }
    }
}
