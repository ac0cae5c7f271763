//! The few joint explanations that carry most of the probability.
//!
//! In: what is believed of each cause, and the findings. Out: [`Stories`]: sets of causes, each
//! with the exact chance that these cause a loss and no other does, and a bound on every set that
//! is not listed.
//!
//! Method: sets are tried by how likely they would be if causes were independent; each gets its
//! exact chance from a [`World`]. What a cause's chance is not yet accounted for by listed stories
//! bounds every unlisted story that it is part of; so does what is left of the chance that a nearly
//! sure cause is absent, and what is left of everything. When no bound passes the last story to be
//! told, the list is proved to be the best there is; else the bound is told with it.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::Case;
use crate::advise::explained::{EXPLAINED_FROM, only, times_likelier};
use crate::advise::influence::Influence;
use crate::advise::suspect::Suspect;
use crate::advise::world::World;
use crate::chance::Chance;
use crate::infer::{Finding, Network, Target};

/// How many stories are looked for, and how hard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Stories to tell.
    pub told: usize,
    /// Worlds to work out at most.
    pub worlds: usize,
}

impl Default for Effort {
    fn default() -> Self {
        Self {
            told: 5,
            worlds: 60,
        }
    }
}

/// One joint explanation.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// The events that come about, by their positions; no other does.
    pub events: Vec<usize>,
    /// The same as what is suspected, in a case.
    pub sources: Vec<Suspect>,
    /// The chance of that.
    pub probability: Chance,
}

/// The likeliest joint explanations.
#[derive(Debug, Clone, PartialEq)]
pub struct Stories {
    /// The likeliest first.
    pub told: Vec<Story>,
    /// The chance of all that are told.
    pub covered: Chance,
    /// No story that is not told is likelier than this.
    pub others_at_most: Chance,
    /// For each that is told the findings (positions in [`Case::found`]) that it explains.
    pub explains: Vec<Vec<usize>>,
    /// Whether it is proved that none of them is likelier than the last one told.
    pub proved: bool,
}

impl Stories {
    /// The stories of a case: sets of places that leak, or of single causes.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(
        case: &Case<'_>,
        belief: &Belief,
        grain: Grain,
        effort: Effort,
    ) -> Result<Self, AdviseError> {
        let units: Vec<Suspect> = match grain {
            Grain::Causes => (0..case.graph.causes.len()).map(Suspect::Cause).collect(),
            Grain::Places => {
                let leaks = belief.leaks.enumerated();
                let places = leaks.filter(|(_, leak)| leak.is_some());
                places.map(|(part, _)| Suspect::Place(part)).collect()
            }
        };
        let now: Vec<f64> = units.iter().map(|&of| belief.chance_of(of)).collect();
        let findings = case.evidence();
        let named = |events: &[usize]| -> Vec<Suspect> {
            events.iter().map(|&event| units[event]).collect()
        };
        let world = |events: &[usize]| only(case, &named(events), &findings);
        let mut stories =
            Search::new(&world, &findings, (&now, belief.log_evidence())).run(effort)?;
        for story in &mut stories.told {
            story.sources = named(&story.events);
        }
        let told = stories.told.iter();
        let sources: Vec<Vec<Suspect>> = told.map(|of| of.sources.clone()).collect();
        let times = times_likelier(case, &sources, &Influence::of(&case.graph))?;
        for (story, explains) in stories.explains.iter_mut().enumerate() {
            let of_story = times.iter().filter(|(_, of)| of[story] >= EXPLAINED_FROM);
            explains.extend(of_story.map(|(found, _)| *found));
        }
        Ok(stories)
    }

    /// The same for any network: `now` holds each target's chance and ln P(findings).
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn search(
        net: &Network,
        targets: &[Target],
        findings: &[Finding],
        now: (&[f64], f64),
        effort: Effort,
    ) -> Result<Self, AdviseError> {
        let world =
            |events: &[usize]| World::exactly(net, targets, |at| events.contains(&at), findings);
        Search::new(&world, findings, now).run(effort)
    }
}

/// What a story is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grain {
    /// Places that leak, for whatever fault.
    Places,
    /// Single causes.
    Causes,
}

/// A set of causes to try, as turns away from what is likeliest for each cause alone.
#[derive(Debug, Clone, PartialEq)]
struct Candidate {
    /// How likely it looks.
    looks: f64,
    /// Positions in [`Search::turns`], rising.
    turned: Vec<usize>,
}

impl Eq for Candidate {}

impl Ord for Candidate {
    fn cmp(&self, other: &Self) -> Ordering {
        self.looks
            .total_cmp(&other.looks)
            .then_with(|| other.turned.cmp(&self.turned))
    }
}

impl PartialOrd for Candidate {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

struct Search<'a> {
    /// The world in which exactly some events come about.
    world: &'a dyn Fn(&[usize]) -> Option<World>,
    findings: &'a [Finding],
    log_evidence: f64,
    /// Causes that are likelier than not.
    likely: Vec<bool>,
    /// Every cause that can be other than likeliest, with the chance that it is, the likeliest
    /// turn first.
    turns: Vec<(usize, f64)>,
    /// What of that chance no worked-out story accounts for.
    left: Vec<f64>,
    /// What of everything no worked-out story accounts for.
    rest: f64,
    /// Worked-out stories: their turns and chances.
    stories: Vec<(Vec<usize>, f64)>,
}

impl<'a> Search<'a> {
    fn new(
        world: &'a dyn Fn(&[usize]) -> Option<World>,
        findings: &'a [Finding],
        (now, log_evidence): (&[f64], f64),
    ) -> Self {
        let likely: Vec<bool> = now.iter().map(|&p| p >= 0.5).collect();
        let unlikely = |(cause, &p): (usize, &f64)| (cause, if p >= 0.5 { 1.0 - p } else { p });
        let mut turns: Vec<(usize, f64)> = now
            .iter()
            .enumerate()
            .map(unlikely)
            .filter(|(_, p)| *p > 0.0)
            .collect();
        turns.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        Self {
            left: turns.iter().map(|(_, p)| *p).collect(),
            world,
            findings,
            log_evidence,
            likely,
            turns,
            rest: 1.0,
            stories: Vec::new(),
        }
    }

    fn run(mut self, effort: Effort) -> Result<Stories, AdviseError> {
        let mut open = BinaryHeap::new();
        self.work_out(&[])?;
        let mut worked = 1;
        if !self.turns.is_empty() {
            open.push(self.candidate(vec![0]));
        }
        let mut proved = true;
        while let Some(Candidate { turned, .. }) = open.pop() {
            let to_beat = self.last_told(effort.told);
            if self.others_at_most() <= to_beat {
                break;
            }
            // What is left of a turn only falls and what is to be beaten only rises, so a turn
            // that can't be in a better story now never can.
            let alive = |turn: &usize| self.left[*turn] > to_beat;
            let (last, before) = turned
                .split_last()
                .map_or((0, &[][..]), |(at, of)| (*at, of));
            if !before.iter().all(alive) {
                continue;
            }
            if let Some(next) = (last + 1..self.turns.len()).find(alive) {
                let with = |turns: &[usize]| [turns, &[next]].concat();
                open.push(self.candidate(with(before)));
                if alive(&last) {
                    open.push(self.candidate(with(&turned)));
                }
            }
            if !alive(&last) {
                continue;
            }
            if worked >= effort.worlds {
                proved = false;
                break;
            }
            self.work_out(&turned)?;
            worked += 1;
        }
        self.told(effort.told, proved)
    }

    /// As if causes were independent: the product of the odds of all turns.
    fn candidate(&self, turned: Vec<usize>) -> Candidate {
        let odds = turned.iter().map(|&turn| {
            let p = self.turns[turn].1;
            p / (1.0 - p)
        });
        Candidate {
            looks: odds.product(),
            turned,
        }
    }

    /// The most that any story not worked out yet can have: at least one turn is in each of them.
    fn others_at_most(&self) -> f64 {
        let most = self.left.iter().copied().fold(0.0, f64::max);
        most.min(self.rest).max(0.0)
    }

    /// The chance of the last story that would be told; 0 while there are too few.
    fn last_told(&self, told: usize) -> f64 {
        let mut chances: Vec<f64> = self.stories.iter().map(|(_, p)| *p).collect();
        chances.sort_by(|a, b| b.total_cmp(a));
        told.checked_sub(1)
            .and_then(|last| chances.get(last).copied())
            .unwrap_or(0.0)
    }

    fn causes(&self, turned: &[usize]) -> Vec<usize> {
        let is_turned = |cause: usize| turned.iter().any(|&turn| self.turns[turn].0 == cause);
        (0..self.likely.len())
            .filter(|&cause| self.likely[cause] != is_turned(cause))
            .collect()
    }

    fn work_out(&mut self, turned: &[usize]) -> Result<(), AdviseError> {
        let causes = self.causes(turned);
        let world = (self.world)(&causes);
        let p = match world {
            None => 0.0,
            Some(world) => {
                let log = world.log_with(self.findings).map_err(AdviseError::Infer)?;
                (log - self.log_evidence).exp()
            }
        };
        self.rest -= p;
        for &turn in turned {
            self.left[turn] -= p;
        }
        self.stories.push((turned.to_vec(), p));
        Ok(())
    }

    fn told(mut self, told: usize, proved: bool) -> Result<Stories, AdviseError> {
        self.stories
            .sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        let unworked = self.others_at_most();
        let last = self.last_told(told);
        let next = self.stories.get(told).map_or(0.0, |(_, p)| *p);
        self.stories.truncate(told);
        self.stories.retain(|(_, p)| *p > 0.0);
        let stories: Result<Vec<Story>, AdviseError> = self
            .stories
            .iter()
            .map(|(turned, p)| {
                Ok(Story {
                    events: self.causes(turned),
                    sources: Vec::new(),
                    probability: chance(p.min(1.0))?,
                })
            })
            .collect();
        let covered: f64 = self.stories.iter().map(|(_, p)| p).sum();
        let told = stories?;
        Ok(Stories {
            explains: vec![Vec::new(); told.len()],
            told,
            covered: chance(covered.min(1.0))?,
            // Where it is proved, no other story passes the last one told either.
            others_at_most: chance(if proved { unworked.min(last) } else { unworked }.max(next))?,
            proved,
        })
    }
}
