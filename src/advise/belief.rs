//! What is believed of a case: one compiled engine, and the figures that are read off it.
//!
//! In: a [`Case`]. Out: a [`Belief`]: the chance that each fault causes a loss, that it is
//! present, that each place leaks, that each condition holds.

use thiserror::Error;

use crate::advise::case::Case;
use crate::advise::leaks::leaks;
use crate::advise::suspect::{Suspect, leaking};
use crate::chance::{Chance, NotAChance};
use crate::graph::CausalGraph;
use crate::ids::{IdVec, PartId, VarId};
use crate::infer::{Engine, Finding, InferError, Options, Question, Target};

/// Advice that can't be given.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum AdviseError {
    /// Findings that can't all be true.
    #[error("these findings can't all be true: {}; change or withdraw one of them", .findings.join("; "))]
    Contradiction {
        /// The findings in words, with their entry numbers.
        findings: Vec<String>,
    },
    /// Too many findings hang together.
    #[error("too many findings hang together to work them out exactly; set aside the least telling: {}", .findings.join("; "))]
    TooDense {
        /// The findings that make it so.
        findings: Vec<String>,
        /// The numbers of their entries.
        entries: Vec<usize>,
    },
    /// The inference engine failed.
    #[error("the inference failed: {0}; please report this job")]
    Infer(InferError),
    /// A figure that is no probability.
    #[error("the inference gave a wrong figure: {0}; please report this job")]
    NotAChance(#[from] NotAChance),
}

/// What is followed through every question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Followed {
    /// All causes.
    Causes,
    /// One event, the engine's first target; nothing if there is none.
    Only(Option<Target>),
}

impl Followed {
    /// All causes if there is something to ask.
    fn by(questions: &[Question]) -> Self {
        match questions {
            [] => Self::Only(None),
            _ => Self::Causes,
        }
    }
}

/// What is believed of a case.
#[derive(Debug)]
pub struct Belief {
    engine: Engine,
    /// What is followed through every question.
    followed: Followed,
    /// For each cause of the graph: the chance that it causes a loss.
    pub causes: Vec<f64>,
    /// For each cause: the chance that its fault is present.
    pub present: Vec<f64>,
    /// For each part: the chance that it leaks, in any way.
    pub leaks: IdVec<PartId, Option<f64>>,
    /// For each condition of the rules: the chance that it holds, where the vehicle can have it.
    pub conditions: Vec<Option<f64>>,
    /// The same as it was when faults arose, before any refill.
    pub feeding: Vec<Option<f64>>,
}

impl Belief {
    /// Works out all figures for a case, and keeps what is needed to ask `questions`.
    ///
    /// # Errors
    /// Findings that contradict each other, named; findings too dense for the budget, named.
    pub fn of(case: &Case<'_>, questions: &[Question]) -> Result<Self, AdviseError> {
        let (findings, owner) = numbered(case);
        Self::compiled(&case.graph, &findings, Followed::by(questions), questions)
            .map_err(|error| named(case, &owner, error))
    }

    /// The same, with at most one event followed through questions. It costs less.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub(super) fn following(case: &Case<'_>, only: Option<Target>) -> Result<Self, AdviseError> {
        let (findings, owner) = numbered(case);
        Self::compiled(&case.graph, &findings, Followed::Only(only), &[])
            .map_err(|error| named(case, &owner, error))
    }

    /// The same, to be asked about all causes later.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn to_ask(case: &Case<'_>) -> Result<Self, AdviseError> {
        let (findings, owner) = numbered(case);
        Self::compiled(&case.graph, &findings, Followed::Causes, &[])
            .map_err(|error| named(case, &owner, error))
    }

    /// The same for findings alone.
    pub(super) fn from_findings(
        graph: &CausalGraph,
        findings: &[Finding],
        questions: &[Question],
    ) -> Result<Self, InferError> {
        Self::compiled(graph, findings, Followed::by(questions), questions)
    }

    /// Whether a case can be worked out: nothing hangs together so much that it can't.
    ///
    /// # Errors
    /// [`AdviseError::TooDense`]; [`AdviseError::Contradiction`].
    pub(super) fn fits(case: &Case<'_>) -> Result<(), AdviseError> {
        let (findings, owner) = numbered(case);
        let (targets, marginals, options) = wanted(&case.graph, &Followed::Only(None));
        Engine::fits(
            &case.graph.network,
            &findings,
            &targets,
            &marginals,
            &options,
        )
        .map_err(|error| named(case, &owner, error))
    }

    /// Natural logarithm of the chance of findings alone.
    pub(super) fn log_evidence_of(
        graph: &CausalGraph,
        findings: &[Finding],
    ) -> Result<f64, AdviseError> {
        let options = Options::default();
        let engine = Engine::new(&graph.network, findings, &[], &[], &[], &options)
            .map_err(AdviseError::Infer)?;
        Ok(engine.log_evidence())
    }

    /// The same for all findings of a case and more; the findings that make it too dense are named.
    pub(super) fn log_evidence_with(
        case: &Case<'_>,
        more: Vec<Finding>,
    ) -> Result<f64, AdviseError> {
        let (mut findings, owner) = numbered(case);
        findings.extend(more);
        match Self::log_evidence_of(&case.graph, &findings) {
            Err(AdviseError::Infer(error @ InferError::TooDense { .. })) => {
                Err(named(case, &owner, error))
            }
            other => other,
        }
    }

    fn compiled(
        graph: &CausalGraph,
        findings: &[Finding],
        followed: Followed,
        questions: &[Question],
    ) -> Result<Self, InferError> {
        let (targets, marginals, options) = wanted(graph, &followed);
        let net = &graph.network;
        let engine = Engine::new(net, findings, &targets, &marginals, questions, &options)?;
        let causes = targets.len() - graph.causes.len()..;
        let not_normal = |var: VarId| {
            engine
                .marginal(var)
                .map_or(0.0, |states| (1.0 - states[0]).max(0.0))
        };
        Ok(Self {
            causes: engine.targets()[causes].to_vec(),
            followed,
            present: graph
                .causes
                .iter()
                .map(|cause| not_normal(cause.fault))
                .collect(),
            leaks: leaks(graph, &engine),
            conditions: graph
                .condition_nodes
                .iter()
                .map(|node| node.map(not_normal))
                .collect(),
            feeding: graph
                .feeding_nodes
                .iter()
                .map(|node| node.map(not_normal))
                .collect(),
            engine,
        })
    }

    /// The same belief, with what is needed to ask other questions.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub(super) fn asking(
        self,
        case: &Case<'_>,
        questions: &[Question],
    ) -> Result<Self, AdviseError> {
        let (findings, owner) = numbered(case);
        let (targets, marginals, options) = wanted(&case.graph, &self.followed);
        let engine = Engine::reusing(
            Some(self.engine),
            &case.graph.network,
            &findings,
            &targets,
            &marginals,
            questions,
            &options,
        )
        .map_err(|error| named(case, &owner, error))?;
        Ok(Self { engine, ..self })
    }

    /// The chance of each state of a fault, of its push or a condition; where causes
    /// are followed through questions, of all else that findings hang on, too.
    pub(super) fn marginal(&self, var: VarId) -> Option<Vec<f64>> {
        self.engine.marginal(var)
    }

    /// The chance of what is suspected; 0 for a place that can't leak.
    pub fn chance_of(&self, suspect: Suspect) -> f64 {
        match suspect {
            Suspect::Cause(cause) => self.causes[cause],
            Suspect::Place(part) => self.leaks[part].unwrap_or(0.0),
        }
    }

    /// The engine, to ask the questions that were announced.
    pub(super) fn engine(&mut self) -> &mut Engine {
        &mut self.engine
    }

    /// Natural logarithm of the chance of all findings together.
    pub fn log_evidence(&self) -> f64 {
        self.engine.log_evidence()
    }

    /// How large the compiled network is: cliques, entries of the largest, entries of all.
    pub fn sizes(&self) -> crate::infer::Sizes {
        self.engine.sizes()
    }
}

/// The targets, what is read off besides, and how many of the targets are followed.
fn wanted(graph: &CausalGraph, followed: &Followed) -> (Vec<Target>, Vec<VarId>, Options) {
    let mut conditions: Vec<VarId> = (graph.condition_nodes.iter())
        .chain(&graph.feeding_nodes)
        .flatten()
        .copied()
        .collect();
    conditions.sort_unstable();
    conditions.dedup();
    let faults = graph.causes.iter().map(|cause| cause.fault);
    let pushes = graph.causes.iter().map(|cause| cause.push);
    let causes = graph.causes.iter().map(leaking);
    let mut options = Options::default();
    let first = match followed {
        Followed::Causes => {
            // Questions are asked to choose the next check: digits that nobody can see, and what comes once
            // in ten thousand, decide nothing.
            options = Options {
                off: 1e-5,
                off_after_answer: 3e-2,
                rarest_answer: 1e-4,
                all_inside: true,
                ..options
            };
            None
        }
        Followed::Only(only) => {
            options.most_followed = usize::from(only.is_some());
            only.clone()
        }
    };
    (
        first.into_iter().chain(causes).collect(),
        faults.chain(pushes).chain(conditions).collect(),
        options,
    )
}

/// A checked probability.
pub(super) fn chance(value: f64) -> Result<Chance, NotAChance> {
    Chance::new(value)
}

/// All findings of a case, and for each the position of the entry it comes from.
fn numbered(case: &Case<'_>) -> (Vec<Finding>, Vec<usize>) {
    case.found
        .iter()
        .enumerate()
        .flat_map(|(position, found)| {
            found
                .findings
                .iter()
                .map(move |finding| (finding.clone(), position))
        })
        .unzip()
}

/// Turns the engine's finding numbers into the user's words.
fn named(case: &Case<'_>, owner: &[usize], error: InferError) -> AdviseError {
    let blamed = |numbers: &[usize]| {
        let mut blamed: Vec<usize> = numbers
            .iter()
            .filter_map(|&number| owner.get(number).copied())
            .collect();
        blamed.sort_unstable();
        blamed.dedup();
        blamed
    };
    let words = |blamed: &[usize]| -> Vec<String> {
        let words = |&at: &usize| format!("{} ({})", case.found[at].words, case.found[at].entry);
        blamed.iter().map(words).collect()
    };
    match error {
        InferError::Impossible { findings } => AdviseError::Contradiction {
            findings: words(&blamed(&findings)),
        },
        InferError::TooDense { blame, .. } => {
            let blamed = blamed(&blame);
            AdviseError::TooDense {
                findings: words(&blamed),
                entries: blamed.iter().map(|&at| case.found[at].entry).collect(),
            }
        }
        other => AdviseError::Infer(other),
    }
}
