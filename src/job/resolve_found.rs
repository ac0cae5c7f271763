//! What was found: an answer to a check, or a fault taken apart → findings on the graph.
//!
//! In: entries of a log and the state of the vehicle in which they stand. Out: what they say of the graph, in the
//! case; a new answer to the same task takes the place of the earlier one.

use crate::advise::Answered;
use crate::ids::{Id, TaskId, VarId};
use crate::infer::Finding;
use crate::job::answer::{Meant, parse_answer};
use crate::job::file::{Found, Seen, Sure};
use crate::job::find::{find_cause, find_task};
use crate::job::problem::JobProblem;
use crate::job::walk::{InPlaceOf, Walk};
use crate::notice::codes;
use crate::rules::base::{Repeats, Scope};

impl Walk<'_> {
    /// A fault or a condition of the vehicle that is certain, or certainly absent.
    pub(super) fn named(
        &mut self,
        cause: &str,
        at: Option<&str>,
        present: bool,
    ) -> Result<(), JobProblem> {
        let (rules, layout) = (self.case.rules, self.case.layout);
        let graph = &self.case.graph.clone();
        let states = |var: VarId| graph.node(var).states.len();
        let said = if present { "confirmed" } else { "ruled out" };
        let condition = rules
            .conditions
            .enumerated()
            .find(|(_, condition)| at.is_none() && condition.named.id == cause);
        let (vars, finding, what) = if let Some((id, condition)) = condition {
            let Some(var) = graph.condition_nodes[id.index()] else {
                let message = format!("this vehicle ({}) cannot have `{cause}`", layout.named.name);
                return Err(JobProblem::new(codes::NOT_HERE, message).help("take the entry out"));
            };
            (
                vec![var],
                Finding::hard(var, states(var), usize::from(present)),
                condition.named.name.clone(),
            )
        } else {
            let of = &graph.causes[find_cause(rules, layout, graph, cause, at)?];
            let finding = if present && of.leaking.contains(&true) {
                Finding::soft(
                    of.push,
                    of.leaking
                        .iter()
                        .map(|leaks| f64::from(u8::from(*leaks)))
                        .collect(),
                )
            } else {
                Finding::hard(of.fault, states(of.fault), usize::from(present))
            };
            let what = format!(
                "{} ({})",
                rules.faults[of.place.fault].named.name, layout.parts[of.place.part].named.name
            );
            (vec![of.fault, of.push], finding, what)
        };
        self.case.found.retain(|known| {
            known.task.is_some()
                || !known
                    .findings
                    .iter()
                    .any(|finding| vars.contains(&finding.var))
        });
        let words = format!("{said}: {what}");
        self.case.found.push(Answered {
            entry: self.number,
            task: None,
            words,
            findings: vec![finding],
            normal: false,
        });
        Ok(())
    }

    pub(super) fn found(&mut self, found: &Found) -> Result<(), JobProblem> {
        let (rules, layout) = (self.case.rules, self.case.layout);
        let graph = &self.case.graph.clone();
        let covers = &self.case.set_up.covers_off;
        let task = find_task(
            rules,
            layout,
            graph,
            &found.check,
            found.at.as_deref(),
            covers,
        )?;
        let of = &graph.tasks[task];
        let check = &rules.checks[of.check];
        let swept = if let Scope::Sweep(swept) = check.scope {
            Some(&rules.checks[swept])
        } else {
            None
        };
        if found.again && check.repeats == Repeats::Same {
            let message = format!("done again, `{}` shows the same again", found.check);
            return Err(JobProblem::new(codes::UNKNOWN_KEY, message)
                .help("leave `again` out: the answer replaces the earlier one"));
        }
        self.again = found.again;
        let exceptions =
            !found.except.is_empty() || !found.not_seen.is_empty() || !found.in_part.is_empty();
        if swept.is_none() && exceptions {
            let message = format!(
                "`{}` looks at one place: `except`, `not_seen` and `in_part` belong to looks over a zone",
                found.check
            );
            return Err(JobProblem::new(codes::UNKNOWN_KEY, message)
                .help("use `seen: in_part` or `seen: not` instead"));
        }
        let meant = parse_answer(rules, layout, graph, task, covers, &found.answer)?;
        match meant {
            Meant::CantDo => {
                self.case.passed_over.insert(task);
                self.cant_do.insert(task);
            }
            Meant::Places(mut places) if found.seen != Seen::Not => {
                if places.is_empty() {
                    self.saw_only_covers(found, of);
                }
                // "The rest is dry": what was seen at a place before stands until that place is
                // named again.
                let stands = |task: TaskId| {
                    let known = self.case.found.iter();
                    known
                        .filter(|known| known.task == Some(task) && self.case.is_of_now(known))
                        .any(|known| !known.normal)
                };
                places.retain(|&(task, state)| state != 0 || found.again || !stands(task));
                let looks = self.looks(found, of, swept.unwrap_or(check), places)?;
                if swept.is_some() {
                    self.forget_sweep(task, &[]);
                    self.swept.insert((task, self.number));
                }
                self.done(of);
                for look in looks {
                    self.look(found, look);
                }
            }
            Meant::Somewhere(mut places, state) if found.seen != Seen::Not => {
                if places.is_empty() {
                    self.saw_only_covers(found, of);
                }
                let looks = self.looks(found, of, swept.unwrap_or(check), Vec::new())?;
                self.done(of);
                places.retain(|&place| looks.iter().all(|look| !look.passes_over(place)));
                for look in looks {
                    self.look(found, look);
                }
                if !places.is_empty() {
                    self.somewhere(found, task, &places, state);
                }
            }
            Meant::Signs(states, answer) if found.seen != Seen::Not => {
                self.done(of);
                if self.air_leaving(of.check, &states, &answer) {
                    return Ok(());
                }
                self.answer(
                    task,
                    &states,
                    &answer,
                    found.sure,
                    found.seen == Seen::InPart,
                    if found.answer.names_signs() && of.gauge.is_none() {
                        InPlaceOf::NamedSigns
                    } else {
                        InPlaceOf::All
                    },
                );
            }
            _ => {
                self.done(of);
                self.case.passed_over.insert(task);
            }
        }
        Ok(())
    }

    /// Notes an answer: its findings, and the blocks that it raises.
    pub(super) fn answer(
        &mut self,
        task: TaskId,
        states: &[(usize, usize)],
        answer: &str,
        sure: Sure,
        in_part: bool,
        in_place_of: InPlaceOf,
    ) {
        let (rules, graph) = (self.case.rules, &self.case.graph.clone());
        let of = &graph.tasks[task];
        let check = &rules.checks[of.check];
        let meant = self.signs_meant(of);
        let findings = states.iter().filter_map(|&(sign, state)| {
            let var = *meant.get(sign)?;
            let count = graph.node(var).states.len();
            let weight = self.weight(sure, in_part && state == 0);
            Some(if in_part && state > 0 && weight.is_none() {
                at_least(var, count, state)
            } else {
                finding(var, count, state, weight)
            })
        });
        let mut words = format!("{}: {answer}", self.case.filled(of, &check.named.name));
        words.push_str(how_sure(sure));
        if in_part {
            words.push_str(" (seen in part)");
        }
        let not_the_first_time = |&sign: &VarId| graph.states.time_before(sign).is_some();
        if meant.iter().any(not_the_first_time) {
            words.push_str(" (done again)");
        }
        let normal = states.iter().all(|(_, state)| *state == 0);
        let findings = findings.collect();
        self.note(task, findings, (words, normal), in_place_of);
        self.raise_blocks(of.check, states);
    }

    /// Notes what a task showed, in words and whether that is normal, in place of an earlier answer.
    pub(super) fn note(
        &mut self,
        task: TaskId,
        findings: Vec<Finding>,
        (words, normal): (String, bool),
        in_place_of: InPlaceOf,
    ) {
        let graph = self.case.graph.clone();
        let of = &graph.tasks[task];
        let meant = self.signs_meant(of);
        let said = |var: VarId| match in_place_of {
            InPlaceOf::All => {
                meant.contains(&var) || of.gauge.is_some_and(|gauge| gauge.node == var)
            }
            InPlaceOf::NamedSigns => findings.iter().any(|finding| finding.var == var),
            InPlaceOf::DrySpell => false,
        };
        // What it said of a sign that a repair has replaced since stands: it speaks of before.
        let dry_spell_of_now = |known: &Answered| {
            known.task == Some(task)
                && self.case.is_of_now(known)
                && !self.case.names_signs_of_now(known)
        };
        let dry_spells: Vec<bool> = self.case.found.iter().map(dry_spell_of_now).collect();
        for (known, dry_spell) in self.case.found.iter_mut().zip(dry_spells) {
            if dry_spell && in_place_of != InPlaceOf::NamedSigns && !self.again {
                known.findings.clear();
            } else if known.task == Some(task) {
                known.findings.retain(|finding| !said(finding.var));
            }
        }
        self.case
            .found
            .retain(|known| known.task != Some(task) || !known.findings.is_empty());
        let newest = |finding: &Finding| of.signs.contains(&finding.var);
        if self.may_show_otherwise(of, normal) && findings.iter().any(newest) {
            self.told_now.insert(task);
        }
        self.case.found.push(Answered {
            entry: self.number,
            task: Some(task),
            words,
            findings,
            normal,
        });
        self.case.passed_over.remove(&task);
    }

    /// How much weight the chosen answer carries; `None`: all of it.
    pub(super) fn weight(&self, sure: Sure, in_part: bool) -> Option<f64> {
        let certainty = self.case.rules.certainty;
        let said = match sure {
            Sure::Sure => None,
            Sure::Fairly => Some(certainty.fairly),
            Sure::Guess => Some(certainty.guess),
        };
        let seen = in_part.then_some(certainty.seen_in_part);
        match (said, seen) {
            (Some(said), Some(seen)) => Some(said.min(seen)),
            (one, other) => one.or(other),
        }
    }
}

/// How sure somebody is, after what was seen.
pub(super) fn how_sure(sure: Sure) -> &'static str {
    match sure {
        Sure::Sure => "",
        Sure::Fairly => " (fairly sure)",
        Sure::Guess => " (a guess)",
    }
}

/// A finding on one sign; the weight that the chosen answer does not carry is spread evenly over
/// the others.
fn finding(var: VarId, states: usize, state: usize, weight: Option<f64>) -> Finding {
    match weight {
        Some(weight) if states > 1 => {
            let rest = (1.0 - weight) / (states - 1) as f64;
            Finding::soft(
                var,
                (0..states)
                    .map(|s| if s == state { weight } else { rest })
                    .collect(),
            )
        }
        _ => Finding::hard(var, states, state),
    }
}

/// A finding that one part of a place showed: the rest of it may show more, but not make it less.
fn at_least(var: VarId, states: usize, state: usize) -> Finding {
    let counts = |s: usize| f64::from(u8::from(s >= state));
    Finding::soft(var, (0..states).map(counts).collect())
}
