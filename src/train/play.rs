//! One job of a drill, from the complaint to the stop.
//!
//! In: a vehicle drawn from the model and a way of choosing. Out: a [`Played`]: what was found,
//! what it cost. The job is kept and read as any other: what the tool would do with the same log
//! is what the drill does.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use rand::Rng;

use crate::advise::{
    AdviseError, Belief, Case, Offer, Proposals, RankedLeak, Ranking, Shop, Verdict, offers,
    open_intake,
};
use crate::graph::{Asked, CausalGraph};
use crate::ids::{Id, PartId};
use crate::job::{AnswerGiven, Entry, Found, JobFile, resolve, uncovered};
use crate::rules::{Layout, RuleBase};
use crate::show::task_id;
use crate::train::TrainError;
use crate::train::draw::Drawn;
use crate::train::policy::Policy;

/// Checks after which a job is given up.
const MOST_CHECKS: usize = 60;
/// A place this likely to leak is taken apart when no check tells more.
const ON_TRIAL: f64 = 0.25;
/// Ways of choosing that weigh no gains look up only so often whether anything is left to gain.
const LOOK_UP_EVERY: usize = 6;

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
}

/// Why a job ended.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum End {
    /// A source is named and another is unlikely.
    Enough,
    /// No check is worth its time any more, or none can be done.
    NothingLeft,
    /// The findings could not be worked out together.
    TooDense,
    /// It went on for too long.
    #[default]
    TooLong,
}

/// How a job went.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Played {
    /// The places that leak.
    pub sources: Vec<PartId>,
    /// Of these, the ones that were opened up and found.
    pub found: Vec<PartId>,
    /// Places that were opened up and sound.
    pub needless: Vec<PartId>,
    /// Whether a place that leaks was ranked first when the first stop came.
    pub first_right: bool,
    /// Why it ended.
    pub end: End,
    /// Checks done.
    pub checks: usize,
    /// Hands-on minutes.
    pub minutes: f64,
    /// Minutes of waiting.
    pub waiting: f64,
    /// For each cause, when the first stop came: the chance it was given, and whether it leaks.
    pub forecast: Vec<(f64, bool)>,
    /// The tasks done, in order, as typed.
    pub tasks: Vec<String>,
    /// The log as it stood at the end.
    pub job: JobFile,
}

impl Played {
    /// Whether every place that leaks was found.
    pub fn all_found(&self) -> bool {
        self.sources.iter().all(|place| self.found.contains(place))
    }

    /// Hands-on minutes and weighted waiting.
    pub fn cost(&self, waiting_counts: f64) -> f64 {
        self.minutes + waiting_counts * self.waiting
    }

    fn opened(&self, part: PartId) -> bool {
        self.found.contains(&part) || self.needless.contains(&part)
    }
}

/// What is to be done next.
#[derive(Debug, Clone)]
enum Turn {
    Check(Offer),
    OpenUp(Vec<usize>),
    Stop(End),
}

/// What advice on a log was, kept for other jobs with the same log: the first answers are often
/// the same. Only the first entries are kept, so that memory stays small.
#[derive(Debug, Default)]
pub struct Recall(Mutex<BTreeMap<Vec<String>, Arc<Advice>>>);

/// What to do on a log, and how its causes stand.
#[derive(Debug, Clone)]
struct Advice {
    turn: Turn,
    ranking: Ranking,
    /// The chance of each cause.
    causes: Vec<f64>,
}

/// Logs longer than this are seldom met twice.
const RECALLED: usize = 10;

impl Recall {
    /// The advice of a policy that goes by gains on this log, from memory if it was asked before.
    fn of(
        &self,
        policy: &Policy,
        job: &JobFile,
        work_out: impl FnOnce() -> Result<Advice, TrainError>,
    ) -> Result<Arc<Advice>, TrainError> {
        if !policy.weighs_gains() || job.log.len() > RECALLED {
            return Ok(Arc::new(work_out()?));
        }
        let entries = job.log.iter().map(|logged| format!("{:?}", logged.entry));
        let key: Vec<String> = [policy.name().to_owned()]
            .into_iter()
            .chain(entries)
            .collect();
        let known = |memory: &Mutex<BTreeMap<_, _>>| memory.lock().ok()?.get(&key).cloned();
        if let Some(advice) = known(&self.0) {
            return Ok(advice);
        }
        let advice = Arc::new(work_out()?);
        if let Ok(mut memory) = self.0.lock() {
            memory.insert(key, Arc::clone(&advice));
        }
        Ok(advice)
    }
}

/// Plays a job to its end.
///
/// # Errors
/// Advice that fails; an answer that can't be read.
pub fn play(
    field: &Field<'_>,
    drawn: &Drawn,
    policy: &Policy,
    recall: &Recall,
    random: &mut impl Rng,
) -> Result<Played, TrainError> {
    let mut played = Played {
        sources: drawn.source_places(field.rules, field.layout, field.graph),
        job: JobFile {
            layout: field.layout.named.id.clone(),
            ..JobFile::default()
        },
        ..Played::default()
    };
    make_safe(field, &mut played)?;
    report(field, drawn, &mut played.job)?;
    let mut stopped = false;
    while played.checks < MOST_CHECKS {
        let case = case_of(field, &played.job)?;
        let advice = recall.of(policy, &played.job, || turn(&case, policy, &played, random));
        let advice = match advice {
            // What can't be worked out exactly ends the job as it stands.
            Err(TrainError::Advise(AdviseError::TooDense { .. })) => {
                played.end = End::TooDense;
                break;
            }
            other => other?,
        };
        if !stopped && !matches!(advice.turn, Turn::Check(_)) {
            stopped = true;
            forecast(field, drawn, &advice, &mut played);
        }
        match &advice.turn {
            Turn::Check(offer) => {
                let task = &field.graph.tasks[offer.asked.task];
                played.minutes += task.minutes + offer.journey.hands;
                played.waiting += task.waiting + offer.journey.waiting;
                played.checks += 1;
                played.tasks.push(task_id(&case, offer.asked.task));
                let entries = uncovered(&case, offer.asked.task)
                    .into_iter()
                    .chain([answered(&case, drawn, &offer.asked)]);
                played.job.log.extend(entries.map(Into::into));
            }
            Turn::OpenUp(named) => open_up(field, drawn, named, &mut played),
            Turn::Stop(End::NothingLeft) => {
                // Nothing tells more than taking the likeliest place apart.
                let Some(cause) = likeliest_closed(field, &advice.ranking, &played) else {
                    played.end = End::NothingLeft;
                    break;
                };
                open_up(field, drawn, &[cause], &mut played);
            }
            Turn::Stop(end) => {
                played.end = *end;
                break;
            }
        }
    }
    Ok(played)
}

/// The case of a job.
pub(super) fn case_of<'a>(field: &Field<'a>, job: &JobFile) -> Result<Case<'a>, TrainError> {
    resolve(
        job,
        field.rules,
        field.layout,
        field.graph,
        &field.shop,
        field.waiting_counts,
    )
    .map_err(|mut problems| TrainError::Job(problems.remove(0)))
}

/// Clears what the vehicle itself forbids (a set that can start by itself is locked off), as a
/// technician does before a hand goes in.
fn make_safe(field: &Field<'_>, played: &mut Played) -> Result<(), TrainError> {
    let case = case_of(field, &played.job)?;
    let up = case.blocks.iter().map(|&block| &field.rules.blocks[block]);
    let cleared = up.map(|block| Entry::Cleared(block.named.id.clone()).into());
    played.job.log.extend(cleared);
    Ok(())
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

fn turn(
    case: &Case<'_>,
    policy: &Policy,
    played: &Played,
    random: &mut impl Rng,
) -> Result<Advice, TrainError> {
    let looks_up = played.checks % LOOK_UP_EVERY == LOOK_UP_EVERY - 1;
    let (proposals, belief) = if policy.weighs_gains() || looks_up {
        let (proposals, belief) = Proposals::of(case)?;
        (Some(proposals), belief)
    } else {
        (None, Belief::of(case, &[])?)
    };
    let ranking = Ranking::of(case, &belief)?;
    let found = Verdict::found(case, &ranking, &belief)?;
    let (named, enough) = match &found {
        Some(Verdict::Repair { named, .. }) => (&named[..], true),
        Some(Verdict::AnotherLikely { named, .. }) => (&named[..], false),
        _ => (&[][..], false),
    };
    let place = |cause: &usize| case.graph.causes[*cause].place.part;
    let open = |cause: &&usize| !played.opened(place(cause));
    let closed: Vec<usize> = named.iter().filter(open).copied().collect();
    let turn = if !closed.is_empty() {
        Turn::OpenUp(closed)
    } else if enough {
        Turn::Stop(End::Enough)
    } else if proposals.as_ref().is_some_and(|p| p.nothing_left(case)) {
        Turn::Stop(End::NothingLeft)
    } else {
        let offer = match proposals {
            Some(proposals) if policy.weighs_gains() => policy.of_proposals(proposals),
            _ => policy.of_offers(case, &belief, offers(case).open, random),
        };
        offer.map_or(Turn::Stop(End::NothingLeft), Turn::Check)
    };
    Ok(Advice {
        turn,
        ranking,
        causes: belief.causes,
    })
}

/// The likeliest cause at the likeliest place that is not open yet, if it is likely enough to be
/// taken apart on trial.
fn likeliest_closed(field: &Field<'_>, ranking: &Ranking, played: &Played) -> Option<usize> {
    let worth = |leak: &&RankedLeak| {
        !leak.apart && leak.probability.get() >= ON_TRIAL && !played.opened(leak.part)
    };
    let repairable = |leak: &&RankedLeak| {
        let causes = leak.causes.iter();
        causes
            .map(|&at| ranking.causes[at].place.fault)
            .any(|fault| !field.rules.faults[fault].other)
    };
    let leak = ranking.leaks.iter().filter(repairable).find(worth)?;
    let first = leak.causes.first()?;
    Some(ranking.causes[*first].cause)
}

/// What the vehicle shows, as an entry of the log.
pub(super) fn answered(case: &Case<'_>, drawn: &Drawn, asked: &Asked) -> Entry {
    let at = drawn.answer(asked, |sign| case.graph.network.node(sign).states);
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
        ..Found::default()
    })
}

/// Opens up the named places: what is found there is certain from then on.
fn open_up(field: &Field<'_>, drawn: &Drawn, named: &[usize], played: &mut Played) {
    for &at in named {
        let part = field.graph.causes[at].place.part;
        if played.opened(part) {
            continue;
        }
        if played.sources.contains(&part) {
            played.found.push(part);
        } else {
            played.needless.push(part);
        }
        let id = |cause: usize| {
            let place = field.graph.causes[cause].place;
            let fault = &field.rules.faults[place.fault].named.id;
            (
                fault.clone(),
                Some(field.layout.parts[part].named.id.clone()),
            )
        };
        let here = (0..field.graph.causes.len())
            .filter(|&cause| field.graph.causes[cause].place.part == part);
        for cause in here {
            let of = &field.graph.causes[cause];
            let leaks = of.leaking[drawn.states[of.push.index()]];
            let (cause, at) = id(cause);
            let entry = if leaks {
                Entry::Confirmed { cause, at }
            } else {
                Entry::RuledOut { cause, at }
            };
            played.job.log.push(entry.into());
        }
    }
}

/// Keeps what was believed when the first stop came.
fn forecast(field: &Field<'_>, drawn: &Drawn, advice: &Advice, played: &mut Played) {
    let first = advice.ranking.leaks.iter().find(|leak| !leak.apart);
    played.first_right = first.is_some_and(|leak| played.sources.contains(&leak.part));
    let sources = drawn.sources(field.rules, field.layout, field.graph);
    played.forecast = advice
        .causes
        .iter()
        .enumerate()
        .filter(|(cause, _)| {
            let part = field.graph.causes[*cause].place.part;
            !field.rules.kinds[field.layout.parts[part].kind].apart
        })
        .map(|(cause, &chance)| (chance, sources.contains(&cause)))
        .collect();
}
