//! Leaks: what is open on an occasion, gathers, and what a look can see.
//!
//! A *hole* is what one fault pushes at its place. On an occasion some kinds of leak are open, so a
//! hole shows a level or none. Signs and gathers read the holes themselves, the worst push wins:
//! a node between for "the leak of this place" would be the same for one hole, but would tie all of
//! a place's faults together even where nothing has shown.

use std::collections::BTreeMap;
use std::sync::Arc;

use indexmap::IndexMap;

use super::{Builder, Collects, per_part};
use crate::graph::GraphError;
use crate::graph::node::{Arrow, Cause, Node, NodeKind, Strength};
use crate::ids::{GatherId, Id, IdVec, LeakKindId, LevelId, OccasionId, PartId, VarId};
use crate::infer::Link;
use crate::rules::base::{Gather, HiddenBy};

/// A trail that gets there more seldom than this is left out. Author's judgement.
const FAINT_TRAIL: f64 = 0.03;

/// A node whose states each stand for a level of leak, 0 being none.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Hole {
    /// The node.
    pub node: VarId,
    /// The level of each of its states.
    pub levels: Vec<usize>,
}

/// A fault's push, and for each of its states the kind and level of leak.
type Pushed = (VarId, Vec<Option<(LeakKindId, LevelId)>>);

/// The leaks of a layout, and what has been built on them so far.
pub(super) struct Leaks {
    /// Per part: the faults that can leak there, by their push and its kinds and levels.
    pub of: IdVec<PartId, Vec<Pushed>>,
    /// What is open at a part on an occasion.
    open: BTreeMap<(PartId, OccasionId), Vec<Hole>>,
    /// Whether anything that a gather takes lets the pressure go on an occasion, from a level on;
    /// none where nothing can.
    gates: BTreeMap<(OccasionId, HiddenBy), Option<VarId>>,
    /// Holes behind gates, by hole and gates.
    held_back: BTreeMap<(Hole, Vec<VarId>), Hole>,
    /// Per hole, place of the look and cover state: what can be seen there of that hole.
    seen: BTreeMap<(Hole, PartId, bool), Hole>,
    /// Per part: the parts whose leaks can wet it, with the chance that what comes out there runs
    /// down to it; itself first.
    wetted_by: IdVec<PartId, Vec<(PartId, f64)>>,
}

impl Leaks {
    /// Whether anything can leak at a part on an occasion that has these kinds open.
    pub fn any_open(&self, part: PartId, kinds: &[LeakKindId]) -> bool {
        let open = |state: &Option<(LeakKindId, LevelId)>| {
            state.is_some_and(|(kind, _)| kinds.contains(&kind))
        };
        (self.of[part].iter()).any(|(_, states)| states.iter().any(open))
    }

    /// The holes of a part whose kind of leak is among some.
    fn holes(&self, part: PartId, wanted: impl Fn(LeakKindId, LevelId) -> bool) -> Vec<Hole> {
        let level = |state: &Option<(LeakKindId, LevelId)>| match state {
            Some((kind, level)) if wanted(*kind, *level) => level.index(),
            _ => 0,
        };
        let hole = |(push, states): &Pushed| Hole {
            node: *push,
            levels: states.iter().map(level).collect(),
        };
        let mut holes: Vec<Hole> = self.of[part].iter().map(hole).collect();
        holes.retain(|hole| hole.levels.iter().any(|&level| level > 0));
        holes
    }
}

impl Builder<'_> {
    /// Sorts the faults that leak by their part, and works out what runs down where.
    pub(super) fn leaks(&self, causes: &[Cause]) -> Leaks {
        let mut of = per_part(self.layout, Vec::new());
        for cause in causes {
            if cause.leaks.iter().any(Option::is_some) {
                of[cause.place.part].push((cause.push, cause.leaks.clone()));
            }
        }
        Leaks {
            of,
            open: BTreeMap::new(),
            gates: BTreeMap::new(),
            held_back: BTreeMap::new(),
            seen: BTreeMap::new(),
            wetted_by: (self.layout.parts.ids())
                .map(|part| self.wetted_by(part))
                .collect(),
        }
    }

    /// The parts whose leaks can wet a place, itself first, then upwards.
    fn wetted_by(&self, part: PartId) -> Vec<(PartId, f64)> {
        let mut reached: IndexMap<PartId, f64> = IndexMap::from([(part, 1.0)]);
        let mut next = 0;
        while let Some((&below, _)) = reached.get_index(next) {
            next += 1;
            for (above, of) in self.layout.parts.enumerated() {
                if !reached.contains_key(&above)
                    && of.runs_down_to.iter().any(|(to, _)| *to == below)
                {
                    reached.insert(above, self.runs_down(above, part));
                }
            }
        }
        reached.retain(|_, chance| *chance >= FAINT_TRAIL);
        reached.into_iter().collect()
    }

    /// The chance that what comes out at one place runs down to another below it: unless every way
    /// there ends before. Trails run down only, so they never run in a circle.
    fn runs_down(&self, from: PartId, to: PartId) -> f64 {
        if from == to {
            return 1.0;
        }
        let ends = |&(next, chance): &(PartId, f64)| 1.0 - chance * self.runs_down(next, to);
        let below = self.layout.parts[from].runs_down_to.iter();
        1.0 - below.map(ends).product::<f64>()
    }

    /// For each part whether it leaks in any way.
    pub(super) fn leaking_places(
        &mut self,
        leaks: &Leaks,
    ) -> Result<IdVec<PartId, Option<VarId>>, GraphError> {
        let parts: Vec<PartId> = self.layout.parts.ids().collect();
        let leaks_at = |part: PartId| {
            let holes = leaks.holes(part, |_, _| true);
            if holes.is_empty() {
                return Ok(None);
            }
            let named = &self.layout.parts[part].named;
            let node = Node {
                kind: NodeKind::Leak(part),
                name: format!("leak.{}", named.id),
                label: format!("{}: leaks", named.name),
                states: Arc::clone(&self.names.no_yes),
            };
            let links = holes.iter().map(|hole| any_link(hole, 1)).collect();
            self.noisy_max(node, vec![1.0, 0.0], links).map(Some)
        };
        parts.into_iter().map(leaks_at).collect()
    }

    /// A place's holes that are open on an occasion, those held back by lost pressure behind
    /// their gate. Marks and complaints tell of all times, so nothing hides from them: gates
    /// stand only on occasions that a set-up makes.
    pub(super) fn open_holes(
        &mut self,
        leaks: &mut Leaks,
        part: PartId,
        occasion: OccasionId,
    ) -> Result<Vec<Hole>, GraphError> {
        if let Some(known) = leaks.open.get(&(part, occasion)) {
            return Ok(known.clone());
        }
        let rules = self.rules;
        let when = &rules.occasions[occasion];
        let mut holes = leaks.holes(part, |kind, _| when.kinds.contains(&kind));
        if !when.set_up.is_empty() {
            holes = holes
                .into_iter()
                .map(|hole| self.held_back(leaks, part, hole, occasion))
                .collect::<Result<_, _>>()?;
        }
        leaks.open.insert((part, occasion), holes.clone());
        Ok(holes)
    }

    /// A hole some of whose kinds hide while a gather of the unhidden kinds is at a level or worse.
    fn held_back(
        &mut self,
        leaks: &mut Leaks,
        part: PartId,
        hole: Hole,
        occasion: OccasionId,
    ) -> Result<Hole, GraphError> {
        let rules = self.rules;
        let kinds = &rules.occasions[occasion].kinds;
        let hidden_by = |kind: LeakKindId| rules.leak_kinds[kind].hidden_by.as_ref();
        // For each state of the push what hides it, if it shows anything and something does.
        let states = leaks.of[part].iter().find(|(push, _)| *push == hole.node);
        let hides: Vec<Option<&HiddenBy>> = (states.into_iter())
            .flat_map(|(_, states)| states)
            .zip(&hole.levels)
            .map(|(state, level)| {
                state
                    .filter(|_| *level > 0)
                    .and_then(|(kind, _)| hidden_by(kind))
            })
            .collect();
        let mut gates: Vec<(&HiddenBy, VarId)> = Vec::new();
        for &by in hides.iter().flatten() {
            if gates.iter().any(|(known, _)| *known == by) {
                continue;
            }
            let known = leaks.gates.get(&(occasion, by.clone())).copied();
            let gate = if let Some(gate) = known {
                gate
            } else {
                let lets_go = |kind: LeakKindId| {
                    kinds.contains(&kind)
                        && hidden_by(kind).is_none()
                        && (by.open.is_empty() || by.open.contains(&kind))
                };
                let holes: Vec<Hole> = (self.gathered(&rules.gathers[by.gather]).into_iter())
                    .flat_map(|other| {
                        leaks.holes(other, |kind, level| lets_go(kind) && level >= by.from)
                    })
                    .collect();
                self.pressure_gone(&holes, by.from)?
            };
            leaks.gates.insert((occasion, by.clone()), gate);
            gates.extend(gate.map(|gate| (by, gate)));
        }
        if gates.is_empty() {
            return Ok(hole);
        }
        let key = (
            hole,
            gates.iter().map(|(_, gate)| *gate).collect::<Vec<_>>(),
        );
        if let Some(made) = leaks.held_back.get(&key) {
            return Ok(made.clone());
        }
        // Row by row: the push, then each gate open or not, the last fastest.
        let mut rows = Vec::new();
        for (level, hides) in key.0.levels.iter().zip(&hides) {
            for gone in 0..1_usize << gates.len() {
                let shut = (gates.iter().rev().enumerate())
                    .any(|(bit, (by, _))| gone >> bit & 1 == 1 && *hides == Some(*by));
                rows.extend(self.certain(if shut { 0 } else { *level }));
            }
        }
        let of = self.node(key.0.node);
        let node = Node {
            kind: NodeKind::HeldBack(part),
            name: self.unused(format!("held_back.{}", of.name)),
            label: format!("{}, pressure kept", of.label),
            states: Arc::clone(&self.names.levels),
        };
        let parents = std::iter::once(&key.0.node).chain(&key.1);
        let parents = parents.map(|&parent| (parent, Arrow::default())).collect();
        let node = self.table(node, parents, rows)?;
        let made = self.by_level(node);
        leaks.held_back.insert(key, made.clone());
        Ok(made)
    }

    /// Whether any of several holes lets the pressure go.
    fn pressure_gone(
        &mut self,
        holes: &[Hole],
        from: LevelId,
    ) -> Result<Option<VarId>, GraphError> {
        if holes.is_empty() {
            return Ok(None);
        }
        let key = (Collects::AnyFrom(from.index()), holes.to_vec());
        if let Some(&made) = self.collected.get(&key) {
            return Ok(Some(made));
        }
        let node = Node {
            kind: NodeKind::PressureGone,
            name: self.unused("pressure_gone".to_owned()),
            label: format!(
                "{} somewhere lets the pressure go",
                self.rules.levels[from].named.name
            ),
            states: Arc::clone(&self.names.no_yes),
        };
        let links = (holes.iter())
            .map(|hole| any_link(hole, from.index()))
            .collect();
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

    /// The holes that a gather takes on an occasion. None is held back by lost pressure: the leak
    /// that lets it go shows in the same sign, and more so.
    pub(super) fn gathered_holes(
        &self,
        leaks: &Leaks,
        gather: GatherId,
        occasion: OccasionId,
    ) -> Vec<Hole> {
        let rules = self.rules;
        let kinds = &rules.occasions[occasion].kinds;
        (self.gathered(&rules.gathers[gather]).into_iter())
            .flat_map(|part| leaks.holes(part, |kind, _| kinds.contains(&kind)))
            .collect()
    }

    /// The worst of the leaks that a gather takes on an occasion; none if it takes none.
    pub(super) fn gather(
        &mut self,
        leaks: &Leaks,
        gather: GatherId,
        occasion: OccasionId,
    ) -> Result<Option<VarId>, GraphError> {
        let rules = self.rules;
        let holes = self.gathered_holes(leaks, gather, occasion);
        if holes.is_empty() {
            return Ok(None);
        }
        let key = (Collects::Worst, holes);
        if let Some(&made) = self.collected.get(&key) {
            return Ok(Some(made));
        }
        let (what, when) = (
            &rules.gathers[gather].named,
            &rules.occasions[occasion].named,
        );
        let node = Node {
            kind: NodeKind::Gather,
            name: self.unused(format!("gather.{}.{}", what.id, when.id)),
            label: format!("{}, {}", what.name, when.name),
            states: Arc::clone(&self.names.levels),
        };
        let link = |hole: &Hole| Link {
            parent: hole.node,
            push: hole
                .levels
                .iter()
                .map(|&level| self.certain(level))
                .collect(),
        };
        let links = (key.1.iter())
            .map(|hole| (link(hole), Arrow::default()))
            .collect();
        let made = self.noisy_max(node, self.certain(0), links)?;
        self.collected.insert(key, made);
        Ok(Some(made))
    }

    /// What a look can see at a place on an occasion: one node for each hole there, or above it
    /// from where it may run down. All looks at a place in one cover state share whether a hole or
    /// its trail is in sight; taking the cover off draws that anew.
    pub(super) fn seen(
        &mut self,
        leaks: &mut Leaks,
        part: PartId,
        occasion: OccasionId,
        covered: bool,
    ) -> Result<Vec<Hole>, GraphError> {
        let mut all = Vec::new();
        for (from, chance) in leaks.wetted_by[part].clone() {
            for hole in self.open_holes(leaks, from, occasion)? {
                let key = (hole, part, covered);
                let made = match leaks.seen.get(&key) {
                    Some(made) => made.clone(),
                    None => self.seen_of(&key, from, chance)?,
                };
                leaks.seen.insert(key, made.clone());
                all.push(made);
            }
        }
        Ok(all)
    }

    /// What can be seen at a place of one hole, there or above. Each hole is in sight by a chance
    /// of its own: a node for the whole place would tie all its faults together by every dry look,
    /// and says hardly more, since seldom two of them leak.
    fn seen_of(
        &mut self,
        (hole, part, covered): &(Hole, PartId, bool),
        from: PartId,
        runs_down: f64,
    ) -> Result<Hole, GraphError> {
        let chance = runs_down * self.in_sight(*part, *covered);
        let push = hole.levels.iter().map(|&level| {
            let mut row = self.certain(0);
            row[0] = 1.0 - chance;
            row[level] += chance;
            row
        });
        let link = Link {
            parent: hole.node,
            push: push.collect(),
        };
        let (place, above) = (&self.layout.parts[*part].named, &self.layout.parts[from]);
        let label = if from == *part {
            format!("{}: wet, where it can be seen", place.name)
        } else {
            format!("{}: wet from {} above", place.name, above.named.name)
        };
        let suffix = if *covered { ".covered" } else { "" };
        let what = &self.node(hole.node).name;
        let node = Node {
            kind: NodeKind::Seen(*part),
            name: self.unused(format!("seen.{}{suffix}.{what}", place.id)),
            label,
            states: Arc::clone(&self.names.levels),
        };
        let arrow = Arrow {
            strength: Strength::Acts(chance),
            reason: None,
        };
        let made = self.noisy_max(node, self.certain(0), vec![(link, arrow)])?;
        Ok(self.by_level(made))
    }

    /// The chance that a look at a place reaches it.
    pub(super) fn in_sight(&self, part: PartId, covered: bool) -> f64 {
        let visibility = &self.rules.visibility;
        if covered {
            visibility.under_cover
        } else {
            *visibility
                .seen
                .pick(|case| self.layout.holds(case, Some(part)))
        }
    }

    /// A node whose states are the levels.
    pub(super) fn by_level(&self, node: VarId) -> Hole {
        Hole {
            node,
            levels: (0..self.rules.levels.len()).collect(),
        }
    }
}

/// A link to a two-state node that tells whether a hole is at a level or worse.
fn any_link(hole: &Hole, from: usize) -> (Link, Arrow) {
    let row = |&level: &usize| {
        if level >= from {
            vec![0.0, 1.0]
        } else {
            vec![1.0, 0.0]
        }
    };
    let push = hole.levels.iter().map(row).collect();
    let parent = hole.node;
    (Link { parent, push }, Arrow::default())
}
