//! When evidence is impossible or makes the network too dense: which findings do it.
//!
//! In: the network and the findings. Out: positions of the findings to take back or set aside.
//!
//! Example: "fan runs" and "no power at all" contradict each other; a third finding is not named.

use crate::ids::VarId;
use crate::infer::calibrate::{Digits, Figures, calibrate};
use crate::infer::compile::{Model, Needs};
use crate::infer::order::{MOST_TRIES, Order, best_order};
use crate::infer::tree::Tree;
use crate::infer::{Finding, InferError, Network, evidence};

/// P(finding | the findings before it) below this is taken for rounding around zero.
const NOTHING: f64 = 1e-13;

/// Above this P(evidence) can't be mistaken for rounding around zero.
const UNLIKELY: f64 = 1e-9;
/// Below this share left of a sum, its terms have cancelled.
const CANCELLED: f64 = 1e-10;
/// Models of up to this many slots are checked finding by finding.
const FEW_SLOTS: usize = 40;

/// The order for a model.
pub(super) fn order_of(model: &Model, seed: u64) -> Order {
    order_in(model, seed, MOST_TRIES)
}

fn order_in(model: &Model, seed: u64, tries: usize) -> Order {
    let scopes: Vec<&[usize]> = model
        .factors
        .iter()
        .map(|factor| &factor.slots[..])
        .collect();
    best_order(&model.states, &scopes, &model.after, seed, tries)
}

fn compile(net: &Network, findings: &[&Finding], wanted: &[VarId]) -> Option<Model> {
    let owned: Vec<Finding> = findings.iter().map(|&finding| finding.clone()).collect();
    let seen = evidence::merge(net, &owned).ok()?;
    let needs = Needs::new(net, &seen, wanted);
    Some(Model::new(net, &seen, &needs))
}

/// ln P(findings); `None` if it is 0 as far as can be told.
fn log_chance(net: &Network, findings: &[&Finding], seed: u64) -> Option<f64> {
    let model = compile(net, findings, &[])?;
    if model.constant <= 0.0 {
        return None;
    }
    let tree = Tree::new(&model, &order_of(&model, seed));
    let figures = calibrate(&tree, &model, &[], 0, Digits::ALL).figures;
    (figures.spread <= Digits::ALL.agreement()).then(|| figures.log_total + model.constant.ln())
}

/// Whether a positive P(evidence) may come from rounded likelihoods around an exact zero, which no
/// digits in the sums can tell. Asked of small models only, finding by finding.
pub(super) fn doubtful(
    net: &Network,
    findings: &[Finding],
    model: &Model,
    figures: &Figures,
    seed: u64,
) -> bool {
    let likely = figures.log_total > UNLIKELY.ln() || figures.survival > CANCELLED;
    if likely || model.states.len() > FEW_SLOTS {
        return false;
    }
    let all: Vec<&Finding> = findings.iter().collect();
    impossible(net, &all, seed)
}

/// Whether findings can't all be true: they are taken in one by one.
fn impossible(net: &Network, findings: &[&Finding], seed: u64) -> bool {
    let mut before = 0.0;
    for count in 1..=findings.len() {
        match log_chance(net, &findings[..count], seed) {
            Some(log) if log - before > NOTHING.ln() + largest_log(findings[count - 1]) => {
                before = log;
            }
            _ => return true,
        }
    }
    false
}

fn largest_log(finding: &Finding) -> f64 {
    finding
        .likelihood
        .iter()
        .fold(0.0_f64, |m, &l| m.max(l))
        .ln()
}

/// If the findings are impossible together: a subset that is so too, and no longer without any
/// one of its members (greedy deletion). Time: about findings² compilations.
pub(super) fn contradiction(net: &Network, findings: &[Finding], seed: u64) -> Option<Vec<usize>> {
    let pick = |kept: &[usize]| kept.iter().map(|&i| &findings[i]).collect::<Vec<_>>();
    let mut kept: Vec<usize> = (0..findings.len()).collect();
    if !impossible(net, &pick(&kept), seed) {
        return None;
    }
    for index in 0..findings.len() {
        let without: Vec<usize> = kept.iter().copied().filter(|&i| i != index).collect();
        if impossible(net, &pick(&without), seed) {
            kept = without;
        }
    }
    Some(kept)
}

/// The share of the budget that a tree may take once findings are set aside: the next finding or two
/// have to fit as well.
const WITH_ROOM: u128 = 4;

/// The error for a tree past the budget: findings are dropped, each time the one without which the
/// tree is smallest, until it fits with room for more.
pub(super) fn too_dense(
    net: &Network,
    findings: &[Finding],
    wanted: &[VarId],
    budget: usize,
    seed: u64,
) -> InferError {
    let size = |kept: &[usize]| {
        let picked: Vec<&Finding> = kept.iter().map(|&i| &findings[i]).collect();
        compile(net, &picked, wanted).map_or(u128::MAX, |model| order_in(&model, seed, 1).entries)
    };
    let mut kept: Vec<usize> = (0..findings.len()).collect();
    let mut blame = Vec::new();
    let all = size(&kept);
    let mut now = all;
    // What makes the tree no smaller to begin with, a normal answer that is a weight on each parent,
    // does so no better later.
    let mut worth: Vec<usize> = kept.clone();
    while now > budget as u128 / WITH_ROOM {
        let without =
            |index: usize| -> Vec<usize> { kept.iter().copied().filter(|&i| i != index).collect() };
        let mut sizes: Vec<(u128, usize)> = (worth.iter())
            .map(|&index| (size(&without(index)), index))
            .filter(|(entries, _)| *entries < now)
            .collect();
        sizes.sort_unstable();
        let Some(&(entries, index)) = sizes.first() else {
            break;
        };
        worth = sizes[1..].iter().map(|&(_, index)| index).collect();
        kept = without(index);
        blame.push(index);
        now = entries;
    }
    InferError::TooDense {
        entries: all,
        blame,
    }
}
