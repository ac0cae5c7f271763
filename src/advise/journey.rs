//! The cheapest legal way from one set-up to another.
//!
//! In: the facets, ways, forbidden set-ups and blocks of a case. Out: for every set-up that can
//! be reached, what it costs and which steps lead there. Shortest paths by Dijkstra's algorithm
//! over all facet values: time grows with set-ups × ways.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::advise::case::Case;
use crate::advise::set_up::{SetUp, meets};
use crate::advise::waiting::held_up;
use crate::ids::{CoverId, FacetId, Id, WayId};
use crate::rules::base::{SetUpNeeds, Way};

/// One step on the way to a set-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// A way of the rules.
    Way(WayId),
    /// A cover taken off.
    Cover(CoverId),
}

/// How to get to a set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Journey {
    /// The set-up at its end.
    pub to: SetUp,
    /// The steps, in order.
    pub steps: Vec<Step>,
    /// Hands-on minutes.
    pub hands: f64,
    /// Minutes of waiting.
    pub waiting: f64,
    /// Those of them that hold anybody up.
    pub held_up: f64,
}

impl Journey {
    /// What it costs, in hands-on minutes.
    pub fn cost(&self, waiting_counts: f64) -> f64 {
        self.hands + waiting_counts * self.held_up
    }

    /// Whether more than a cover is moved on the way.
    pub fn changes_set_up(&self) -> bool {
        let mut steps = self.steps.iter();
        steps.any(|step| matches!(step, Step::Way(_)))
    }
}

/// Something that may not be.
enum Forbidden<'a> {
    /// All of these facets at one of these values.
    All(&'a SetUpNeeds),
    /// This facet at one of these values.
    Any(FacetId, &'a [usize]),
}

impl Forbidden<'_> {
    fn is(&self, values: &[usize]) -> bool {
        match self {
            Self::All(set_up) => meets(values, set_up),
            Self::Any(facet, not) => not.contains(&values[facet.index()]),
        }
    }

    /// Whether a step leaves what makes it so as it is.
    fn untouched(&self, from: &[usize], to: &[usize]) -> bool {
        let same = |facet: &FacetId| from[facet.index()] == to[facet.index()];
        match self {
            Self::All(set_up) => set_up.iter().all(|(facet, _)| same(facet)),
            Self::Any(facet, _) => same(facet),
        }
    }
}

/// Every set-up that can be reached, with its cheapest way.
pub(super) struct Reach<'a> {
    case: &'a Case<'a>,
    sizes: Vec<usize>,
    /// Per set-up: hands-on minutes and those held up, and the way and set-up it was reached by.
    best: Vec<Option<(f64, f64)>>,
    from: Vec<Option<(WayId, usize)>>,
}

impl<'a> Reach<'a> {
    /// Searches from the case's present set-up for every set-up.
    pub fn search(case: &'a Case<'a>) -> Self {
        Self::search_until(case, |_| false).0
    }

    /// The same, up to the nearest set-up that is wanted; with its position if there is one.
    fn search_until(
        case: &'a Case<'a>,
        wanted: impl Fn(&[usize]) -> bool,
    ) -> (Self, Option<usize>) {
        let sizes: Vec<usize> = case
            .rules
            .facets
            .iter()
            .map(|facet| facet.values.len())
            .collect();
        let count: usize = sizes.iter().product();
        let mut reach = Self {
            case,
            sizes,
            best: vec![None; count],
            from: vec![None; count],
        };
        let ways: Vec<(WayId, &Way, f64, f64)> = case
            .rules
            .ways
            .enumerated()
            .filter(|(_, way)| case.layout.holds(&way.only, None))
            .filter(|(_, way)| way.tools.iter().all(|tool| !case.shop.lacks.contains(tool)))
            .filter(|(_, way)| case.forbidding(&way.meanwhile).is_none())
            .map(|(id, way)| {
                let holds = |when: &_| case.layout.holds(when, None);
                (
                    id,
                    way,
                    *way.hands.pick(holds),
                    held_up(*way.waiting.pick(holds)),
                )
            })
            .collect();
        let start = reach.index(&case.set_up.values);
        reach.best[start] = Some((0.0, 0.0));
        // Costs are compared in whole milliminutes, so that the heap has a total order.
        let mut open = BinaryHeap::from([Reverse((0_u64, start))]);
        let mut done = vec![false; count];
        while let Some(Reverse((_, at))) = open.pop() {
            if std::mem::replace(&mut done[at], true) {
                continue;
            }
            let values = reach.values(at);
            if wanted(&values) {
                return (reach, Some(at));
            }
            let (hands, held_up) = reach.best[at].unwrap_or_default();
            for &(id, way, more_hands, more_held_up) in &ways {
                if !meets(&values, &way.needs) {
                    continue;
                }
                let mut after = values.clone();
                for &(facet, value) in &way.to {
                    after[facet.index()] = value;
                }
                let to = reach.index(&after);
                if done[to] || !reach.may_step(&values, &after) {
                    continue;
                }
                let cost = (hands + more_hands, held_up + more_held_up);
                if reach.best[to].is_none_or(|known| milli(case, cost) < milli(case, known)) {
                    reach.best[to] = Some(cost);
                    reach.from[to] = Some((id, at));
                    open.push(Reverse((milli(case, cost), to)));
                }
            }
        }
        (reach, None)
    }

    /// Whether a set-up may be: not among `never`, not blocked, possible in this shop.
    fn legal(&self, values: &[usize]) -> bool {
        self.forbidden().all(|forbidden| !forbidden.is(values))
    }

    /// Whether a step may be taken: it leads to nothing that may not be. A vehicle that stands so already is
    /// led out of it, if need be in several steps, none of which touches what may not be.
    fn may_step(&self, from: &[usize], to: &[usize]) -> bool {
        self.forbidden().all(|forbidden| {
            !forbidden.is(to) || (forbidden.is(from) && forbidden.untouched(from, to))
        })
    }

    /// Everything that may not be.
    fn forbidden(&self) -> impl Iterator<Item = Forbidden<'a>> {
        let case = self.case;
        let never = case.rules.never.iter();
        let never = never.map(|never| Forbidden::All(&never.set_up));
        let blocked = case.blocks.iter().flat_map(|&block| {
            let forbids = case.rules.blocks[block].forbids.iter();
            forbids.map(|(facet, not)| Forbidden::Any(*facet, not))
        });
        let cannot = case.shop.cannot.iter();
        let cannot = cannot.map(|(facet, not)| Forbidden::Any(*facet, std::slice::from_ref(not)));
        never.chain(blocked).chain(cannot)
    }

    /// The cheapest way to a set-up as needed, with a cover off where one must be. `None` where
    /// no legal way leads there.
    pub fn to(&self, needs: &SetUpNeeds, cover_off: Option<CoverId>) -> Option<Journey> {
        let case = self.case;
        let cover = cover_off.filter(|cover| !case.set_up.covers_off.contains(cover));
        let here = case.set_up.meets(needs) && self.legal(&case.set_up.values);
        let cover_needs = cover.map(|cover| &case.layout.covers[cover].needs);
        if here && cover_needs.is_none_or(|needs| case.set_up.meets(needs)) {
            return Some(self.journey(self.index(&case.set_up.values), cover));
        }
        let fits = |values: &[usize], with_cover: bool| {
            meets(values, needs)
                && (!with_cover || cover_needs.is_none_or(|needs| meets(values, needs)))
        };
        // A cover usually comes off in the set-up of the check itself; where that can't be, its
        // minutes are still counted.
        self.cheapest(|values| fits(values, true))
            .or_else(|| self.cheapest(|values| fits(values, false)))
            .map(|at| self.journey(at, cover))
    }

    fn cheapest(&self, fits: impl Fn(&[usize]) -> bool) -> Option<usize> {
        let mut found: Option<(u64, usize)> = None;
        for (at, best) in self.best.iter().enumerate() {
            let Some(cost) = *best else { continue };
            let cost = milli(self.case, cost);
            if found.is_none_or(|(known, _)| cost < known) {
                let values = self.values(at);
                if fits(&values) && self.legal(&values) {
                    found = Some((cost, at));
                }
            }
        }
        found.map(|(_, at)| at)
    }

    fn journey(&self, at: usize, cover: Option<CoverId>) -> Journey {
        let (mut hands, held_up) = self.best[at].unwrap_or_default();
        let mut waiting = 0.0;
        let mut steps = Vec::new();
        let mut back = at;
        while let Some((way, before)) = self.from[back] {
            steps.push(Step::Way(way));
            let holds = |when: &_| self.case.layout.holds(when, None);
            waiting += *self.case.rules.ways[way].waiting.pick(holds);
            back = before;
        }
        steps.reverse();
        let mut covers_off = self.case.set_up.covers_off.clone();
        if let Some(cover) = cover {
            hands += self.case.layout.covers[cover].hands;
            steps.push(Step::Cover(cover));
            covers_off.insert(cover);
        }
        Journey {
            to: SetUp {
                values: self.values(at),
                covers_off,
            },
            steps,
            hands,
            waiting,
            held_up,
        }
    }

    fn index(&self, values: &[usize]) -> usize {
        values
            .iter()
            .zip(&self.sizes)
            .fold(0, |index, (value, size)| index * size + value)
    }

    fn values(&self, mut index: usize) -> Vec<usize> {
        let mut values = vec![0; self.sizes.len()];
        for (value, size) in values.iter_mut().zip(&self.sizes).rev() {
            *value = index % size;
            index /= size;
        }
        values
    }
}

/// The cheapest legal way to a set-up as needed, covers left as they are; `None` where none leads there.
pub fn way_to(case: &Case<'_>, needs: &SetUpNeeds) -> Option<Journey> {
    Reach::search(case).to(needs, None)
}

/// The facets' values at the end of the cheapest legal way to a set-up as needed; `None` where no
/// legal way leads there.
pub fn nearest(case: &Case<'_>, needs: &SetUpNeeds) -> Option<Vec<usize>> {
    let (reach, at) = Reach::search_until(case, |values| meets(values, needs));
    at.map(|at| reach.values(at))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "minutes are small and positive"
)]
fn milli(case: &Case<'_>, (hands, held_up): (f64, f64)) -> u64 {
    ((hands + case.waiting_counts * held_up) * 1000.0).round() as u64
}
