//! The same network where some variables are known to be in certain states only.
//!
//! In: a network and, for some variables, the states that they can be in. Out: a network with the
//! same ids in which no arrow is left that these states make idle. What the states rule out stays
//! a finding, which whoever asks must still state; with it every figure is the same, and the
//! network is much thinner: with all leaks but one known to be shut, every gather has one parent.
//!
//! Example: with the guard of a gate known to be open, the gate has one parent left.

use std::borrow::Cow;

use crate::ids::{Id, VarId};
use crate::infer::{Family, Link, Network, NetworkError};

/// Drops the arrows that are idle while each variable of `known` stays in a state marked true.
/// Time: the sizes of all families.
///
/// # Errors
/// None for a network that was built by its own methods and flags of the right number.
pub fn narrowed(net: &Network, known: &[(VarId, &[bool])]) -> Result<Network, NetworkError> {
    let mut given: Vec<Option<&[bool]>> = vec![None; net.len()];
    for (var, states) in known {
        given[var.index()] = Some(states);
    }
    let mut possible: Vec<Vec<bool>> = Vec::with_capacity(net.len());
    let mut thin = Network::new();
    for var in net.ids() {
        let node = net.node(var);
        let mut support = match &node.family {
            Family::NoisyMax { background, links } => {
                let (background, kept) = without_idle(background, links, &possible);
                let support = reach_of_max(&background, &kept, &possible);
                if kept.len() == links.len() {
                    thin.add_shared(net, var);
                } else {
                    let kept = kept.into_iter().cloned().collect();
                    thin.add_noisy_max(node.name.clone(), background, kept)?;
                }
                support
            }
            Family::Table { parents, rows } => {
                let (kept, rows) = sliced(parents, rows, node.states, net, &possible);
                let support = reach_of_table(&kept, &rows, node.states, net, &possible);
                if kept.len() == parents.len() {
                    thin.add_shared(net, var);
                } else {
                    thin.add_table(node.name.clone(), node.states, kept, rows.into_owned())?;
                }
                support
            }
        };
        if let Some(given) = given[var.index()] {
            for (can, given) in support.iter_mut().zip(given) {
                *can &= given;
            }
        }
        possible.push(support);
    }
    Ok(thin)
}

/// The links whose parent can still push differently; the others go into the background.
fn without_idle<'a>(
    background: &[f64],
    links: &'a [Link],
    possible: &[Vec<bool>],
) -> (Vec<f64>, Vec<&'a Link>) {
    let mut background = background.to_vec();
    let mut kept = Vec::new();
    for link in links {
        let mut rows = rows_of(link, possible);
        match rows.next() {
            Some(first) if rows.all(|row| row == first) => {
                worsen(&mut background, first);
            }
            _ => kept.push(link),
        }
    }
    (background, kept)
}

/// The rows of a link that its parent can still bring about.
fn rows_of<'a>(link: &'a Link, possible: &'a [Vec<bool>]) -> impl Iterator<Item = &'a Vec<f64>> {
    let can = &possible[link.parent.index()];
    let rows = link.push.iter().zip(can);
    rows.filter(|(_, can)| **can).map(|(row, _)| row)
}

/// Makes a push the worse of itself and another, independent one.
fn worsen(push: &mut [f64], other: &[f64]) {
    // A push that is surely the least worsens nothing.
    if other.first() == Some(&1.0) {
        return;
    }
    let (mut sum, mut sum_other, mut below) = (0.0, 0.0, 0.0);
    for (push, other) in push.iter_mut().zip(other) {
        sum += *push;
        sum_other += other;
        let up_to = sum * sum_other;
        *push = f64::max(up_to - below, 0.0);
        below = up_to;
    }
}

/// The states that the worst of background and links can take.
fn reach_of_max(background: &[f64], links: &[&Link], possible: &[Vec<bool>]) -> Vec<bool> {
    let mut can: Vec<bool> = background.iter().map(|&p| p > 0.0).collect();
    let mut least = can.iter().position(|&can| can).unwrap_or(0);
    for link in links {
        let mut first = usize::MAX;
        for row in rows_of(link, possible) {
            for (state, _) in row.iter().enumerate().filter(|(_, p)| **p > 0.0) {
                can[state] = true;
                first = first.min(state);
            }
        }
        if first < usize::MAX {
            least = least.max(first);
        }
    }
    can[..least].fill(false);
    can
}

/// A table without the parents on which no possible row depends.
fn sliced<'a>(
    parents: &[VarId],
    rows: &'a [f64],
    states: usize,
    net: &Network,
    possible: &[Vec<bool>],
) -> (Vec<VarId>, Cow<'a, [f64]>) {
    let (mut parents, mut rows) = (parents.to_vec(), Cow::Borrowed(rows));
    let mut at = 0;
    while at < parents.len() {
        let inner: usize = parents[at + 1..]
            .iter()
            .map(|&var| net.node(var).states)
            .product::<usize>()
            * states;
        let count = net.node(parents[at]).states;
        let can = &possible[parents[at].index()];
        let Some(first) = can.iter().position(|&can| can) else {
            at += 1;
            continue;
        };
        let outer = rows.len() / (inner * count);
        let block = |o: usize, state: usize| {
            let start = (o * count + state) * inner;
            start..start + inner
        };
        let idle = (0..outer).all(|o| {
            (first + 1..count)
                .filter(|&state| can[state])
                .all(|state| rows[block(o, state)] == rows[block(o, first)])
        });
        if idle {
            rows = (0..outer)
                .flat_map(|o| rows[block(o, first)].to_vec())
                .collect();
            parents.remove(at);
        } else {
            at += 1;
        }
    }
    (parents, rows)
}

/// The states that a table can take while its parents stay in their possible states.
fn reach_of_table(
    parents: &[VarId],
    rows: &[f64],
    states: usize,
    net: &Network,
    possible: &[Vec<bool>],
) -> Vec<bool> {
    let mut can = vec![false; states];
    for (index, row) in rows.chunks_exact(states).enumerate() {
        let mut rest = index;
        let here = parents.iter().rev().all(|&parent| {
            let count = net.node(parent).states;
            let state = rest % count;
            rest /= count;
            possible[parent.index()][state]
        });
        if here {
            for (can, p) in can.iter_mut().zip(row) {
                *can |= *p > 0.0;
            }
        }
    }
    can
}
