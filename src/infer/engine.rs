//! The fast exact engine.
//!
//! In: a network, findings and what may be asked. Out: posteriors and answers.
//!
//! The tree holds what lies above the findings and the targets. Open signs stay outside: an answer
//! is a sum of products of weights on variables inside, and all products of all questions go
//! through the calibrated tree in batches when the first question is asked.

use std::collections::{BTreeMap, BTreeSet};

use crate::chance::ROUNDING;
use crate::ids::{Id, VarId};
use crate::infer::asked::{Expansion, Planned, expand_inside, expand_outside, keep};
use crate::infer::batch::Term;
use crate::infer::calibrate::{Calibrated, Digits, Numbers, calibrate};
use crate::infer::compile::{Model, Role};
use crate::infer::diagnose::{contradiction, doubtful, order_of, too_dense};
use crate::infer::passes::Event;
use crate::infer::plan::{Plan, Sum, answers_from};
use crate::infer::query::validate;
use crate::infer::tree::Tree;
use crate::infer::{Answers, Finding, InferError, Network, Question, Shape, Target, evidence};

/// How far outside [0, 1] a figure may lie, and a joint chance above the chance of one of its parts,
/// before it is an error. Far less than anybody reads.
const OUTSIDE: f64 = 1e-6;
/// Elimination orders that are tried before rounding is reported as an error.
const ATTEMPTS: u64 = 2;

/// Limits and tie-breaks.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Most table entries that the junction tree may have, counted before zeros are left out.
    pub budget_entries: usize,
    /// Most entries of a tree that a single question gets for itself.
    pub question_entries: usize,
    /// Seed of the elimination order's tie-breaks.
    pub seed: u64,
    /// Most products that a question may be spread over before it gets a tree of its own, which
    /// also holds the hidden nodes between its signs and the findings.
    pub most_products: usize,
    /// Only so many of the targets, the first, are followed through questions; the others are
    /// worked out once. A question costs less, the fewer there are.
    pub most_followed: usize,
    /// How far off a posterior may be. Where much cancels, closer figures take several times as long.
    pub off: f64,
    /// How far off a target after an answer may be. For answers too rare for that, questions are
    /// worked out in more digits.
    pub off_after_answer: f64,
    /// Answers with a smaller chance than this need not be trusted: they count as if they told
    /// nothing, where they would cost more digits.
    pub rarest_answer: f64,
    /// Also work out the distribution of every variable that the tree holds anyway.
    pub all_inside: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            budget_entries: 20_000_000,
            question_entries: 1_500_000,
            seed: 1,
            most_products: 300,
            most_followed: usize::MAX,
            off: 0.0,
            off_after_answer: 1e-4,
            rarest_answer: 0.0,
            all_inside: false,
        }
    }
}

impl Options {
    fn digits(&self) -> Digits {
        Digits {
            event: self.off,
            after_answer: self.off_after_answer,
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
    /// Different products that all questions together send through the tree.
    pub terms: usize,
}

/// A network compiled for one evidence set.
#[derive(Debug)]
pub struct Engine {
    model: Model,
    tree: Tree,
    calibrated: Calibrated,
    events: Vec<Event>,
    log_evidence: f64,
    targets: Vec<f64>,
    /// So many of them are followed through questions.
    follow: usize,
    /// See [`Options::off_after_answer`] and [`Options::rarest_answer`].
    off: f64,
    rarest: f64,
    marginals: BTreeMap<VarId, Vec<f64>>,
    plan: Plan,
    questions: Vec<Planned>,
    /// Per term of the plan that has been sent through the tree: its share of P(evidence) and of
    /// each target.
    values: Vec<Vec<f64>>,
    /// The same in more digits, for the terms of questions that need them.
    finer: BTreeMap<usize, Vec<f64>>,
    /// Kept if some question needs a tree of its own.
    source: Option<Box<Source>>,
}

/// What a question with a tree of its own is compiled from.
#[derive(Debug)]
struct Source {
    net: Network,
    findings: Vec<Finding>,
    targets: Vec<Target>,
    options: Options,
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

    fn compiled(
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

    /// The mean of each product of weights on different variables; each was a target or announced as
    /// marginal. Weights of 0 and 1 give the chance that all of several events come together.
    pub fn means(&self, products: &[Vec<(VarId, Vec<f64>)>]) -> Vec<f64> {
        if products.is_empty() {
            return Vec::new();
        }
        let terms: Vec<Term> = (products.iter())
            .map(|weights| self.model.reweigh(weights))
            .collect();
        let (numbers, _) = self.calibrated.quickest();
        let nothing = (&self.events[..], 0);
        let values = (self.calibrated).propagate(numbers, &self.tree, &self.model, nothing, &terms);
        values.into_iter().map(|of_term| of_term[0]).collect()
    }

    /// Works out several questions at once, by their positions in the slice given to
    /// [`Engine::new`]; what they share is worked out once. [`Engine::answers`] then reads them off.
    ///
    /// # Errors
    /// [`InferError::NoSuchQuestion`].
    pub fn work_out(&mut self, questions: &[usize]) -> Result<(), InferError> {
        for &number in questions {
            match self.questions.get_mut(number) {
                None => return Err(InferError::NoSuchQuestion(number)),
                Some(Planned::Shared { products, sums, .. }) if sums.is_none() => {
                    let planned = products
                        .iter()
                        .map(|products| self.plan.add(&self.model, products));
                    *sums = Some(planned.collect());
                }
                Some(_) => {}
            }
        }
        let known = self.values.len();
        if known < self.plan.terms.len() {
            let (numbers, _) = self.calibrated.quickest();
            if known == 0 {
                self.calibrated.shorten(&self.tree, numbers);
            }
            let more = self.propagate(numbers, &self.plan.terms[known..]);
            self.values.extend(more);
        }
        self.work_out_finer(questions);
        Ok(())
    }

    /// Works out again in more digits what some of the questions can't be trusted without.
    fn work_out_finer(&mut self, questions: &[usize]) {
        if self.calibrated.finer().is_none() {
            return;
        }
        let (_, noise) = self.calibrated.quickest();
        let mut wanted: BTreeSet<usize> = BTreeSet::new();
        for &number in questions {
            let Planned::Shared {
                sums: Some(sums),
                shape,
                counts,
                ..
            } = &self.questions[number]
            else {
                continue;
            };
            let chances = self.column(0, sums, *shape, counts);
            let rare = |p: f64| p != 0.0 && p > self.rarest && p < noise / self.off;
            if chances.iter().any(|&p| rare(p)) {
                wanted.extend(terms_of(sums).filter(|term| !self.finer.contains_key(term)));
            }
        }
        if wanted.is_empty() {
            return;
        }
        if self.finer.is_empty() {
            self.calibrated.shorten(&self.tree, Numbers::Twofold);
        }
        let terms: Vec<Term> = (wanted.iter())
            .map(|&term| self.plan.terms[term].clone())
            .collect();
        let values = self.propagate(Numbers::Twofold, &terms);
        self.finer.extend(wanted.into_iter().zip(values));
    }

    fn propagate(&self, numbers: Numbers, terms: &[Term]) -> Vec<Vec<f64>> {
        let followed = (&self.events[..], self.follow);
        (self.calibrated).propagate(numbers, &self.tree, &self.model, followed, terms)
    }

    /// The answers of a question, by its position in the slice given to [`Engine::new`].
    ///
    /// # Errors
    /// [`InferError::NoSuchQuestion`]; [`InferError::Numeric`] if a result is no probability;
    /// [`InferError::TooDense`] if this question's own tree passes the budget.
    pub fn answers(&mut self, question: usize) -> Result<Answers, InferError> {
        self.work_out(&[question])?;
        match &self.questions[question] {
            Planned::Apart {
                answers: Some(known),
                ..
            } => Ok(known.clone()),
            Planned::Apart {
                question: asked, ..
            } => {
                let found = self.answered_apart(asked)?;
                if let Planned::Apart { answers, .. } = &mut self.questions[question] {
                    *answers = Some(found.clone());
                }
                Ok(found)
            }
            Planned::Shared {
                sums,
                shape,
                counts,
                ..
            } => self.read(sums.as_deref().unwrap_or_default(), *shape, counts),
        }
    }

    /// Answers a question by a tree of its own.
    fn answered_apart(&self, question: &Question) -> Result<Answers, InferError> {
        let Some(source) = &self.source else {
            return Err(InferError::NoSuchQuestion(0));
        };
        let Source {
            net,
            findings,
            targets,
            options,
        } = &**source;
        let seen = evidence::merge(net, findings)?;
        let wanted: Vec<VarId> = targets.iter().map(|target| target.var).collect();
        let asked = std::slice::from_ref(question);
        let expansion = expand_inside(net, &seen, wanted, asked);
        let model = Model::new(net, &seen, &expansion.needs);
        let prepared = (asked, model, expansion);
        Self::compiled(net, findings, targets, &[], prepared, options)?.answers(0)
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

    /// Per answer: its chance (place 0), or the chance of it and a target together.
    fn column(&self, place: usize, sums: &[Sum], shape: Shape, counts: &[usize]) -> Vec<f64> {
        let base = if place == 0 {
            1.0
        } else {
            self.targets[place - 1]
        };
        let finer = self.in_more_digits(sums);
        let value = |sum: &Sum| {
            let part = |(factor, term): &(f64, Option<usize>)| {
                let value = |term: usize| {
                    let values = if finer {
                        &self.finer[&term]
                    } else {
                        &self.values[term]
                    };
                    values[place]
                };
                factor * term.map_or(base, value)
            };
            sum.iter().map(part).sum::<f64>()
        };
        let cumulative: Vec<f64> = sums.iter().map(value).collect();
        answers_from(shape, counts, base, &cumulative)
    }

    fn in_more_digits(&self, sums: &[Sum]) -> bool {
        !self.finer.is_empty() && terms_of(sums).all(|term| self.finer.contains_key(&term))
    }

    fn read(&self, sums: &[Sum], shape: Shape, counts: &[usize]) -> Result<Answers, InferError> {
        let column = |place: usize| self.column(place, sums, shape, counts);
        let noise = match self.calibrated.finer() {
            Some(noise) if self.in_more_digits(sums) => noise,
            _ => self.calibrated.quickest().1,
        };
        let rarest = ROUNDING.max(noise / self.off);
        let outside = OUTSIDE.max(noise);
        let mut probability = column(0);
        for p in &mut probability {
            *p = clipped("an answer's probability", *p, outside)?;
        }
        let followed = &self.targets[..self.follow];
        let mut targets = vec![followed.to_vec(); probability.len()];
        // Place 0 is the answer's own chance.
        for target in 1..=self.follow {
            for (answer, joint) in column(target).into_iter().enumerate() {
                let p = probability[answer];
                let joint = clipped("a target with an answer", joint, outside)?;
                if p > rarest {
                    if joint > p + outside {
                        let what = "a target after an answer";
                        return Err(InferError::Numeric {
                            what,
                            value: joint / p,
                        });
                    }
                    targets[answer][target - 1] = (joint / p).min(1.0);
                }
            }
        }
        Ok(Answers {
            probability,
            targets,
        })
    }
}

fn terms_of(sums: &[Sum]) -> impl Iterator<Item = usize> {
    sums.iter().flatten().filter_map(|(_, term)| *term)
}

fn clipped(what: &'static str, value: f64, outside: f64) -> Result<f64, InferError> {
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
