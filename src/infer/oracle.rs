//! The slow and obvious second engine: enumeration of every joint state.
//!
//! In: the same as for [`super::Engine::new`]. Out: the same figures, from the definition.
//! It shares no code with the fast engine but the input types.
//!
//! ```
//! use seepwise::infer::{Network, oracle};
//! let mut net = Network::new();
//! let coin = net.add_noisy_max("coin", vec![0.5, 0.5], vec![])?;
//! let all = oracle(&net, &[], &[], &[coin], &[])?;
//! assert_eq!(all.marginals[0], [0.5, 0.5]);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use crate::ids::{Id, VarId};
use crate::infer::{Answers, Family, Finding, InferError, Network, Question, Shape, Target};

/// Most joint states that are enumerated.
const MOST_STATES: u128 = 4_194_304;

/// What enumeration finds.
#[derive(Debug, Clone, PartialEq)]
pub struct OracleAnswer {
    /// P(evidence).
    pub evidence: f64,
    /// P(target | evidence).
    pub targets: Vec<f64>,
    /// P(state | evidence) of each variable asked for.
    pub marginals: Vec<Vec<f64>>,
    /// One per question.
    pub answers: Vec<Answers>,
}

/// Enumerates the joint distribution of the whole network. Time and states: ∏ states × nodes.
///
/// # Errors
/// [`InferError::TooManyStates`] above about four million joint states;
/// [`InferError::Impossible`] with all findings when P(evidence) is 0.
pub fn oracle(
    net: &Network,
    findings: &[Finding],
    targets: &[Target],
    marginals: &[VarId],
    questions: &[Question],
) -> Result<OracleAnswer, InferError> {
    let counts: Vec<usize> = net.ids().map(|var| net.node(var).states).collect();
    let states = counts
        .iter()
        .fold(1_u128, |all, &n| all.saturating_mul(n as u128));
    if states > MOST_STATES {
        return Err(InferError::TooManyStates { states });
    }
    let mut evidence = 0.0;
    let mut target_sums = vec![0.0; targets.len()];
    let mut marginal_sums: Vec<Vec<f64>> = marginals
        .iter()
        .map(|&var| vec![0.0; counts[var.index()]])
        .collect();
    let mut answer_sums: Vec<Vec<(f64, Vec<f64>)>> = questions
        .iter()
        .map(|question| vec![(0.0, vec![0.0; targets.len()]); number_of_answers(net, question)])
        .collect();
    let mut world = vec![0_usize; counts.len()];
    loop {
        let weight = world_weight(net, findings, &world);
        if weight > 0.0 {
            evidence += weight;
            let hits: Vec<bool> = targets
                .iter()
                .map(|target| target.states[world[target.var.index()]])
                .collect();
            let add = |sums: &mut [f64]| {
                for (sum, _) in sums.iter_mut().zip(&hits).filter(|(_, hit)| **hit) {
                    *sum += weight;
                }
            };
            add(&mut target_sums);
            for (sums, var) in marginal_sums.iter_mut().zip(marginals) {
                sums[world[var.index()]] += weight;
            }
            for (sums, question) in answer_sums.iter_mut().zip(questions) {
                let (p, per_target) = &mut sums[answer_in(net, question, &world)];
                *p += weight;
                add(per_target);
            }
        }
        let Some(place) = (0..world.len()).rev().find(|&i| world[i] + 1 < counts[i]) else {
            break;
        };
        world[place] += 1;
        world[place + 1..].fill(0);
    }
    if evidence <= 0.0 {
        return Err(InferError::Impossible {
            findings: (0..findings.len()).collect(),
        });
    }
    let now: Vec<f64> = target_sums.iter().map(|sum| sum / evidence).collect();
    let answers = answer_sums
        .into_iter()
        .map(|sums| Answers {
            probability: sums.iter().map(|(p, _)| p / evidence).collect(),
            targets: sums
                .iter()
                .map(|(p, hit)| {
                    if *p > 0.0 {
                        hit.iter().map(|h| h / p).collect()
                    } else {
                        now.clone()
                    }
                })
                .collect(),
        })
        .collect();
    let scale = |sums: Vec<f64>| sums.into_iter().map(|sum| sum / evidence).collect();
    let marginals = marginal_sums.into_iter().map(scale).collect();
    Ok(OracleAnswer {
        evidence,
        targets: now,
        marginals,
        answers,
    })
}

fn number_of_answers(net: &Network, question: &Question) -> usize {
    match question.shape {
        Shape::Grid => question
            .signs
            .iter()
            .map(|&sign| net.node(sign).states)
            .product(),
        Shape::FirstOf => {
            1 + question
                .signs
                .iter()
                .map(|&sign| net.node(sign).states - 1)
                .sum::<usize>()
        }
    }
}

fn answer_in(net: &Network, question: &Question, world: &[usize]) -> usize {
    let mut index = 0;
    for &sign in &question.signs {
        let (states, state) = (net.node(sign).states, world[sign.index()]);
        match question.shape {
            Shape::Grid => index = index * states + state,
            Shape::FirstOf if state > 0 => return index + state,
            Shape::FirstOf => index += states - 1,
        }
    }
    if question.shape == Shape::FirstOf {
        0
    } else {
        index
    }
}

fn world_weight(net: &Network, findings: &[Finding], world: &[usize]) -> f64 {
    let mut weight = 1.0;
    for finding in findings {
        weight *= finding.likelihood[world[finding.var.index()]];
    }
    for var in net.ids() {
        if weight <= 0.0 {
            return 0.0;
        }
        weight *= local_chance(net, var, world);
    }
    weight
}

fn local_chance(net: &Network, var: VarId, world: &[usize]) -> f64 {
    let node = net.node(var);
    let state = world[var.index()];
    match &node.family {
        Family::Table { parents, rows } => {
            let row = parents.iter().fold(0, |row, parent| {
                row * net.node(*parent).states + world[parent.index()]
            });
            rows[row * node.states + state]
        }
        Family::NoisyMax { background, links } => {
            // The distribution of the worst of two independent pushes, one push after the other.
            let mut worst = background.clone();
            for link in links {
                let push = &link.push[world[link.parent.index()]];
                let mut both = vec![0.0; node.states];
                for (a, &p) in worst.iter().enumerate() {
                    for (b, &q) in push.iter().enumerate() {
                        both[a.max(b)] += p * q;
                    }
                }
                worst = both;
            }
            worst[state]
        }
    }
}
