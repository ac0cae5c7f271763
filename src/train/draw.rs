//! Vehicles drawn from the model.
//!
//! In: a causal graph, the [`Truth`] about it and a stream of random numbers. Out: a [`Drawn`]: a
//! state for every node, with the chance that the truth gives it.
//!
//! Example: a fault with a base rate of 2 % is present in one of fifty vehicles.

use std::collections::BTreeMap;

use rand::Rng;

use crate::graph::{Asked, CausalGraph, Cause};
use crate::ids::{Id, PartId, VarId};
use crate::infer::{Family, Shape};
use crate::rules::Layout;
use crate::rules::RuleBase;
use crate::train::TrainError;
use crate::train::truth::{Strain, Truth};

/// Most vehicles that are drawn to find one with a loss.
const MOST_TRIES: usize = 20_000;

/// One vehicle in full: what is wrong with it and what every check would show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawn {
    /// State of each node, by its number.
    pub states: Vec<usize>,
    /// The names of the nodes that repairs and repeats have added, in their order: where an entry of the log
    /// is withdrawn, that order changes.
    added: Vec<String>,
    /// A place at which looks see nothing of any leak.
    pub hidden: Option<PartId>,
}

impl Drawn {
    /// The causes that leak, by their position in the graph; the tester's own left out.
    pub fn sources(&self, rules: &RuleBase, layout: &Layout, graph: &CausalGraph) -> Vec<usize> {
        let leaks = |at: &usize| {
            let cause = &graph.causes[*at];
            let apart = rules.kinds[layout.parts[cause.place.part].kind].apart;
            !apart && cause.leaking[self.states[cause.push.index()]]
        };
        (0..graph.causes.len()).filter(leaks).collect()
    }

    /// The places of the sources, each once.
    pub fn source_places(
        &self,
        rules: &RuleBase,
        layout: &Layout,
        graph: &CausalGraph,
    ) -> Vec<PartId> {
        let of = |at: usize| graph.causes[at].place.part;
        let mut places: Vec<PartId> = (self.sources(rules, layout, graph).into_iter())
            .map(of)
            .collect();
        places.sort_unstable();
        places.dedup();
        places
    }

    /// Draws the nodes that a repair, a refill, a wipe or a repeat added to the graph.
    pub fn extend(&mut self, graph: &CausalGraph, truth: &Truth, random: &mut impl Rng) {
        let begun = self.states.len() - self.added.len();
        let names = || {
            graph
                .network
                .ids()
                .skip(begun)
                .map(|var| &graph.node(var).name)
        };
        let same = names().zip(&self.added).take_while(|(a, b)| a == b).count();
        let drawn = self.states.split_off(begun + same);
        let known = self.added.split_off(same).into_iter().zip(drawn).collect();
        self.fill(graph, truth, None, &known, random);
        self.added.extend(names().skip(same).cloned());
    }

    /// Draws every node that has no state yet and is not `known` by name; with one cause planted,
    /// whatever else is drawn.
    fn fill(
        &mut self,
        graph: &CausalGraph,
        truth: &Truth,
        planted: Option<&Cause>,
        known: &BTreeMap<String, usize>,
        random: &mut impl Rng,
    ) {
        let states = &mut self.states;
        for var in graph.network.ids().skip(states.len()) {
            if let Some(&state) = known.get(&graph.node(var).name) {
                states.push(state);
                continue;
            }
            if planted.is_some_and(|cause| cause.fault == var) {
                states.push(1);
                continue;
            }
            let state = match truth.family(graph, var, self.hidden).as_ref() {
                Family::NoisyMax { background, links } => {
                    let mut worst = pick(background, random);
                    for link in links {
                        worst = worst.max(pick(&link.push[states[link.parent.index()]], random));
                    }
                    worst
                }
                Family::Table { parents, rows } => {
                    let count = graph.network.node(var).states;
                    let row = parents.iter().fold(0, |at, &parent| {
                        at * graph.network.node(parent).states + states[parent.index()]
                    });
                    let row = &rows[row * count..(row + 1) * count];
                    match planted.filter(|cause| cause.push == var) {
                        Some(cause) => pick(&leaking_only(row, &cause.leaking), random),
                        None => pick(row, random),
                    }
                }
            };
            states.push(state);
        }
    }

    /// The position of the joint answer that a question would get.
    pub fn answer(&self, asked: &Asked, counts: impl Fn(VarId) -> usize) -> usize {
        let signs = &asked.question.signs;
        match asked.question.shape {
            Shape::Grid => signs
                .iter()
                .fold(0, |at, &sign| at * counts(sign) + self.states[sign.index()]),
            Shape::FirstOf => {
                let mut before = 1;
                for &sign in signs {
                    let state = self.states[sign.index()];
                    if state > 0 {
                        return before + state - 1;
                    }
                    before += counts(sign) - 1;
                }
                0
            }
        }
    }
}

/// Draws a vehicle.
pub fn draw(graph: &CausalGraph, truth: &Truth, random: &mut impl Rng) -> Drawn {
    with_planted(graph, truth, None, random)
}

/// Draws vehicles in which one cause (by its position in the graph) leaks, until the owner of one
/// reports a loss.
///
/// # Errors
/// [`TrainError::NoLossCheck`], [`TrainError::NoLoss`].
pub fn draw_planted(
    rules: &RuleBase,
    layout: &Layout,
    graph: &CausalGraph,
    cause: usize,
    random: &mut impl Rng,
) -> Result<Drawn, TrainError> {
    let truth = Truth::of(graph, Strain::default(), 0);
    reported(rules, layout, graph, || {
        with_planted(graph, &truth, Some(&graph.causes[cause]), random)
    })
}

/// A vehicle in which a cause leaks, whatever else is drawn.
fn with_planted(
    graph: &CausalGraph,
    truth: &Truth,
    planted: Option<&Cause>,
    random: &mut impl Rng,
) -> Drawn {
    let hidden = (truth.strain.hidden_place && !graph.causes.is_empty()).then(|| {
        graph.causes[random.random_range(0..graph.causes.len())]
            .place
            .part
    });
    let mut drawn = Drawn {
        states: Vec::with_capacity(graph.network.len()),
        added: Vec::new(),
        hidden,
    };
    drawn.fill(graph, truth, planted, &BTreeMap::new(), random);
    drawn
}

/// Draws vehicles until one has a cause of loss and its owner reports a loss.
///
/// # Errors
/// [`TrainError::NoLossCheck`], [`TrainError::NoLoss`].
pub fn draw_with_loss(
    rules: &RuleBase,
    layout: &Layout,
    graph: &CausalGraph,
    truth: &Truth,
    random: &mut impl Rng,
) -> Result<Drawn, TrainError> {
    reported(rules, layout, graph, || draw(graph, truth, random))
}

/// The first of many vehicles that has a cause of loss and whose owner reports a loss.
fn reported(
    rules: &RuleBase,
    layout: &Layout,
    graph: &CausalGraph,
    mut draw: impl FnMut() -> Drawn,
) -> Result<Drawn, TrainError> {
    let reports: Vec<VarId> = (graph.tasks.iter())
        .filter(|task| rules.checks[task.check].reports_loss)
        .flat_map(|task| task.signs.iter().copied())
        .collect();
    if reports.is_empty() {
        return Err(TrainError::NoLossCheck);
    }
    for _ in 0..MOST_TRIES {
        let drawn = draw();
        let reported = reports.iter().any(|sign| drawn.states[sign.index()] > 0);
        if reported && !drawn.sources(rules, layout, graph).is_empty() {
            return Ok(drawn);
        }
    }
    Err(TrainError::NoLoss {
        layout: layout.named.id.clone(),
        tries: MOST_TRIES,
    })
}

/// The chances of the states that leak, given that one of them is so.
fn leaking_only(chances: &[f64], leaking: &[bool]) -> Vec<f64> {
    let kept = chances.iter().zip(leaking);
    let kept: Vec<f64> = kept
        .map(|(p, leaks)| if *leaks { *p } else { 0.0 })
        .collect();
    let sum: f64 = kept.iter().sum();
    kept.iter().map(|p| p / sum).collect()
}

/// A state by its chance.
fn pick(chances: &[f64], random: &mut impl Rng) -> usize {
    let mut left: f64 = random.random();
    for (state, chance) in chances.iter().enumerate() {
        left -= chance;
        if left < 0.0 {
            return state;
        }
    }
    // Rounding: the last state that can be.
    chances
        .iter()
        .rposition(|&chance| chance > 0.0)
        .unwrap_or(0)
}
