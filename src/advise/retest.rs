//! The retest after a repair: what together proves it, and what of that is still lacking.
//!
//! In: a [`Case`]. Out: a [`Retest`], if anything has been repaired; and how sure it is that what
//! was repaired was a source.

use std::collections::BTreeSet;

use crate::advise::another::another_source;
use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::{Answered, Case};
use crate::advise::offers::is_used_up;
use crate::chance::Chance;
use crate::graph::Place;
use crate::ids::{KindId, PartId, TaskId};
use crate::infer::{Finding, InferError};

/// How the retest stands since the last repair.
#[derive(Debug, Clone, PartialEq)]
pub struct Retest {
    /// The number of the entry of the last repair.
    pub since: usize,
    /// The places repaired in this job.
    pub places: BTreeSet<PartId>,
    /// Each part of the retest that this vehicle can have and that every repair asks for.
    pub parts: Vec<ProofState>,
    /// The same of what only doubt asks for.
    pub in_doubt: Vec<ProofState>,
}

/// How one part of the retest stands.
#[derive(Debug, Clone, PartialEq)]
pub struct ProofState {
    /// Its position in the rules' list.
    pub proof: usize,
    /// Tasks of which any would do what is still lacking, the usual one first; empty where
    /// nothing is. Of what only doubt asks for also what showed a leak and can be done again.
    pub lacking: Vec<TaskId>,
    /// Repaired places at which it is lacking; empty if it is done once for the vehicle.
    pub at: Vec<PartId>,
    /// Positions in [`Case::found`] of findings in it that still show a leak.
    pub falls: Vec<usize>,
}

impl Retest {
    /// The retest of a case; none where nothing has been repaired.
    pub fn of(case: &Case<'_>) -> Option<Self> {
        // What is listed apart, the tester, holds no coolant: mending it asks for no retest.
        let own = |part: PartId| !case.rules.kinds[case.layout.parts[part].kind].apart;
        let mut repaired = case.mended().filter(|repair| {
            let mut causes = repair.causes.iter();
            causes.any(|&cause| own(case.graph.causes[cause].place.part))
        });
        let since = repaired.next_back()?.entry;
        let places = repaired_places(case).map(|place| place.part);
        let places: BTreeSet<PartId> = places.filter(|&part| own(part)).collect();
        let (in_doubt, parts) = (0..case.rules.retest.len())
            .filter(|&proof| is_due(case, proof, &places))
            .filter_map(|proof| state(case, proof, since, &places))
            .partition(|part| case.rules.retest[part.proof].in_doubt.is_some());
        Some(Self {
            since,
            places,
            parts,
            in_doubt,
        })
    }

    /// Whether every part has been done and shows no leak.
    pub fn complete(&self) -> bool {
        self.lacking().next().is_none() && !self.falls()
    }

    /// The parts that are still lacking, of those that every repair asks for.
    pub fn lacking(&self) -> impl Iterator<Item = &ProofState> {
        self.parts.iter().filter(|part| !part.lacking.is_empty())
    }

    /// Whether some part still shows a leak.
    pub fn falls(&self) -> bool {
        self.showing().next().is_some()
    }

    /// Findings in it that still show a leak: positions in [`Case::found`].
    pub fn showing(&self) -> impl Iterator<Item = usize> {
        let parts = self.parts.iter().chain(&self.in_doubt);
        parts.flat_map(|part| part.falls.iter().copied())
    }

    /// Whether a leak that some part shows is most likely a false alarm: by all that is known together,
    /// hardly anything leaks, and what doubt asks for has not shown a leak either, or can be done once more.
    pub fn is_false_alarm(&self, case: &Case<'_>, remains: Chance) -> bool {
        let mut watched = self.in_doubt.iter();
        self.falls()
            && remains.get() < case.rules.policy.another_below
            && !self.in_doubt.is_empty()
            && watched.all(|part| part.falls.is_empty() || !part.lacking.is_empty())
    }

    /// The parts to do next while something leaks with this chance: what every repair asks for; once
    /// that is done, what doubt asks for. A part that shows a leak is doubt enough.
    pub fn lacking_at(&self, case: &Case<'_>, remains: Chance) -> Vec<&ProofState> {
        let always: Vec<&ProofState> = self.lacking().collect();
        if !always.is_empty() {
            return always;
        }
        let wanted = |part: &&ProofState| {
            let from = case.rules.retest[part.proof].in_doubt;
            let doubt = self.falls() || from.is_some_and(|from| remains.get() >= from);
            !part.lacking.is_empty() && doubt
        };
        self.in_doubt.iter().filter(wanted).collect()
    }

    /// The parts to do next; none once it still falls and that is no false alarm, or once all that every
    /// repair asks for is done and another source is likely: that is then looked for like any other leak.
    ///
    /// # Errors
    /// As [`Belief::of`].
    fn next(&self, case: &Case<'_>, belief: &Belief) -> Result<Vec<&ProofState>, AdviseError> {
        let always: Vec<&ProofState> = self.lacking().collect();
        let falls = self.falls();
        if (!falls && !always.is_empty()) || self.in_doubt.is_empty() {
            return Ok(if falls { Vec::new() } else { always });
        }
        let remains = another_source(case, belief, &[])?;
        let likely = remains.get() >= case.rules.policy.another_below;
        if likely || (falls && !self.is_false_alarm(case, remains)) {
            return Ok(Vec::new());
        }
        Ok(self.lacking_at(case, remains))
    }
}

/// The tasks that would do what the retest lacks next; none where nothing has been repaired, once it
/// still falls and that is no false alarm, or once all that every repair asks for is done and another
/// source is likely.
///
/// # Errors
/// As [`Belief::of`].
pub fn lacking_tasks(case: &Case<'_>, belief: &Belief) -> Result<BTreeSet<TaskId>, AdviseError> {
    let Some(retest) = Retest::of(case) else {
        return Ok(BTreeSet::new());
    };
    let parts = retest.next(case, belief)?;
    Ok(parts
        .into_iter()
        .flat_map(|part| part.lacking.iter().copied())
        .collect())
}

/// Of what the retest lacks the usual way to do what the vehicle must not leave without.
pub(super) fn before_release(case: &Case<'_>) -> BTreeSet<TaskId> {
    let retest = Retest::of(case);
    let lacking = retest.iter().flat_map(Retest::lacking);
    let needed = lacking.filter(|part| case.rules.retest[part.proof].before_release);
    needed
        .filter_map(|part| part.lacking.first().copied())
        .collect()
}

fn repaired_places<'c>(case: &'c Case<'_>) -> impl Iterator<Item = Place> + 'c {
    case.mended()
        .flat_map(|repair| &repair.causes)
        .map(|&cause| case.graph.causes[cause].place)
}

/// The number of the entry of the last repair at a place; 0 where nothing was repaired there.
fn repaired_last(case: &Case<'_>, part: PartId) -> usize {
    let here = |cause: &usize| case.graph.causes[*cause].place.part == part;
    let repairs = case
        .mended()
        .filter(|repair| repair.causes.iter().any(here));
    repairs.map(|repair| repair.entry).max().unwrap_or_default()
}

/// The tasks that a part of the retest can be done by, with their places.
pub(super) fn tasks_of(
    case: &Case<'_>,
    proof: usize,
    places: &BTreeSet<PartId>,
) -> Vec<(TaskId, Option<PartId>)> {
    let checks = &case.rules.retest[proof].checks;
    case.graph
        .tasks
        .enumerated()
        .filter(|(_, task)| checks.contains(&task.check) && task.zone.is_none())
        .filter(|(_, task)| task.part.is_none_or(|part| places.contains(&part)))
        // A place is seen properly with its cover off.
        .filter(|(_, task)| task.cover_on.is_none())
        .map(|(id, task)| (id, task.part))
        .collect()
}

/// Whether a part of the retest is asked for after the repair of these places.
pub(super) fn is_due(case: &Case<'_>, proof: usize, places: &BTreeSet<PartId>) -> bool {
    let repaired = places.iter().map(|&part| case.layout.parts[part].kind);
    let repaired: Vec<KindId> = repaired.collect();
    case.rules.retest[proof].is_due(&repaired)
}

fn state(
    case: &Case<'_>,
    proof: usize,
    since: usize,
    places: &BTreeSet<PartId>,
) -> Option<ProofState> {
    let checks = &case.rules.retest[proof].checks;
    let tasks = tasks_of(case, proof, places);
    if tasks.is_empty() {
        return None;
    }
    let standing = |task: TaskId| {
        let mut found = case.found.iter().enumerate().rev();
        let told = |found: &Answered| case.is_of_now(found) && !case.tells_too_little(found);
        found.find(|(_, found)| found.task == Some(task) && told(found))
    };
    // A look at one place proves what was done there, whatever was repaired elsewhere since.
    let shown = |task: TaskId, at: Option<PartId>| {
        let since = at.map_or(since, |part| repaired_last(case, part));
        standing(task).filter(|(_, found)| found.entry > since)
    };
    let falls: Vec<usize> = tasks
        .iter()
        .filter_map(|&(task, at)| shown(task, at))
        .filter(|(_, found)| !found.normal)
        .map(|(position, _)| position)
        .collect();
    let of_vehicle = |wanted: bool| {
        let fits = move |at: &&(TaskId, Option<PartId>)| at.1.is_none() == wanted;
        tasks.iter().filter(fits)
    };
    let done_at = |part: Option<PartId>| {
        let mut there = tasks.iter().filter(|(_, at)| *at == part);
        there.any(|&(task, at)| shown(task, at).is_some())
    };
    let mut lacking = Vec::new();
    let mut at = Vec::new();
    if !done_at(None) {
        let with_place: BTreeSet<PartId> = of_vehicle(false).filter_map(|(_, at)| *at).collect();
        at = places
            .iter()
            .copied()
            .filter(|part| with_place.contains(part) && !done_at(Some(*part)))
            .collect();
        // A place that none of these checks looks at needs one of the whole vehicle.
        let elsewhere = places.iter().any(|part| !with_place.contains(part));
        if !at.is_empty() {
            let here = of_vehicle(false).filter(|(_, part)| part.is_some_and(|p| at.contains(&p)));
            lacking.extend(here.map(|(task, _)| *task));
        }
        if !at.is_empty() || elsewhere {
            lacking.extend(of_vehicle(true).map(|(task, _)| *task));
        }
    }
    // What was answered before and reads nothing that the repair has touched has no more to tell.
    lacking.retain(|&task| standing(task).is_none());
    // A fall where little is in doubt is watched for once more.
    if case.rules.retest[proof].in_doubt.is_some() {
        let fell = falls.iter().filter_map(|&at| case.found[at].task);
        let can_be_done = |task: &TaskId| case.graph.tasks[*task].again && !is_used_up(case, *task);
        lacking.extend(fell.filter(can_be_done));
    }
    if lacking.is_empty() {
        at.clear();
    }
    // The rules name the usual check first.
    let rank = |task: &TaskId| {
        let check = case.graph.tasks[*task].check;
        checks.iter().position(|of| *of == check)
    };
    lacking.sort_by_key(|task| (rank(task), *task));
    Some(ProofState {
        proof,
        lacking,
        at,
        falls,
    })
}

/// What was repaired at one place, and whether it had been a source.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// The place.
    pub part: PartId,
    /// The number of the entry of the repair.
    pub entry: usize,
    /// The chance that the place leaked before the repair.
    pub leaked: Chance,
    /// The faults repaired there, each with the chance that it had caused a leak.
    pub faults: Vec<(Place, Chance)>,
}

/// What was repaired, place by place, and how sure it is that it had been a source.
///
/// # Errors
/// As [`Belief::of`].
pub fn sources(case: &Case<'_>) -> Result<Vec<Source>, AdviseError> {
    let findings = case.evidence();
    let with = Belief::log_evidence_of(&case.graph, &findings)?;
    let chance_of = |finding: Finding| -> Result<Chance, AdviseError> {
        let mut findings = findings.clone();
        findings.push(finding);
        let p = match Belief::log_evidence_of(&case.graph, &findings) {
            Ok(both) => (both - with).exp().min(1.0),
            Err(AdviseError::Infer(InferError::Impossible { .. })) => 0.0,
            Err(error) => return Err(error),
        };
        Ok(chance(p)?)
    };
    let mut sources = Vec::new();
    for repair in case.mended() {
        let before = &repair.before;
        let parts: BTreeSet<PartId> = (repair.causes.iter())
            .map(|&cause| before.causes[cause].place.part)
            .collect();
        for part in parts {
            let Some(leak) = before.leak_of[part] else {
                continue;
            };
            let mut leaks = vec![1.0; before.network.node(leak).states];
            leaks[0] = 0.0;
            let mut faults = Vec::new();
            for &cause in &repair.causes {
                let was = &before.causes[cause];
                if was.place.part == part {
                    let leaks = was.leaking.iter().map(|&leaks| f64::from(u8::from(leaks)));
                    let p = chance_of(Finding::soft(was.push, leaks.collect()))?;
                    faults.push((was.place, p));
                }
            }
            sources.push(Source {
                part,
                entry: repair.entry,
                leaked: chance_of(Finding::soft(leak, leaks))?,
                faults,
            });
        }
    }
    Ok(sources)
}
