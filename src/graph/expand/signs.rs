//! Sign nodes: what each answer of a check reads.

use std::collections::BTreeMap;

use super::Builder;
use super::faults::Faults;
use super::leaks::{Hole, Leaks};
use crate::graph::GraphError;
use crate::graph::node::{Arrow, Node, NodeKind, Place, Strength};
use crate::ids::{CheckId, ConditionId, Id, PartId, TaskId, VarId};
use crate::infer::Link;
use crate::rules::base::{Check, Read, Reading, Sign};

/// Everything that signs can read.
pub(super) struct Readable<'a> {
    /// Nodes of conditions.
    pub conditions: &'a [Option<VarId>],
    /// Nodes of faults.
    pub faults: &'a Faults,
    /// Leaks, and what is built on them.
    pub leaks: Leaks,
    /// Gates that a condition closes, by value and condition.
    pub unless: BTreeMap<(VarId, ConditionId), VarId>,
}

/// Where a check is being done.
#[derive(Clone, Copy)]
pub(super) struct Spot {
    /// The part, if it is done at one.
    pub part: Option<PartId>,
    /// Whether the part's cover is on.
    pub covered: bool,
    /// The task that the sign will belong to.
    pub task: TaskId,
}

impl Builder<'_> {
    /// What pushes a sign of a check at a spot; nothing where the layout lacks all of it.
    pub(super) fn sign_links(
        &mut self,
        readable: &mut Readable<'_>,
        check: &Check,
        sign: &Sign,
        spot: Spot,
    ) -> Result<Vec<(Link, Arrow)>, GraphError> {
        let mut links = Vec::new();
        for read in &sign.reads {
            if !self.layout.holds(&read.only, spot.part) {
                continue;
            }
            let push = read
                .push
                .pick(|case| self.layout.holds(case, spot.part))
                .clone();
            for value in self.read_nodes(readable, check, read, spot)? {
                let parent = match read.unless {
                    Some(condition) => self.unless(readable, value.node, condition)?,
                    None => value.node,
                };
                let strongest = push.iter().map(|row| 1.0 - row[0]).fold(0.0, f64::max);
                let arrow = Arrow {
                    strength: Strength::Acts(strongest),
                    reason: Some(read.reason.clone()),
                };
                let row = |&level: &usize| match level {
                    0 => normal(sign.answers.len()),
                    _ => push[level - 1].clone(),
                };
                let push = value.levels.iter().map(row).collect();
                links.push((Link { parent, push }, arrow));
            }
        }
        Ok(links)
    }

    /// Adds the node of a sign. What is looked for at a place can be taken for seen by mistake only
    /// where the place is in sight: who sees it wet has seen it.
    pub(super) fn sign(
        &mut self,
        id: CheckId,
        position: usize,
        spot: Spot,
        links: Vec<(Link, Arrow)>,
    ) -> Result<VarId, GraphError> {
        let rules = self.rules;
        let check = &rules.checks[id];
        let sign = &check.signs[position];
        let mut background = sign
            .background
            .pick(|case| self.layout.holds(case, spot.part))
            .clone();
        let looks = sign.reads.iter().any(|read| read.of == Reading::WetHere);
        if let Some(part) = spot.part.filter(|_| looks) {
            let in_sight = self.in_sight(part, spot.covered);
            background.iter_mut().skip(1).for_each(|p| *p *= in_sight);
            background[0] = 1.0 - background[1..].iter().sum::<f64>();
        }
        let place = spot.part.map(|part| &self.layout.parts[part].named);
        let at = place
            .map(|named| format!("@{}", named.id))
            .unwrap_or_default();
        let suffix = if spot.covered { ".covered" } else { "" };
        // The only sign of a check bears the check's name, which may tell the place itself.
        let label = match place {
            Some(named) if sign.named.name.contains("{place}") => {
                sign.named.name.replace("{place}", &named.name)
            }
            Some(named) => format!("{}: {}", named.name, sign.named.name),
            None => sign.named.name.clone(),
        };
        let node = Node {
            kind: NodeKind::Sign {
                task: spot.task,
                sign: position,
            },
            name: self.unused(format!(
                "sign.{}.{}{at}{suffix}",
                check.named.id, sign.named.id
            )),
            label,
            states: self.names.answers(id, position, sign),
        };
        self.noisy_max(node, background, links)
    }

    /// What a read item stands for here; nothing where the layout lacks it.
    fn read_nodes(
        &mut self,
        readable: &mut Readable<'_>,
        check: &Check,
        read: &Read,
        spot: Spot,
    ) -> Result<Vec<Hole>, GraphError> {
        let leaks = &mut readable.leaks;
        let found = match (&read.of, spot.part, check.occasion) {
            (Reading::WetHere, Some(part), Some(occasion)) => {
                return self.seen(leaks, part, occasion, spot.covered);
            }
            (Reading::LeakHere, Some(part), Some(occasion)) => {
                return self.open_holes(leaks, part, occasion);
            }
            (Reading::LeakOf(role), Some(part), Some(occasion)) => {
                return match self.partner(part, role) {
                    Some(other) => self.open_holes(leaks, other, occasion),
                    None => Ok(Vec::new()),
                };
            }
            // Each leak by itself pushes the sign, the worst push wins: two drips show more surely
            // than one.
            (Reading::Gather(gather), _, Some(occasion)) if read.unless.is_none() => {
                return Ok(self.gathered_holes(leaks, *gather, occasion));
            }
            // One gate on the worst of them costs less than one on each.
            (Reading::Gather(gather), _, Some(occasion)) => {
                let worst = self.gather(leaks, *gather, occasion)?;
                return Ok(worst.into_iter().map(|node| self.by_level(node)).collect());
            }
            (Reading::FaultHere(fault), Some(part), _) => Self::fault_node(
                readable,
                Place {
                    fault: *fault,
                    part,
                },
            ),
            (Reading::FaultOf(role, fault), Some(part), _) => self
                .partner(part, role)
                .and_then(|other| {
                    self.fault_named(other, fault)
                        .map(|fault| Place { fault, part: other })
                })
                .and_then(|place| Self::fault_node(readable, place)),
            (Reading::FaultAnywhere(fault), _, _) => {
                let everywhere = readable.faults.nodes.iter();
                return Ok(everywhere
                    .filter(|(place, _)| place.fault == *fault)
                    .map(|(_, node)| two_states(*node))
                    .collect());
            }
            (Reading::Condition(condition), _, _) => readable.conditions[condition.index()],
            _ => None,
        };
        Ok(found.into_iter().map(two_states).collect())
    }

    fn fault_node(readable: &Readable<'_>, place: Place) -> Option<VarId> {
        readable.faults.nodes.get(&place).copied()
    }

    /// A node that counts only while a condition is absent.
    fn unless(
        &mut self,
        readable: &mut Readable<'_>,
        value: VarId,
        condition: ConditionId,
    ) -> Result<VarId, GraphError> {
        let Some(guard) = readable.conditions[condition.index()] else {
            return Ok(value);
        };
        if let Some(&made) = readable.unless.get(&(value, condition)) {
            return Ok(made);
        }
        let name = self.unused(format!(
            "unless.{}.{}",
            self.rules.conditions[condition].named.id,
            self.node(value).name
        ));
        let label = format!(
            "{}, without {}",
            self.node(value).label,
            self.rules.conditions[condition].named.name
        );
        let made = self.gate(NodeKind::Unless, name, label, value, guard)?;
        readable.unless.insert((value, condition), made);
        Ok(made)
    }
}

/// A node that is absent or present, as what a sign reads.
fn two_states(node: VarId) -> Hole {
    let levels = vec![0, 1];
    Hole { node, levels }
}

/// All on the normal answer.
fn normal(answers: usize) -> Vec<f64> {
    let mut row = vec![0.0; answers];
    row[0] = 1.0;
    row
}
