//! The fast exact engine, compiled and calibrated.
//!
//! In: a network, findings and what may be asked. Out: posteriors; [`super::answer`] answers questions.
//!
//! The tree holds what lies above the findings and the targets. Open signs stay outside: an answer
//! is a sum of products of weights on variables inside, and all products of all questions go
//! through the calibrated tree in batches when the first question is asked.

use std::collections::BTreeMap;

use crate::ids::{Id, VarId};
use crate::infer::asked::{Expansion, Planned, expand_outside, keep};
use crate::infer::calibrate::{Calibrated, Digits, calibrate};
use crate::infer::compile::{Model, Role};
use crate::infer::diagnose::{contradiction, doubtful, order_of, too_dense};
use crate::infer::passes::Event;
use crate::infer::plan::Plan;
use crate::infer::query::validate;
use crate::infer::tree::Tree;
use crate::infer::{Finding, InferError, Network, Options, Question, Target, evidence};

/// How far outside [0, 1] a figure may lie, and a joint chance above the chance of one of its parts,
/// before it is an error. Far less than anybody reads.
pub(super) const OUTSIDE: f64 = 1e-6;
/// Elimination orders that are tried before rounding is reported as an error.
const ATTEMPTS: u64 = 2;

/// How large the compiled network is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sizes {
    /// Number of cliques.
    pub cliques: usize,
    /// Entries of the largest clique.
    pub largest: usize,
    /// Entries of all cliques.
    pub total: usize,
    /// Different products that all questions together send through the tree.
    pub terms: usize,
}

/// A network compiled for one evidence set.
#[derive(Debug)]
pub struct Engine {
    pub(super) model: Model,
    pub(super) tree: Tree,
    pub(super) calibrated: Calibrated,
    pub(super) events: Vec<Event>,
    pub(super) log_evidence: f64,
    pub(super) targets: Vec<f64>,
    /// So many of them are followed through questions.
    pub(super) follow: usize,
    /// See [`Options::off_after_answer`] and [`Options::rarest_answer`].
    pub(super) off: f64,
    pub(super) rarest: f64,
    pub(super) marginals: BTreeMap<VarId, Vec<f64>>,
    pub(super) plan: Plan,
    pub(super) questions: Vec<Planned>,
    /// Per term of the plan that has been sent through the tree: its share of P(evidence) and of
    /// each target.
    pub(super) values: Vec<Vec<f64>>,
    /// The same in more digits, for the terms of questions that need them.
    pub(super) finer: BTreeMap<usize, Vec<f64>>,
    /// Kept if some question needs a tree of its own.
    pub(super) source: Option<Box<Source>>,
}

/// What a question with a tree of its own is compiled from.
#[derive(Debug)]
pub(super) struct Source {
    pub(super) net: Network,
    pub(super) findings: Vec<Finding>,
    pub(super) targets: Vec<Target>,
    pub(super) options: Options,
}

impl Engine {
    /// Compiles and calibrates. `targets` are followed through every question (see
    /// [`Options::most_followed`]); `marginals` are
    /// variables whose distribution will be wanted; only `questions` given here can be asked.
    /// The order of `findings` doesn't matter, to the bit.
    ///
    /// Time: a few times the tree's entries (see [`Engine::sizes`]) plus the elimination order.
    ///
    /// # Errors
    /// [`InferError::BadInput`], [`InferError::Impossible`], [`InferError::TooDense`], and
    /// [`InferError::Numeric`] if several elimination orders all fail the checks on rounding.
    pub fn new(
        net: &Network,
        findings: &[Finding],
        targets: &[Target],
        marginals: &[VarId],
        questions: &[Question],
        options: &Options,
    ) -> Result<Self, InferError> {
        Self::reusing(None, net, findings, targets, marginals, questions, options)
    }

    /// Whether the elimination tree of these findings, targets and marginals stays within the budget; the
    /// tree is ordered and not filled, at a fraction of the time of [`Engine::new`].
    ///
    /// # Errors
    /// [`InferError::TooDense`] with the findings to blame; [`InferError::BadInput`].
    pub fn fits(
        net: &Network,
        findings: &[Finding],
        targets: &[Target],
        marginals: &[VarId],
        options: &Options,
    ) -> Result<(), InferError> {
        let seen = evidence::merge(net, findings)?;
        let mut wanted: Vec<VarId> = targets.iter().map(|target| target.var).collect();
        wanted.extend_from_slice(marginals);
        let expansion = expand_outside(net, &seen, &wanted, &[], options.most_products);
        let model = Model::new(net, &seen, &expansion.needs);
        if order_of(&model, options.seed).entries <= options.budget_entries as u128 {
            return Ok(());
        }
        Err(too_dense(
            net,
            findings,
            &wanted,
            options.budget_entries,
            options.seed,
        ))
    }

    /// As [`Engine::new`], but takes over the tree of `previous`, an engine of the same network,
    /// findings, targets, marginals and options, unless the new questions need another.
    ///
    /// # Errors
    /// As [`Engine::new`].
    pub fn reusing(
        previous: Option<Self>,
        net: &Network,
        findings: &[Finding],
        targets: &[Target],
        marginals: &[VarId],
        questions: &[Question],
        options: &Options,
    ) -> Result<Self, InferError> {
        validate(net, targets, marginals, questions)?;
        let seen = evidence::merge(net, findings)?;
        let mut wanted: Vec<VarId> = targets.iter().map(|target| target.var).collect();
        wanted.extend_from_slice(marginals);
        let expansion = expand_outside(net, &seen, &wanted, questions, options.most_products);
        let model = Model::new(net, &seen, &expansion.needs);
        let mut engine = match previous {
            Some(mut engine) if engine.model.serves(&model) => {
                engine.model = model;
                engine.plan = Plan::default();
                engine.values.clear();
                engine.finer.clear();
                engine.questions = keep(net, questions, expansion.expanded);
                engine
            }
            _ => {
                let prepared = (questions, model, expansion);
                Self::compiled(net, findings, targets, marginals, prepared, options).map_err(
                    |error| match error {
                        InferError::TooDense { .. } => {
                            too_dense(net, findings, &wanted, options.budget_entries, options.seed)
                        }
                        other => other,
                    },
                )?
            }
        };
        if engine
            .questions
            .iter()
            .any(|planned| matches!(planned, Planned::Apart { .. }))
        {
            engine.source = Some(Box::new(Source {
                net: net.clone(),
                findings: findings.to_vec(),
                targets: targets[..engine.follow].to_vec(),
                options: options.clone(),
            }));
        }
        Ok(engine)
    }

    pub(super) fn compiled(
        net: &Network,
        findings: &[Finding],
        targets: &[Target],
        marginals: &[VarId],
        (questions, model, expansion): (&[Question], Model, Expansion),
        options: &Options,
    ) -> Result<Self, InferError> {
        let expanded = expansion.expanded;
        let impossible = |problem| match contradiction(net, findings, options.seed) {
            Some(findings) => InferError::Impossible { findings },
            None => problem,
        };
        if model.constant <= 0.0 {
            let value = model.constant;
            return Err(impossible(InferError::Numeric {
                what: "P(evidence)",
                value,
            }));
        }
        let mut marginals = marginals.to_vec();
        if options.all_inside {
            let slots = net
                .ids()
                .filter(|var| matches!(model.roles[var.index()], Role::Slot(_)));
            marginals.extend(slots);
            marginals.sort_unstable();
            marginals.dedup();
        }
        let events = events_of(net, &model, targets, &marginals);
        let follow = targets.len().min(options.most_followed);
        let mut problem = InferError::Numeric {
            what: "P(evidence)",
            value: 0.0,
        };
        for attempt in 0..ATTEMPTS {
            let tie_breaks = options.seed.wrapping_add(attempt.wrapping_mul(1_000_003));
            let order = order_of(&model, tie_breaks);
            if order.entries > options.budget_entries as u128 {
                return Err(InferError::TooDense {
                    entries: order.entries,
                    blame: Vec::new(),
                });
            }
            let tree = Tree::new(&model, &order);
            let digits = options.digits();
            let calibrated = calibrate(&tree, &model, &events, follow, digits);
            match check(&calibrated, digits) {
                Err(found) => problem = found,
                Ok(()) if doubtful(net, findings, &model, &calibrated.figures, tie_breaks) => {
                    let value = calibrated.figures.log_total.exp();
                    problem = InferError::Numeric {
                        what: "P(evidence)",
                        value,
                    };
                }
                Ok(()) => {
                    return Ok(Self::assemble(
                        (model, tree, calibrated),
                        events,
                        (targets.len(), follow, net, &marginals),
                        keep(net, questions, expanded),
                        options,
                    ));
                }
            }
        }
        Err(impossible(problem))
    }

    fn assemble(
        (model, tree, calibrated): (Model, Tree, Calibrated),
        mut events: Vec<Event>,
        (target_count, follow, net, marginals): (usize, usize, &Network, &[VarId]),
        questions: Vec<Planned>,
        options: &Options,
    ) -> Self {
        let shares = calibrated
            .figures
            .shares
            .iter()
            .map(|share| share.clamp(0.0, 1.0));
        let targets = shares.clone().take(target_count).collect();
        let mut rest = shares.skip(target_count);
        let marginals = marginals
            .iter()
            .map(|&var| (var, rest.by_ref().take(net.node(var).states).collect()))
            .collect();
        let log_evidence = calibrated.figures.log_total + model.constant.ln();
        events.shrink_to_fit();
        Self {
            model,
            tree,
            calibrated,
            events,
            log_evidence,
            targets,
            follow,
            off: options.off_after_answer,
            rarest: options.rarest_answer,
            marginals,
            plan: Plan::default(),
            questions,
            values: Vec::new(),
            finer: BTreeMap::new(),
            source: None,
        }
    }

    /// Natural logarithm of P(evidence).
    pub fn log_evidence(&self) -> f64 {
        self.log_evidence
    }

    /// P(target | evidence), in the order given to [`Engine::new`].
    pub fn targets(&self) -> &[f64] {
        &self.targets
    }

    /// P(state | evidence) of a variable announced as marginal, or held by the tree where all of
    /// those were wanted; `None` for any other.
    pub fn marginal(&self, var: VarId) -> Option<Vec<f64>> {
        self.marginals.get(&var).cloned()
    }

    /// How large the compiled network is.
    pub fn sizes(&self) -> Sizes {
        let tables = || self.tree.cliques.iter().map(|clique| clique.table.len());
        Sizes {
            cliques: self.tree.cliques.len(),
            largest: tables().max().unwrap_or(0),
            total: tables().sum(),
            terms: self.plan.terms.len(),
        }
    }
}

pub(super) fn clipped(what: &'static str, value: f64, outside: f64) -> Result<f64, InferError> {
    if (-outside..=1.0 + outside).contains(&value) {
        Ok(value.clamp(0.0, 1.0))
    } else {
        Err(InferError::Numeric { what, value })
    }
}

fn events_of(net: &Network, model: &Model, targets: &[Target], marginals: &[VarId]) -> Vec<Event> {
    let slot = |var: VarId| match model.roles[var.index()] {
        Role::Slot(slot) => slot,
        _ => unreachable!("wanted variables are slots"),
    };
    let mut events: Vec<Event> = targets
        .iter()
        .map(|target| Event {
            slot: slot(target.var),
            states: target.states.clone(),
        })
        .collect();
    for &var in marginals {
        let count = net.node(var).states;
        for state in 0..count {
            let states = (0..count).map(|s| s == state).collect();
            events.push(Event {
                slot: slot(var),
                states,
            });
        }
    }
    events
}

/// P(evidence) is the same at every separator, and each posterior is a probability.
fn check(calibrated: &Calibrated, digits: Digits) -> Result<(), InferError> {
    let figures = &calibrated.figures;
    if figures.spread.is_nan() || figures.spread > digits.agreement() {
        let what = "P(evidence) from two separators";
        return Err(InferError::Numeric {
            what,
            value: figures.spread,
        });
    }
    // Twofold numbers are closer than their bound says.
    let outside = OUTSIDE.max(figures.noise.min(digits.event));
    for &share in &figures.shares {
        clipped("a posterior", share, outside)?;
    }
    Ok(())
}
