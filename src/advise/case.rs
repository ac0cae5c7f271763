//! A case: one vehicle and what has been found on it so far.
//!
//! In: built by `job`. Out: plain data; the order of `found` is the order of the log.

use std::collections::BTreeSet;
use std::ops::Deref;
use std::sync::Arc;

use crate::advise::account::{Lost, Measured};
use crate::advise::set_up::SetUp;
use crate::advise::waiting::held_up;
use crate::graph::{CausalGraph, Task};
use crate::ids::{BlockId, FacetId, TaskId, ToolId, VarId};
use crate::infer::Finding;
use crate::rules::base::RuleBase;
use crate::rules::layout::Layout;

/// Kilopascals in one psi.
const KPA_PER_PSI: f64 = 6.894_757;

/// The causal graph of a case: the vehicle's own, or that with the states since its repairs.
#[derive(Debug, Clone)]
pub enum CaseGraph<'a> {
    /// Nothing has been repaired.
    Given(&'a CausalGraph),
    /// With newer states.
    Renewed(Arc<CausalGraph>),
}

impl CaseGraph<'_> {
    /// The graph, to be changed: a copy if others hold it.
    pub fn to_mut(&mut self) -> &mut CausalGraph {
        if let Self::Given(graph) = *self {
            *self = Self::Renewed(Arc::new(graph.clone()));
        }
        match self {
            Self::Renewed(graph) => Arc::make_mut(graph),
            Self::Given(_) => unreachable!("it has just been copied"),
        }
    }
}

impl Deref for CaseGraph<'_> {
    type Target = CausalGraph;

    fn deref(&self) -> &CausalGraph {
        match self {
            Self::Given(graph) => graph,
            Self::Renewed(graph) => graph,
        }
    }
}

/// A repair as the log has it.
#[derive(Debug, Clone)]
pub struct Repaired<'a> {
    /// The number of its entry in the log, from 1.
    pub entry: usize,
    /// The graph as it stood before: findings that speak of that state are read by it.
    pub before: CaseGraph<'a>,
    /// The faults repaired, by their position in the graph's causes. None for a refill or a
    /// cleaning alone.
    pub causes: Vec<usize>,
    /// Whether the system was refilled.
    pub refilled: bool,
}

/// One finding as the log has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Answered {
    /// The number of its entry in the log, from 1.
    pub entry: usize,
    /// The task it answers; none for a fault confirmed or ruled out.
    pub task: Option<TaskId>,
    /// In words ("look at the cap seat: crust").
    pub words: String,
    /// What it says of the graph.
    pub findings: Vec<Finding>,
    /// Whether every sign showed its normal answer.
    pub normal: bool,
}

/// Something that showed at one place or more of a zone, nobody saw which.
#[derive(Debug, Clone, PartialEq)]
pub struct Somewhere {
    /// The number of its entry in the log, from 1.
    pub entry: usize,
    /// The signs of the looks at the places that could be seen.
    pub signs: Vec<VarId>,
    /// It showed this answer of theirs, or one further on.
    pub from: usize,
    /// That answer, as typed.
    pub answer: String,
    /// The weight of its being at none of these places; that of its being there is the rest of 1.
    pub nowhere: f64,
}

/// A look that saw nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SawNothing {
    /// The number of its entry in the log, from 1.
    pub entry: usize,
    /// Why.
    pub words: String,
    /// The covers in its way, by their ids; none where it is not known to be a cover.
    pub covers: Vec<String>,
}

impl SawNothing {
    /// Why, and what a job file needs if that was otherwise.
    pub fn words_for_a_file(&self) -> String {
        if self.covers.is_empty() {
            return self.words.clone();
        }
        format!(
            "{}; if they were off, put `covers_off: [{}]` before it",
            self.words,
            self.covers.join(", ")
        )
    }
}

/// What a shop lacks; kept once, not per job.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Shop {
    /// Tools that it does not have.
    pub lacks: BTreeSet<ToolId>,
    /// Set-up values that it cannot make.
    pub cannot: BTreeSet<(FacetId, usize)>,
}

/// One vehicle and what has been found on it.
#[derive(Debug, Clone)]
pub struct Case<'a> {
    /// The rules.
    pub rules: &'a RuleBase,
    /// The vehicle.
    pub layout: &'a Layout,
    /// Its causal graph, as repairs have left it.
    pub graph: CaseGraph<'a>,
    /// What was repaired, in the order of the log.
    pub repairs: Vec<Repaired<'a>>,
    /// What else the log tells that is no evidence: the number of the entry, and the words.
    pub told: Vec<(usize, String)>,
    /// Looks that saw nothing, since all that they are meant for lies behind covers that are on.
    pub behind_covers: Vec<SawNothing>,
    /// Findings that count for nothing, since with them too much hangs together to be worked out: the
    /// number of the entry, and the words.
    pub left_out: Vec<(usize, String)>,
    /// The number of the entry that closed the job, if one did.
    pub closed: Option<usize>,
    /// The findings, in the order of the log.
    pub found: Vec<Answered>,
    /// What showed somewhere in a zone, in the order of the log.
    pub somewhere: Vec<Somewhere>,
    /// The coolant's strength as last measured, per cent by volume, with its entry, as long as
    /// nothing was filled in since.
    pub strength: Option<(usize, f64)>,
    /// Holds that were measured with a gauge, in the order of the log.
    pub measured: Vec<Measured>,
    /// The loss in numbers, if it was given.
    pub loss: Option<Lost>,
    /// Tasks that cannot be done here, or that nobody could tell.
    pub passed_over: BTreeSet<TaskId>,
    /// Tasks whose evidence something has destroyed since.
    pub spoiled: BTreeSet<TaskId>,
    /// Blocks that are up.
    pub blocks: Vec<BlockId>,
    /// The set-up as it is now.
    pub set_up: SetUp,
    /// What the shop lacks.
    pub shop: Shop,
    /// What a minute of waiting counts, in hands-on minutes.
    pub waiting_counts: f64,
}

impl<'a> Case<'a> {
    /// The repairs of faults, refills and cleanings alone left out.
    pub fn mended(&self) -> impl DoubleEndedIterator<Item = &Repaired<'a>> {
        self.repairs
            .iter()
            .filter(|repair| !repair.causes.is_empty())
    }

    /// How many repairs of faults stand before an entry of the log.
    pub fn repairs_before(&self, entry: usize) -> usize {
        self.mended().filter(|repair| repair.entry < entry).count()
    }
}

impl Case<'_> {
    /// All findings for the inference engine.
    pub fn evidence(&self) -> Vec<Finding> {
        self.found
            .iter()
            .flat_map(|found| found.findings.iter().cloned())
            .collect()
    }

    /// Whether doing a task destroys what another would have shown: at the same place, or of the
    /// whole vehicle for either. A task never spoils itself.
    pub fn spoils(&self, task: &Task, other: &Task) -> bool {
        let itself =
            other.check == task.check && other.part == task.part && other.zone == task.zone;
        let here = task.part.is_none() || other.part.is_none() || task.part == other.part;
        !itself && here && self.rules.checks[task.check].spoils.contains(&other.check)
    }

    /// Minutes of a task itself, never under half a minute; waiting weighted.
    pub fn minutes(&self, task: &Task) -> f64 {
        (task.minutes + self.waiting_counts * held_up(task.waiting)).max(0.5)
    }

    /// A text of a task's check with `{place}`, `{zone}` and `{limit}` filled in.
    pub fn filled(&self, task: &Task, text: &str) -> String {
        let mut text = text.to_owned();
        if text.contains("{limit}") {
            text = text.replace("{limit}", &self.limit_words());
        }
        if let Some(part) = task.part {
            text = text.replace("{place}", &self.layout.parts[part].named.name);
        }
        let zone = task.part.and_then(|part| self.layout.parts[part].zone);
        if let Some(zone) = task.zone.or(zone) {
            text = text.replace("{zone}", &self.layout.zones[zone].named.name);
        }
        text
    }

    /// The test-pressure limit in words: "13 psi (90 kPa)".
    pub fn limit_words(&self) -> String {
        self.limit_psi().map_or_else(
            || "the limit on the plate or in the handbook".to_owned(),
            |(psi, _)| format!("{psi:.0} psi ({:.0} kPa)", psi * KPA_PER_PSI),
        )
    }

    /// The tasks that have an answer in the present state.
    pub fn answered(&self) -> BTreeSet<TaskId> {
        let now = self.found.iter().filter(|found| self.is_of_now(found));
        let now = now.filter(|found| !self.tells_too_little(found));
        now.filter_map(|found| found.task).collect()
    }

    /// Whether a finding is to be made again: a measured hold that neither falls nor holds at the limit, or
    /// a retest of which nobody is even fairly sure that it was dry.
    pub fn tells_too_little(&self, found: &Answered) -> bool {
        let mut holds = self.measured.iter();
        holds.any(|hold| hold.entry == found.entry && !hold.falls && !hold.holds)
            || self.is_guessed_proof(found)
    }

    fn is_guessed_proof(&self, found: &Answered) -> bool {
        let Some(task) = found.task.map(|task| &self.graph.tasks[task]) else {
            return false;
        };
        let guessed = |finding: &Finding| {
            let total: f64 = finding.likelihood.iter().sum();
            let weights = finding.likelihood.iter();
            let most = weights.copied().fold(0.0, f64::max);
            task.signs.contains(&finding.var) && most < self.rules.certainty.fairly * total - 1e-9
        };
        found.normal
            && self.mended().next().is_some()
            && (self.rules.retest.iter()).any(|proof| proof.checks.contains(&task.check))
            && found.findings.iter().any(guessed)
    }

    /// The block that forbids what the vehicle would be put to, if one does.
    pub fn forbidding(&self, meanwhile: &[(FacetId, usize)]) -> Option<BlockId> {
        let forbids = |block: &&BlockId| {
            let mut forbidden = self.rules.blocks[**block].forbids.iter();
            forbidden.any(|(facet, not)| {
                let mut put_to = meanwhile.iter();
                put_to.any(|(of, value)| of == facet && not.contains(value))
            })
        };
        self.blocks.iter().find(forbids).copied()
    }

    /// Whether a finding of a task speaks of the present state: of a sign that no repair has
    /// replaced.
    pub fn is_of_now(&self, found: &Answered) -> bool {
        let Some(task) = found.task else { return false };
        if self.names_signs_of_now(found) {
            return true;
        }
        let task = &self.graph.tasks[task];
        // A dry spell speaks of each leak by itself.
        let told = found.findings.iter().map(|finding| finding.var);
        task.gauge.is_some_and(|gauge| {
            !found.findings.is_empty()
                && told.eq(self
                    .graph
                    .gathered(gauge.node)
                    .iter()
                    .map(|(hole, _)| *hole))
        })
    }

    /// Whether a finding names signs, or the gauge, of its task in the present state, whichever time it
    /// was done.
    pub fn names_signs_of_now(&self, found: &Answered) -> bool {
        let Some(task) = found.task else { return false };
        let task = &self.graph.tasks[task];
        let now = |var| {
            task.signs.contains(&self.graph.states.newest_time(var))
                || task.gauge.is_some_and(|gauge| gauge.node == var)
        };
        // A look over a zone has no signs of its own: what it showed somewhere speaks of those of its places.
        let mut somewhere = self.somewhere.iter().filter(|of| of.entry == found.entry);
        if task.signs.is_empty()
            && somewhere.any(|of| {
                of.signs
                    .iter()
                    .all(|&sign| !self.graph.states.is_replaced(sign))
            })
        {
            return true;
        }
        // Signs of one check may differ in what a repair has to do with them.
        found.findings.iter().any(|finding| now(finding.var))
    }

    /// Whether a finding was made before the last repair of a fault, in words for a list: empty
    /// where nothing was repaired.
    pub fn when(&self, found: &Answered) -> String {
        let Some(last) = self.mended().next_back() else {
            return String::new();
        };
        let before = self.mended().find(|repair| {
            let older = |var| repair.before.network.len() > crate::ids::Id::index(var);
            let replaced = |var| self.graph.states.is_replaced(var);
            let mut vars = found.findings.iter().map(|finding| finding.var);
            vars.any(|var| older(var) && replaced(var))
        });
        match before {
            None if found.entry > last.entry => "since the repair: ".to_owned(),
            Some(repair) if self.mended().count() > 1 => {
                format!("before the repair of entry {}: ", repair.entry)
            }
            Some(_) => "before the repair: ".to_owned(),
            None => String::new(),
        }
    }

    /// The test-pressure limit in psi gauge and what states it: the lowest stated, else the
    /// rule base's safe limit.
    pub fn limit_psi(&self) -> Option<(f64, String)> {
        let stated = self
            .layout
            .limits_psi
            .iter()
            .min_by(|a, b| a.1.total_cmp(&b.1));
        stated.map(|(what, psi)| (*psi, what.clone())).or_else(|| {
            let safe = self.rules.safe_limit_psi.as_ref()?;
            Some((
                *safe.pick(|case| self.layout.holds(case, None)),
                "no rating stated".to_owned(),
            ))
        })
    }
}
