//! One job of a drill, from the complaint to the repair that is proved.
//!
//! In: a drawn vehicle and a way of choosing. Out: a [`Played`]: what was found, what it cost. The job is kept and read as any other: what the tool would do with the same log
//! is what the drill does.

use rand::Rng;

use crate::advise::{AdviseError, Case, Offer, Shop, can_be_named, held_up, open_intake};
use crate::graph::{Asked, CausalGraph};
use crate::ids::{Id, PartId};
use crate::job::{
    AnswerGiven, CANT_TELL, Entry, Found, JobFile, LogReader, Logged, RepairDone, uncovered,
};
use crate::rules::{Layout, RuleBase};
use crate::show::task_id;
use crate::train::TrainError;
use crate::train::draw::Drawn;
use crate::train::page::Page;
use crate::train::played::{End, Played};
use crate::train::policy::Policy;
use crate::train::truth::{Strain, Truth};
use crate::train::turn::{Advice, Recall, Turn};

/// Checks after which a job is given up. What tells anything for its time is used up long before on
/// most; seen in drills: up to 130.
const MOST_CHECKS: usize = 200;

/// What all jobs of a drill share.
#[derive(Debug, Clone)]
pub struct Field<'a> {
    /// The rules.
    pub rules: &'a RuleBase,
    /// The vehicle.
    pub layout: &'a Layout,
    /// Its causal graph.
    pub graph: &'a CausalGraph,
    /// What the shop lacks.
    pub shop: Shop,
    /// What a minute of waiting counts, in hands-on minutes.
    pub waiting_counts: f64,
    /// What vehicles are really drawn by.
    pub truth: Truth,
}

impl<'a> Field<'a> {
    /// Reads jobs on this vehicle.
    fn log_reader(&self) -> LogReader<'a> {
        let (rules, layout, graph) = (self.rules, self.layout, self.graph);
        LogReader::new(rules, layout, graph, &self.shop, self.waiting_counts)
    }
}

/// Plays a job to its end: until a retest proves the repair, or nothing is left worth doing.
///
/// # Errors
/// Advice that fails; an answer that can't be read.
pub fn play(
    field: &Field<'_>,
    mut drawn: Drawn,
    policy: &Policy,
    recall: &Recall,
    random: &mut impl Rng,
) -> Result<Played, TrainError> {
    let mut played = Played {
        leaking: drawn.sources(field.rules, field.layout, field.graph),
        sources: drawn.source_places(field.rules, field.layout, field.graph),
        ..Played::default()
    };
    played.job = begun(field)?;
    let begun = case_of(field, &played.job)?;
    played.unnamed_leaks = (played.sources.iter()).any(|&part| !can_be_named(&begun, part));
    let leaks = |part: &&PartId| !field.rules.kinds[field.layout.parts[**part].kind].no_leak;
    played.leaks = played.sources.iter().filter(leaks).count();
    report(field, &drawn, &mut played.job)?;
    let mut stopped = false;
    let mut page = Page::default();
    let mut log = field.log_reader();
    while played.checks < MOST_CHECKS {
        let case = read(&mut log, &played.job)?;
        drawn.extend(&case.graph, &field.truth, random);
        if let Some(offer) = page.next(&case) {
            check(field, &case, &drawn, &offer, &mut played, random);
            continue;
        }
        let advice = recall.of(policy, &played.job, || {
            Advice::of(&case, policy, &played, random)
        });
        let advice = match advice {
            Err(TrainError::Advise(AdviseError::TooDense { entries, .. })) => {
                if set_aside(&mut played.job, &entries) {
                    continue;
                }
                played.end = End::TooDense;
                break;
            }
            // Answers that are wrong, or drawn by other rules, need not fit together; those that the rules
            // themselves drew do, and a failure there is one of the program.
            Err(TrainError::Advise(AdviseError::Contradiction { .. } | AdviseError::Infer(_)))
                if field.truth.strain != Strain::default() =>
            {
                played.end = End::AtOdds;
                break;
            }
            other => other?,
        };
        if !stopped && !matches!(advice.turn, Turn::Check(_)) {
            stopped = true;
            forecast(field, &drawn, &advice, &mut played);
        }
        page = Page::of(&advice);
        match &advice.turn {
            Turn::Check(offer) => check(field, &case, &drawn, offer, &mut played, random),
            Turn::Repair(named) => repair(&case, &drawn, named, &mut played),
            Turn::Stop(end) => {
                played.end = *end;
                played.ended_unnamed = advice.first.is_some_and(|part| !can_be_named(&case, part));
                break;
            }
        }
    }
    let case = read(&mut log, &played.job)?;
    drawn.extend(&case.graph, &field.truth, random);
    played.still_leaking = drawn.source_places(field.rules, field.layout, &case.graph);
    Ok(played)
}

/// Does a check, and logs what it shows, or what is taken for it.
fn check(
    field: &Field<'_>,
    case: &Case<'_>,
    drawn: &Drawn,
    offer: &Offer,
    played: &mut Played,
    random: &mut impl Rng,
) {
    let task = &case.graph.tasks[offer.asked.task];
    played.minutes += task.minutes + offer.journey.hands;
    played.waiting += task.waiting + offer.journey.waiting;
    played.held_up += held_up(task.waiting) + offer.journey.held_up;
    played.checks += 1;
    played.tasks.push(task_id(case, offer.asked.task));
    let shown = drawn.answer(&offer.asked, |sign| case.graph.network.node(sign).states);
    let wrong = field.truth.strain.wrong_answers;
    let others = offer.asked.options.len() - 1;
    let logged = if wrong > 0.0 && others > 0 && random.random::<f64>() < wrong {
        let other = random.random_range(0..others);
        other + usize::from(other >= shown)
    } else {
        shown
    };
    let entries =
        uncovered(case, &offer.asked)
            .into_iter()
            .chain([answer(case, &offer.asked, logged)]);
    played.job.log.extend(entries.map(Into::into));
}

/// Withdraws what the tool says makes a job too tangled, and does not ask for it again. Whether there
/// was anything to withdraw.
fn set_aside(job: &mut JobFile, entries: &[usize]) -> bool {
    let mut aside: Vec<Entry> = Vec::new();
    for &number in entries {
        let logged = number.checked_sub(1).and_then(|at| job.log.get(at));
        if let Some(Entry::Found(found)) = logged.map(|logged| &logged.entry) {
            aside.push(Entry::Withdrawn(number));
            aside.push(Entry::Found(Found {
                answer: AnswerGiven::One(CANT_TELL.to_owned()),
                ..found.clone()
            }));
        }
    }
    let any = !aside.is_empty();
    job.log.extend(aside.into_iter().map(Into::into));
    any
}

/// The case of a job.
pub(super) fn case_of<'a>(field: &Field<'a>, job: &JobFile) -> Result<Case<'a>, TrainError> {
    read(&mut field.log_reader(), job)
}

fn read<'a>(log: &mut LogReader<'a>, job: &JobFile) -> Result<Case<'a>, TrainError> {
    let case = log.read(job);
    case.map_err(|mut problems| TrainError::Job(problems.remove(0)))
}

/// A job before the first check. What the vehicle itself forbids is cleared (a set that can start by
/// itself is locked off), as a technician does before a hand goes in.
pub(super) fn begun(field: &Field<'_>) -> Result<JobFile, TrainError> {
    let mut job = JobFile {
        layout: field.layout.named.id.clone(),
        ..JobFile::default()
    };
    let case = case_of(field, &job)?;
    job.log.extend(clear_all(&case));
    Ok(job)
}

/// Clears every block that is up.
fn clear_all<'c>(case: &'c Case<'_>) -> impl Iterator<Item = Logged> + 'c {
    let up = case.blocks.iter().map(|&block| &case.rules.blocks[block]);
    up.map(|block| Entry::Cleared(block.named.id.clone()).into())
}

/// The owner's report of a loss, which every job begins with.
pub(super) fn report(
    field: &Field<'_>,
    drawn: &Drawn,
    job: &mut JobFile,
) -> Result<(), TrainError> {
    let case = case_of(field, job)?;
    for asked in open_intake(&case) {
        if field.rules.checks[field.graph.tasks[asked.task].check].reports_loss {
            job.log.push(answered(&case, drawn, &asked).into());
        }
    }
    Ok(())
}

/// What the vehicle shows, as an entry of the log.
pub(super) fn answered(case: &Case<'_>, drawn: &Drawn, asked: &Asked) -> Entry {
    let at = drawn.answer(asked, |sign| case.graph.network.node(sign).states);
    answer(case, asked, at)
}

/// An answer, by its position in the question, as an entry of the log.
fn answer(case: &Case<'_>, asked: &Asked, at: usize) -> Entry {
    let named = task_id(case, asked.task);
    let (check, place) = named
        .split_once('@')
        .map_or((named.as_str(), None), |(check, place)| {
            (check, Some(place.to_owned()))
        });
    Entry::Found(Found {
        check: check.to_owned(),
        at: place,
        answer: AnswerGiven::One(asked.options[at].id.clone()),
        again: case.graph.tasks[asked.task].again,
        ..Found::default()
    })
}

/// Opens up the named places: what is found there is certain from then on. All of a place that
/// leaks is repaired.
fn repair(case: &Case<'_>, drawn: &Drawn, named: &[usize], played: &mut Played) {
    let graph = &case.graph;
    let mut places: Vec<PartId> = Vec::new();
    for &cause in named {
        let part = graph.causes[cause].place.part;
        if !places.contains(&part) {
            places.push(part);
        }
    }
    let mut repaired = Vec::new();
    for part in places {
        let at = &case.layout.parts[part].named.id;
        let here = graph.causes.iter().filter(|cause| cause.place.part == part);
        let mut leaks_here = false;
        for cause in here {
            let leaks = cause.leaking[drawn.states[cause.push.index()]];
            leaks_here |= leaks;
            let (cause, at) = (
                case.rules.faults[cause.place.fault].named.id.clone(),
                Some(at.clone()),
            );
            let entry = if leaks {
                Entry::Confirmed { cause, at }
            } else {
                Entry::RuledOut { cause, at }
            };
            played.job.log.push(entry.into());
        }
        // The shop's tester is no part of the vehicle.
        let apart = case.rules.kinds[case.layout.parts[part].kind].apart;
        if leaks_here {
            repaired.push(at.clone());
            if !apart && !played.found.contains(&part) {
                played.found.push(part);
            }
        } else if !apart {
            played.needless.push(part);
        }
    }
    if !repaired.is_empty() {
        let done = RepairDone {
            faults: repaired,
            how: String::new(),
            refilled: None,
            cleaned: None,
        };
        played.job.log.push(Entry::Repaired(done).into());
        // Fresh oil in, cylinders blown out: what the repair has cured forbids nothing any more, and the
        // retest needs the engine to run.
        played.job.log.extend(clear_all(case));
    }
}

/// Keeps what was believed when the first stop came.
fn forecast(field: &Field<'_>, drawn: &Drawn, advice: &Advice, played: &mut Played) {
    played.first_right = advice
        .first
        .is_some_and(|part| played.sources.contains(&part));
    let sources = drawn.sources(field.rules, field.layout, field.graph);
    played.forecast = (advice.causes.iter().enumerate())
        .filter(|(cause, _)| {
            let part = field.graph.causes[*cause].place.part;
            !field.rules.kinds[field.layout.parts[part].kind].apart
        })
        .map(|(cause, &chance)| (chance, sources.contains(&cause)))
        .collect();
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the tool tells a user to do with a job too tangled to work out: withdraw the finding, and
    /// leave the check alone.
    #[test]
    fn what_tangles_a_job_is_withdrawn_and_not_asked_again() {
        let found = |check: &str| {
            Entry::Found(Found {
                check: check.to_owned(),
                answer: AnswerGiven::One("falls".to_owned()),
                ..Found::default()
            })
        };
        let mut job = JobFile::default();
        let cleared = Entry::Cleared("up".to_owned());
        job.log
            .extend([found("hold"), cleared, found("level")].map(Into::into));
        // What is no finding, or is not there, can't be set aside.
        assert!(!set_aside(&mut job, &[2, 9]));
        assert_eq!(job.log.len(), 3);
        assert!(set_aside(&mut job, &[3]));
        let said: Vec<&Entry> = job.log[3..].iter().map(|logged| &logged.entry).collect();
        let [Entry::Withdrawn(3), Entry::Found(again)] = said[..] else {
            panic!("{said:?}")
        };
        assert!(again.check == "level" && again.answer.cant_tell());
    }
}
