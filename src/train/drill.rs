//! Drills: many drawn jobs, played by several ways of choosing.
//!
//! In: a field, a seed, a number of jobs. Out: a [`Drilled`] for each policy. Each job has a stream
//! of random numbers of its own, so the figures don't depend on how many threads there are.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use crate::cores;
use crate::graph::CausalGraph;
use crate::ids::FaultId;
use crate::train::TrainError;
use crate::train::draw::{Drawn, draw_with_loss};
use crate::train::play::{Field, play};
use crate::train::played::Played;
use crate::train::policy::Policy;
use crate::train::tally::Tally;
use crate::train::turn::Recall;

/// What to play.
#[derive(Debug, Clone)]
pub struct Drill {
    /// How many jobs.
    pub jobs: usize,
    /// Seed of everything drawn.
    pub seed: u64,
    /// Ways of choosing.
    pub policies: Vec<Policy>,
    /// How many threads.
    pub threads: usize,
}

/// How one way of choosing did.
#[derive(Debug, Clone)]
pub struct Drilled {
    /// Which.
    pub policy: Policy,
    /// Each job, in the order in which they were drawn.
    pub played: Vec<Played>,
}

impl Drilled {
    /// Counts over all jobs. `waiting_counts` weighs a minute of waiting.
    pub fn tally(&self, waiting_counts: f64) -> Tally {
        let jobs: Vec<&Played> = self.played.iter().collect();
        Tally::of(&jobs, waiting_counts)
    }

    /// For each fault that leaked in some job, these jobs; the most frequent first.
    pub fn by_fault(&self, graph: &CausalGraph) -> Vec<(FaultId, Vec<&Played>)> {
        let mut jobs: BTreeMap<FaultId, Vec<&Played>> = BTreeMap::new();
        for job in &self.played {
            let faults = job.leaking.iter();
            let faults: BTreeSet<FaultId> =
                faults.map(|&at| graph.causes[at].place.fault).collect();
            for fault in faults {
                jobs.entry(fault).or_default().push(job);
            }
        }
        let mut jobs: Vec<_> = jobs.into_iter().collect();
        jobs.sort_by_key(|(fault, jobs)| (std::cmp::Reverse(jobs.len()), *fault));
        jobs
    }
}

impl Drill {
    /// Plays all jobs. `ticked` is called after each one with how many are done of all.
    ///
    /// # Errors
    /// As [`draw_with_loss`] and [`play`]; the first in the order of the jobs.
    pub fn run(
        &self,
        field: &Field<'_>,
        ticked: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<Vec<Drilled>, TrainError> {
        let all = self.jobs * self.policies.len();
        let next = AtomicUsize::new(0);
        let recall = Recall::default();
        let done: Mutex<Vec<(usize, Result<Played, TrainError>)>> = Mutex::new(Vec::new());
        let play_on = || {
            loop {
                let turn = next.fetch_add(1, Ordering::Relaxed);
                if turn >= all {
                    break;
                }
                let job = turn / self.policies.len();
                let policy = &self.policies[turn % self.policies.len()];
                let outcome = self.one(field, job, policy, &recall);
                let Ok(mut done) = done.lock() else { break };
                done.push((turn, outcome));
                ticked(done.len(), all);
            }
        };
        std::thread::scope(|scope| {
            for _ in 0..self.threads.max(1) {
                scope.spawn(|| cores::sharing(play_on));
            }
        });
        let mut done = done.into_inner().unwrap_or_default();
        done.sort_by_key(|(turn, _)| *turn);
        let mut drilled: Vec<Drilled> = (self.policies.iter())
            .map(|policy| Drilled {
                policy: policy.clone(),
                played: Vec::with_capacity(self.jobs),
            })
            .collect();
        for (turn, outcome) in done {
            drilled[turn % self.policies.len()].played.push(outcome?);
        }
        Ok(drilled)
    }

    /// The vehicle of a job.
    ///
    /// # Errors
    /// As [`draw_with_loss`].
    pub fn vehicle(&self, field: &Field<'_>, job: usize) -> Result<Drawn, TrainError> {
        let mut random = ChaCha8Rng::seed_from_u64(self.seed);
        random.set_stream(job as u64);
        draw_with_loss(
            field.rules,
            field.layout,
            field.graph,
            &field.truth,
            &mut random,
        )
    }

    fn one(
        &self,
        field: &Field<'_>,
        job: usize,
        policy: &Policy,
        recall: &Recall,
    ) -> Result<Played, TrainError> {
        let drawn = self.vehicle(field, job)?;
        let mut random = ChaCha8Rng::seed_from_u64(self.seed.wrapping_add(1));
        random.set_stream(job as u64);
        play(field, drawn, policy, recall, &mut random)
    }
}
