//! From a network and its evidence to factors.
//!
//! In: a network, one likelihood per seen variable, and which variables must stay readable. Out: a
//! [`Model`]: slots (variables of the junction tree), a weight vector per slot and small factors.
//! Barren nodes are left out; seen leaves are absorbed into weights on their parents wherever that
//! is exact; a noisy-MAX with many parents becomes a star around one auxiliary slot
//! (Takikawa & D'Ambrosio 1999; Díez & Galán 2003).
//!
//! Example: a noisy-OR sign that is absent becomes one weight on each of its parents, no factor.

use crate::ids::{Id, VarId};
use crate::infer::columns::{cumulative, differences, link_columns, spell_out};
use crate::infer::{Family, Link, Network};

/// Families of up to this many entries are spelled out.
const SMALL_TABLE: usize = 256;
/// … unless they have more parents than this.
const SMALL_PARENTS: usize = 4;

/// A table over slots: row-major, first slot slowest.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    pub(super) slots: Vec<usize>,
    pub(super) table: Vec<f64>,
}

/// What became of a variable.
#[derive(Debug, Clone)]
pub(super) enum Role {
    /// Not in the model: nothing seen hangs on it.
    Out,
    /// A slot of its own.
    Slot(usize),
    /// A seen noisy-MAX leaf; the slot's states are the levels `columns` of its running sums,
    /// each with the background's factor in `background`.
    Star {
        slot: usize,
        columns: Vec<usize>,
        background: Vec<f64>,
    },
    /// A weight on its only parent: `[parent state][state]` = P(state | parent state).
    OnParent { parent: VarId, rows: Vec<Vec<f64>> },
    /// Weights or a factor on its parents that can't be changed later.
    Fixed,
}

/// A compiled network before triangulation.
#[derive(Debug, Clone)]
pub(super) struct Model {
    /// States per slot.
    pub(super) states: Vec<usize>,
    /// A weight per state of each slot, not contained in `factors`.
    pub(super) weights: Vec<Vec<f64>>,
    /// Per slot: whether a question may put a weight where there is a 0 now.
    pub(super) replaceable: Vec<bool>,
    /// Per slot: the auxiliary slot that is best summed out before it.
    pub(super) after: Vec<Option<usize>>,
    /// All factors.
    pub(super) factors: Vec<Factor>,
    /// A constant factor of P(evidence).
    pub(super) constant: f64,
    /// Per variable.
    pub(super) roles: Vec<Role>,
    /// Per variable inside: what has been seen of it itself.
    own: Vec<Vec<f64>>,
    /// Per variable: weights that absorbed children put on it.
    from_children: Vec<Vec<(VarId, Vec<f64>)>>,
}

/// A variable whose weight changes: by what it is multiplied, and what its children now put on it.
type Pending = (VarId, Option<Vec<f64>>, Vec<(VarId, Vec<f64>)>);

/// What has to be kept.
#[derive(Debug, Clone)]
pub(super) struct Needs {
    /// Variables in the model.
    pub(super) inside: Vec<bool>,
    /// Variables that must be slots.
    pub(super) slot: Vec<bool>,
    /// Variables on which a question will put weights.
    pub(super) readable: Vec<bool>,
}

impl Needs {
    /// Everything above the seen variables and `wanted` is inside; `wanted` are slots.
    pub(super) fn new(net: &Network, seen: &[(VarId, Vec<f64>)], wanted: &[VarId]) -> Self {
        let mut inside = vec![false; net.len()];
        let mut slot = inside.clone();
        for var in wanted {
            slot[var.index()] = true;
            inside[var.index()] = true;
        }
        for (var, likelihood) in seen {
            inside[var.index()] |= likelihood
                .windows(2)
                .any(|pair| pair[0].to_bits() != pair[1].to_bits());
        }
        for var in net.ids().rev() {
            if inside[var.index()] {
                for parent in net.parents(var) {
                    inside[parent.index()] = true;
                }
            }
        }
        let readable = vec![false; net.len()];
        Self {
            inside,
            slot,
            readable,
        }
    }
}

impl Model {
    /// Compiles. Time: linear in the families inside.
    pub(super) fn new(net: &Network, seen: &[(VarId, Vec<f64>)], needs: &Needs) -> Self {
        let nothing_seen = |var: VarId| {
            let inside = usize::from(needs.inside[var.index()]);
            vec![1.0; inside * net.node(var).states]
        };
        let mut model = Self {
            states: Vec::new(),
            weights: Vec::new(),
            after: Vec::new(),
            replaceable: Vec::new(),
            factors: Vec::new(),
            constant: 1.0,
            roles: vec![Role::Out; net.len()],
            own: net.ids().map(nothing_seen).collect(),
            from_children: vec![Vec::new(); net.len()],
        };
        for (var, likelihood) in seen {
            if needs.inside[var.index()] {
                model.own[var.index()].clone_from(likelihood);
            } else {
                model.constant *= likelihood[0];
            }
        }
        let mut needs = needs.clone();
        // First the roles, children before parents: a child with a factor makes slots of its parents.
        for var in net.ids().rev().filter(|var| needs.inside[var.index()]) {
            let role = model.role(net, var, &needs);
            let fixes_parents = match &role {
                Role::Slot(_) | Role::Star { .. } => true,
                Role::Fixed => !matches!(net.node(var).family, Family::NoisyMax { .. }),
                Role::Out | Role::OnParent { .. } => false,
            };
            if let (Role::OnParent { parent, .. }, true) = (&role, needs.readable[var.index()]) {
                needs.readable[parent.index()] = true;
            }
            if fixes_parents {
                for parent in net.parents(var) {
                    needs.slot[parent.index()] = true;
                }
            }
            model.absorb(net, var, &role);
            model.roles[var.index()] = role;
        }
        for var in net.ids() {
            model.add_factors(net, var);
        }
        model
    }

    /// Whether a tree for this model serves another one of the same findings: slots and factors
    /// are the same, and no entry was left out for a weight that the other may replace.
    pub(super) fn serves(&self, other: &Self) -> bool {
        let kept_whole = |slot: usize| {
            !other.replaceable[slot] || self.replaceable[slot] || !self.weights[slot].contains(&0.0)
        };
        let same_factors = self.factors.len() == other.factors.len()
            && (self.factors.iter().zip(&other.factors)).all(|(a, b)| a.slots == b.slots);
        self.states == other.states && same_factors && (0..self.states.len()).all(kept_whole)
    }

    /// The weight on a variable from what was seen of it and of absorbed children, some of whose
    /// contributions may be replaced.
    fn weight(&self, var: VarId, replaced: &[(VarId, Vec<f64>)]) -> Vec<f64> {
        let mut weight = self.own[var.index()].clone();
        for (child, base) in &self.from_children[var.index()] {
            let changed = replaced.iter().find(|(c, _)| c == child);
            let by = changed.map_or(base, |(_, vector)| vector);
            weight.iter_mut().zip(by).for_each(|(w, b)| *w *= b);
        }
        weight
    }

    fn new_slot(&mut self, states: usize) -> usize {
        self.states.push(states);
        self.weights.push(vec![1.0; states]);
        self.after.push(None);
        self.replaceable.push(false);
        self.states.len() - 1
    }

    fn role(&mut self, net: &Network, var: VarId, needs: &Needs) -> Role {
        let node = net.node(var);
        let readable = needs.readable[var.index()];
        let parents = net.parents(var).count();
        // A root alone in its clique costs nothing, and serves any question.
        if needs.slot[var.index()] || parents == 0 {
            return Role::Slot(self.new_slot(node.states));
        }
        let weight = self.weight(var, &[]);
        match &node.family {
            Family::NoisyMax { background, links } if parents == 1 => {
                let rows = spell_out(background, links);
                let rows = rows
                    .chunks_exact(node.states)
                    .map(<[f64]>::to_vec)
                    .collect();
                let parent = links[0].parent;
                Role::OnParent { parent, rows }
            }
            Family::Table { parents, rows } if parents.len() == 1 => {
                let rows = rows
                    .chunks_exact(node.states)
                    .map(<[f64]>::to_vec)
                    .collect();
                let parent = parents[0];
                Role::OnParent { parent, rows }
            }
            Family::NoisyMax { background, .. } => {
                let levels = differences(&weight);
                let base = cumulative(background);
                let columns: Vec<usize> = (0..node.states)
                    .filter(|&y| readable || (levels[y] != 0.0 && base[y] != 0.0))
                    .collect();
                if columns.len() < 2 && !readable {
                    return Role::Fixed;
                }
                let background = columns.iter().map(|&y| base[y]).collect();
                let slot = self.new_slot(columns.len());
                self.replaceable[slot] = readable;
                Role::Star {
                    slot,
                    columns,
                    background,
                }
            }
            Family::Table { .. } if readable => Role::Slot(self.new_slot(node.states)),
            Family::Table { .. } => Role::Fixed,
        }
    }

    /// Passes a variable's weight on to its slot, its parents or the constant.
    fn absorb(&mut self, net: &Network, var: VarId, role: &Role) {
        let weight = self.weight(var, &[]);
        match role {
            Role::Out => {}
            Role::Slot(slot) => self.weights[*slot] = weight,
            Role::Star {
                slot,
                columns,
                background,
            } => self.weights[*slot] = star_weight(&weight, columns, background),
            Role::OnParent { parent, rows } => {
                let vector = through_rows(rows, &weight);
                self.from_children[parent.index()].push((var, vector));
            }
            Role::Fixed => match &net.node(var).family {
                // A factor on the parents, added once all slots are known.
                Family::Table { .. } => {}
                Family::NoisyMax { background, links } => {
                    let levels = differences(&weight);
                    let base = cumulative(background);
                    let column = (0..levels.len()).find(|&y| levels[y] != 0.0 && base[y] != 0.0);
                    let Some(y) = column else {
                        self.constant = 0.0;
                        return;
                    };
                    self.constant *= levels[y] * base[y];
                    for link in links {
                        let vector = link_columns(link).swap_remove(y);
                        self.from_children[link.parent.index()].push((var, vector));
                    }
                }
            },
        }
    }

    fn slot_of(&self, var: VarId) -> usize {
        match self.roles[var.index()] {
            Role::Slot(slot) => slot,
            _ => unreachable!("the parents of a factor are slots"),
        }
    }

    fn add_factors(&mut self, net: &Network, var: VarId) {
        let node = net.node(var);
        match (&self.roles[var.index()], &node.family) {
            (Role::Slot(slot), Family::NoisyMax { background, links }) => {
                let slot = *slot;
                let entries = links
                    .iter()
                    .try_fold(node.states, |all, link| all.checked_mul(link.push.len()));
                if links.len() <= SMALL_PARENTS && entries.is_some_and(|n| n <= SMALL_TABLE) {
                    let mut slots: Vec<usize> =
                        links.iter().map(|link| self.slot_of(link.parent)).collect();
                    slots.push(slot);
                    let table = spell_out(background, links);
                    self.factors.push(Factor { slots, table });
                    return;
                }
                let aux = self.new_slot(node.states);
                self.weights[aux] = cumulative(background);
                self.after[slot] = Some(aux);
                let mut table = vec![0.0; node.states * node.states];
                for y in 0..node.states {
                    table[y * node.states + y] = 1.0;
                    if y > 0 {
                        table[y * node.states + y - 1] = -1.0;
                    }
                }
                let slots = vec![slot, aux];
                self.factors.push(Factor { slots, table });
                let all: Vec<usize> = (0..node.states).collect();
                self.add_rays(aux, &all, links);
            }
            (Role::Star { slot, columns, .. }, Family::NoisyMax { links, .. }) => {
                let (slot, columns) = (*slot, columns.clone());
                self.add_rays(slot, &columns, links);
            }
            (Role::Slot(slot), Family::Table { parents, rows }) => {
                let slot = *slot;
                let mut slots: Vec<usize> = parents.iter().map(|&p| self.slot_of(p)).collect();
                slots.push(slot);
                let table = rows.clone();
                self.factors.push(Factor { slots, table });
            }
            (Role::Fixed, Family::Table { parents, rows }) if !parents.is_empty() => {
                let weight = self.weight(var, &[]);
                let table = rows
                    .chunks_exact(node.states)
                    .map(|row| dot(row, &weight))
                    .collect();
                let slots = parents.iter().map(|&p| self.slot_of(p)).collect();
                self.factors.push(Factor { slots, table });
            }
            _ => {}
        }
    }

    /// One two-slot factor per link: the running sum at the auxiliary slot's level.
    fn add_rays(&mut self, aux: usize, columns: &[usize], links: &[Link]) {
        for link in links {
            let all = link_columns(link);
            let table = columns
                .iter()
                .flat_map(|&y| all[y].iter().copied())
                .collect();
            let slots = vec![aux, self.slot_of(link.parent)];
            self.factors.push(Factor { slots, table });
        }
    }

    /// Multiplies weights onto variables inside the model and says what that makes of the slots'
    /// weights: `(slot, new weight)`, ascending. `changes` hold each variable once.
    pub(super) fn reweigh(&self, changes: &[(VarId, Vec<f64>)]) -> Vec<(usize, Vec<f64>)> {
        let mut pending: Vec<Pending> = changes
            .iter()
            .map(|(var, f)| (*var, Some(f.clone()), Vec::new()))
            .collect();
        let mut new_weights = Vec::new();
        while let Some(next) = (0..pending.len()).max_by_key(|&i| pending[i].0) {
            let (var, f, replaced) = pending.swap_remove(next);
            let mut weight = self.weight(var, &replaced);
            if let Some(f) = f {
                weight.iter_mut().zip(&f).for_each(|(w, f)| *w *= f);
            }
            match &self.roles[var.index()] {
                Role::Slot(slot) => new_weights.push((*slot, weight)),
                Role::Star {
                    slot,
                    columns,
                    background,
                } => new_weights.push((*slot, star_weight(&weight, columns, background))),
                Role::OnParent { parent, rows } => {
                    let vector = through_rows(rows, &weight);
                    match pending.iter_mut().find(|(v, _, _)| v == parent) {
                        Some((_, _, replaced)) => replaced.push((var, vector)),
                        None => pending.push((*parent, None, vec![(var, vector)])),
                    }
                }
                Role::Out | Role::Fixed => unreachable!("readable variables stay readable"),
            }
        }
        new_weights.sort_by_key(|(slot, _)| *slot);
        new_weights
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

fn through_rows(rows: &[Vec<f64>], weight: &[f64]) -> Vec<f64> {
    rows.iter().map(|row| dot(row, weight)).collect()
}

fn star_weight(weight: &[f64], columns: &[usize], background: &[f64]) -> Vec<f64> {
    let levels = differences(weight);
    columns
        .iter()
        .zip(background)
        .map(|(&y, b)| levels[y] * b)
        .collect()
}
