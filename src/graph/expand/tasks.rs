//! Tasks: every check at every place where the layout lets it be done.

use std::collections::BTreeMap;

use super::Builder;
use super::faults::Faults;
use super::leaks::Leaks;
use super::signs::{Readable, Spot};
use crate::graph::GraphError;
use crate::graph::task::{Gauged, Task};
use crate::ids::{CheckId, CoverId, Id, IdVec, PartId, TaskId, VarId, ZoneId};
use crate::rules::base::{Check, Measured, Reading, Scope, SetUpNeeds};

impl Builder<'_> {
    /// Adds every task with its signs, in the order of the rules and of the layout.
    pub(super) fn tasks(
        &mut self,
        conditions: &[Option<VarId>],
        faults: &Faults,
        leaks: Leaks,
    ) -> Result<IdVec<TaskId, Task>, GraphError> {
        let mut readable = Readable {
            conditions,
            faults,
            leaks,
            unless: BTreeMap::new(),
        };
        let mut tasks = IdVec::new();
        for (id, check) in self.rules.checks.enumerated() {
            match &check.scope {
                Scope::Vehicle => {
                    if self.layout.holds(&check.only, None) {
                        self.task(&mut readable, &mut tasks, id, None, None, None)?;
                    }
                }
                Scope::Parts(kinds) => {
                    for (part, of) in self.layout.parts.enumerated() {
                        if !kinds.contains(&of.kind) || !self.layout.holds(&check.only, Some(part))
                        {
                            continue;
                        }
                        // A look can be had with the cover on; it only reaches little. What takes a
                        // hand, and anything else, needs the cover off.
                        let looks = check
                            .signs
                            .iter()
                            .flat_map(|sign| &sign.reads)
                            .any(|read| read.of == Reading::WetHere);
                        if of.cover.is_some() && looks && !check.by_hand {
                            self.task(&mut readable, &mut tasks, id, Some(part), None, of.cover)?;
                        }
                        self.task(&mut readable, &mut tasks, id, Some(part), of.cover, None)?;
                    }
                }
                Scope::Sweep(of) => self.sweeps(&mut tasks, id, *of),
            }
        }
        // Last, so that the nodes before them stay as they are.
        for id in 0..tasks.len() {
            let id = TaskId::from_index(id);
            tasks[id].gauge = self.gauged(&readable.leaks, &tasks[id])?;
        }
        Ok(tasks)
    }

    /// The node that a gauge log, or a dry spell, of a task speaks of.
    fn gauged(&mut self, leaks: &Leaks, task: &Task) -> Result<Option<Gauged>, GraphError> {
        let rules = self.rules;
        let check = &rules.checks[task.check];
        let (Some(measured), Some(occasion)) = (&check.measured, check.occasion) else {
            return Ok(None);
        };
        let gather = match measured {
            Measured::Gauge(gather) => gather,
            Measured::DryDays(dry) => &dry.gather,
            Measured::Strength(_) | Measured::Port(_) => return Ok(None),
        };
        let Some(node) = self.gather(leaks, *gather, occasion)? else {
            return Ok(None);
        };
        let open = |part: PartId| leaks.any_open(part, &rules.occasions[occasion].kinds);
        let apart: Vec<bool> = self
            .gathered(&rules.gathers[*gather])
            .into_iter()
            .filter(|&part| open(part))
            .map(|part| rules.kinds[self.layout.parts[part].kind].apart)
            .collect();
        Ok(Some(Gauged {
            node,
            with_apart: apart.contains(&true),
            only_apart: !apart.contains(&false),
        }))
    }

    fn task(
        &mut self,
        readable: &mut Readable<'_>,
        tasks: &mut IdVec<TaskId, Task>,
        id: CheckId,
        part: Option<PartId>,
        cover_off: Option<CoverId>,
        cover_on: Option<CoverId>,
    ) -> Result<(), GraphError> {
        let rules = self.rules;
        let check = &rules.checks[id];
        let spot = Spot {
            part,
            covered: cover_on.is_some(),
            task: TaskId::from_index(tasks.len()),
        };
        let mut links = Vec::new();
        for sign in &check.signs {
            links.push(self.sign_links(readable, check, sign, spot)?);
        }
        if links.iter().all(Vec::is_empty) {
            return Ok(());
        }
        let zone = part.and_then(|part| self.layout.parts[part].zone);
        let Some(needs) = merged(
            &check.needs,
            zone.map(|zone| &self.layout.zones[zone].needs),
        ) else {
            return Ok(());
        };
        let mut signs = Vec::new();
        for (position, links) in links.into_iter().enumerate() {
            signs.push(self.sign(id, position, spot, links)?);
        }
        let (minutes, waiting) = self.times(check, part);
        tasks.push(Task {
            check: id,
            part,
            zone: None,
            cover_off,
            cover_on,
            needs,
            minutes,
            waiting,
            again: false,
            signs,
            gauge: None,
        });
        Ok(())
    }

    /// One sweep for each zone in which the swept check has at least two places.
    fn sweeps(&self, tasks: &mut IdVec<TaskId, Task>, id: CheckId, of: CheckId) {
        let check = &self.rules.checks[id];
        for (zone, at) in self.layout.zones.enumerated() {
            let places = tasks.iter().filter(|task| {
                task.check == of && self.zone_of(task) == Some(zone) && task.cover_on.is_none()
            });
            if places.count() < 2 || !self.layout.holds(&check.only, None) {
                continue;
            }
            let both = merged(&check.needs, Some(&self.rules.checks[of].needs));
            let Some(needs) = both.and_then(|needs| merged(&needs, Some(&at.needs))) else {
                continue;
            };
            let (minutes, waiting) = self.times(check, None);
            tasks.push(Task {
                check: id,
                part: None,
                zone: Some(zone),
                cover_off: None,
                cover_on: None,
                needs,
                minutes,
                waiting,
                again: false,
                signs: Vec::new(),
                gauge: None,
            });
        }
    }

    fn zone_of(&self, task: &Task) -> Option<ZoneId> {
        task.part.and_then(|part| self.layout.parts[part].zone)
    }

    fn times(&self, check: &Check, part: Option<PartId>) -> (f64, f64) {
        let holds = |case: &_| self.layout.holds(case, part);
        (*check.minutes.pick(holds), *check.waiting.pick(holds))
    }
}

/// Both needs at once; `None` if they contradict.
fn merged(one: &SetUpNeeds, other: Option<&SetUpNeeds>) -> Option<SetUpNeeds> {
    let mut needs = one.clone();
    for (facet, values) in other.into_iter().flatten() {
        match needs.iter_mut().find(|(have, _)| have == facet) {
            None => needs.push((*facet, values.clone())),
            Some((_, have)) => {
                have.retain(|value| values.contains(value));
                if have.is_empty() {
                    return None;
                }
            }
        }
    }
    Some(needs)
}
