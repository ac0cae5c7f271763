//! What is to be done before a vehicle leaves, step by step, with its minutes.
//!
//! In: a [`Case`] and what is to be repaired. Out: a [`Timetable`]: repairs, retest and the ways
//! between their set-ups, in the order in which they are done.

use std::collections::BTreeSet;

use crate::advise::case::Case;
use crate::advise::journey::{Journey, Reach, Step};
use crate::advise::retest::{Retest, is_due, tasks_of};
use crate::ids::{CoverId, PartId, TaskId};
use crate::rules::base::SetUpNeeds;

/// What one slot is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    /// A step to another set-up.
    Way(Step),
    /// The repair of a cause (position in the graph).
    Repair(usize),
    /// A part of the retest (position in the rules' list), by a task.
    Proof(usize, TaskId),
}

/// One thing to do, and how long it takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slot {
    /// What.
    pub doing: Doing,
    /// Hands-on minutes.
    pub hands: f64,
    /// Minutes of waiting.
    pub waiting: f64,
}

impl Slot {
    /// Minutes by the clock.
    pub fn minutes(&self) -> f64 {
        self.hands + self.waiting
    }
}

/// What is to be done before a vehicle leaves, and what can follow.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Timetable {
    /// In order, up to the set-up in which it may leave.
    pub needed: Vec<Slot>,
    /// Parts of the retest that may follow later, each with the way to it from there.
    pub later: Vec<(usize, Vec<Slot>)>,
    /// From the set-up as it is now to that in which it may leave, nothing repaired; none where no
    /// legal way leads there.
    pub close_up: Option<Vec<Slot>>,
    /// Parts of the retest before leaving for which no set-up can be reached.
    pub out_of_reach: Vec<usize>,
}

impl Timetable {
    /// The timetable of a case in which these causes are still to be repaired.
    pub fn of(case: &Case<'_>, causes: &[usize]) -> Self {
        let mut table = Self::default();
        let mut walk = Walk { case: case.clone() };
        let release = case.rules.release.as_ref();
        table.close_up = release.map_or(Some(Vec::new()), |release| {
            Walk { case: case.clone() }.to(&release.needs, None)
        });
        for &cause in causes {
            table.needed.extend(walk.repair(cause));
        }
        let mut places: BTreeSet<PartId> = causes
            .iter()
            .map(|&at| case.graph.causes[at].place.part)
            .collect();
        let retest = Retest::of(case);
        places.extend(retest.iter().flat_map(|retest| retest.places.clone()));
        let done = |proof: usize| {
            let state = retest
                .iter()
                .flat_map(|retest| &retest.parts)
                .find(|part| part.proof == proof);
            // A new repair asks for the whole retest.
            causes.is_empty()
                && state.is_some_and(|part| part.lacking.is_empty() && part.falls.is_empty())
        };
        let (before, after): (Vec<usize>, Vec<usize>) = (0..case.rules.retest.len())
            .filter(|&proof| !places.is_empty() && !done(proof))
            // What only doubt asks for is known once the rest is done.
            .filter(|&proof| case.rules.retest[proof].in_doubt.is_none())
            .filter(|&proof| is_due(case, proof, &places))
            .filter(|&proof| !tasks_of(case, proof, &places).is_empty())
            .partition(|&proof| case.rules.retest[proof].before_release);
        for proof in before {
            match walk.proof(proof, &places) {
                Some(slots) => table.needed.extend(slots),
                None => table.out_of_reach.push(proof),
            }
        }
        if let Some(release) = release
            && !table.needed.is_empty()
            && let Some(slots) = walk.to(&release.needs, None)
        {
            table.needed.extend(slots);
        }
        for proof in after {
            if let Some(slots) = walk.proof(proof, &places) {
                table.later.push((proof, slots));
            }
        }
        table
    }

    /// Minutes by the clock until it may leave.
    pub fn minutes(&self) -> f64 {
        let minutes = self.needed.iter().map(Slot::minutes);
        // The sum of nothing would be a negative zero.
        minutes.fold(0.0, |sum, one| sum + one)
    }

    /// Minutes by the clock until it is closed up with nothing repaired.
    pub fn minutes_to_close(&self) -> Option<f64> {
        let slots = self.close_up.as_ref()?;
        Some(
            slots
                .iter()
                .map(Slot::minutes)
                .fold(0.0, |sum, one| sum + one),
        )
    }

    /// Hands-on and waiting minutes until it may leave.
    pub fn hands_and_waiting(&self) -> (f64, f64) {
        let slots = self.needed.iter();
        slots.fold((0.0, 0.0), |(hands, waiting), slot| {
            (hands + slot.hands, waiting + slot.waiting)
        })
    }

    /// Which of the later parts of the retest still fit, in order, if so many minutes are left
    /// when it could leave.
    pub fn fitting(&self, mut left: f64) -> Vec<usize> {
        let mut fitting = Vec::new();
        for (proof, slots) in &self.later {
            left -= slots.iter().map(Slot::minutes).sum::<f64>();
            if left < 0.0 {
                break;
            }
            fitting.push(*proof);
        }
        fitting
    }
}

/// A case whose set-up moves on.
struct Walk<'a> {
    case: Case<'a>,
}

impl Walk<'_> {
    /// Goes to a set-up; none where no legal way leads there.
    fn to(&mut self, needs: &SetUpNeeds, cover: Option<CoverId>) -> Option<Vec<Slot>> {
        let journey: Journey = Reach::search(&self.case).to(needs, cover)?;
        let slots = journey.steps.iter().map(|&step| self.slot(step)).collect();
        self.case.set_up = journey.to;
        Some(slots)
    }

    fn slot(&self, step: Step) -> Slot {
        let holds = |when: &_| self.case.layout.holds(when, None);
        let (hands, waiting) = match step {
            Step::Way(way) => {
                let way = &self.case.rules.ways[way];
                (*way.hands.pick(holds), *way.waiting.pick(holds))
            }
            Step::Cover(cover) => (self.case.layout.covers[cover].hands, 0.0),
        };
        Slot {
            doing: Doing::Way(step),
            hands,
            waiting,
        }
    }

    /// The way to a repair, and the repair.
    fn repair(&mut self, cause: usize) -> Vec<Slot> {
        let place = self.case.graph.causes[cause].place;
        let (layout, rules) = (self.case.layout, self.case.rules);
        let takes = rules
            .sheet
            .takes
            .iter()
            .find(|takes| takes.of.fits(layout, place.part, place.fault));
        let part = &layout.parts[place.part];
        let mut slots = Vec::new();
        if let Some(takes) = takes {
            let mut needs = takes.needs.clone();
            let zone = part.zone.map(|zone| &layout.zones[zone].needs);
            for need in zone.into_iter().flatten() {
                if needs.iter().all(|(facet, _)| *facet != need.0) {
                    needs.push(need.clone());
                }
            }
            // Where the place can't be reached so, at least its cover and the set-up are counted.
            let way = self
                .to(&needs, part.cover)
                .or_else(|| self.to(&takes.needs, part.cover));
            slots.extend(way.unwrap_or_default());
        }
        let holds = |when: &_| layout.holds(when, Some(place.part));
        slots.push(Slot {
            doing: Doing::Repair(cause),
            hands: takes.map_or(0.0, |takes| *takes.hands.pick(holds)),
            waiting: takes.map_or(0.0, |takes| *takes.waiting.pick(holds)),
        });
        slots
    }

    /// The way to a part of the retest, and the usual one of its checks that can be done, where it
    /// is quickest.
    fn proof(&mut self, proof: usize, places: &BTreeSet<PartId>) -> Option<Vec<Slot>> {
        let reach = Reach::search(&self.case);
        let checks = &self.case.rules.retest[proof].checks;
        let mut best: Option<((usize, f64), TaskId, Journey)> = None;
        for (task, _) in tasks_of(&self.case, proof, places) {
            let of = &self.case.graph.tasks[task];
            let tools = &self.case.rules.checks[of.check].tools;
            if tools.iter().any(|tool| self.case.shop.lacks.contains(tool)) {
                continue;
            }
            let meanwhile = &self.case.rules.checks[of.check].meanwhile;
            if self.case.forbidding(meanwhile).is_some() {
                continue;
            }
            let Some(journey) = reach.to(&of.needs, of.cover_off) else {
                continue;
            };
            let minutes = journey.hands + journey.waiting + of.minutes + of.waiting;
            let usual = checks.iter().position(|check| *check == of.check);
            let rank = (usual.unwrap_or(checks.len()), minutes);
            if best.as_ref().is_none_or(|(least, _, _)| rank < *least) {
                best = Some((rank, task, journey));
            }
        }
        let (_, task, journey) = best?;
        let mut slots: Vec<Slot> = journey.steps.iter().map(|&step| self.slot(step)).collect();
        let of = &self.case.graph.tasks[task];
        slots.push(Slot {
            doing: Doing::Proof(proof, task),
            hands: of.minutes,
            waiting: of.waiting,
        });
        self.case.set_up = journey.to;
        Some(slots)
    }
}
