//! Base rates whose implied share is out of line with a stated one.
//!
//! The share of a row is the sum, over its causes, of the chance that each causes a leak once a
//! loss is reported (of the size that the table names) and nothing else is known, in proportion to the sum over all rows. What stands
//! apart (the tester) and the place "elsewhere" belong to no row.

use crate::graph::CausalGraph;
use crate::ids::VarId;
use crate::infer::{Engine, Finding, Options};
use crate::notice::{Notice, Notices, codes};
use crate::rules::base::{Named, RuleBase, Shares};
use crate::rules::layout::Layout;
use crate::rules::spots::Spots;
use crate::train::TrainError;

/// A place outside every row may have this share of the losses.
const UNLISTED: f64 = 0.005;

/// Gives advice on one layout, if its shares are stated.
pub(super) fn check(
    vehicle @ (rules, layout, _): (&RuleBase, &Layout, &CausalGraph),
    spots: &Spots,
    notices: &mut Notices,
) -> Result<(), TrainError> {
    let stated = rules.shares.iter().enumerate();
    for (table, shares) in stated.filter(|(_, shares)| shares.layout == layout.named.id) {
        let Implied { rows, outside } = implied_shares(vehicle, shares)?;
        for (row, &implied) in rows.iter().enumerate() {
            if let Some(notice) = judged(rules, shares, row, implied) {
                let at = spots.share_row(table, row);
                notices.push(Notice::advice(codes::SHARE_OUT_OF_LINE, at, notice.0).help(notice.1));
            }
        }
        for (name, share) in outside {
            let at = spots.share_row(table, 0);
            let message = format!(
                "on `{}` {:.1} % of the losses come from `{name}`, which is in no row of its shares",
                shares.layout,
                share * 100.0
            );
            let help = "add it to a row";
            notices.push(Notice::advice(codes::SHARE_OUT_OF_LINE, at, message).help(help));
        }
    }
    Ok(())
}

/// What is wrong with a row, and what to do.
fn judged(rules: &RuleBase, shares: &Shares, row: usize, implied: f64) -> Option<(String, String)> {
    let factor = rules.policy.review.share_factor;
    let row = &shares.rows[row];
    let in_line = implied <= row.share * factor && implied >= row.share / factor;
    let figures = format!(
        "`{}` on `{}`: the rules imply {:.1} % of reported losses, stated are {:.1} %",
        row.name,
        shares.layout,
        implied * 100.0,
        row.share * 100.0
    );
    match (in_line, &row.differs) {
        (false, None) => {
            let way = if implied > row.share {
                "lower"
            } else {
                "raise"
            };
            let help = format!(
                "more than {factor} times apart: {way} the base rates of its faults, or say with `differs:` why this layout is another case"
            );
            Some((figures, help))
        }
        (true, Some(_)) => Some((figures, format!("within {factor} times: drop `differs:`"))),
        _ => None,
    }
}

/// What the base rates imply.
#[derive(Debug, Clone, PartialEq)]
pub struct Implied {
    /// The share of each row, 0 to 1.
    pub rows: Vec<f64>,
    /// Kinds of part that are in no row and count for something, with their share of what the
    /// rows add up to.
    pub outside: Vec<(String, f64)>,
}

/// The shares that the base rates of a vehicle imply for stated rows.
///
/// # Errors
/// [`TrainError::NoLossCheck`], [`TrainError::Infer`].
pub fn implied_shares(
    (rules, layout, graph): (&RuleBase, &Layout, &CausalGraph),
    shares: &Shares,
) -> Result<Implied, TrainError> {
    let mut findings: Vec<Finding> = Vec::new();
    for task in &graph.tasks {
        let check = &rules.checks[task.check];
        if !check.reports_loss {
            continue;
        }
        for (sign, &var) in check.signs.iter().zip(&task.signs) {
            let counts = |(state, answer): (usize, &Named)| {
                let meant = shares.reported.is_empty() || shares.reported.contains(&answer.id);
                f64::from(u8::from(state > 0 && meant))
            };
            let likelihood = sign.answers.iter().enumerate().map(counts).collect();
            findings.push(Finding::soft(var, likelihood));
        }
    }
    if findings.is_empty() {
        return Err(TrainError::NoLossCheck);
    }
    let pushes: Vec<VarId> = graph.causes.iter().map(|cause| cause.push).collect();
    let options = Options::default();
    let engine = Engine::new(&graph.network, &findings, &[], &pushes, &[], &options)?;
    let mut rows = vec![0.0; shares.rows.len()];
    let mut outside: Vec<(String, f64)> = Vec::new();
    for cause in &graph.causes {
        let place = cause.place;
        let kind = &rules.kinds[layout.parts[place.part].kind];
        if kind.apart || kind.elsewhere {
            continue;
        }
        let chances = engine.marginal(cause.push).unwrap_or_default();
        let leaking = chances.iter().zip(&cause.leaking);
        let chance: f64 = leaking
            .map(|(p, leaks)| if *leaks { *p } else { 0.0 })
            .sum();
        let fits =
            |row: &crate::rules::base::ShareRow| row.of.fits(layout, place.part, place.fault);
        match shares.rows.iter().position(fits) {
            Some(row) => rows[row] += chance,
            None => match outside.iter_mut().find(|(id, _)| *id == kind.named.id) {
                Some((_, sum)) => *sum += chance,
                None => outside.push((kind.named.id.clone(), chance)),
            },
        }
    }
    let all: f64 = rows.iter().sum();
    for row in &mut rows {
        *row /= all;
    }
    for (_, share) in &mut outside {
        *share /= all;
    }
    outside.retain(|(_, share)| *share >= UNLISTED);
    Ok(Implied { rows, outside })
}
