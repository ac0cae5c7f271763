//! Leaks per place and kind, gathers, wetness and what a look can see of it.

use std::collections::BTreeMap;

use super::{Builder, Collects, per_part};
use crate::graph::GraphError;
use crate::graph::node::{Arrow, Cause, Node, NodeKind};
use crate::ids::{GatherId, Id, IdVec, LeakKindId, LevelId, OccasionId, PartId, VarId};
use crate::infer::Link;
use crate::rules::base::Gather;

/// The leaks of a layout, and what has been built on them so far.
pub(super) struct Leaks {
    /// Per part: its kinds of leak with their nodes.
    pub of: IdVec<PartId, Vec<(LeakKindId, VarId)>>,
    /// Per part and occasion: what is wet there.
    wet: BTreeMap<(PartId, OccasionId), Option<VarId>>,
    /// Per part and cover state: whether a look can reach it.
    pub(super) hidden: BTreeMap<(PartId, bool), VarId>,
    /// Per wetness and cover state: what a look sees.
    seen: BTreeMap<(VarId, PartId, bool), VarId>,
    /// Per part: the parts directly above it, with the chance that wetness runs down.
    above: IdVec<PartId, Vec<(PartId, f64)>>,
}

impl Builder<'_> {
    /// Adds one leak node per place and kind: the worst of what its faults push.
    pub(super) fn leaks(&mut self, causes: &[Cause]) -> Result<Leaks, GraphError> {
        let rules = self.rules;
        let mut of = per_part(self.layout, Vec::new());
        for part in self.layout.parts.ids() {
            for kind in rules.leak_kinds.ids() {
                let here = causes.iter().filter(|cause| cause.place.part == part);
                let links: Vec<(Link, Arrow)> = here
                    .filter_map(|cause| self.pushed_level(cause, kind))
                    .map(|link| (link, Arrow::default()))
                    .collect();
                if links.is_empty() {
                    continue;
                }
                let named = &self.layout.parts[part].named;
                let node = Node {
                    kind: NodeKind::Leak(part, kind),
                    name: format!("leak.{}.{}", named.id, rules.leak_kinds[kind].named.id),
                    label: format!(
                        "{}: leaks {}",
                        named.name, rules.leak_kinds[kind].named.name
                    ),
                    states: self.level_names(),
                };
                let leak = self.noisy_max(node, self.certain(0), links)?;
                of[part].push((kind, leak));
            }
        }
        let mut above = per_part(self.layout, Vec::new());
        for (part, from) in self.layout.parts.enumerated() {
            for &(to, chance) in &from.runs_down_to {
                above[to].push((part, chance));
            }
        }
        Ok(Leaks {
            of,
            wet: BTreeMap::new(),
            hidden: BTreeMap::new(),
            seen: BTreeMap::new(),
            above,
        })
    }

    /// The level that a fault's push gives to leaks of one kind.
    fn pushed_level(&self, cause: &Cause, kind: LeakKindId) -> Option<Link> {
        let level_of = |state: &Option<(LeakKindId, LevelId)>| match state {
            Some((of, level)) if *of == kind => level.index(),
            _ => 0,
        };
        let levels: Vec<usize> = cause.leaks.iter().map(level_of).collect();
        levels.iter().any(|&level| level > 0).then(|| Link {
            parent: cause.push,
            push: levels.iter().map(|&level| self.certain(level)).collect(),
        })
    }

    /// For each part the worst of its leaks of any kind.
    pub(super) fn worst_leaks(
        &mut self,
        leaks: &Leaks,
    ) -> Result<IdVec<PartId, Option<VarId>>, GraphError> {
        let parts: Vec<PartId> = self.layout.parts.ids().collect();
        parts
            .into_iter()
            .map(|part| {
                let all = leaks.of[part].iter().map(|(_, leak)| *leak).collect();
                self.leak_here(part, all)
            })
            .collect()
    }

    /// The worst of a place's own leaks that are open on an occasion.
    pub(super) fn own_leak(
        &mut self,
        leaks: &Leaks,
        part: PartId,
        occasion: OccasionId,
    ) -> Result<Option<VarId>, GraphError> {
        let open = self.open_leaks(leaks, part, occasion)?;
        self.leak_here(part, open)
    }

    fn leak_here(&mut self, part: PartId, open: Vec<VarId>) -> Result<Option<VarId>, GraphError> {
        let named = self.layout.parts[part].named.clone();
        self.worst(open, || {
            (
                NodeKind::LeakHere(part),
                format!("leak_here.{}", named.id),
                format!("{}: leaks", named.name),
            )
        })
    }

    /// A place's leaks that are open on an occasion, those held back by lost pressure behind
    /// their gate. Marks and complaints tell of all times, so nothing hides from them: gates
    /// stand only on occasions that a set-up makes.
    fn open_leaks(
        &mut self,
        leaks: &Leaks,
        part: PartId,
        occasion: OccasionId,
    ) -> Result<Vec<VarId>, GraphError> {
        let rules = self.rules;
        let when = &rules.occasions[occasion];
        let mut open = Vec::new();
        for &(kind, leak) in &leaks.of[part] {
            if !when.kinds.contains(&kind) {
                continue;
            }
            match rules.leak_kinds[kind].hidden_by {
                Some((gather, from)) if !when.set_up.is_empty() => {
                    open.push(self.held_back(leaks, part, leak, gather, from, occasion)?);
                }
                _ => open.push(leak),
            }
        }
        Ok(open)
    }

    /// A leak that hides while a gather of the unhidden kinds is at a level or worse.
    fn held_back(
        &mut self,
        leaks: &Leaks,
        part: PartId,
        leak: VarId,
        gather: GatherId,
        from: LevelId,
        occasion: OccasionId,
    ) -> Result<VarId, GraphError> {
        let rules = self.rules;
        let mut parents: Vec<VarId> = Vec::new();
        for other in self.gathered(&rules.gathers[gather]) {
            for &(kind, node) in &leaks.of[other] {
                if rules.occasions[occasion].kinds.contains(&kind)
                    && rules.leak_kinds[kind].hidden_by.is_none()
                {
                    parents.push(node);
                }
            }
        }
        let Some(guard) = self.any_from(parents, from)? else {
            return Ok(leak);
        };
        let name = format!(
            "held_back.{}.{}",
            self.node(leak).name,
            self.node(guard).name
        );
        if let Some(made) = self.network.find(&name) {
            return Ok(made);
        }
        let label = format!("{}, pressure kept", self.node(leak).label);
        self.gate(NodeKind::HeldBack(part), name, label, leak, guard)
    }

    /// Whether any of several level nodes is at a level or worse.
    fn any_from(
        &mut self,
        mut parents: Vec<VarId>,
        from: LevelId,
    ) -> Result<Option<VarId>, GraphError> {
        parents.sort_unstable();
        parents.dedup();
        if parents.is_empty() {
            return Ok(None);
        }
        let key = (Collects::AnyFrom(from.index()), parents.clone());
        if let Some(&made) = self.collected.get(&key) {
            return Ok(Some(made));
        }
        let levels = self.rules.levels.len();
        let push: Vec<Vec<f64>> = (0..levels)
            .map(|level| {
                if level >= from.index() {
                    vec![0.0, 1.0]
                } else {
                    vec![1.0, 0.0]
                }
            })
            .collect();
        let links = parents
            .iter()
            .map(|&parent| {
                (
                    Link {
                        parent,
                        push: push.clone(),
                    },
                    Arrow::default(),
                )
            })
            .collect();
        let node = Node {
            kind: NodeKind::PressureGone,
            name: self.unused("pressure_gone".to_owned()),
            label: format!(
                "{} somewhere lets the pressure go",
                self.rules.levels[from].named.name
            ),
            states: vec!["no".to_owned(), "yes".to_owned()],
        };
        let made = self.noisy_max(node, vec![1.0, 0.0], links)?;
        self.collected.insert(key, made);
        Ok(Some(made))
    }

    /// The parts whose leaks a gather takes.
    pub(super) fn gathered(&self, gather: &Gather) -> Vec<PartId> {
        let rules = self.rules;
        let taken = |part: PartId| {
            let of = &self.layout.parts[part];
            let into = rules.kinds[of.kind].into;
            (gather.into.is_empty() || gather.into.contains(&into))
                && gather.enters.as_ref().is_none_or(|what| {
                    rules.spaces[into].holds.as_ref() == Some(what)
                        && gather.during.iter().any(|&duty| rules.enters(into, duty))
                })
                && (gather.kinds.is_empty() || gather.kinds.contains(&of.kind))
                && !gather.except.contains(&of.kind)
                && self.layout.holds(&gather.only, Some(part))
        };
        self.layout
            .parts
            .ids()
            .filter(|&part| taken(part))
            .collect()
    }

    /// The leaks that a gather takes on an occasion, each once. None is held back by lost pressure:
    /// the leak that lets it go shows in the same sign, and more so.
    pub(super) fn gathered_leaks(
        &self,
        leaks: &Leaks,
        gather: GatherId,
        occasion: OccasionId,
    ) -> Vec<VarId> {
        let rules = self.rules;
        let kinds = &rules.occasions[occasion].kinds;
        let mut open: Vec<VarId> = (self.gathered(&rules.gathers[gather]).into_iter())
            .flat_map(|part| leaks.of[part].iter())
            .filter(|(kind, _)| kinds.contains(kind))
            .map(|(_, leak)| *leak)
            .collect();
        open.sort_unstable();
        open.dedup();
        open
    }

    /// The worst of the leaks that a gather takes on an occasion; none if it takes none.
    pub(super) fn gather(
        &mut self,
        leaks: &Leaks,
        gather: GatherId,
        occasion: OccasionId,
    ) -> Result<Option<VarId>, GraphError> {
        let rules = self.rules;
        let open = self.gathered_leaks(leaks, gather, occasion);
        let (what, when) = (
            &rules.gathers[gather].named,
            &rules.occasions[occasion].named,
        );
        self.worst(open, || {
            (
                NodeKind::Gather,
                format!("gather.{}.{}", what.id, when.id),
                format!("{}, {}", what.name, when.name),
            )
        })
    }

    /// What is wet at a place on an occasion: its own leaks and what runs down from directly
    /// above. None if nothing can wet it.
    pub(super) fn wet(
        &mut self,
        leaks: &mut Leaks,
        part: PartId,
        occasion: OccasionId,
    ) -> Result<Option<VarId>, GraphError> {
        if let Some(&made) = leaks.wet.get(&(part, occasion)) {
            return Ok(made);
        }
        let own = self.own_leak(leaks, part, occasion)?;
        let mut trails = Vec::new();
        for (above, chance) in leaks.above[part].clone() {
            if let Some(wet) = self.wet(leaks, above, occasion)? {
                trails.push((wet, chance));
            }
        }
        let made = if trails.is_empty() {
            own
        } else {
            Some(self.wet_node(part, own, &trails)?)
        };
        leaks.wet.insert((part, occasion), made);
        Ok(made)
    }

    fn wet_node(
        &mut self,
        part: PartId,
        own: Option<VarId>,
        trails: &[(VarId, f64)],
    ) -> Result<VarId, GraphError> {
        let mut key: Vec<VarId> = own
            .into_iter()
            .chain(trails.iter().map(|(wet, _)| *wet))
            .collect();
        key.sort_unstable();
        let key = (Collects::Wet(part), key);
        if let Some(&made) = self.collected.get(&key) {
            return Ok(made);
        }
        let mut links: Vec<(Link, Arrow)> = own
            .iter()
            .map(|&own| (self.same_level(own), Arrow::default()))
            .collect();
        for &(wet, chance) in trails {
            let push = (0..self.rules.levels.len())
                .map(|level| {
                    let mut row = self.certain(0);
                    row[0] = 1.0 - chance;
                    row[level] += chance;
                    row
                })
                .collect();
            let arrow = Arrow {
                strength: super::percent(chance),
                reason: None,
            };
            links.push((Link { parent: wet, push }, arrow));
        }
        let named = &self.layout.parts[part].named;
        let node = Node {
            kind: NodeKind::Wet(part),
            name: self.unused(format!("wet.{}", named.id)),
            label: format!("{}: wet", named.name),
            states: self.level_names(),
        };
        let made = self.noisy_max(node, self.certain(0), links)?;
        self.collected.insert(key, made);
        Ok(made)
    }

    /// What a look can see of the wetness at a place. All looks at a place in one cover state
    /// share whether it can be seen at all; taking the cover off draws that anew.
    pub(super) fn seen(
        &mut self,
        leaks: &mut Leaks,
        part: PartId,
        wet: VarId,
        covered: bool,
    ) -> Result<VarId, GraphError> {
        if let Some(&made) = leaks.seen.get(&(wet, part, covered)) {
            return Ok(made);
        }
        let named = self.layout.parts[part].named.clone();
        let suffix = if covered { ".covered" } else { "" };
        let hidden = if let Some(&made) = leaks.hidden.get(&(part, covered)) {
            made
        } else {
            let visibility = &self.rules.visibility;
            let seen = if covered {
                visibility.under_cover
            } else {
                *visibility
                    .seen
                    .pick(|case| self.layout.holds(case, Some(part)))
            };
            let node = Node {
                kind: NodeKind::Hidden { part, covered },
                name: format!("hidden.{}{suffix}", named.id),
                label: format!("{}: out of sight", named.name),
                states: vec!["in sight".to_owned(), "out of sight".to_owned()],
            };
            let made = self.noisy_max(node, vec![seen, 1.0 - seen], Vec::new())?;
            leaks.hidden.insert((part, covered), made);
            made
        };
        let name = self.unused(format!("seen.{}{suffix}", named.id));
        let label = format!("{}: wet, where it can be seen", named.name);
        let made = self.gate(NodeKind::Seen(part), name, label, wet, hidden)?;
        leaks.seen.insert((wet, part, covered), made);
        Ok(made)
    }
}
