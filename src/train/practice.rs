//! Exercises for trainees: one vehicle drawn from the model, checked by hand, and judged.
//!
//! In: a field and a vehicle, then one check after another. Out: what each check shows, and at the
//! end a [`Debrief`]: whether the source was named, what every finding was worth (weight of
//! evidence for the source, I. J. Good 1950), steps that a block forbade, evidence spoiled, minutes.
//!
//! Example: who runs an engine with coolant in its oil is refused, and it counts.

use rand_chacha::ChaCha8Rng;

use crate::advise::{Case, Explanation, Offer, Suspect, offers};
use crate::ids::{BlockId, TaskId};
use crate::job::{Entry, JobFile, uncovered};
use crate::show::task_id;
use crate::train::TrainError;
use crate::train::draw::Drawn;
use crate::train::play::{Field, answered, case_of, report};

/// One exercise.
#[derive(Debug, Clone)]
pub struct Practice<'a> {
    field: &'a Field<'a>,
    drawn: Drawn,
    random: ChaCha8Rng,
    /// What has been found, as a job.
    pub job: JobFile,
    /// Checks done.
    pub checks: usize,
    /// Hands-on minutes.
    pub minutes: f64,
    /// Minutes of waiting.
    pub waiting: f64,
    /// Steps that a block forbade, as typed, with the block.
    pub refused: Vec<(String, BlockId)>,
    /// Checks that destroyed what another would have shown, both as typed.
    pub spoiled: Vec<(String, Vec<String>)>,
}

/// What became of a check.
#[derive(Debug, Clone, PartialEq)]
pub enum Done {
    /// It was done, and shows this.
    Shows(String),
    /// A block forbids it now.
    Blocked(BlockId),
    /// It has been done, is spoiled, or can't be done here.
    NotNow,
}

/// How an exercise went.
#[derive(Debug, Clone, PartialEq)]
pub struct Debrief {
    /// The causes that leak, by their position in the graph.
    pub sources: Vec<usize>,
    /// Whether what was named at the end is one of them, or its place.
    pub right: Option<bool>,
    /// The chance that the findings gave the first source.
    pub believed: f64,
    /// For each finding, by its position in the case: what it was worth for the first source, as
    /// the last of all, decibans.
    pub worth: Vec<(usize, f64)>,
}

impl<'a> Practice<'a> {
    /// Begins with the owner's report of a loss. `random`: what repeated checks show.
    ///
    /// # Errors
    /// A rule base whose complaint can't be read.
    pub fn begin(
        field: &'a Field<'a>,
        drawn: Drawn,
        random: ChaCha8Rng,
    ) -> Result<Self, TrainError> {
        let mut job = JobFile {
            layout: field.layout.named.id.clone(),
            title: "Exercise".to_owned(),
            ..JobFile::default()
        };
        report(field, &drawn, &mut job)?;
        Ok(Self {
            field,
            drawn,
            random,
            job,
            checks: 0,
            minutes: 0.0,
            waiting: 0.0,
            refused: Vec::new(),
            spoiled: Vec::new(),
        })
    }

    /// The case as it stands.
    ///
    /// # Errors
    /// A log that can't be read.
    pub fn case(&self) -> Result<Case<'a>, TrainError> {
        case_of(self.field, &self.job)
    }

    /// Does a check.
    ///
    /// # Errors
    /// As [`Practice::case`].
    pub fn check(&mut self, task: TaskId) -> Result<Done, TrainError> {
        let case = self.case()?;
        (self.drawn).extend(&case.graph, &self.field.truth, &mut self.random);
        let offers = offers(&case);
        let named = task_id(&case, task);
        let Some(offer) = offers.open.iter().find(|offer| offer.asked.task == task) else {
            let block = offers.blocked.iter().find(|(blocked, _)| *blocked == task);
            return Ok(match block {
                Some(&(_, block)) => {
                    self.refused.push((named, block));
                    Done::Blocked(block)
                }
                None => Done::NotNow,
            });
        };
        let of = &case.graph.tasks[task];
        let lost = |other: &&Offer| case.spoils(of, &case.graph.tasks[other.asked.task]);
        let spoiled: Vec<String> = (offers.open.iter().filter(lost))
            .map(|other| task_id(&case, other.asked.task))
            .collect();
        if !spoiled.is_empty() {
            self.spoiled.push((named, spoiled));
        }
        let at = (self.drawn).answer(&offer.asked, |sign| case.graph.network.node(sign).states);
        let shows = offer.asked.options[at].text.clone();
        self.checks += 1;
        self.minutes += of.minutes + offer.journey.hands;
        self.waiting += of.waiting + offer.journey.waiting;
        let entry = answered(&case, &self.drawn, &offer.asked);
        let entries = uncovered(&case, &offer.asked).into_iter().chain([entry]);
        self.job.log.extend(entries.map(Into::into));
        Ok(Done::Shows(shows))
    }

    /// Clears a block, as the trainee says it has been made safe.
    pub fn clear(&mut self, block: BlockId) {
        let id = self.field.rules.blocks[block].named.id.clone();
        self.job.log.push(Entry::Cleared(id).into());
    }

    /// Judges what was named at the end.
    ///
    /// # Errors
    /// Advice that fails.
    pub fn debrief(&self, named: Option<Suspect>) -> Result<Debrief, TrainError> {
        let case = self.case()?;
        let (rules, layout, graph) = (self.field.rules, self.field.layout, self.field.graph);
        let sources = self.drawn.sources(rules, layout, graph);
        let right = named.map(|named| sources.iter().any(|&cause| named.includes(graph, cause)));
        let (mut worth, mut believed) = (Vec::new(), 0.0);
        if let Some(&first) = sources.first() {
            let why = Explanation::of(&case, first)?;
            believed = why.now.get();
            worth = (why.readings.iter())
                .map(|reading| (reading.found, reading.last_decibans))
                .collect();
        }
        Ok(Debrief {
            sources,
            right,
            believed,
            worth,
        })
    }
}
