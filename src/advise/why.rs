//! Why a cause stands where it stands.
//!
//! In: a [`Case`] and a cause. Out: an [`Explanation`]: where it started, what each finding did
//! to it in the order of the log (weight of evidence, I. J. Good 1950, 1985) and what it would be
//! without each finding (Suermondt 1992), the path with each rule's reason, what it leaves
//! unexplained, which rival explains it away (Wellman & Henrion 1993), and whether the findings
//! fit together (Jensen et al. 1991).

use crate::advise::belief::{AdviseError, Belief, chance};
use crate::advise::case::Case;
use crate::advise::conflict::{Conflict, first};
use crate::advise::sheet::{Sheet, Snapshot, before_any};
use crate::advise::suspect::Suspect;
use crate::chance::Chance;
use crate::graph::{Cause, NodeKind};
use crate::ids::{Id, VarId};
use crate::infer::{Finding, InferError};
use crate::rules::base::Reason;

/// Why a cause stands where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    /// The cause, by its position in the graph.
    pub cause: usize,
    /// Its chance before any finding.
    pub start: Chance,
    /// Its chance now.
    pub now: Chance,
    /// Each finding, in the order of the log.
    pub readings: Vec<Reading>,
    /// How it leads to the findings that it explains.
    pub paths: Vec<Path>,
    /// Abnormal findings that it has no path to.
    pub unexplained: Vec<usize>,
    /// Rivals that speak for the same findings: cause, and this cause's chance if the rival
    /// were ruled out.
    pub rivals: Vec<(usize, Chance)>,
    /// The likeliest cause of all, if it is another: what it has and what it began with.
    pub leader: Option<Leader>,
    /// How the findings fit together.
    pub conflict: Conflict,
}

/// The likeliest cause of all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leader {
    /// The cause, by its position in the graph.
    pub cause: usize,
    /// Its chance before any finding.
    pub start: Chance,
    /// Its chance now.
    pub now: Chance,
}

/// What one finding did.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Its position in [`Case::found`].
    pub found: usize,
    /// The cause's chance after it, in the order of the log.
    pub after: Chance,
    /// Its weight there, decibans.
    pub decibans: f64,
    /// The cause's chance without it, all others kept.
    pub without: Chance,
    /// The same as a weight, decibans: what it adds when it comes last.
    pub last_decibans: f64,
}

/// How a cause leads to a finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// The finding.
    pub found: usize,
    /// From the cause to the sign: the node's label, the strength of the arrow into it, the
    /// reason.
    pub links: Vec<Weighed>,
}

/// One link of a path.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// The node it leads to.
    pub label: String,
    /// How strongly.
    pub strength: String,
    /// Why it is believed.
    pub reason: Option<Reason>,
}

impl Explanation {
    /// Explains one cause. Costs about two beliefs per finding, on all cores.
    ///
    /// # Errors
    /// As [`Belief::of`].
    pub fn of(case: &Case<'_>, cause: usize) -> Result<Self, AdviseError> {
        let now = Belief::of(case, &[])?;
        let suspect = Suspect::Cause(cause);
        let sheet = Sheet::of(case, suspect)?;
        let sheet = sheet.wholly(case, suspect, Snapshot::of(&now, suspect))?;
        let start = sheet.start.suspect;
        let mut before = start;
        let mut readings = Vec::new();
        let steps = sheet.whole.iter().flat_map(|whole| {
            let each = whole.after.iter().zip(&whole.without);
            each.map(|(after, without)| (after.suspect, without.suspect))
        });
        for (found, (after, without)) in steps.enumerate() {
            readings.push(Reading {
                found,
                after: chance(after)?,
                decibans: decibans(before, after)?,
                without: chance(without)?,
                last_decibans: decibans(without, now.causes[cause])?,
            });
            before = after;
        }
        let leader = match first(case, &now.causes)? {
            Some((leader, now)) if leader != cause => Some(Leader {
                cause: leader,
                start: chance(before_any(case, &[Suspect::Cause(leader)])?[0])?,
                now,
            }),
            _ => None,
        };
        let conflict = Conflict::of(case, (&now.causes, now.log_evidence()), &sheet)?;
        let target = &case.graph.causes[cause];
        let paths = paths(case, target);
        let unexplained = (0..case.found.len())
            .filter(|&found| {
                !case.found[found].normal && paths.iter().all(|path| path.found != found)
            })
            .collect();
        Ok(Self {
            cause,
            start: chance(start)?,
            now: chance(now.causes[cause])?,
            rivals: rivals(case, &now, cause)?,
            readings,
            unexplained,
            leader,
            conflict,
            paths,
        })
    }
}

fn decibans(before: f64, after: f64) -> Result<f64, AdviseError> {
    Ok(crate::chance::weight_decibans(
        chance(before)?,
        chance(after)?,
    ))
}

/// The strongest rivals, and the cause's chance if each were ruled out: those whose going makes
/// it at least half as likely again.
fn rivals(
    case: &Case<'_>,
    now: &Belief,
    cause: usize,
) -> Result<Vec<(usize, Chance)>, AdviseError> {
    let mut others: Vec<usize> = (0..now.causes.len())
        .filter(|&other| other != cause)
        .collect();
    others.sort_by(|&a, &b| now.causes[b].total_cmp(&now.causes[a]).then(a.cmp(&b)));
    let mut rivals = Vec::new();
    for other in others.into_iter().take(3) {
        let mut findings = case.evidence();
        findings.push(Finding::hard(case.graph.causes[other].fault, 2, 0));
        let without = match Belief::from_findings(&case.graph, &findings, &[]) {
            Ok(belief) => belief.causes[cause],
            Err(InferError::Impossible { .. }) => continue,
            Err(error) => return Err(AdviseError::Infer(error)),
        };
        if without > now.causes[cause] * 1.5 && without - now.causes[cause] > 0.01 {
            rivals.push((other, chance(without)?));
        }
    }
    Ok(rivals)
}

/// The shortest path from a cause to each abnormal finding.
fn paths(case: &Case<'_>, cause: &Cause) -> Vec<Path> {
    let mut paths = Vec::new();
    for (position, found) in case.found.iter().enumerate() {
        if found.normal {
            continue;
        }
        let signs = found
            .findings
            .iter()
            .filter(|finding| !is_cause(&case.graph.node(finding.var).kind));
        // A sign that stayed normal is no finding to be explained.
        let abnormal = signs.filter(|finding| {
            finding
                .likelihood
                .first()
                .is_some_and(|first| finding.likelihood.iter().any(|l| l > first))
        });
        for finding in abnormal {
            if let Some(links) = path(case, cause, finding.var) {
                paths.push(Path {
                    found: position,
                    links,
                });
                break;
            }
        }
    }
    paths
}

/// What is confirmed or ruled out by itself; everything else a check or a gauge has shown.
fn is_cause(kind: &NodeKind) -> bool {
    matches!(
        kind,
        NodeKind::Condition(_) | NodeKind::Fault(_) | NodeKind::Push(_)
    )
}

/// Breadth-first from the sign up to the cause's fault or push node.
fn path(case: &Case<'_>, cause: &Cause, sign: VarId) -> Option<Vec<Weighed>> {
    let mut below: Vec<Option<VarId>> = vec![None; case.graph.network.len()];
    let mut queue = std::collections::VecDeque::from([sign]);
    while let Some(at) = queue.pop_front() {
        // Of whichever state: an earlier one led to what was found before its repair.
        if matches!(case.graph.node(at).kind, NodeKind::Fault(place) | NodeKind::Push(place) if place == cause.place)
        {
            let mut links = Vec::new();
            let mut here = at;
            while let Some(next) = below[here.index()] {
                let arrow = case
                    .graph
                    .arrows_into(next)
                    .into_iter()
                    .find(|(parent, _)| *parent == here)
                    .map(|(_, arrow)| arrow.clone());
                let arrow = arrow.unwrap_or_default();
                links.push(Weighed {
                    label: case.graph.node(next).label.clone(),
                    strength: arrow.strength.to_string(),
                    reason: arrow.reason,
                });
                here = next;
            }
            return Some(links);
        }
        for (parent, _) in case.graph.arrows_into(at) {
            if parent != sign && below[parent.index()].is_none() {
                below[parent.index()] = Some(at);
                queue.push_back(parent);
            }
        }
    }
    None
}
