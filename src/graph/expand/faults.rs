//! Conditions, faults and their pushes.

use std::collections::BTreeMap;
use std::sync::Arc;

use petgraph::algo::toposort;
use petgraph::graph::{DiGraph, NodeIndex};

use super::Builder;
use crate::graph::GraphError;
use crate::graph::node::{Arrow, Cause, Node, NodeKind, Place, Strength};
use crate::ids::{ConditionId, FaultId, Id, LeakKindId, LevelId, PartId, VarId};
use crate::infer::Link;
use crate::rules::base::{Fault, Raise, Raiser};

/// The faults of a layout: their nodes, and those that can cause a loss.
pub(super) struct Faults {
    /// The node of each fault that a part can have.
    pub nodes: BTreeMap<Place, VarId>,
    /// Those that can cause a loss, by part and then in the order of the rules.
    pub causes: Vec<Cause>,
}

impl Builder<'_> {
    /// Adds the conditions that this vehicle can have, causes before effects.
    pub(super) fn conditions(&mut self) -> Result<Vec<Option<VarId>>, GraphError> {
        let rules = self.rules;
        let mut nodes = vec![None; rules.conditions.len()];
        let mut order: DiGraph<ConditionId, ()> = DiGraph::new();
        for id in rules.conditions.ids() {
            order.add_node(id);
        }
        for (id, condition) in rules.conditions.enumerated() {
            for raise in &condition.raised_by {
                if let Raiser::Condition(by) = raise.by {
                    order.add_edge(NodeIndex::new(by.index()), NodeIndex::new(id.index()), ());
                }
            }
        }
        let sorted = toposort(&order, None).map_err(|_| self.cycle("the conditions"))?;
        for index in sorted {
            let id = order[index];
            let condition = &rules.conditions[id];
            if !self.layout.holds(&condition.only, None) {
                continue;
            }
            let base = *condition.base.pick(|case| self.layout.holds(case, None));
            let links = condition
                .raised_by
                .iter()
                .filter_map(|raise| match raise.by {
                    Raiser::Condition(by) => {
                        nodes[by.index()].map(|parent| self.raise(parent, raise, None))
                    }
                    _ => None,
                })
                .collect();
            let node = Node {
                kind: NodeKind::Condition(id),
                name: format!("condition.{}", condition.named.id),
                label: condition.named.name.clone(),
                states: Arc::clone(&self.names.absent_present),
            };
            nodes[id.index()] = Some(self.noisy_max(node, vec![1.0 - base, base], links)?);
        }
        Ok(nodes)
    }

    /// Adds every fault that a part can have, causes before effects, each with its push.
    pub(super) fn faults(&mut self, conditions: &[Option<VarId>]) -> Result<Faults, GraphError> {
        let (rules, layout) = (self.rules, self.layout);
        let mut order: DiGraph<Place, ()> = DiGraph::new();
        let mut index_of = BTreeMap::new();
        for (part, of) in layout.parts.enumerated() {
            for &fault in &rules.kinds[of.kind].faults {
                if layout.holds(&rules.faults[fault].only, Some(part)) {
                    let place = Place { fault, part };
                    index_of.insert(place, order.add_node(place));
                }
            }
        }
        for (&place, &index) in &index_of {
            for raise in &rules.faults[place.fault].raised_by {
                if let Some(from) = self
                    .raiser(place.part, &raise.by)
                    .and_then(|by| index_of.get(&by))
                {
                    order.add_edge(*from, index, ());
                }
            }
        }
        let sorted = toposort(&order, None)
            .map_err(|cycle| self.cycle(&layout.parts[order[cycle.node_id()].part].named.name))?;
        let mut nodes = BTreeMap::new();
        let mut causes = Vec::new();
        for index in sorted {
            let place = order[index];
            let fault = self.fault(place, conditions, &nodes)?;
            nodes.insert(place, fault);
            if let Some(cause) = self.push(place, fault)? {
                causes.push(cause);
            }
        }
        causes.sort_by_key(|cause| (cause.place.part, cause.place.fault));
        Ok(Faults { nodes, causes })
    }

    fn fault(
        &mut self,
        place: Place,
        conditions: &[Option<VarId>],
        faults: &BTreeMap<Place, VarId>,
    ) -> Result<VarId, GraphError> {
        let rule = &self.rules.faults[place.fault];
        let base = self.base_rate(place);
        let links = rule
            .raised_by
            .iter()
            .filter_map(|raise| {
                let parent = match raise.by {
                    Raiser::Condition(by) => conditions[by.index()],
                    _ => self
                        .raiser(place.part, &raise.by)
                        .and_then(|by| faults.get(&by).copied()),
                }?;
                Some(self.raise(parent, raise, Some(place.part)))
            })
            .collect();
        let node = Node {
            kind: NodeKind::Fault(place),
            name: self.place_name("fault", place),
            label: self.place_label(place),
            states: Arc::clone(&self.names.absent_present),
        };
        self.noisy_max(node, vec![1.0 - base, base], links)
    }

    /// A fault's base rate at a part, scaled for the engine family: 1 − (1 − p)^m.
    fn base_rate(&self, place: Place) -> f64 {
        let base = *self.rules.faults[place.fault]
            .base
            .pick(|case| self.layout.holds(case, Some(place.part)));
        let times: f64 = self
            .layout
            .scales
            .iter()
            .filter(|scale| scale.fault == place.fault)
            .map(|scale| scale.times)
            .product();
        1.0 - (1.0 - base).powf(times)
    }

    /// Draws the fault's push once: absent, present without leaking, kinds and levels of leak.
    fn push(&mut self, place: Place, fault: VarId) -> Result<Option<Cause>, GraphError> {
        let rule = &self.rules.faults[place.fault];
        if rule.leaks.is_empty() {
            return Ok(None);
        }
        let mut states = vec!["absent".to_owned(), "present, not leaking".to_owned()];
        let mut rows = vec![0.0; 2 * (2 + rule.leaks.len())];
        rows[0] = 1.0;
        let present = 2 + rule.leaks.len();
        let mut holds = 1.0;
        let mut leaks: Vec<Option<(LeakKindId, LevelId)>> = vec![None, None];
        for (position, &(kind, level, chance)) in rule.leaks.iter().enumerate() {
            states.push(format!(
                "{}, {}",
                self.rules.leak_kinds[kind].named.id, self.rules.levels[level].named.id
            ));
            rows[present + 2 + position] = chance;
            holds -= chance;
            leaks.push(Some((kind, level)));
        }
        rows[present + 1] = holds;
        let node = Node {
            kind: NodeKind::Push(place),
            name: self.place_name("push", place),
            label: self.place_label(place),
            states: states.into(),
        };
        let arrow = Arrow {
            strength: Strength::Acts(1.0 - holds),
            reason: Some(rule.reason.clone()),
        };
        let push = self.table(node, vec![(fault, arrow)], rows)?;
        let leaking = leaks.iter().map(Option::is_some).collect();
        Ok(Some(Cause {
            place,
            fault,
            push,
            leaking,
            leaks,
        }))
    }

    fn raise(&self, parent: VarId, raise: &Raise, part: Option<PartId>) -> (Link, Arrow) {
        let strength = *raise.strength.pick(|case| self.layout.holds(case, part));
        let push = vec![vec![1.0, 0.0], vec![1.0 - strength, strength]];
        let arrow = Arrow {
            strength: Strength::Acts(strength),
            reason: Some(raise.reason.clone()),
        };
        (Link { parent, push }, arrow)
    }

    /// The fault that a raiser names, as seen from a part.
    fn raiser(&self, part: PartId, by: &Raiser) -> Option<Place> {
        match by {
            Raiser::Condition(_) => None,
            Raiser::Fault(fault) => Some(Place {
                fault: *fault,
                part,
            }),
            Raiser::Partner { role, fault } => self.partner(part, role).and_then(|other| {
                self.fault_named(other, fault)
                    .map(|fault| Place { fault, part: other })
            }),
        }
    }

    /// The part that another names under a role.
    pub(super) fn partner(&self, part: PartId, role: &str) -> Option<PartId> {
        self.layout.parts[part]
            .joins
            .iter()
            .find(|(name, _)| name == role)
            .map(|(_, other)| *other)
    }

    /// The fault of this name that the part's kind has.
    pub(super) fn fault_named(&self, part: PartId, name: &str) -> Option<FaultId> {
        let faults = &self.rules.kinds[self.layout.parts[part].kind].faults;
        faults
            .iter()
            .copied()
            .find(|&fault| self.rules.faults[fault].named.id == name)
    }

    fn place_name(&self, layer: &str, place: Place) -> String {
        let fault: &Fault = &self.rules.faults[place.fault];
        format!(
            "{layer}.{}@{}",
            fault.named.id, self.layout.parts[place.part].named.id
        )
    }

    fn place_label(&self, place: Place) -> String {
        let fault = &self.rules.faults[place.fault].named.name;
        format!("{}: {fault}", self.layout.parts[place.part].named.name)
    }

    fn cycle(&self, part: &str) -> GraphError {
        GraphError::Cycle {
            layout: self.layout.named.id.clone(),
            part: part.to_owned(),
        }
    }
}
