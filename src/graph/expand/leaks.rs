//! Leaks per place and kind, gathers, and what a look can see of a leak, from its own place or from
//! below it.

use std::collections::BTreeMap;

use indexmap::IndexMap;

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
    /// Per part and cover state: whether a look can reach it.
    pub(super) hidden: BTreeMap<(PartId, bool), VarId>,
    /// Per leak node, place of the look and cover state: what can be seen there of that leak.
    seen: BTreeMap<(VarId, PartId, bool), VarId>,
    /// Per part: the parts whose leaks can wet it, with the chance that what comes out there runs
    /// down to it; itself first.
    wetted_by: IdVec<PartId, Vec<(PartId, f64)>>,
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
        let wetted_by = (self.layout.parts.ids())
            .map(|part| self.wetted_by(part))
            .collect();
        Ok(Leaks {
            of,
            hidden: BTreeMap::new(),
            seen: BTreeMap::new(),
            wetted_by,
        })
    }

    /// The parts whose leaks can wet a place, itself first, then upwards. What runs down on several
    /// ways gets there unless every one of them ends before.
    fn wetted_by(&self, part: PartId) -> Vec<(PartId, f64)> {
        let mut reached: IndexMap<PartId, f64> = IndexMap::from([(part, 1.0)]);
        let mut next = 0;
        // Trails never run in a circle: the rules' reader has checked that.
        while let Some((&below, _)) = reached.get_index(next) {
            next += 1;
            for (above, of) in self.layout.parts.enumerated() {
                if of.runs_down_to.iter().any(|(to, _)| *to == below) {
                    reached.entry(above).or_insert(0.0);
                }
            }
        }
        let parts: Vec<PartId> = reached.keys().copied().collect();
        let mut ways: Vec<(PartId, f64)> = vec![(part, 1.0)];
        for &from in &parts[1..] {
            let chance = self.runs_down(from, part);
            if chance >= FAINT_TRAIL {
                ways.push((from, chance));
            }
        }
        ways
    }

    /// The chance that what comes out at one place runs down to another below it.
    fn runs_down(&self, from: PartId, to: PartId) -> f64 {
        if from == to {
            return 1.0;
        }
        let ends = |&(next, chance): &(PartId, f64)| 1.0 - chance * self.runs_down(next, to);
        let below = self.layout.parts[from].runs_down_to.iter();
        1.0 - below.map(ends).product::<f64>()
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
    pub(super) fn open_leaks(
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

    /// What a look can see at a place on an occasion: one node for each leak there, or above it
    /// from where it may run down. All looks at a place in one cover state share whether it can be
    /// seen at all and how far each trail runs; taking the cover off draws that anew.
    pub(super) fn seen(
        &mut self,
        leaks: &mut Leaks,
        part: PartId,
        occasion: OccasionId,
        covered: bool,
    ) -> Result<Vec<VarId>, GraphError> {
        let mut all = Vec::new();
        for (from, chance) in leaks.wetted_by[part].clone() {
            for leak in self.open_leaks(leaks, from, occasion)? {
                all.push(self.seen_of(leaks, leak, from, (part, covered), chance)?);
            }
        }
        Ok(all)
    }

    /// What can be seen at a place of one leak, there or above.
    fn seen_of(
        &mut self,
        leaks: &mut Leaks,
        leak: VarId,
        from: PartId,
        (part, covered): (PartId, bool),
        chance: f64,
    ) -> Result<VarId, GraphError> {
        if let Some(&made) = leaks.seen.get(&(leak, part, covered)) {
            return Ok(made);
        }
        let hidden = self.hidden(leaks, part, covered)?;
        let named = &self.layout.parts[part].named;
        let suffix = if covered { ".covered" } else { "" };
        let what = self.node(leak).name.clone();
        let above = &self.layout.parts[from].named;
        let (label, strength) = if from == part {
            let label = format!("{}: wet, where it can be seen", named.name);
            (label, String::new())
        } else {
            let label = format!("{}: wet from {} above", named.name, above.name);
            (label, super::percent(chance))
        };
        let node = Node {
            kind: NodeKind::Seen(part),
            name: self.unused(format!("seen.{}{suffix}.{what}", named.id)),
            label,
            states: self.level_names(),
        };
        let levels = self.rules.levels.len();
        let mut rows = Vec::with_capacity(levels * 2 * levels);
        for level in 0..levels {
            for in_sight in [chance, 0.0] {
                let mut row = self.certain(0);
                row[0] = 1.0 - in_sight;
                row[level] += in_sight;
                rows.extend(row);
            }
        }
        let arrow = Arrow {
            strength,
            reason: None,
        };
        let made = self.table(node, vec![(leak, arrow), (hidden, Arrow::default())], rows)?;
        leaks.seen.insert((leak, part, covered), made);
        Ok(made)
    }

    /// Whether a look at a place reaches it.
    fn hidden(
        &mut self,
        leaks: &mut Leaks,
        part: PartId,
        covered: bool,
    ) -> Result<VarId, GraphError> {
        if let Some(&made) = leaks.hidden.get(&(part, covered)) {
            return Ok(made);
        }
        let visibility = &self.rules.visibility;
        let seen = if covered {
            visibility.under_cover
        } else {
            *visibility
                .seen
                .pick(|case| self.layout.holds(case, Some(part)))
        };
        let named = &self.layout.parts[part].named;
        let suffix = if covered { ".covered" } else { "" };
        let node = Node {
            kind: NodeKind::Hidden { part, covered },
            name: format!("hidden.{}{suffix}", named.id),
            label: format!("{}: out of sight", named.name),
            states: vec!["in sight".to_owned(), "out of sight".to_owned()],
        };
        let made = self.noisy_max(node, vec![seen, 1.0 - seen], Vec::new())?;
        leaks.hidden.insert((part, covered), made);
        Ok(made)
    }
}

/// A trail that gets there more seldom than this is left out. Author's judgement.
const FAINT_TRAIL: f64 = 0.03;
