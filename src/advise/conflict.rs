//! Whether the findings fit together, and which to check again if they don't.
//!
//! In: a [`Case`] and its [`Sheet`]. Out: a [`Conflict`]. The measure is
//! `conf(e) = log ∏P(e_i)/P(e)` (Jensen, Chamberlain, Nordahl & Jensen 1991): above 0 the findings
//! are less likely together than if they had nothing to do with each other. A rare cause that makes
//! them fit shows as conf(e) + log P(h)/P(h|e) ≤ 0: then it may be the cause, not a wrong finding.
//!
//! ```
//! use seepwise::advise::conflict_log10;
//! // Two findings of 10 % each that come together once in a thousand times: ten times too seldom.
//! let alone = [0.1_f64.ln(), 0.1_f64.ln()];
//! assert!((conflict_log10(&alone, 0.001_f64.ln()) - 1.0).abs() < 1e-12);
//! ```

use std::f64::consts::LN_10;

use crate::advise::belief::{AdviseError, chance};
use crate::advise::case::{Answered, Case};
use crate::advise::sheet::{Sheet, before_any};
use crate::advise::suspect::{Suspect, leaking};
use crate::chance::Chance;
use crate::graph::Asked;
use crate::infer::{Answers, Engine, Finding, InferError, Options, Question, Target};

/// From this measure on a conflict is told: findings two times less likely together.
pub const TOLD_FROM: f64 = 0.3;

/// How the findings fit together.
#[derive(Debug, Clone, PartialEq)]
pub struct Conflict {
    /// log10 of how much less likely the findings are together than if they were unrelated.
    pub log10: f64,
    /// Where they fit badly: the finding to check again first, unless that was too dear.
    pub recheck: Option<Recheck>,
    /// A cause that makes them fit: rare, but it would account for all of them.
    pub rare_cause: Option<usize>,
}

/// The finding to check again, and what would follow if it were wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct Recheck {
    /// Its position in [`Case::found`].
    pub found: usize,
    /// The measure for the others alone, log10.
    pub others_log10: f64,
    /// The likeliest cause without it, and its chance.
    pub first_without: Option<(usize, Chance)>,
    /// Its likeliest other answer.
    pub instead: Option<Instead>,
}

/// Another answer to a check.
#[derive(Debug, Clone, PartialEq)]
pub struct Instead {
    /// As typed.
    pub answer: String,
    /// Its chance given all other findings.
    pub probability: Chance,
    /// The likeliest cause with it, and its chance.
    pub first: Option<(usize, Chance)>,
}

/// conf(e), log10, from ln P of each finding alone and ln P of all together.
pub fn conflict_log10(alone: &[f64], together: f64) -> f64 {
    (alone.iter().sum::<f64>() - together) / LN_10
}

impl Conflict {
    /// Weighs the findings of a case against each other; `causes` and `log_evidence` are what is
    /// believed now.
    ///
    /// # Errors
    /// As [`crate::advise::Belief::of`].
    pub fn of(
        case: &Case<'_>,
        (causes, log_evidence): (&[f64], f64),
        sheet: &Sheet,
    ) -> Result<Self, AdviseError> {
        let alone: Vec<f64> = sheet.alone.iter().map(|of| of.log_evidence).collect();
        let log10 = conflict_log10(&alone, log_evidence);
        let mut conflict = Self {
            log10,
            recheck: None,
            rare_cause: None,
        };
        if log10 <= TOLD_FROM {
            return Ok(conflict);
        }
        if let Some((cause, p)) = first(case, causes)? {
            let was = before_any(case, &[Suspect::Cause(cause)])?[0];
            if was > 0.0 && p.get() > 0.0 && log10 + (was / p.get()).log10() <= 0.0 {
                conflict.rare_cause = Some(cause);
            }
        }
        if let Some(whole) = &sheet.whole {
            let others = |left: usize| {
                let rest: f64 = alone.iter().sum::<f64>() - alone[left];
                (rest - whole.without[left].log_evidence) / LN_10
            };
            let checked = (0..alone.len()).filter(|&at| case.found[at].task.is_some());
            let best = checked.min_by(|&a, &b| others(a).total_cmp(&others(b)));
            if let Some(found) = best {
                conflict.recheck = Some(recheck(case, found, others(found))?);
            }
        }
        Ok(conflict)
    }

    /// Whether it is worth telling.
    pub fn told(&self) -> bool {
        self.log10 > TOLD_FROM
    }
}

/// The likeliest cause that is not listed apart.
pub(super) fn first(
    case: &Case<'_>,
    causes: &[f64],
) -> Result<Option<(usize, Chance)>, AdviseError> {
    let own = |cause: &usize| {
        let part = case.graph.causes[*cause].place.part;
        !case.rules.kinds[case.layout.parts[part].kind].apart
    };
    let best = (0..causes.len())
        .filter(own)
        .max_by(|&a, &b| causes[a].total_cmp(&causes[b]).then(b.cmp(&a)));
    best.map(|cause| Ok((cause, chance(causes[cause])?)))
        .transpose()
}

/// What would follow if a finding were wrong: from the belief of all the others.
fn recheck(case: &Case<'_>, found: usize, others_log10: f64) -> Result<Recheck, AdviseError> {
    let answered: &Answered = &case.found[found];
    let covers = &case.set_up.covers_off;
    let none = std::collections::BTreeSet::new();
    let asked = (answered.task)
        .map(|task| (case.graph).ask(case.rules, case.layout, task, covers, &none))
        .filter(|asked| !asked.question.signs.is_empty());
    let rest: Vec<Finding> = (case.found.iter().enumerate())
        .filter(|(at, _)| *at != found)
        .flat_map(|(_, of)| of.findings.iter().cloned())
        .collect();
    let targets: Vec<Target> = case.graph.causes.iter().map(leaking).collect();
    let questions: Vec<Question> = asked.iter().map(|of| of.question.clone()).collect();
    let (net, options) = (&case.graph.network, Options::default());
    let mut engine =
        Engine::new(net, &rest, &targets, &[], &questions, &options).map_err(AdviseError::Infer)?;
    let instead = match &asked {
        None => None,
        Some(asked) => match engine.answers(0) {
            Ok(answers) => instead(case, answered, asked, &answers)?,
            Err(InferError::TooDense { .. }) => None,
            Err(error) => return Err(AdviseError::Infer(error)),
        },
    };
    Ok(Recheck {
        found,
        others_log10,
        first_without: first(case, engine.targets())?,
        instead,
    })
}

/// The likeliest other answer to a finding's check.
fn instead(
    case: &Case<'_>,
    answered: &Answered,
    asked: &Asked,
    answers: &Answers,
) -> Result<Option<Instead>, AdviseError> {
    // An answer that the finding speaks against less than for is the one that was given.
    let given = |at: usize| {
        asked.options[at].setting.iter().all(|(var, state)| {
            answered
                .findings
                .iter()
                .filter(|finding| finding.var == *var)
                .all(|finding| {
                    let most = finding.likelihood.iter().copied().fold(0.0, f64::max);
                    finding.likelihood[*state] >= most
                })
        })
    };
    let other = (0..asked.options.len())
        .filter(|&at| !given(at))
        .max_by(|&a, &b| {
            answers.probability[a]
                .total_cmp(&answers.probability[b])
                .then(b.cmp(&a))
        });
    other
        .map(|at| {
            Ok(Instead {
                answer: asked.options[at].id.clone(),
                probability: chance(answers.probability[at])?,
                first: first(case, &answers.targets[at])?,
            })
        })
        .transpose()
}
