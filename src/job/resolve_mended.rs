//! Repairs, refills and dry spells of a log → newer states of the graph, and findings on them.
//!
//! A finding speaks of the state in which it is logged, or of the one before the repair that it
//! names. The fall of the level after a refill is air coming out, and no evidence; a dry spell
//! counts from the last of the cold top-ups that belong to that.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::advise::{CaseGraph, Repaired, raising_fault};
use crate::graph::{Odds, Renewal, Renewed};
use crate::ids::{CheckId, Id, PartId, TaskId};
use crate::infer::Finding;
use crate::job::file::{Entry, Logged};
use crate::job::find::{find_cause, find_part, list};
use crate::job::mended::{DrySpell, Filled, RepairDone};
use crate::job::problem::JobProblem;
use crate::job::walk::{InPlaceOf, Settling, Walk};
use crate::notice::codes;
use crate::reading;
use crate::rules::base::{Measured, Raiser};

impl Walk<'_> {
    /// An entry, in the state that it speaks of.
    pub(super) fn logged(&mut self, logged: &Logged) -> Result<(), JobProblem> {
        let Some(number) = logged.before_repair else {
            return self.entry(&logged.entry);
        };
        if !matches!(
            logged.entry,
            Entry::Found(_)
                | Entry::Confirmed { .. }
                | Entry::RuledOut { .. }
                | Entry::Gauge(_)
                | Entry::Port(_)
        ) {
            let message = "only what was found or measured can speak of before a repair";
            return Err(
                JobProblem::new(codes::UNKNOWN_KEY, message).help("leave `before_repair:` out")
            );
        }
        let mended: Vec<usize> = self.case.mended().map(|repair| repair.entry).collect();
        let repair = self.case.mended().find(|repair| repair.entry == number);
        let Some(before) = repair.map(|repair| repair.before.clone()) else {
            let message = format!("entry {number} is no earlier repair");
            let help = if mended.is_empty() {
                "leave `before_repair:` out: nothing has been repaired before this entry".to_owned()
            } else {
                let known: Vec<String> = mended.iter().map(ToString::to_string).collect();
                let known: Vec<&str> = known.iter().map(String::as_str).collect();
                format!("write the number of a repair: {}", list(&known))
            };
            return Err(JobProblem::new(codes::OUT_OF_RANGE, message).help(help));
        };
        // A look at a part on the bench neither changes how the vehicle stands nor spoils anything.
        let now = std::mem::replace(&mut self.case.graph, before);
        let (set_up, spoiled) = (self.case.set_up.clone(), self.case.spoiled.clone());
        let passed_over = self.case.passed_over.clone();
        let done = self.entry(&logged.entry);
        self.told_now.clear();
        self.case.graph = now;
        (self.case.set_up, self.case.spoiled) = (set_up, spoiled);
        self.case.passed_over = passed_over;
        done
    }

    /// The faults that a repair names, as positions in the graph's causes.
    fn causes_of(&self, done: &RepairDone) -> Result<Vec<usize>, JobProblem> {
        let mut causes: Vec<usize> = Vec::new();
        for fault in &done.faults {
            let (name, at) = fault
                .split_once('@')
                .map_or((fault.as_str(), None), |(name, at)| (name, Some(at.trim())));
            let renewed = match at {
                None => self.all_of(name.trim()),
                Some(_) => None,
            };
            let named = match renewed {
                Some(all) => all,
                None => vec![self.repairable(name.trim(), at)?],
            };
            if named.iter().any(|cause| causes.contains(cause)) {
                let message = format!("`{fault}` is named twice in one repair");
                return Err(JobProblem::new(codes::DUPLICATE_NAME, message)
                    .help("name each fault once; a second repair is an entry of its own"));
            }
            causes.extend(named);
        }
        Ok(causes)
    }

    pub(super) fn repaired(&mut self, done: &RepairDone) -> Result<(), JobProblem> {
        let causes = self.causes_of(done)?;
        let graph = self.case.graph.clone();
        let place = |cause: usize| graph.causes[cause].place;
        let cleaned = match &done.cleaned {
            Some(places) => self.parts(places)?,
            None => causes.iter().map(|&cause| place(cause).part).collect(),
        };
        let kind = |cause: usize| self.case.layout.parts[place(cause).part].kind;
        let apart = |&cause: &usize| self.case.rules.kinds[kind(cause)].apart;
        if !causes.iter().all(apart) {
            self.left_as(&self.case.rules.repairs.leaves);
        }
        let mut renewal = Renewal {
            faults: self.renewed(&causes),
            cleaned,
            ..Renewal::default()
        };
        if let Some(filled) = &done.refilled {
            self.refill_of(&mut renewal, filled)?;
        }
        let words = self.repaired_words(&causes);
        let mut words = format!("repaired: {}", words.join("; "));
        if !done.how.is_empty() {
            words.extend([": ", &done.how]);
        }
        if let Some(filled) = &done.refilled {
            words.extend(["; ", &filled_words(filled)]);
        }
        self.renew(&renewal, causes, done.refilled.is_some())?;
        self.case.told.push((self.number, words));
        Ok(())
    }

    /// All faults of a place that was renewed, if a place is named.
    fn all_of(&self, place: &str) -> Option<Vec<usize>> {
        let mut parts = self.case.layout.parts.enumerated();
        let (part, _) = parts.find(|(_, part)| part.named.id == place)?;
        let causes = self.case.graph.causes.iter().enumerate();
        let here = causes.filter(|(_, cause)| cause.place.part == part);
        Some(here.map(|(at, _)| at).collect())
    }

    /// What was repaired, by places: the faults, or "all of it".
    fn repaired_words(&self, causes: &[usize]) -> Vec<String> {
        let graph = &self.case.graph;
        let mut parts: Vec<PartId> = Vec::new();
        for &cause in causes {
            let part = graph.causes[cause].place.part;
            if !parts.contains(&part) {
                parts.push(part);
            }
        }
        let of = |part: PartId| {
            let here = |at: &usize| graph.causes[*at].place.part == part;
            let named: Vec<usize> = causes.iter().copied().filter(here).collect();
            let all = (0..graph.causes.len()).filter(here).count();
            let place = &self.case.layout.parts[part].named.name;
            if named.len() == all && all > 1 {
                return format!("all of {place}");
            }
            let faults: Vec<&str> = named
                .iter()
                .map(|&at| graph.causes[at].place.fault)
                .map(|fault| self.case.rules.faults[fault].named.name.as_str())
                .collect();
            format!("{} ({place})", faults.join(", "))
        };
        parts.into_iter().map(of).collect()
    }

    /// A fault that this vehicle can have.
    fn repairable(&self, fault: &str, at: Option<&str>) -> Result<usize, JobProblem> {
        let (rules, layout) = (self.case.rules, self.case.layout);
        let found = find_cause(rules, layout, &self.case.graph, fault, at);
        let named = |id: &str| rules.faults.iter().any(|known| known.named.id == id);
        found.map_err(|problem| {
            let plain = fault.rsplit('.').next().unwrap_or(fault);
            match at {
                // The name is right, the place cannot have it.
                Some(at) if named(plain) && find_part(layout, at).is_ok() => {
                    let part =
                        find_part(layout, at).map_or("", |part| &layout.parts[part].named.name);
                    let message =
                        format!("{part} cannot have `{plain}`, so it cannot be repaired there");
                    JobProblem::new(codes::NOT_HERE, message).help(
                        problem
                            .help
                            .unwrap_or_else(|| "name a fault of that place".to_owned()),
                    )
                }
                // A place can stand there as well.
                None if !named(plain) && problem.code == codes::UNKNOWN_NAME => {
                    let causes = self.case.graph.causes.iter();
                    let faults = causes.map(|cause| &rules.faults[cause.place.fault].named.id);
                    let parts = layout.parts.iter().map(|part| &part.named.id);
                    let known: BTreeSet<&str> = parts.chain(faults).map(String::as_str).collect();
                    let known: Vec<&str> = known.into_iter().collect();
                    JobProblem::unknown("place or fault", fault, &known)
                }
                None if named(plain) && problem.code == codes::UNKNOWN_NAME => {
                    let message = format!(
                        "this vehicle ({}) cannot have `{plain}`, so it cannot be repaired",
                        layout.named.name
                    );
                    JobProblem::new(codes::NOT_HERE, message).help("take the entry out")
                }
                _ => problem,
            }
        })
    }

    /// The repaired faults, and the neighbours that their repair disturbs.
    fn renewed(&self, causes: &[usize]) -> Vec<Renewed> {
        let (rules, layout, graph) = (self.case.rules, self.case.layout, &self.case.graph);
        let mut disturbed: BTreeMap<usize, Renewed> = BTreeMap::new();
        let mut renewed = Vec::new();
        for &cause in causes {
            let place = graph.causes[cause].place;
            let holds = |case: &_| layout.holds(case, Some(place.part));
            let after = &rules.faults[place.fault].after_repair;
            // One new part brings one chance of a new fault, whichever of them it is.
            let same_part = |other: &&usize| graph.causes[**other].place.part == place.part;
            let share = 1.0 / causes.iter().filter(same_part).count().max(1) as f64;
            renewed.push(Renewed {
                cause,
                odds: Odds {
                    fails: *after.fails.pick(holds),
                    new: 1.0 - (1.0 - *after.new.pick(holds)).powf(share),
                },
                repaired: true,
                reason: after.reason.clone(),
            });
            for raise in &after.disturbs {
                let other = match &raise.by {
                    Raiser::Condition(_) => None,
                    by => raising_fault(&self.case, place, by),
                };
                let other = other
                    .and_then(|other| graph.causes.iter().position(|cause| cause.place == other));
                let Some(other) = other.filter(|other| !causes.contains(other)) else {
                    continue;
                };
                let new = *raise.strength.pick(holds);
                let odds = &mut disturbed
                    .entry(other)
                    .or_insert(Renewed {
                        cause: other,
                        odds: Odds {
                            fails: 1.0,
                            new: 0.0,
                        },
                        repaired: false,
                        reason: raise.reason.clone(),
                    })
                    .odds;
                // Several repairs disturb it independently.
                odds.new = 1.0 - (1.0 - odds.new) * (1.0 - new);
            }
        }
        renewed.extend(disturbed.into_values());
        renewed
    }

    fn parts(&self, places: &[String]) -> Result<BTreeSet<PartId>, JobProblem> {
        places
            .iter()
            .map(|place| find_part(self.case.layout, place))
            .collect()
    }

    pub(super) fn cleaned(&mut self, places: &[String]) -> Result<(), JobProblem> {
        let cleaned = self.parts(places)?;
        let names: Vec<&str> = cleaned
            .iter()
            .map(|&part| self.case.layout.parts[part].named.name.as_str())
            .collect();
        let words = format!("wiped clean: {}", list(&names));
        self.case.told.push((self.number, words));
        let renewal = Renewal {
            cleaned,
            ..Renewal::default()
        };
        self.renew(&renewal, Vec::new(), false)
    }

    pub(super) fn refilled(&mut self, filled: &Filled) -> Result<(), JobProblem> {
        let mut renewal = Renewal::default();
        self.refill_of(&mut renewal, filled)?;
        self.renew(&renewal, Vec::new(), true)?;
        self.case.told.push((self.number, filled_words(filled)));
        Ok(())
    }

    /// What a refill does to the conditions of the coolant.
    fn refill_of(&mut self, renewal: &mut Renewal, filled: &Filled) -> Result<(), JobProblem> {
        let all = self.case.layout.coolant_litres;
        self.case.strength = None;
        if filled.litres > 1.5 * all {
            let message = format!(
                "{} L were filled in, but this vehicle holds about {all} L",
                filled.litres
            );
            return Err(JobProblem::new(codes::OUT_OF_RANGE, message)
                .help("write the litres that went in, as in `refilled: 3 L`"));
        }
        self.left_as(&self.case.rules.repairs.refill_leaves);
        self.refill = Some(Settling {
            entry: self.number,
            top_ups: 0,
            litres: 0.0,
        });
        for (id, condition) in self.case.rules.conditions.enumerated() {
            let Some(refill) = &condition.refill else {
                continue;
            };
            if self.case.graph.condition_nodes[id.index()].is_none()
                || filled.litres / all < refill.from_share
            {
                continue;
            }
            let weak = refill
                .weaker_than
                .filter(|(limit, _)| filled.percent.is_some_and(|percent| percent < *limit));
            let odds = match weak {
                Some((_, brings)) => Odds {
                    fails: brings,
                    new: brings,
                },
                None => Odds {
                    fails: refill.fails,
                    new: refill.new,
                },
            };
            renewal.conditions.push((id, odds));
        }
        Ok(())
    }

    /// Goes over to the state after a renewal: what it has replaced can be asked again.
    fn renew(
        &mut self,
        renewal: &Renewal,
        causes: Vec<usize>,
        refilled: bool,
    ) -> Result<(), JobProblem> {
        let before = self.case.graph.clone();
        let mut after = before.renew(self.case.rules, renewal).map_err(|error| {
            JobProblem::new(
                codes::OUT_OF_RANGE,
                format!("this repair can't be: {error}"),
            )
        })?;
        let covers_off = &self.case.set_up.covers_off;
        after.zones_done_again(self.case.rules, self.case.layout, covers_off);
        let again: BTreeSet<TaskId> = after
            .tasks
            .enumerated()
            .filter(|(id, task)| task.signs != before.tasks[*id].signs)
            .map(|(id, _)| id)
            .collect();
        let stays = |task: &TaskId| !again.contains(task);
        self.case.spoiled.retain(stays);
        let cant_do = &self.cant_do;
        self.case
            .passed_over
            .retain(|task| stays(task) || cant_do.contains(task));
        self.case.graph = CaseGraph::Renewed(Arc::new(after));
        self.case.repairs.push(Repaired {
            entry: self.number,
            before,
            causes,
            refilled,
        });
        Ok(())
    }

    pub(super) fn topped_up(&mut self, litres: f64) -> Result<(), JobProblem> {
        let all = self.case.layout.coolant_litres;
        if litres > 1.5 * all {
            let message =
                format!("{litres} L were topped up, but this vehicle holds about {all} L");
            return Err(JobProblem::new(codes::OUT_OF_RANGE, message)
                .help("write the litres that went in, as in `topped_up: 0.3 L`"));
        }
        let mut words = format!("topped up cold: {litres} L");
        let (least, most) = self.settles_litres();
        let wanted = self.case.rules.repairs.settles_top_ups;
        if let Some(refill) = &mut self.refill
            && refill.top_ups < wanted
        {
            refill.top_ups += 1;
            refill.litres += litres;
            if refill.litres > most {
                let more = format!(
                    "; more than the {least} to {most} L that air leaves after a refill: look for the rest"
                );
                words.push_str(&more);
            } else if refill.top_ups < wanted {
                let air = format!(
                    "; no evidence: after a refill {least} to {most} L go down as air comes out"
                );
                words.push_str(&air);
            } else {
                words.push_str("; no evidence, air came out; dry days count from here");
            }
        }
        self.case.told.push((self.number, words));
        Ok(())
    }

    fn settles_litres(&self) -> (f64, f64) {
        let holds = |case: &_| self.case.layout.holds(case, None);
        *self.case.rules.repairs.settles_litres.pick(holds)
    }

    /// Whether the level falls at the moment because air comes out.
    fn settling(&self) -> Option<Settling> {
        let wanted = self.case.rules.repairs.settles_top_ups;
        self.refill.filter(|refill| refill.top_ups < wanted)
    }

    /// Whether a fall of the level is only air coming out after a refill. Told, it is no evidence.
    pub(super) fn air_leaving(
        &mut self,
        check: CheckId,
        states: &[(usize, usize)],
        answer: &str,
    ) -> bool {
        let of = &self.case.rules.checks[check];
        let fell = states.iter().any(|(_, state)| *state > 0);
        let Some(refill) = self
            .settling()
            .filter(|_| fell && matches!(of.measured, Some(Measured::DryDays(_))))
        else {
            return false;
        };
        let words = format!(
            "{}: {answer}; {}",
            of.named.name,
            self.settling_words(refill)
        );
        self.case.told.push((self.number, words));
        true
    }

    fn settling_words(&self, refill: Settling) -> String {
        let (least, most) = self.settles_litres();
        format!(
            "no evidence: after the refill of entry {} {least} to {most} L go down in one or two heat cycles as air comes out; note each cold top-up, days count from number {}",
            refill.entry, self.case.rules.repairs.settles_top_ups
        )
    }

    /// Days without loss: a likelihood per level of each leak that would lose coolant.
    pub(super) fn dry_spell(&mut self, spell: &DrySpell) -> Result<(), JobProblem> {
        let task = self.measured_task(&spell.check, None, "a dry spell", |measured| {
            matches!(measured, Measured::DryDays(_))
        })?;
        let graph = self.case.graph.clone();
        let of = &graph.tasks[task];
        let check = &self.case.rules.checks[of.check];
        let days = spell.days;
        let unit = if (days - 1.0).abs() < 0.01 {
            "day"
        } else {
            "days"
        };
        if let Some(refill) = self.settling() {
            let words = format!("{days} dry {unit}; {}", self.settling_words(refill));
            self.case.told.push((self.number, words));
            return Ok(());
        }
        let (Some(Measured::DryDays(dry)), Some(gauged)) = (&check.measured, of.gauge) else {
            return Ok(());
        };
        let holds = |case: &_| self.case.layout.holds(case, None);
        let levels: Vec<reading::Band> = (self.case.rules.levels.iter())
            .map(|level| level.ml_per_min)
            .collect();
        let likelihood = reading::dry_levels(
            &levels,
            days,
            *dry.hours_a_day.pick(holds),
            *dry.notices_ml.pick(holds),
            dry.misses,
        );
        let misses = likelihood.get(1).copied().unwrap_or(1.0);
        let smallest = self.case.rules.levels.iter().nth(1);
        let smallest = smallest.map_or("a leak", |level| level.named.name.as_str());
        let weak = match misses {
            m if m >= 0.6 => "that says little: ",
            m if m >= 0.25 => "",
            _ => "long enough to count: ",
        };
        let words = format!(
            "{days} dry {unit}: {weak}{smallest} would have gone unnoticed in {:.0} of 100 cases",
            100.0 * misses
        );
        // Each leak by itself would have been noticed, as in the checks of loss: so even many days tie
        // nothing together.
        let of_level = |level: &usize| likelihood.get(*level).copied().unwrap_or(1.0);
        let holes = graph.gathered(gauged.node).into_iter();
        let findings = holes
            .map(|(hole, levels)| Finding::soft(hole, levels.iter().map(of_level).collect()))
            .collect();
        self.done(of);
        self.note(task, findings, (words, true), InPlaceOf::DrySpell);
        Ok(())
    }
}

fn filled_words(filled: &Filled) -> String {
    match filled.percent {
        Some(percent) => format!("filled in {} L of {percent} %", filled.litres),
        None => format!("filled in {} L of unknown strength", filled.litres),
    }
}
