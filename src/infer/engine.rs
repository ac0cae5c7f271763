//! The fast exact engine.
//!
//! In: a network, findings and what may be asked. Out: posteriors and answers.
//!
//! See [`Engine::new`].

use crate::ids::VarId;
use crate::infer::{Answers, Finding, InferError, Network, Question, Target};

/// Limits and tie-breaks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Options {
    /// Most table entries that the junction tree may have.
    pub budget_entries: usize,
    /// Seed of the elimination order's tie-breaks.
    pub seed: u64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            budget_entries: 20_000_000,
            seed: 1,
        }
    }
}

/// How large the compiled network is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sizes {
    /// Number of cliques.
    pub cliques: usize,
    /// Entries of the largest clique.
    pub largest: usize,
    /// Entries of all cliques.
    pub total: usize,
}

/// A network compiled for one evidence set.
#[derive(Debug)]
pub struct Engine {
    log_evidence: f64,
    targets: Vec<f64>,
    marginals: Vec<(VarId, Vec<f64>)>,
    answers: Vec<Answers>,
}

impl Engine {
    /// Compiles the network.
    pub fn new(
        net: &Network,
        findings: &[Finding],
        targets: &[Target],
        marginals: &[VarId],
        questions: &[Question],
        _options: &Options,
    ) -> Result<Self, InferError> {
        super::evidence::merge(net, findings)?;
        super::query::validate(net, targets, marginals, questions)?;
        // The oracle stands in until the junction tree is there.
        let all = super::oracle(net, findings, targets, marginals, questions)?;
        let marginals = marginals.iter().copied().zip(all.marginals).collect();
        Ok(Self {
            log_evidence: all.evidence.ln(),
            targets: all.targets,
            marginals,
            answers: all.answers,
        })
    }

    /// Natural logarithm of P(evidence).
    pub fn log_evidence(&self) -> f64 {
        self.log_evidence
    }

    /// P(target | evidence), in the order given to [`Engine::new`].
    pub fn targets(&self) -> &[f64] {
        &self.targets
    }

    /// P(state | evidence) of a variable announced as marginal.
    pub fn marginal(&self, var: VarId) -> Option<Vec<f64>> {
        self.marginals
            .iter()
            .find(|(v, _)| *v == var)
            .map(|(_, p)| p.clone())
    }

    /// The answers of a question, by its position in the slice given to [`Engine::new`].
    pub fn answers(&mut self, question: usize) -> Result<Answers, InferError> {
        self.answers
            .get(question)
            .cloned()
            .ok_or(InferError::NoSuchQuestion(question))
    }

    /// How large the compiled network is.
    pub fn sizes(&self) -> Sizes {
        Sizes {
            cliques: 0,
            largest: 0,
            total: 0,
        }
    }
}
